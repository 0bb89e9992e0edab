"""The record of a car: one value, folded from the arrivals of as many recordings as there are of it.

`begin` a recording, `feed` its arrivals, `finish`; `missing` where one is gone. What is concluded at the end is what
may be said of the car now. A recording that is not proved to be of this car is no evidence: it changes nothing here.
"""

from dataclasses import dataclass, field

from msgspec.structs import replace

from coach.car.arrivals import Answer, Arrival, LinkChange
from coach.car.car import Car, ChangedSignals
from coach.car.concluding import FOREIGN
from coach.car.conclusion import Conclusion
from coach.car.happenings import Happening
from coach.car.known import Known, cleared_perhaps, known_after


@dataclass(slots=True)
class Record:
    """`known`: what all finished recordings told. `car`: as the recording under way, or the last of its own, left it.

    `lacking`: names of recordings that are gone, changed or cannot be read. `foreign`: those that are no evidence,
    or not to their end. `_own`: as this recording left it where its link last broke and it was surely this car; none
    again when somebody was heard behind it who may have been this car too, `_heard` in the present link.
    """

    known: Known = field(default_factory=Known)
    car: Car = field(default_factory=Car)
    lacking: tuple[str, ...] = ()
    foreign: tuple[str, ...] = ()
    _name: str = ""
    _before: Car | None = None
    _own: Car | None = None
    _heard: bool = False

    def begin(self, name: str, can: bool | None = None, year_now: int | None = None, same_car: bool = False) -> Car:
        """A recording of this name begins; the car that takes its arrivals. `same_car`: the user says that it is."""
        self._name, self._before, self._own, self._heard = name, self.car, None, False
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
        if type(arrival) is Answer:
            self._heard = True
        elif type(arrival) is LinkChange:
            self._parted()
        self.car.expire(arrival.t, out)
        return self.car.fold(arrival, out)

    def _parted(self) -> None:
        """The link changes: whose words came over the one before is settled now."""
        identity, heard, self._heard = self.car.signs.state, self._heard, False
        if identity not in FOREIGN:
            self._own = self.car.copy()
        elif identity != "another" and (heard or self._clear_sent()):
            self._nobodys()

    def _clear_sent(self) -> bool:
        """Whether a clear was sent over the present link."""
        clear, since_t = self.car.clear, self.car.episode_t
        return clear.request_id is not None and clear.t is not None and clear.t >= (since_t or 0.0)

    def _nobodys(self) -> None:
        """Somebody was asked who may have been this car: nothing of before stands, and a clear may have been of it."""
        if self._own is not None:
            self.known = known_after(self._own)
        if self._clear_sent():
            self.known = cleared_perhaps(self.known)
        self._own, self._before = None, self._unheard()

    def _unheard(self) -> Car:
        """This car as it is known, and nothing of it heard."""
        car = Car(can=self.car.can)
        car.remember(self.known)
        return car

    def finish(self) -> tuple[Happening, ...]:
        """The recording is over: its last question is closed, and what it told of the car is known from here."""
        out: list[Happening] = []
        self.car.end(out)
        identity = self.car.signs.state
        if identity not in FOREIGN:
            self.known = known_after(self.car)
            return tuple(out)
        self.foreign = (*self.foreign, self._name)
        if identity != "another":
            self._nobodys()
        elif self._own is not None:
            self.car, self.known = self._own, known_after(self._own)
        else:
            self.car = self._before or Car()
        return tuple(out)

    def missing(self, name: str, cleared: bool = False) -> None:
        """A recording of this car that is gone, changed or cannot be read: whatever came last may stand in it.

        `cleared`: a clear was sent in it.
        """
        self.lacking = (*self.lacking, name)
        if cleared:
            self.known = cleared_perhaps(self.known)
        self.car = self._unheard()

    def conclude(self) -> Conclusion:
        """What may be said of the car now."""
        return self.car.conclude()
