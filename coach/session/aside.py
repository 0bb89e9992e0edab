"""Which files of a job are no evidence for its repair.

A job is of one car: the record says of every file whose words it holds, beside what the files before it told. A
simulated car proves nothing of a real one. What is set aside is named with its reason and counts for nothing.
"""

from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from coach.car.conclusion import Identity
from coach.car.happenings import CodesCleared
from coach.car.known import Known
from coach.car.record import Record
from coach.jobs.store import Job
from coach.journal.reader import open_journal
from coach.session.seen import Seen, fold

Why = Literal["another_car", "unproved", "changed", "two_vins", "simulated"]
WHY: dict[Identity, Why] = {
    "another": "another_car",
    "unproved": "unproved",
    "changed": "changed",
    "two_vins": "two_vins",
}


@dataclass(frozen=True, slots=True)
class Aside:
    """A file that is not evidence, and why."""

    seen: Seen
    why: Why


def set_aside(files: Iterable[Seen]) -> tuple[tuple[Seen, ...], tuple[Aside, ...]]:
    """The files that are of the job's own car, and the others. A car that tells no sign is taken at its word."""
    read = tuple(files)
    real = any(seen.header.source != "simulated" for seen in read)
    kept: list[Seen] = []
    aside: list[Aside] = []
    for seen in read:
        if real and seen.header.source == "simulated":
            aside.append(Aside(seen, "simulated"))
        elif not seen.own:
            aside.append(Aside(seen, WHY[seen.identity]))
        else:
            kept.append(seen)
    return tuple(kept), tuple(aside)


def of_another_kind(job: Job, path: Path) -> bool:
    """Whether this file is of a simulated car in a job that has files of a real one."""
    return _source(path) == "simulated" and any(_source(other) != "simulated" for _, other in job.files())


def _source(path: Path) -> str:
    with suppress(ValueError, OSError):  # what cannot be read is said where it is folded
        reader = open_journal(path)
        reader.close()
        return reader.header.source
    return "simulated"


def fell_within(seen: Seen) -> bool:
    """A counter since the clear fell back in the course of this file."""
    return any(isinstance(h, CodesCleared) and not h.sent for h in seen.happened)


def beginning(job: Job) -> Known:
    """What the user told of the job's car, before any file."""
    return Known()


def known_of(job: Job) -> Known:
    """What the job's files tell of its car: what a new recording is judged beside."""
    record = Record(beginning(job))
    for entry, path in job.files():
        with suppress(ValueError, OSError):  # what cannot be read is said where the job is shown
            if not of_another_kind(job, path):
                fold(entry, path, {}, record)
    return record.known
