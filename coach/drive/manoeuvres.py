"""Trackers of the phases made of repeated manoeuvres: stop-and-go, load step; parked.

Each attempt that looked meant is told, counted or rejected with what spoiled it; the rest of the traffic is silence.
"""

from dataclasses import dataclass, replace
from typing import ClassVar

from coach.car.accelerator import RANK
from coach.car.car import Car
from coach.car.happenings import Happening
from coach.car.totals import IDLE_KMH
from coach.drive.foot import Foot
from coach.drive.happenings import RepeatCounted, RepeatRejected
from coach.drive.limits import LoadStepLimits, TownLimits
from coach.drive.trackers import Holding, Repeats, Tracker, standing_idle

MEANT_S = 3.0  # our judgement: a shorter lift of the foot is traffic, not an attempt


@dataclass(slots=True)
class StopAndGo(Holding):
    """Town driving: time below the upper speed, stops at idle, and stretches at a steady speed.

    The hold itself has no end here; the phase is driven when its time and both counts are there.
    """

    limits: TownLimits = None  # type: ignore[assignment]
    idle_stops: int = 0
    steady_stretches: int = 0
    idle_s: float = 0.0
    steady_s: float = 0.0
    steady_from_kmh: float = 0.0
    _last_t: float | None = None
    _idle_done: bool = False
    _steady_done: bool = False
    signals: ClassVar[tuple[str, ...]] = ("speed_kmh",)

    def update(self, signal: str, car: Car, foot: Foot, out: list[Happening]) -> None:
        """Judge one speed sample."""
        t, kmh = car.now, car.values["speed_kmh"]
        dt = t - self._last_t if self._last_t is not None else -1.0
        self._last_t = t
        if self.driven_t is not None:
            return
        top = self.limits.high_kmh + self.limits.steady_kmh
        if kmh > top and self.hold.quiet(t):
            self._end_stretches()
            return
        if not self.gate.open:
            self._step(t, self.gate.why, out)
        elif car.cycle.running is False:
            self._step(t, ("engine_stopped", car.values["rpm"], None), out)
        elif kmh > top:
            self._step(t, ("above_band", kmh, top), out)
        else:
            self._parts(t, dt if 0 <= dt <= self.hold.bridge_s else 0.0, kmh, car, out)
            self._step(t, None, out)

    def remaining_s(self) -> float:
        """The hold's rest, or what the missing stops and stretches take at the least."""
        if self.driven_t is not None:
            return 0.0
        limits = self.limits
        stops = max(0, limits.idle_count - self.idle_stops) * limits.idle_s
        steady = max(0, limits.steady_count - self.steady_stretches) * limits.steady_s
        return max(limits.duration_s - self.hold.held_s, stops + steady)

    def repeats(self) -> tuple[Repeats, ...]:
        """Stops and steady stretches."""
        limits = self.limits
        return (
            Repeats("idle_stop", self.idle_stops, limits.idle_count),
            Repeats("steady", self.steady_stretches, limits.steady_count),
        )

    def left(self) -> float:
        """The largest of the shares still missing."""
        if self.driven_t is not None:
            return 0.0
        limits = self.limits
        held = 1.0 - self.hold.held_s / limits.duration_s
        stops = 1.0 - self.idle_stops / limits.idle_count if limits.idle_count else 0.0
        steady = 1.0 - self.steady_stretches / limits.steady_count if limits.steady_count else 0.0
        return max(0.0, held, stops, steady)

    def again(self) -> None:
        """Everything from the start."""
        Holding.again(self)
        self.idle_stops = self.steady_stretches = 0
        self._end_stretches()

    def new_cycle(self, t: float, out: list[Happening]) -> None:
        """Unfinished parts do not outlive the driving cycle."""
        Holding.new_cycle(self, t, out)
        if self.driven_t is None:
            self.idle_stops = self.steady_stretches = 0
        self._end_stretches()

    def _step(self, t: float, broken: tuple[str, float | None, float | None] | None, out: list[Happening]) -> None:
        if broken is not None:
            self._end_stretches()
        self.hold.step(t, broken, out)
        limits = self.limits
        parts = self.idle_stops >= limits.idle_count and self.steady_stretches >= limits.steady_count
        if self.hold.held_s >= limits.duration_s and parts:
            self.full(t, self.hold.held_s, out)

    def _parts(self, t: float, dt: float, kmh: float, car: Car, out: list[Happening]) -> None:
        limits = self.limits
        if kmh <= IDLE_KMH and standing_idle(car):
            self.idle_s += dt
            if self.idle_s >= limits.idle_s and not self._idle_done:
                self._idle_done = True
                self.idle_stops += 1
                self._count(t, "idle_stop", self.idle_stops, limits.idle_count, self.idle_s, out)
        else:
            self.idle_s, self._idle_done = 0.0, False
        inside = limits.low_kmh <= kmh <= limits.high_kmh
        if inside and dt > 0 and abs(kmh - self.steady_from_kmh) <= limits.steady_kmh:
            self.steady_s += dt
            if self.steady_s >= limits.steady_s and not self._steady_done:
                self._steady_done = True
                self.steady_stretches += 1
                self._count(t, "steady", self.steady_stretches, limits.steady_count, self.steady_s, out)
        else:
            self.steady_s, self._steady_done, self.steady_from_kmh = 0.0, False, kmh

    def _count(self, t: float, what: str, count: int, wanted: int, lasted_s: float, out: list[Happening]) -> None:
        if count <= wanted:
            out.append(RepeatCounted(t, self.phase, what, count, wanted, round(lasted_s, 3)))

    def _end_stretches(self) -> None:
        self.idle_s = self.steady_s = 0.0
        self._idle_done = self._steady_done = False


