"""What a history is made of: choices, the events of its files, and the truth at its moments.

A history follows from a string of bytes alone: each choice takes one byte, and past its end every choice is the first,
which is always the plain one. So a history that fails can be made smaller by cutting and zeroing bytes.
"""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import NamedTuple, TypeAlias

from coach.car.arrivals import Arrival


class Choices:
    """Choices out of a string of bytes; `at` is how many were taken."""

    __slots__ = ("at", "data")

    def __init__(self, data: bytes) -> None:
        self.data, self.at = data, 0

    def __call__(self, many: int) -> int:
        """One of 0 to `many` - 1."""
        at = self.at
        self.at = at + 1
        return self.data[at] % many if at < len(self.data) else 0

    def seldom(self, many: int) -> bool:
        """True once in `many`; never past the end."""
        return self(many) == many - 1


@dataclass(slots=True)
class Begin:
    """A file begins: a new plug-in. `year_now`: the calendar year its header tells, none when it tells none."""

    name: str
    can: bool
    year_now: int | None


@dataclass(slots=True)
class Gone:
    """A file that is known to have been there and cannot be read any more."""

    name: str


@dataclass(slots=True)
class End:
    """The file ends; its last question had its time."""


class Clear(NamedTuple):
    """A clear of a car: one was seen being sent, every unit obeyed the last of them, every unit is cleared since."""

    sent: bool
    acted: bool
    proved: bool


@dataclass(slots=True)
class Truth:
    """What may be said of the car in front of the adapter at this moment, as masks of monitors and flags.

    `complete`, `open`, `supported`: monitors that may be called complete, incomplete, that the car has as far as the
    reader can know. `off`, `lit`: whether the MIL may be called off, on. `clean`: by kind of code, whether "none" may
    be said; `present`: the codes that may be named. `identity`: the words that would be wrong. `clear`: of this car,
    and of the one that the record is of. `must`: findings that have to be told now. `known_old`: the reader knows the
    car to be too old for permanent codes.
    """

    layout: int
    supported: int
    complete: int
    open: int
    off: bool
    lit: bool
    clean: dict[str, bool]
    present: dict[str, frozenset[str]]
    identity: frozenset[str]
    clear: Clear
    clear_of_first: Clear
    odd: bool
    must: frozenset[str]
    known_old: bool
    where: str


Event: TypeAlias = Arrival | Begin | Gone | End | Truth


@dataclass(slots=True)
class History:
    """All files of one job in order, with the truth between; `made` counts what kinds of trouble are in it.

    `ended`: its trouble was ended by clean answers, so that the last truth says what must be told.
    """

    events: list[Event] = field(default_factory=list)
    made: Counter[str] = field(default_factory=Counter)
    clean: bool = True
    ended: bool = False

    def told(self) -> Iterator[str]:
        """The history line by line, for whoever looks at a falsehood."""
        for event in self.events:
            yield str(event)
