"""The tracker of closed-throttle decelerations: the foot off, the engine not driving, the car slowing.

Each attempt that looked meant is told, counted or rejected with what spoiled it; the rest of the traffic is silence.
"""

from dataclasses import dataclass, field, replace
from typing import ClassVar

from coach.car.accelerator import RANK
from coach.car.car import Car
from coach.car.happenings import Happening
from coach.drive.foot import Foot
from coach.drive.happenings import RepeatCounted, RepeatRejected
from coach.drive.limits import DecelerationLimits
from coach.drive.manoeuvres import MEANT_S
from coach.drive.overrun import WITNESSES, Overrun
from coach.drive.trackers import Repeats, Tracker, standing_idle

RISING_KMH = 3.0  # our judgement: gaining more than this over the lowest speed ends a deceleration
MEANT_KMH = 10.0  # our judgement: a lift of the foot that slows the car by less is traffic too
COASTING_MS2 = 2.0  # our judgement: slowing harder than this takes the brake; coasting in gear is below 1 m/s²
SLOWING_S, SLOWING_KMH = 5.0, 2.0
"""Our judgement: a car that loses less than 2 km/h in 5 s (0.11 m/s²) is held at its speed, by a hill or by the engine:
level coasting in the highest gear takes more, and two steps of the speed signal are no flicker."""
SETTLED_S = 2.0  # our judgement: the charger of a turbo engine needs this long to run down once the foot is off


