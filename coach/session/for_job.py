"""A drive that belongs to a job: its journal is reserved and sealed there, and what the job knows goes along."""

from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

from coach.car.car import Car
from coach.car.known import beside
from coach.jobs.errors import JobError
from coach.jobs.store import Job
from coach.journal.errors import JournalError
from coach.session.clean_cycles import clean_known
from coach.session.folding import known_of
from coach.session.kept_rule import kept_refusals, kept_rule, kept_target
from coach.session.live import Wanted
from coach.session.repaired import repaired_monitors


def for_job(wanted: Wanted, job: Job) -> Wanted:
    """The same wishes, for a drive of this job. CannotKeep when it has no room for another file."""
    job.check_room()
    known = known_of(job)  # the job's files are read once
    return replace(
        wanted,
        target=_target(wanted, job),
        rule=_rule(wanted, job),
        new_file=lambda began: job.new_file("drive", began),
        closed=lambda path: sealed(job, path),
        reopened=job.unseal,
        never_written=job.nothing_written,
        earlier=tuple(path for _entry, path in job.files()),
        repaired=lambda car: {**repaired_monitors(job, car), **clean_known(job, car)},
        other_job=lambda car: job.record.id if beside(known, car.signs) == "another" else "",
        car_known=known,
    )


def sealed(job: Job, path: Path) -> None:
    """A file of the job was closed. What cannot be sealed now is sealed by the next command that looks at the job."""
    with suppress(JobError, JournalError, OSError):
        job.seal(path, datetime.now().astimezone())


def _target(wanted: Wanted, job: Job) -> Callable[[Car], tuple[str, ...] | None]:
    """What is asked for, else what the job's own rule wants. JobError at once where that rule is not there any more."""
    kept_rule(job.record)

    def target(car: Car) -> tuple[str, ...] | None:
        asked = wanted.target(car)
        return kept_target(job.record, car, _today()) if asked is None and not wanted.clean_cycles else asked

    return target


def _rule(wanted: Wanted, job: Job) -> Callable[[Car], Mapping[str, Any] | None]:
    """What the rule refuses that the target is made by: the one that was named, else the job's own."""

    def rule(car: Car) -> Mapping[str, Any] | None:
        named = wanted.rule(car)
        if named is not None or wanted.clean_cycles or wanted.target(car) is not None:
            return named
        return kept_refusals(job.record, car, _today())

    return rule


def _today() -> str:
    return datetime.now().date().isoformat()
