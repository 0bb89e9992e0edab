"""Time as tables write it: seconds, milliseconds, clock time, ISO 8601. One reader for a column, chosen from its cells.

A reader turns a cell into seconds; only differences between cells mean anything.
"""

import re
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from itertools import pairwise
from statistics import median

from coach.importer.names import plain

Reader = Callable[[str], float | None]

NAMES = frozenset(
    {
        *("time", "t", "elapsed", "elapsed time", "timestamp", "time stamp", "clock", "clock time", "datetime"),
        *("date time", "date and time", "time since start", "recording time", "log time", "seconds", "time of day"),
        *("device time", "gps time", "local time", "system time", "utc time", "time utc", "epoch", "unix time", "ts"),
        *("zeit", "zeitstempel", "uhrzeit", "datum uhrzeit", "temps", "horodatage", "heure", "date heure"),
    }
)
UNITS = {
    **dict.fromkeys(("s", "sec", "secs", "second", "seconds", "sek", "sekunden", "secondes"), 1.0),
    **dict.fromkeys(("ms", "msec", "millisecond", "milliseconds", "millisekunden", "1/1000 s"), 1e-3),
    **dict.fromkeys(("us", "µs", "usec", "microseconds"), 1e-6),
    "ns": 1e-9,
    **dict.fromkeys(("1/100 s", "cs"), 1e-2),
    **dict.fromkeys(("1/10 s", "ds"), 1e-1),
    **dict.fromkeys(("min", "mins", "minutes", "minuten"), 60.0),
    **dict.fromkeys(("h", "hr", "hours", "stunden", "heures"), 3600.0),
    **dict.fromkeys(("d", "days", "tage", "jours"), 86400.0),
}
_SAID = {
    1.0: "seconds",
    1e-3: "milliseconds",
    1e-6: "microseconds",
    1e-9: "nanoseconds",
    1e-2: "hundredths of a second",
    1e-1: "tenths of a second",
    60.0: "minutes",
    3600.0: "hours",
    86400.0: "days",
}
_ALONE = frozenset({"ms", "msec", "milliseconds", "s", "sec", "secs", "seconds"})
"""Units that stand alone as the name of a column of time."""
_NO_UNIT = re.compile(r"^(?:utc|gmt|local|unix|epoch|since.*|relative|absolute|[a-z]{3,4}t|.*(?:hh|mm|ss|yy).*|)$")
"""What may stand in brackets behind the name of a column of time and is no unit."""
_BRACKETED = re.compile(r"^(.*?)[\s_]*[(\[]([^()\[\]]*)[)\]]\s*$")
_CLOCK = re.compile(r"(?<!\d)(\d{1,2}):(\d{2})(?::(\d{2}(?:(?:[.,]|:(?=\d{3}\b))\d+)?))?(?:\s*([AaPp])\.?[Mm])?")
_SHORT = re.compile(r"^\s*(\d{1,3}):(\d{2}[.,]\d+)\s*$")
_GROUPED = re.compile(r"^(?:0|[1-9]\d{0,2}(?:\.\d{3})*)$")
_PAIR = re.compile(r"^\s*(\d{1,3}):(\d{2}(?:[.,]\d+)?)\s*$")
MINUTES = "mm:ss"
"""How a user may say that a column holds minutes and seconds."""
DAY_S = 86400.0
LATEST_S = 1e11  # our judgement: beyond the year 5000 no recorder's clock was set
MOSTLY = 0.5  # our judgement: so many of the first cells must read as time
# Our judgement, told to the user: numbers this large count from 1970 in seconds, milliseconds and so on.
EPOCH_S, EPOCH_MS, EPOCH_US, EPOCH_NS = 1e8, 1e11, 1e14, 1e17
STEP_DAYS = (
    5e-4  # our judgement, told to the user: steps so small are days, as spreadsheets count; none records at 2 kHz
)
STEP_MS = 50.0  # our judgement, told to the user: without a unit such steps are milliseconds, no recorder is so slow


def is_time(header: str) -> bool:
    """True when a header names a time, with or without its unit."""
    name, _unit = split(header)
    return name in NAMES


def split(header: str) -> tuple[str, str]:
    """A header's name and unit of time, the unit empty when it has none."""
    found = _BRACKETED.match(header.strip())
    if found is not None:
        return plain(found[1]), found[2].strip().lower()
    words = plain(header).split()
    if len(words) == 1 and words[0] in _ALONE:
        return "time", words[0]
    if len(words) > 1 and words[-1] in UNITS:
        return " ".join(words[:-1]), words[-1]
    return " ".join(words), ""


