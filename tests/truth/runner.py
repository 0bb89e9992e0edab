"""Runs histories through a program and counts: falsehoods, exceptions, muteness, and what was generated."""

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from random import Random
from typing import Protocol

from coach.car.arrivals import Arrival
from coach.car.conclusion import Conclusion
from tests.truth.checker import falsehoods, mute
from tests.truth.life import make_history
from tests.truth.story import Begin, End, Gone, History, Truth


class Program(Protocol):
    """What a history is fed to: `coach.car.record.Record`, or one with a planted fault."""

    def begin(self, name: str, can: bool | None = None, year_now: int | None = None) -> object:
        """A file begins."""

    def feed(self, arrival: Arrival) -> object:
        """One arrival."""

    def missing(self, name: str) -> object:
        """A file that is known of cannot be read."""

    def finish(self) -> object:
        """The file ends."""

    def conclude(self) -> Conclusion:
        """What may be said now."""


LENGTH = 220  # bytes of a history; past them every choice is the plain one


@dataclass(slots=True)
class Found:
    """What came of one history: falsehoods and muteness in words, the first with its place among the events."""

    wrong: list[str] = field(default_factory=list)
    mute: list[str] = field(default_factory=list)
    place: int | None = None
    truths: int = 0


@dataclass(slots=True)
class Table:
    """Sums over many histories. `failing`: the bytes of the first histories that failed, by what was wrong."""

    count: int = 0
    made: Counter[str] = field(default_factory=Counter)
    wrong: Counter[str] = field(default_factory=Counter)
    mute_clean: Counter[str] = field(default_factory=Counter)
    mute_ended: Counter[str] = field(default_factory=Counter)
    clean: int = 0
    ended: int = 0
    mute_ended_histories: int = 0
    truths: int = 0
    failing: dict[str, bytes] = field(default_factory=dict)

    def add(self, other: "Table") -> None:
        """Add another table's sums."""
        for name in ("made", "wrong", "mute_clean", "mute_ended"):
            getattr(self, name).update(getattr(other, name))
        for name in ("count", "clean", "ended", "mute_ended_histories", "truths"):
            setattr(self, name, getattr(self, name) + getattr(other, name))
        for what, data in other.failing.items():
            self.failing.setdefault(what, data)


def run(history: History, program: Program) -> Found:
    """Feed all files to the program and ask it for its conclusion wherever the truth is set down."""
    found = Found()
    for place, event in enumerate(history.events):
        kind = type(event)
        if kind is Truth:
            said = program.conclude()
            found.truths += 1
            wrong = falsehoods(said, event)
            if wrong and found.place is None:
                found.place = place
            found.wrong += wrong
            if event.must:
                found.mute += mute(said, event)
        elif kind is Begin:
            program.begin(event.name, event.can, event.year_now)
        elif kind is Gone:
            program.missing(event.name)
        elif kind is End:
            program.finish()
        else:
            program.feed(event)
    return found


def run_many(datas: Iterable[bytes], make: Callable[[], Program]) -> Table:
    """Many histories, summed up. An exception is a falsehood of its own kind."""
    table = Table()
    for data in datas:
        history = make_history(data)
        table.count += 1
        table.made.update(history.made)
        try:
            found = run(history, make())
        except Exception as error:  # whatever it is, it is counted with its history
            found = Found([f"exception {type(error).__name__}: {error}"])
        _sum(table, history, found, data)
    return table


def _sum(table: Table, history: History, found: Found, data: bytes) -> None:
    for what in set(found.wrong):
        table.wrong[what] += 1
        table.failing.setdefault(what, data)
    table.clean += history.clean
    table.ended += history.ended and not history.clean
    table.truths += found.truths
    if found.mute:
        table.mute_ended_histories += not history.clean
        (table.mute_clean if history.clean else table.mute_ended).update(set(found.mute))
        for what in found.mute:
            table.failing.setdefault(("clean: " if history.clean else "ended: ") + what, data)


def seeded(seed: int, count: int, length: int = LENGTH) -> Iterable[bytes]:
    """The bytes of so many histories, the same for a seed on every machine."""
    draw = Random(seed)
    return (draw.randbytes(length) for _ in range(count))


def smaller(data: bytes, fails: Callable[[bytes], bool]) -> bytes:
    """The same failure with fewer and plainer choices: chunks are cut, then bytes made zero, as long as it fails."""
    size = len(data)
    while size >= 1:
        at = 0
        while at < len(data):
            shorter = data[:at] + data[at + size :]
            if fails(shorter):
                data = shorter
            else:
                at += size
        size //= 2
    for at in range(len(data)):
        for plainer in (0, 1, 2, 3):
            if plainer < data[at] and fails(data[:at] + bytes([plainer]) + data[at + 1 :]):
                data = data[:at] + bytes([plainer]) + data[at + 1 :]
                break
    return data
