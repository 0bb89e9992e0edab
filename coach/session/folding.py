"""A job's files folded in order into one record of its car, as far as they are there and unchanged."""

from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from coach.car.known import Known
from coach.car.record import Record
from coach.jobs.ledger import Ledgered
from coach.jobs.store import Job
from coach.journal.reader import open_journal
from coach.session.seen import Seen, fold

NO_FRAME: Mapping[str, float] = {}


@dataclass(slots=True)
class Folding:
    """One way through a job's files. `unread`: why a file cannot be read, by its name; full once all were gone through.

    `ledger`: what became of each. What is lost is missing in the record; a clear in it still happened.
    """

    job: Job
    record: Record = field(default_factory=Record)
    ledger: tuple[Ledgered, ...] = ()
    unread: dict[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.ledger = self.job.ledger()
        self.record = Record(_told_by_user(self.job))

    def seen(self, frozen: Mapping[str, float] = NO_FRAME) -> Iterator[Seen]:
        """Every file that is evidence or set aside, folded. `frozen`: the freeze frame to look for."""
        real = any(_source(one.path) not in ("simulated", "") for one in self.ledger)
        for one in self.ledger:
            if one.lost:
                self._lost(one)
            elif one.state != "empty":
                foreign = real and _source(one.path) == "simulated"
                try:
                    yield fold(one.entry, one.path, frozen, Record() if foreign else self.record, self._same(one))
                except (ValueError, OSError) as error:
                    self.unread[one.entry.file] = str(error)
                    self._lost(one)

    def _same(self, one: Ledgered) -> bool:
        return one.entry.file in self.job.record.same_car

    def _lost(self, one: Ledgered) -> None:
        if one.why:
            self.unread[one.entry.file] = one.why
        cleared = one.brought.clear != "none" if one.brought is not None else one.entry.kind == "clear"
        self.record.missing(one.entry.file, cleared)


def known_of(job: Job) -> Known:
    """What the job's files tell of its car: what a new recording is judged beside."""
    folding = Folding(job)
    for _ in folding.seen():
        pass
    return folding.record.known


def _told_by_user(job: Job) -> Known:
    """The user's own word, before any file: model year, and what became of control units."""
    units = job.record.units_said
    return Known(
        model_year=job.record.model_year,
        excused=tuple(unit for unit, what in units.items() if what != "taken_out"),
        taken_out=tuple(unit for unit, what in units.items() if what == "taken_out"),
    )


def _source(path: Path) -> str:
    with suppress(ValueError, OSError):  # what cannot be read is said where it is folded
        reader = open_journal(path)
        reader.close()
        return reader.header.source
    return ""
