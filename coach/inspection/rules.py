"""Reads an inspection rule from its text and words every mistake: file, key, what is wrong, and the nearest known key.

Text in, value out: files are opened elsewhere.
"""

from collections.abc import Iterator

from coach.forms import read_form
from coach.inspection import schema
from coach.inspection.schema import RuleForm


class RuleError(ValueError):
    """A rule that cannot be used; one line a mistake, each naming the file and the key."""

    def __init__(self, name: str, mistakes: list[str]) -> None:
        self.mistakes = tuple(f"{name}: {mistake}" for mistake in mistakes)
        super().__init__("\n".join(self.mistakes))


class Rule(RuleForm):
    """A rule that passed every check."""

    def readings_on(self, date: str) -> tuple[schema.Reading, ...]:
        """The readings in force on a date (ISO 8601); one dated later is not yet."""
        return tuple(reading for reading in self.reading if reading.since is None or reading.since <= date)


def parse_rule(text: str, name: str = "rule") -> Rule:
    """The rule of a TOML text. RuleError lists every mistake, not only the first."""
    rule, mistakes = read_form(text, Rule, schema)
    if rule is None:
        other_form = [mistake for mistake in mistakes if mistake.startswith("schema_version: ")]
        raise RuleError(name, other_form or mistakes)
    mistakes = list(_crossed(rule))
    if mistakes:
        raise RuleError(name, mistakes)
    return rule


def _crossed(rule: Rule) -> Iterator[str]:
    """Checks between the parts of a rule."""
    if (rule.status == "ended") != (rule.ended is not None):
        yield "ended: say when exactly for a programme whose status is ended"
    if rule.status != "ended" and not rule.reading:
        yield "reading: an active rule needs one"
    ids = [reading.id for reading in rule.reading]
    yield from (f"reading.{one}: twice" for one in sorted({i for i in ids if ids.count(i) > 1}))
    for reading in rule.reading:
        for number, limit in enumerate(reading.limit):
            if set(limit.only) & set(limit.must):
                yield f"reading.{reading.id}.limit.{number}: the same monitor in only and in must"
            if limit.allowed is None and limit.only:
                yield f"reading.{reading.id}.limit.{number}: names monitors that may be incomplete but counts none"
    names = [case.name for case in rule.case]
    yield from (f"case.{one!r}: twice" for one in sorted({n for n in names if names.count(n) > 1}))
    for number, fact in enumerate(rule.scope.exempt):
        unknown = [letter for letter in fact.letters if letter not in rule.scope.sources]
        yield from (f"scope.exempt.{number}.source: no {letter!r} in scope.sources" for letter in unknown)
        if fact.sure != "memory" and not fact.letters:
            yield f"scope.exempt.{number}.source: missing; only what is from memory has none"
