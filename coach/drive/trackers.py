"""Trackers of the steady phases: cruise and idle. One runs per phase, all the time, whatever was asked for.

A tracker looks only at the signals it names, keeps its own clock, and tells facts. It plans nothing.
"""

from dataclasses import dataclass, replace
from typing import ClassVar, NamedTuple

from coach.car.car import Car
from coach.car.happenings import Happening
from coach.car.totals import IDLE_KMH
from coach.drive.foot import Foot
from coach.drive.gates import Gate
from coach.drive.happenings import PartFilled, PhaseDriven
from coach.drive.hold import FULL, Break, Hold
from coach.drive.limits import CruiseLimits, IdleLimits
from coach.drive.parts import PartClock

RPM_FRESH_S = 6.0  # our judgement, as the longest bridge: an older engine speed says nothing of this moment


class Repeats(NamedTuple):
    """How often something that is to be repeated was good: deceleration, load_step, idle_stop or steady."""

    what: str
    counted: int
    wanted: int


@dataclass(slots=True)
class Tracker:
    """What all trackers have: the phase id, its gate, how often it was driven, and when first."""

    phase: str
    gate: Gate
    times: int = 0
    driven_t: float | None = None
    signals: ClassVar[tuple[str, ...]] = ()

    def update(self, signal: str, car: Car, foot: Foot, out: list[Happening]) -> None:
        """Take the newest value of `signal`, one of `signals`."""
        raise AssertionError("every tracker has its own update")

    def expire(self, t: float, out: list[Happening]) -> None:
        """Tell what fell due by `t`."""

    def deadline(self) -> float | None:
        """When `expire` has something to say."""
        return None

    def interrupt(self) -> None:
        """The interval up to the next sample must not count."""

    def new_cycle(self, t: float, out: list[Happening]) -> None:
        """A new driving cycle was proved: what is not finished starts afresh."""

    def again(self) -> None:
        """To be driven once more."""
        self.driven_t = None

    def cleared(self, t: float, out: list[Happening]) -> None:
        """The memory was cleared: what was driven before does not count any more."""
        self.again()

    def repeats(self) -> tuple[Repeats, ...]:
        """What is to be repeated, and how often it was."""
        return ()

    def remaining_s(self) -> float | None:
        """Seconds of hold still missing, 0 when driven, none when the phase is not a matter of seconds."""
        return 0.0 if self.driven_t is not None else None

    def left(self) -> float:
        """The share of the phase still to drive, 0 to 1."""
        return 0.0 if self.driven_t is not None else 1.0

    def copy(self) -> "Tracker":
        """An independent copy."""
        return replace(self, gate=self.gate.copy())

    def full(self, t: float, held_s: float, out: list[Happening], unseen: tuple[str, ...] = ()) -> None:
        """Tell that the phase is driven; `unseen` are the parts the car does not show."""
        self.times += 1
        self.driven_t = t
        out.append(PhaseDriven(t, self.phase, round(held_s, 3), self.times, (*self.gate.unwatched, *unseen)))


@dataclass(slots=True)
class Holding(Tracker):
    """A tracker with one hold as its clock."""

    hold: Hold = None  # type: ignore[assignment]
    parts: tuple[PartClock, ...] = ()
    _part_t: float | None = None

    def expire(self, t: float, out: list[Happening]) -> None:
        """Pause the hold when no sample came for longer than its bridge."""
        self.hold.expire(t, out)

    def deadline(self) -> float | None:
        """The hold's own deadline."""
        return self.hold.deadline()

    def interrupt(self) -> None:
        """Hand on to the hold."""
        self._part_t = None
        self.hold.interrupt()

    def new_cycle(self, t: float, out: list[Happening]) -> None:
        """An unfinished hold does not outlive its driving cycle."""
        self.hold.reset(t, "new_driving_cycle", out)

    def again(self) -> None:
        """Start the clocks at zero."""
        self.driven_t = None
        self.hold.again()
        for part in self.parts:
            part.again()

    def cleared(self, t: float, out: list[Happening]) -> None:
        """Lose what was held before the clear."""
        self.hold.reset(t, "codes_cleared", out)
        self.again()

    def remaining_s(self) -> float:
        """Seconds still to hold, those of the longest open part if they are more."""
        if self.driven_t is not None:
            return 0.0
        hold_s = 0.0 if self.hold.state == FULL else self.hold.duration_s - self.hold.held_s
        return max(0.0, hold_s, *(part.wanted_s - part.held_s for part in self.parts if part.open))

    def left(self) -> float:
        """The share of the hold still empty."""
        return min(1.0, self.remaining_s() / self.hold.duration_s)

    def copy(self) -> "Holding":
        """An independent copy."""
        parts = tuple(part.copy() for part in self.parts) if self.parts else ()
        return replace(self, gate=self.gate.copy(), hold=self.hold.copy(), parts=parts)

    def take(self, car: Car, broken: Break | None, out: list[Happening]) -> None:
        """One judged sample."""
        if self.driven_t is not None:
            return
        if self.parts:
            self._step_parts(car, broken is None, out)
        if self.hold.state != FULL:
            self.hold.step(car.now, broken, out)
        if self.hold.state == FULL and not any(part.open for part in self.parts):
            unseen = tuple(part.name for part in self.parts if not part.seen)
            self.full(car.now, self.hold.held_s, out, (*self.unwatched(car), *unseen))

    def unwatched(self, car: Car) -> tuple[str, ...]:
        """Conditions of the hold itself that the car never told."""
        return ()

    def _step_parts(self, car: Car, inside: bool, out: list[Happening]) -> None:
        last, self._part_t = self._part_t, car.now if inside else None
        dt = car.now - last if last is not None and inside else 0.0
        for part in self.parts:
            if part.step(car, dt if inside and 0 <= dt <= self.hold.bridge_s else -1.0):
                out.append(PartFilled(car.now, self.phase, part.name, round(part.held_s, 3)))


