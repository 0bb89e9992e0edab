"""Makes the seal of a file: its hash and size, and what it brought, by folding it once from end to end."""

from datetime import datetime
from pathlib import Path

from coach.car.car import Car
from coach.car.happenings import CodeAppeared, Happening
from coach.jobs.errors import JobBusy
from coach.jobs.ledger import fingerprint
from coach.jobs.records import Brought, Sealed
from coach.journal.reader import open_journal


def seal_of(path: Path, when: datetime) -> Sealed:
    """The seal of a journal as it is now. JournalError when it is none, JobBusy while it is being written."""
    size_bytes, digest = path.stat().st_size, fingerprint(path)
    brought, whole = _brought(path)
    if path.stat().st_size != size_bytes:
        raise JobBusy(f"{path}: is being written; try again when it is done")
    return Sealed(digest, size_bytes, when.isoformat(timespec="seconds"), whole, brought)


def _brought(path: Path) -> tuple[Brought, bool]:
    reader = open_journal(path)
    car = Car(can=reader.header.can)
    codes: dict[str, dict[str, float]] = {}
    for arrival in reader.arrivals():
        out: list[Happening] = []
        car.expire(arrival.t, out)
        car.fold(arrival, out)
        _note(out, codes)
    last: list[Happening] = []
    car.end(last)
    _note(last, codes)
    told = car.conclude()
    complete = tuple(monitor for monitor, found in told.monitors.items() if found.state == "complete")
    return Brought(tuple(sorted(car.ecus)), codes, told.clear.state, complete), not reader.report.cut_short


def _note(out: list[Happening], codes: dict[str, dict[str, float]]) -> None:
    for happening in out:
        if isinstance(happening, CodeAppeared):
            codes.setdefault(happening.kind, {}).setdefault(happening.code, happening.t)
