"""Times that stand in front of the lines of a transcript. One form for a file, chosen from its first lines."""

import re
from collections.abc import Callable, Sequence
from datetime import datetime
from itertools import pairwise

Reader = Callable[[re.Match[str]], float]

LEAST_SHARE = 0.3  # our judgement: so many of the lines carry the time, or it is no time but data
LEAST_LINES = 2
DAY_S = 86400.0
DELTA_SHARE = 0.2  # our judgement: a clock that runs backwards so often is none, each time is counted since the last
LEAST_STEPS = 3  # our judgement: fewer steps show nothing
_TERMINAL = re.compile(r"\x1b(?:\[[0-?]*+[ -/]*+[@-~]|[@-Z\\-_])")
_RUBBED_OUT = re.compile(r"[^\b]\x08")
_END = r"\]?\)?\s*(?:[|:,;\-]+\s*|\t)?"


def _iso(found: re.Match[str]) -> float:
    text = found[1].replace(",", ".").replace("/", "-")
    whole, _, rest = text.partition(".")
    moment = datetime.fromisoformat(whole)
    return (moment - datetime(1970, 1, 1)).total_seconds() + float(f"0.{rest or 0}")


def _clock(found: re.Match[str]) -> float:
    hours = int(found[1])
    if found[5]:
        hours = hours % 12 + (12 if found[5].lower() == "p" else 0)
    return hours * 3600.0 + int(found[2]) * 60.0 + int(found[3]) + float(f"0.{found[4] or 0}")


def _number(found: re.Match[str]) -> float:
    return float(found[1])


FORMS: tuple[tuple[str, re.Pattern[str], Reader], ...] = (
    (
        "date and time",
        re.compile(r"\s*[\[(]?(\d{4}[-/]\d\d[-/]\d\d[T ]\d\d:\d\d:\d\d(?:[.,]\d{1,9})?)(?:Z|[+-]\d\d:?\d\d)?" + _END),
        _iso,
    ),
    (
        "clock time",
        re.compile(
            r"\s*[\[(]?(?:\d{1,2}[./-]\d{1,2}(?:[./-]\d{2,4})?,? +|[A-Z][a-z]{2} +\d{1,2} +)?"
            r"(\d{1,2}):(\d\d):(\d\d)(?:[.,:](\d{1,9}))?(?: ?([AaPp])\.?[Mm]\.?)?" + _END
        ),
        _clock,
    ),
    (
        "minutes and seconds",
        re.compile(r"\s*[\[(]?(\d{1,3}):(\d\d(?:[.,]\d{1,9}))" + _END),
        lambda found: int(found[1]) * 60.0 + float(found[2].replace(",", ".")),
    ),
    ("milliseconds since 1970", re.compile(r"\s*[\[(]?(1\d{12})(?=\D)" + _END), lambda found: int(found[1]) / 1000),
    ("milliseconds", re.compile(r"\s*[\[(]?\+?(\d{1,10}) ?ms(?=\W)" + _END), lambda found: int(found[1]) / 1000),
    ("seconds", re.compile(r"\s*[\[(]\s*\+?(\d{1,11}(?:\.\d{1,9})?)\s*s?[\])]\s*:?\s*"), _number),
    ("seconds", re.compile(r"\s*\+?(\d{1,11}\.\d{1,9}) ?s?(?:[\s|,;:-]+)"), _number),
)
"""Forms by the words they are told with: the pattern at the beginning of a line, and what it says in seconds."""


def as_seen(line: str) -> str:
    """A line as a terminal showed it: without colours, with what was rubbed out gone."""
    line = line.replace("\0", "")
    if "\x1b" in line:
        line = _TERMINAL.sub("", line)
    while "\b" in line:
        shorter = _RUBBED_OUT.sub("", line)
        line = shorter if shorter != line else line.replace("\b", "")
    return line


class Stamps:
    """Takes the time off the front of lines; clock times go on past midnight, times since the last line add up."""

    def __init__(self, sample: Sequence[str]) -> None:
        lines = [as_seen(line) for line in sample]
        self.form, self._pattern, self._read = _choose(lines)
        self._wraps = self.form in ("clock time",)
        self._last: float | None = None
        self._days_s = 0.0
        self._since = False
        if self.form in ("milliseconds", "seconds") and _runs_backwards([self.split(line)[0] for line in lines]):
            self.form, self._since = f"{self.form} since the line before", True
        self._last = None

    def split(self, line: str) -> tuple[float | None, str]:
        """The time in seconds, none when the line has none, and the rest of the line."""
        if self._pattern is None or self._read is None:
            return None, line
        found = self._pattern.match(line)
        if found is None:
            return None, line
        try:
            at = self._read(found)
        except ValueError:  # the 31st of February
            return None, line
        if self._wraps and self._last is not None and self._last - at > DAY_S / 2:
            self._days_s += DAY_S
        if self._since:
            at += self._last or 0.0
        self._last = at
        return at + self._days_s, line[found.end() :]


def _runs_backwards(times: Sequence[float | None]) -> bool:
    """Whether so many steps go back that the times count from the line before."""
    known = [at for at in times if at is not None]
    back = sum(later < earlier for earlier, later in pairwise(known))
    return len(known) > LEAST_STEPS and back >= DELTA_SHARE * (len(known) - 1)


def _choose(sample: Sequence[str]) -> tuple[str, re.Pattern[str] | None, Reader | None]:
    lines = [line for line in sample if line.strip()]
    best, best_count = None, max(LEAST_LINES, int(LEAST_SHARE * len(lines))) - 1
    for form in FORMS:
        count = sum(form[1].match(line) is not None for line in lines)
        if count > best_count:
            best, best_count = form, count
    return best if best is not None else ("", None, None)
