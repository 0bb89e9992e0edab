"""Brings the record of an older program forward, one format version at a time. Works on plain data, touches no file."""

from collections.abc import Callable
from typing import Any

from coach.jobs.records import VERSION

Step = Callable[[dict[str, Any]], dict[str, Any]]


def _to_2(record: dict[str, Any]) -> dict[str, Any]:
    """Version 1 knew no seals. Its files are sealed when next looked at; one that is gone by then is missing."""
    return {**record, "job": 2}


STEPS: dict[int, Step] = {1: _to_2}
"""By the version a record has: the step to the next."""


def upgraded(record: dict[str, Any]) -> dict[str, Any]:
    """The record in the newest version; unchanged where no step leads there."""
    while (step := STEPS.get(record.get("job", VERSION))) is not None:
        record = step(record)
    return record