def choose(header: str, cells: Sequence[str], number: Reader, unit: str = "") -> tuple[str, Reader] | None:
    """How the cells of a column write time, in words, and the reader for it; none when they do not.

    `unit` is what the user says; without it the header's own, else the size of the numbers decides.
    """
    filled = [cell for cell in cells if cell.strip()]
    if not filled:
        return None
    unit = unit or split(header)[1]
    if _counts_minutes(unit, filled):
        return "minutes and seconds", _Wrapping(_pair, 3600.0, True)
    for form, reader in (
        ("numbers", number),
        ("ISO 8601", _iso),
        ("minutes and seconds", _short),
        ("clock time", _clock),
    ):
        values = [value for cell in filled if (value := reader(cell)) is not None]
        if len(values) < MOSTLY * len(filled):
            continue
        if form != "numbers":
            return form, _Wrapping(reader, 3600.0 if form == "minutes and seconds" else DAY_S, form != "ISO 8601")
        if unit and unit not in UNITS and not _NO_UNIT.match(unit):
            return None
        scale, words = _scale(unit, values)
        return words, _scaled(number, scale)
    return None


def are_grouped(cells: Sequence[str]) -> bool:
    """Whether dots part thousands: all in threes, and smaller numbers without a dot among them."""
    filled = [cell.strip() for cell in cells if cell.strip()]
    dotted = sum("." in cell for cell in filled)
    return 0 < dotted < len(filled) and all(_GROUPED.match(cell) for cell in filled)


def grouped(cell: str) -> float | None:
    """A whole number whose thousands are parted by dots."""
    return float(cell.replace(".", "")) if _GROUPED.match(cell.strip()) else None


def began(form: str, reader: Reader, cells: Sequence[str]) -> str | None:
    """When the first cell that is a time was written, in ISO 8601; none where the form does not tell the day."""
    for cell in cells:
        if (at := reader(cell)) is None:
            continue
        if form == "ISO 8601":
            return datetime.fromisoformat(cell.strip().replace(",", ".")).isoformat()
        return datetime.fromtimestamp(at, UTC).isoformat() if form.endswith("since 1970") and at < LATEST_S else None
    return None


def _scaled(number: Reader, scale: float) -> Reader:
    return lambda cell: None if (value := number(cell)) is None else value * scale


def _scale(unit: str, values: Sequence[float]) -> tuple[float, str]:
    if unit in UNITS:
        return UNITS[unit], _SAID[UNITS[unit]]
    largest = max(values)
    for limit, scale, words in (
        (EPOCH_NS, 1e-9, "nanoseconds since 1970"),
        (EPOCH_US, 1e-6, "microseconds since 1970"),
        (EPOCH_MS, 1e-3, "milliseconds since 1970"),
        (EPOCH_S, 1.0, "seconds since 1970"),
    ):
        if largest >= limit:
            return scale, words
    steps = [later - earlier for earlier, later in pairwise(values) if later > earlier]
    if steps and median(steps) >= STEP_MS:
        return 1e-3, "milliseconds, by the size of the steps"
    if steps and median(steps) < STEP_DAYS:
        return DAY_S, "days, by the size of the steps"
    return 1.0, "seconds"


def _iso(cell: str) -> float | None:
    text = cell.strip().replace(",", ".")
    if len(text) < 15 or not (text[4:5] == "-" or text[8:9] == "T"):  # a date alone is no time
        return None
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        return None
    return (moment - datetime(1970, 1, 1, tzinfo=moment.tzinfo and UTC)).total_seconds()


def _short(cell: str) -> float | None:
    found = _SHORT.match(cell)
    return int(found[1]) * 60 + float(found[2].replace(",", ".")) if found else None


def _counts_minutes(unit: str, cells: Sequence[str]) -> bool:
    """Whether "12:34" is minutes and seconds: as it says, or since no recorder writes a row a minute by the clock."""
    pairs = [_PAIR.match(cell) for cell in cells]
    if None in pairs or unit.startswith(("hh", "h:")):
        return False
    values = [_pair(cell) for cell in cells]
    return unit in (MINUTES, "m:ss", "min:s", "min:sec") or (len(cells) > 1 and len(set(values)) == len(values))


def _pair(cell: str) -> float | None:
    found = _PAIR.match(cell)
    return int(found[1]) * 60 + float(found[2].replace(",", ".")) if found else None


def _clock(cell: str) -> float | None:
    found = _CLOCK.search(cell)
    if found is None:
        return None
    hours, minutes = int(found[1]), int(found[2])
    if found[4] is not None:
        hours = hours % 12 + (12 if found[4].lower() == "p" else 0)
    return hours * 3600.0 + minutes * 60.0 + float((found[3] or "0").replace(",", ".").replace(":", "."))


class _Wrapping:
    """A clock that begins anew at midnight, or a minute count at the hour: a step back by most of it goes on."""

    def __init__(self, reader: Reader, wrap_s: float, wraps: bool) -> None:
        self._reader, self._wrap_s, self._wraps = reader, wrap_s, wraps
        self._last: float | None = None
        self._turns = 0.0

    def __call__(self, cell: str) -> float | None:
        value = self._reader(cell)
        if value is None or not self._wraps:
            return value
        if self._last is not None and self._last - value > self._wrap_s / 2:
            self._turns += self._wrap_s
        self._last = value
        return value + self._turns
