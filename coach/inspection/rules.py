"""Reads an inspection rule from its text and words every mistake: file, key, what is wrong, and the nearest known key.

Text in, value out: files are opened elsewhere.
"""

import tomllib
from collections.abc import Iterator
from difflib import get_close_matches
from typing import Any

from pydantic import BaseModel, ValidationError

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
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise RuleError(name, [f"not TOML: {error}"]) from None
    try:
        rule = Rule.model_validate(table)
    except ValidationError as error:
        raise RuleError(name, [_worded(found) for found in error.errors()]) from None
    mistakes = list(_crossed(rule))
    if mistakes:
        raise RuleError(name, mistakes)
    return rule


def _worded(found: Any) -> str:
    """One mistake of pydantic's in plain words."""
    place = [str(part) for part in found["loc"]]
    key = ".".join(place) or "the file"
    if found["type"] == "extra_forbidden":
        near = get_close_matches(place[-1], _known_keys(), n=1, cutoff=0.5)
        hint = f", the nearest known key is {near[0]!r}" if near else ""
        return f"{key}: unknown key{hint}"
    if found["type"] == "missing":
        return f"{key}: missing"
    return f"{key}: {found['msg'].removeprefix('Value error, ')}"


def _known_keys() -> list[str]:
    models = [found for found in vars(schema).values() if isinstance(found, type) and issubclass(found, BaseModel)]
    return sorted({key for model in models for key in model.model_fields})


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
            if limit.allowed is None and (limit.only or limit.must):
                yield f"reading.{reading.id}.limit.{number}: names monitors but counts none"
