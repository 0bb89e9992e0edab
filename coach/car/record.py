"""The record of a car: one value, folded from the arrivals of as many recordings as there are of it.

`begin` a recording, `feed` its arrivals, `finish`; `missing` where one is gone. What is concluded at the end is what
may be said of the car now. A recording that is not proved to be of this car is no evidence: it changes nothing here.
"""

from dataclasses import dataclass, field

from msgspec.structs import replace

from coach.car.arrivals import Arrival
from coach.car.car import Car, ChangedSignals
from coach.car.clears import UnitCleared
from coach.car.concluding import FOREIGN
from coach.car.conclusion import Conclusion
from coach.car.happenings import Happening
from coach.car.known import Known, known_after


@dataclass(slots=True)
class Record:
    """`known`: what all finished recordings told. `car`: as the recording under way, or the last of its own, left it.

    `lacking`: names of recordings that are gone, changed or cannot be read. `foreign`: those that are no evidence.
    """

    known: Known = field(default_factory=Known)
    car: Car = field(default_factory=Car)
    lacking: tuple[str, ...] = ()
    foreign: tuple[str, ...] = ()
    _name: str = ""
    _before: Car | None = None

    def begin(self, name: str, can: bool | None = None, year_now: int | None = None, same_car: bool = False) -> Car:
        """A recording of this name begins; the car that takes its arrivals. `same_car`: the user says that it is."""
        self._name, self._before = name, self.car
        self.car = Car(can=can)
        self.car.remember(replace(self.known, year_now=year_now or self.known.year_now, same_car=same_car))
        return self.car

    def feed(self, arrival: Arrival) -> tuple[Happening, ...]:
        """One arrival of the recording under way; what happened."""
        out: list[Happening] = []
        self.take(arrival, out)
        return tuple(out)

    def take(self, arrival: Arrival, out: list[Happening]) -> ChangedSignals:
        """The same; happenings go to `out`, the signals heard come back. A record from the past is not used."""
        if arrival.t < self.car.now:
            self.car.dropped(arrival)
            return ()
        self.car.expire(arrival.t, out)
        return self.car.fold(arrival, out)

    def finish(self) -> tuple[Happening, ...]:
        """The recording is over: its last question is closed, and what it told of the car is known from here."""
        out: list[Happening] = []
        self.car.end(out)
        if self.car.conclude().identity in FOREIGN:
            self.foreign = (*self.foreign, self._name)
            self.car = self._before if self._before is not None else Car()
        else:
            self.known = known_after(self.car)
        return tuple(out)

    def missing(self, name: str, cleared: bool = False) -> None:
        """A recording of this car that is gone, changed or cannot be read. `cleared`: a clear was sent in it."""
        self.lacking = (*self.lacking, name)
        if cleared:
            units = {a: replace(u, cleared=UnitCleared(had=u.loses)) for a, u in self.known.units.items()}
            self.known = replace(self.known, units=units, counters={}, clear_seen=True)
            self.car = Car(can=self.car.can)
            self.car.remember(self.known)

    def conclude(self) -> Conclusion:
        """What may be said of the car now."""
        return self.car.conclude()