@dataclass(slots=True)
class LoadStep(Tracker):
    """Idle, a firm acceleration, a short cruise.

    States: waiting -> ready (idled long enough) -> pulling (moves off) -> cruising (reached `to_kmh`) -> waiting.
    """

    limits: LoadStepLimits = None  # type: ignore[assignment]
    state: str = "waiting"
    count: int = 0
    idle_s: float = 0.0
    cruise_s: float = 0.0
    most_pct: float | None = None
    foot_seen: bool = True
    _t: float | None = None
    signals: ClassVar[tuple[str, ...]] = ("speed_kmh", *RANK)

    def update(self, signal: str, car: Car, foot: Foot, out: list[Happening]) -> None:
        """Speed moves the attempt on; the accelerator says how firm it was."""
        if self.driven_t is not None:
            return
        if signal != "speed_kmh":
            if self.state == "pulling":
                above = car.accelerator.above_rest(signal, car.values[signal])
                self.most_pct = above if self.most_pct is None else max(self.most_pct, above or 0.0)
            return
        t, kmh = car.now, car.values["speed_kmh"]
        dt = t - self._t if self._t is not None else -1.0
        self._t = t
        if not 0 <= dt <= self.limits.bridge_s or not self.gate.open or car.cycle.running is False:
            self._wait()
            return
        STEPS[self.state](self, t, dt, kmh, car, out)

    def interrupt(self) -> None:
        """An interval of unknown length ends an attempt."""
        self._t = None
        self._wait()

    def new_cycle(self, t: float, out: list[Happening]) -> None:
        """The attempt under way ends."""
        self.interrupt()

    def again(self) -> None:
        """Count from zero."""
        self.driven_t, self.count = None, 0
        self._wait()

    def repeats(self) -> tuple[Repeats, ...]:
        """The accelerations."""
        return (Repeats("load_step", self.count, self.limits.repeats),)

    def remaining_s(self) -> float:
        """Idle and cruise of the missing repeats; getting up to speed comes on top in the plan."""
        return self.left() * self.limits.repeats * (self.limits.idle_s + self.limits.cruise_s)

    def left(self) -> float:
        """The share of the repeats still missing."""
        return 0.0 if self.driven_t is not None else max(0, self.limits.repeats - self.count) / self.limits.repeats

    def _wait(self) -> None:
        self.state, self.idle_s, self.cruise_s, self.most_pct = "waiting", 0.0, 0.0, None

    def _waiting(self, t: float, dt: float, kmh: float, car: Car, out: list[Happening]) -> None:
        if standing_idle(car) and car.accelerator.released(car.now) is not False:
            self.idle_s += dt
            if self.idle_s >= self.limits.idle_s:
                self.state = "ready"
        else:
            self.idle_s = 0.0

    def _ready(self, t: float, dt: float, kmh: float, car: Car, out: list[Happening]) -> None:
        if kmh > IDLE_KMH:
            self.state, self.most_pct = "pulling", None

    def _pulling(self, t: float, dt: float, kmh: float, car: Car, out: list[Happening]) -> None:
        if kmh <= IDLE_KMH:
            self._wait()
        elif kmh >= self.limits.to_kmh:
            low, high = self.limits.accelerator_low_pct, self.limits.accelerator_high_pct
            if self.most_pct is not None and self.most_pct < low:
                self._reject(t, "too_gentle", round(self.most_pct, 1), low, out)
            elif self.most_pct is not None and self.most_pct > high:
                self._reject(t, "too_firm", round(self.most_pct, 1), high, out)
            else:
                self.foot_seen = self.foot_seen and self.most_pct is not None
                self.state, self.cruise_s = "cruising", 0.0

    def _cruising(self, t: float, dt: float, kmh: float, car: Car, out: list[Happening]) -> None:
        limits = self.limits
        if abs(kmh - limits.to_kmh) > 2 * limits.cruise_kmh and self.cruise_s > MEANT_S:
            self._reject(t, "left_speed", kmh, limits.to_kmh, out)
        elif abs(kmh - limits.to_kmh) <= limits.cruise_kmh:
            self.cruise_s += dt
            if self.cruise_s >= limits.cruise_s:
                self._done(t, out)
        elif kmh < limits.to_kmh - limits.cruise_kmh:
            self._reject(t, "left_speed", kmh, limits.to_kmh - limits.cruise_kmh, out)

    def _done(self, t: float, out: list[Happening]) -> None:
        lasted = self.idle_s + self.cruise_s
        self._wait()
        self.count += 1
        out.append(RepeatCounted(t, self.phase, "load_step", self.count, self.limits.repeats, round(lasted, 3)))
        if self.count >= self.limits.repeats:
            self.full(t, lasted * self.count, out, () if self.foot_seen else ("accelerator_firm",))

    def _reject(self, t: float, reason: str, value: float | None, limit: float | None, out: list[Happening]) -> None:
        self._wait()
        out.append(RepeatRejected(t, self.phase, "load_step", reason, value, limit))


STEPS = {
    "waiting": LoadStep._waiting,
    "ready": LoadStep._ready,
    "pulling": LoadStep._pulling,
    "cruising": LoadStep._cruising,
}
"""The transition table: which step a speed sample takes in which state."""


@dataclass(slots=True)
class Parked(Tracker):
    """Parked with the engine off, as the engine-off leak test wants it. Nothing in a recorded drive can fill it.

    It is driven only by the job's own record: parked long enough after a drive that was long enough.
    """

    duration_s: float = 0.0

    def remaining_s(self) -> float:
        """The whole of it, since nothing is asked of the car meanwhile."""
        return 0.0 if self.driven_t is not None else self.duration_s

    def parked(self, t: float, parked_s: float, out: list[Happening]) -> None:
        """The record says how long the car stood before this drive."""
        if self.driven_t is None and parked_s >= self.duration_s and self.gate.open:
            self.full(t, parked_s, out)

    def copy(self) -> "Parked":
        """An independent copy."""
        return replace(self, gate=self.gate.copy())