@dataclass(slots=True)
class Cruise(Holding):
    """A steady cruise inside a speed band, with a steady foot and the engine running."""

    limits: CruiseLimits = None  # type: ignore[assignment]
    signals: ClassVar[tuple[str, ...]] = ("speed_kmh",)

    def update(self, signal: str, car: Car, foot: Foot, out: list[Happening]) -> None:
        """Judge one speed sample with what else is known at this moment."""
        t, kmh, limits, hold = car.now, car.values["speed_kmh"], self.limits, self.hold
        if hold.inside:
            low, high = limits.leave_low_kmh, limits.leave_high_kmh
        else:
            low, high = limits.low_kmh, limits.high_kmh
        if low <= kmh <= high:
            broken = self._beside_speed(car, foot)
        elif self.driven_t is not None or (hold.state != FULL and hold.quiet(t)):
            return
        else:
            broken = ("below_band", kmh, low) if kmh < low else ("above_band", kmh, high)
        self.take(car, broken, out)

    def _beside_speed(self, car: Car, foot: Foot) -> Break | None:
        if not self.gate.open:
            return self.gate.why
        limits = self.limits
        broken = engine_break(car, limits.engine_on)
        if broken is not None:
            return broken
        running = car.cycle.running
        even = limits.leave_foot_pct if self.hold.inside else limits.foot_pct
        if even is not None and foot.away_pct is not None and abs(foot.away_pct) > even:
            return ("foot_moved", round(foot.away_pct, 1), even)
        return self._engine_speed(car) if limits.low_rpm is not None and running else None

    def unwatched(self, car: Car) -> tuple[str, ...]:
        """The engine and the foot, where nothing was heard of them."""
        missing = [] if car.cycle.running is not None else ["engine_on"]
        if self.limits.low_rpm is not None and car.cycle.running is None:
            missing.append("rpm_band")
        if self.limits.foot_pct is not None and not any(signal in car.values for signal in self.limits.foot_signals):
            missing.append("even_foot")
        return tuple(missing)

    def _engine_speed(self, car: Car) -> Break | None:
        limits, rpm = self.limits, car.values["rpm"]
        inside = self.hold.inside
        low = limits.leave_low_rpm if inside else limits.low_rpm
        high = limits.leave_high_rpm if inside else limits.high_rpm
        if low is not None and rpm < low:
            return ("rpm_low", rpm, low)
        if high is not None and rpm > high:
            return ("rpm_high", rpm, high)
        return None


@dataclass(slots=True)
class Idle(Holding):
    """Standing with the engine idling and the accelerator released."""

    limits: IdleLimits = None  # type: ignore[assignment]
    signals: ClassVar[tuple[str, ...]] = ("speed_kmh",)

    def update(self, signal: str, car: Car, foot: Foot, out: list[Happening]) -> None:
        """Judge one speed sample."""
        t, kmh = car.now, car.values["speed_kmh"]
        if kmh > self.limits.speed_max_kmh:
            if self.driven_t is None and (self.hold.state == FULL or not self.hold.quiet(t)):
                self.take(car, ("car_moves", kmh, self.limits.speed_max_kmh), out)
            return
        self.take(car, self._beside_speed(car), out)

    def _beside_speed(self, car: Car) -> Break | None:
        if self.limits.cold_start and car.cycle.moved:
            return ("already_driven_off", None, None)
        if not self.gate.open:
            return self.gate.why
        broken = engine_break(car, engine_on=True)
        if broken is None and self.limits.accelerator_closed and car.accelerator.released(car.now) is False:
            return ("accelerator_pressed", None, None)
        return broken

    def unwatched(self, car: Car) -> tuple[str, ...]:
        """The accelerator, where nothing was heard of it."""
        return () if car.accelerator.closed is not None else ("accelerator_released",)


def engine_break(car: Car, engine_on: bool) -> Break | None:
    """Why the engine breaks a hold. `engine_on`: only seconds with the engine known to run count."""
    running = car.cycle.running
    if running is False:
        return ("engine_stopped", car.values["rpm"], None)
    if running is None:
        return ("rpm_unknown", None, None) if engine_on else None
    return ("rpm_unknown", None, None) if car.now - car.heard_t["rpm"] > RPM_FRESH_S else None


def standing_idle(car: Car) -> bool:
    """True when the car stands and its engine is known to run."""
    return car.values.get("speed_kmh", 999.0) <= IDLE_KMH and car.cycle.running is True