@dataclass(slots=True)
class Deceleration(Tracker):
    """Rolling with the foot off: idle -> rolling (slows from a speed at or above `from_kmh`) -> counted or rejected.

    An attempt begins with the last moment at its highest speed, and ends at `to_kmh`. Time below `speed_min_kmh` does
    not count. While the speed is held or the engine drives, an attempt still above `from_kmh` begins anew.
    """

    limits: DecelerationLimits = None  # type: ignore[assignment]
    count: int = 0
    rejected: int = 0
    rolling_s: float | None = None
    lowest_kmh: float = 0.0
    hardest_ms2: float = 0.0
    overrun: Overrun = field(default_factory=Overrun)
    _began_t: float = 0.0
    _from_kmh: float = 0.0
    _last: tuple[float, float] | None = None
    _recent: tuple[tuple[float, float], ...] = ()
    signals: ClassVar[tuple[str, ...]] = ("speed_kmh", *RANK, "fuel_system_1", *WITNESSES)

    def copy(self) -> "Deceleration":
        """An independent copy."""
        return replace(self, gate=self.gate.copy(), overrun=self.overrun.copy())

    def update(self, signal: str, car: Car, foot: Foot, out: list[Happening]) -> None:
        """Speed moves the attempt on; a pressed accelerator ends it."""
        if signal in WITNESSES:
            self.overrun.update(signal, car.values[signal], car.now, standing_idle(car))
        if self.driven_t is not None:
            return
        if signal == "speed_kmh":
            self._speed(car, car.values["speed_kmh"], out)
        elif self.rolling_s is not None and car.accelerator.released(car.now) is False:
            self._pressed(car, out)

    def expire(self, t: float, out: list[Happening]) -> None:
        """A gap in the samples ends the attempt."""
        if self.rolling_s is not None and self._last is not None and t > self._last[0] + self.limits.bridge_s:
            self._reject(self._last[0] + self.limits.bridge_s, "data_gap", None, self.limits.bridge_s, out)

    def deadline(self) -> float | None:
        """When a rolling attempt has waited too long for its next sample."""
        if self.rolling_s is None or self._last is None:
            return None
        return self._last[0] + self.limits.bridge_s

    def interrupt(self) -> None:
        """An interval of unknown length ends an attempt without a word."""
        self.rolling_s, self._last = None, None

    def new_cycle(self, t: float, out: list[Happening]) -> None:
        """The repeats belong to one driving cycle: three in one cycle in the published pattern."""
        self.interrupt()
        if self.driven_t is None:
            self.count = 0

    def again(self) -> None:
        """Count from zero."""
        self.driven_t, self.count, self.rolling_s = None, 0, None

    def repeats(self) -> tuple[Repeats, ...]:
        """The rolls."""
        return (Repeats("deceleration", self.count, self.limits.repeats),)

    def remaining_s(self) -> float:
        """Seconds of rolling still missing."""
        return self.left() * self.limits.repeats * self.limits.shortest_s

    def left(self) -> float:
        """The share of the repeats still missing."""
        return 0.0 if self.driven_t is not None else max(0, self.limits.repeats - self.count) / self.limits.repeats

    def _speed(self, car: Car, kmh: float, out: list[Happening]) -> None:
        t, last = car.now, self._last
        self._last = (t, kmh)
        if self.rolling_s is None:
            released = car.accelerator.released(t) and car.cycle.running is not False
            if released:
                self._begin(t, kmh)
            return
        if kmh >= self._from_kmh:  # not slower yet than where it began
            self._begin(t, kmh)
        if last is not None and t > last[0]:
            self.hardest_ms2 = max(self.hardest_ms2, (last[1] - kmh) / 3.6 / (t - last[0]))
        if kmh >= self.limits.speed_min_kmh:
            self.rolling_s = t - self._began_t
        self.lowest_kmh = min(self.lowest_kmh, kmh)
        self._recent = (*(old for old in self._recent if t - old[0] <= SLOWING_S), (t, kmh))
        self._judge(car, t, kmh, out)

    def _begin(self, t: float, kmh: float) -> bool:
        """An attempt begins here; false where it is too slow for that, or not yet to be driven."""
        if kmh < self.limits.from_kmh or not self.gate.open:
            return False
        self.rolling_s, self._began_t, self._from_kmh, self.lowest_kmh, self.hardest_ms2 = 0.0, t, kmh, kmh, 0.0
        self._recent = ((t, kmh),)
        return True

    def _judge(self, car: Car, t: float, kmh: float, out: list[Happening]) -> None:
        """What this sample makes of the attempt."""
        released = car.accelerator.released(t)
        drives = self.overrun.drives(self._began_t + SETTLED_S)
        if released is False:
            self._pressed(car, out)
        elif released is None:
            self._reject(t, "foot_unknown", None, None, out)
        elif car.cycle.running is False:
            self._reject(t, "engine_stopped", car.values["rpm"], None, out)
        elif drives is not None:
            self._anew(t, kmh, "engine_drives", *drives, out)
        elif self._held(t):
            self._anew(t, kmh, "speed_held", kmh, None, out)
        elif kmh > self.lowest_kmh + RISING_KMH:
            self._reject(t, "gained_speed", kmh, None, out)
        elif kmh <= self.limits.to_kmh:
            self._arrived(t, out)

    def _held(self, t: float) -> bool:
        """Whether the last seconds took too little speed; false before so many have passed."""
        since_t, kmh = self._recent[0]
        return (
            t - self._began_t >= SLOWING_S
            and t - since_t >= 0.8 * SLOWING_S
            and kmh - self._recent[-1][1] < SLOWING_KMH
        )

    def _anew(self, t: float, kmh: float, why: str, value: float, limit: float | None, out: list[Happening]) -> None:
        if not self._begin(t, kmh):
            self._reject(t, why, value, limit, out)

    def _arrived(self, t: float, out: list[Happening]) -> None:
        lasted = self.rolling_s or 0.0
        if lasted < self.limits.shortest_s:
            if self.hardest_ms2 > COASTING_MS2:
                self._reject(t, "braked", round(self.hardest_ms2, 2), COASTING_MS2, out)
            else:
                self._reject(t, "too_short", round(lasted, 3), self.limits.shortest_s, out)
            return
        self.rolling_s = None
        self.count += 1
        out.append(RepeatCounted(t, self.phase, "deceleration", self.count, self.limits.repeats, round(lasted, 3)))
        if self.count >= self.limits.repeats:
            self.full(t, self.count * self.limits.shortest_s, out)

    def _pressed(self, car: Car, out: list[Happening]) -> None:
        self._reject(car.now, "accelerator_pressed", car.values.get("speed_kmh"), self.limits.to_kmh, out)

    def _reject(self, t: float, reason: str, value: float | None, limit: float | None, out: list[Happening]) -> None:
        lasted, self.rolling_s = self.rolling_s or 0.0, None
        if lasted >= MEANT_S and self.lowest_kmh <= self._from_kmh - MEANT_KMH:
            self.rejected += 1
            out.append(RepeatRejected(t, self.phase, "deceleration", reason, value, limit))
