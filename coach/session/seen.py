"""One file of a job, folded to its end: the car as it was then, what was driven, what its beginning and end told."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from coach.car.arrivals import Answer, Request
from coach.car.car import Car
from coach.car.denominator import Denominator
from coach.car.happenings import CodeAppeared, GeneralDenominatorMet, Happening
from coach.inspection.confirm import Similar
from coach.jobs.records import Entry
from coach.journal.reader import open_journal
from coach.journal.records import Header
from coach.session.bounded import check_happenings


@dataclass(slots=True)
class Driven:
    """What was driven in one file, over all its driving cycles; the car's own totals begin afresh with each.

    `ran_t`: when the engine was last heard running, seconds; none when never.
    `missed`: the longest cycle surely lacked the regulated pattern; none when that cannot be told.
    """

    running_s: float = 0.0
    distance_km: float = 0.0
    longest_s: float = 0.0
    missed: bool | None = None
    ran_t: float | None = None
    _last: tuple[float, float, bool | None] = (0.0, 0.0, None)

    def see(self, totals: Denominator) -> None:
        """The car's totals after one arrival: when they fall, a cycle is over."""
        if totals.running_s < self._last[0]:
            self._add()
        if totals.running_s != self._last[0]:
            self._last = (totals.running_s, totals.distance_km, totals.missed())

    def end(self, totals: Denominator) -> None:
        """The file is over."""
        self.see(totals)
        self._add()

    def _add(self) -> None:
        running_s, distance_km, missed = self._last
        self.running_s += running_s
        self.distance_km += distance_km
        if running_s > self.longest_s:
            self.longest_s, self.missed = running_s, missed
        self._last = (0.0, 0.0, None)


@dataclass(slots=True)
class Seen:
    """One file of the job, folded to its end. `started`: the monitors at its first readiness.

    `codes_at_start`: every code reported before the engine was first heard running. `bad_lines`: lines in the middle
    of the file that cannot be read.
    """

    entry: Entry
    path: Path
    header: Header
    car: Car
    happened: tuple[Happening, ...]
    started: Mapping[str, str | None]
    codes_at_start: frozenset[str]
    confirmed_clear: frozenset[str]
    similar: bool | None
    end_t: float
    driven: Driven
    bad_lines: int = 0

    @property
    def pattern_met(self) -> bool | None:
        """Whether a drive of the regulated pattern is in this file; none when it cannot be told."""
        if any(isinstance(happening, GeneralDenominatorMet) for happening in self.happened):
            return True
        return False if self.driven.missed else None

    @property
    def read_at(self) -> str:
        """The wall clock at which readiness was last told, ISO 8601; the file's beginning where nobody told any."""
        t = max((ecu.readiness_t for ecu in self.car.ecus.values() if ecu.readiness is not None), default=0.0)
        return self.moment(t)

    def moment(self, t: float) -> str:
        """The wall clock at a second of this file, ISO 8601."""
        began = datetime.fromisoformat(self.header.began or self.entry.when)
        return (began + timedelta(seconds=t)).isoformat(timespec="seconds")


def fold(entry: Entry, path: Path, frozen: Mapping[str, float]) -> Seen:
    """One journal from end to end. `frozen`: the freeze frame to look for. JournalError when it is none, NoDrive when
    more happens in it than in any drive."""
    reader = open_journal(path)
    car, out, similar, driven = Car(), list[Happening](), Similar(frozen), Driven()
    car.can = reader.header.can
    started: dict[str, str | None] = {}
    confirmed: set[str] = set()
    known: frozenset[str] = frozenset()
    for arrival in reader.arrivals():
        car.expire(arrival.t, out)
        heard = car.fold(arrival, out)
        check_happenings(len(out), path)
        driven.see(car.denominator)
        if "rpm" in heard and car.cycle.running:
            known = known if driven.ran_t is not None else _codes_of(out)
            driven.ran_t = arrival.t
        if "rpm" in heard or "load_pct" in heard:
            values = car.fresh
            similar.see(values("rpm", 6.0), values("load_pct", 6.0), car.values.get("coolant_c"))
        if isinstance(arrival, Answer) and arrival.payload == b"\x44":
            confirmed.add(arrival.ecu)
        if not started and isinstance(arrival, Request):  # by then every unit has answered the one before
            started = _told(car)
    car.end(out)
    started = started or _told(car)
    driven.end(car.denominator)
    known = known if driven.ran_t is not None else _codes_of(out)
    near, told = similar.result(), frozenset(confirmed)
    bad = reader.report.bad_count
    return Seen(entry, path, reader.header, car, tuple(out), started, known, told, near, car.now, driven, bad)


def _codes_of(out: list[Happening]) -> frozenset[str]:
    return frozenset(h.code for h in out if isinstance(h, CodeAppeared) and h.kind != "permanent")


def _told(car: Car) -> dict[str, str | None]:
    """The monitors, empty before any control unit told its readiness."""
    return dict(car.monitor_states()) if any(ecu.readiness is not None for ecu in car.ecus.values()) else {}
