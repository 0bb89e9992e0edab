"""Makes the seal of a file: its hash and size, and what it brought, by folding it once from end to end."""

from datetime import datetime
from pathlib import Path

from coach.car.arrivals import Answer, Arrival, Request
from coach.car.car import Car
from coach.car.conclusion import ClearState
from coach.car.happenings import CodeAppeared, Happening
from coach.car.questions import read_question
from coach.jobs.errors import JobBusy
from coach.jobs.ledger import fingerprint
from coach.jobs.records import Brought, Sealed
from coach.journal.reader import open_journal
from coach.journal.records import BadLine, Footer, decode_line

TAIL_BYTES = 1 << 16  # our judgement: a last line holds a reason and a dozen counts, far below a kilobyte
CLEAR = 0x04  # the service that clears: SAE J1979
PENDING = 0x78  # negative response code "response pending": ISO 14229-1, from memory


def seal_of(path: Path, when: datetime) -> Sealed:
    """The seal of a journal as it is now. JournalError when it is none, JobBusy while it is being written."""
    size_bytes, digest = path.stat().st_size, fingerprint(path)
    brought, whole = _brought(path)
    if path.stat().st_size != size_bytes:
        raise JobBusy(f"{path}: is being written; try again when it is done")
    return Sealed(digest, size_bytes, when.isoformat(timespec="seconds"), whole, brought)


def has_last_line(path: Path) -> bool:
    """Whether a plain journal was closed, by its end alone."""
    with path.open("rb") as file:
        file.seek(max(0, path.stat().st_size - TAIL_BYTES))
        last = file.read(TAIL_BYTES).rstrip(b"\n").rpartition(b"\n")[2]
    try:
        return isinstance(decode_line(last), Footer)
    except BadLine:
        return False


def _brought(path: Path) -> tuple[Brought, bool]:
    reader = open_journal(path)
    car, clear = Car(can=reader.header.can), _Clear()
    codes: dict[str, dict[str, float]] = {}
    for arrival in reader.arrivals():
        clear.see(arrival)
        out: list[Happening] = []
        car.expire(arrival.t, out)
        car.fold(arrival, out)
        _note(out, codes)
    last: list[Happening] = []
    car.end(last)
    _note(last, codes)
    complete = tuple(monitor for monitor, state in car.monitor_states().items() if state == "complete")
    return Brought(tuple(sorted(car.ecus)), codes, clear.state, complete), not reader.report.cut_short


def _note(out: list[Happening], codes: dict[str, dict[str, float]]) -> None:
    for happening in out:
        if isinstance(happening, CodeAppeared):
            codes.setdefault(happening.kind, {}).setdefault(happening.code, happening.t)


class _Clear:
    """Whether a clear was sent, by what was asked and answered alone; proved where every unit that spoke confirmed."""

    def __init__(self) -> None:
        self._sent = False
        self._heard: set[str] = set()
        self._confirmed: set[str] = set()
        self._refused: set[str] = set()

    def see(self, arrival: Arrival) -> None:
        """The next arrival of the file."""
        if isinstance(arrival, Request):
            asked = read_question(arrival.text)
            self._sent = self._sent or (asked is not None and asked.service == CLEAR)
        elif isinstance(arrival, Answer):
            self._heard.add(arrival.ecu)
            if arrival.payload[:1] == b"\x44":
                self._confirmed.add(arrival.ecu)
            elif arrival.payload[:2] == b"\x7f\x04" and arrival.payload[2:3] != bytes((PENDING,)):
                self._refused.add(arrival.ecu)

    @property
    def state(self) -> ClearState:
        """What may be said of it."""
        if not self._sent and not self._confirmed:
            return "none"
        if self._confirmed == self._heard and not self._refused and self._heard:
            return "proved"
        return "refused" if self._heard and self._refused == self._heard else "unproved"
