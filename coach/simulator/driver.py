"""People at the wheel: one who follows a coach's cues as a person does, and one who follows a speed schedule.

Both only touch pedals and key. The first is late by a second or two, wobbles, is cut up by a lorry now and then, and
keeps to the road: never over its limit, never harder on the brake than comfortable.
"""

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from coach.simulator.body import STEP_S
from coach.simulator.simulated_car import SimulatedCar
from coach.simulator.wheel import ACT_S, Wheel

CueKind = Literal["wait", "idle", "cruise", "roll", "stop_and_go", "warm_up", "load_step", "engine_off", "key_off"]

# A driver of our own making; plausible figures, our judgement, so that a coach has something to cope with.
REACTION_S = (1.0, 2.0)
LORRY_AFTER_S = (70.0, 200.0)
LORRY_FOR_S = (9.0, 16.0)
LORRY_KMH = 17.0
LORRY_FROM_KMH = 55.0
LIGHT_EVERY_S = (110.0, 190.0)
LIGHT_FOR_S = (12.0, 34.0)
STEADY_S = 66.0
STOP_S = 34.0
PULL = 0.62
ABOVE_KMH = 3.0
"""A roll begins a little above its highest speed, to be sure of it."""


@dataclass(frozen=True, slots=True)
class Cue:
    """What the coach asks for now: `low_kmh` and `high_kmh` are the band, none where it has none."""

    kind: CueKind
    low_kmh: float | None = None
    high_kmh: float | None = None


class Driver:
    """Follows the latest cue. `limit_kmh` is the road's limit; `lorries` counts how often somebody pulled out."""

    def __init__(self, car: SimulatedCar, seed: int = 0, limit_kmh: float = 120.0) -> None:
        self.car = car
        self.limit_kmh = limit_kmh
        self.cue = Cue("wait")
        self.lorries = 0
        self._rng = random.Random(f"driver {seed}")
        self._wheel = Wheel(car, self._rng)
        self._next: tuple[float, Cue] | None = None
        self._act_at_s = 0.0
        self._stage = 0
        self._stage_s = 0.0
        self._event_s = 0.0
        self._event_left_s = 0.0
        self._waited_kmh = 0.0

    def follow(self, cue: Cue) -> None:
        """Take a cue; it is acted on after a second or two. The cue already followed or coming changes nothing."""
        coming = self._next[1] if self._next is not None else self.cue
        if cue != coming:
            self._next = (self.car.clock_s + self._rng.uniform(*REACTION_S), cue)

    def advance(self, t: float) -> None:
        """Drive until the car's time `t`, in seconds."""
        while (now := self.car.clock_s) < t - STEP_S / 2:
            if now >= self._act_at_s:
                self._act_at_s = now + ACT_S - STEP_S / 2
                self._act()
            self.car.advance(now + STEP_S)

    def _act(self) -> None:
        if self._next is not None and self.car.clock_s >= self._next[0]:
            self._take(self._next[1])
        self._stage_s += ACT_S
        _ACTIONS[self.cue.kind](self)

    # ------------------------------------------------------------ what each cue means to the feet

    def _take(self, cue: Cue) -> None:
        self.cue, self._next = cue, None
        self._event_s = self._rng.uniform(*(LIGHT_EVERY_S if cue.kind == "warm_up" else LORRY_AFTER_S))
        self._event_left_s = 0.0
        self._waited_kmh = self.car.speed_kmh
        self._to(0)

    def _to(self, stage: int) -> None:
        self._stage, self._stage_s = stage, 0.0

    def _band(self, low: float, high: float) -> tuple[float, float]:
        """The cue's band, with these where it gives none, under the road's limit."""
        top = min(self.limit_kmh - ABOVE_KMH, self.cue.high_kmh if self.cue.high_kmh is not None else high)
        return min(top, self.cue.low_kmh if self.cue.low_kmh is not None else low), top

    def _engine(self) -> bool:
        """Start the engine when it is off; true when the car can be driven."""
        if self.car.body.ignition in ("off", "on"):
            self.car.start()
        return self.car.body.running

    def _wait(self) -> None:
        if self.car.body.running and self._waited_kmh > 10:
            self._wheel.hold(min(self._waited_kmh, self.limit_kmh - ABOVE_KMH), self.limit_kmh)
        else:
            self._wheel.stop()

    def _idle(self) -> None:
        if self._engine():
            self._wheel.stop()

    def _cruise(self) -> None:
        if not self._engine():
            return
        low, high = self._band(60, 80)
        middle = (low + high) / 2
        self._wheel.hold(middle - LORRY_KMH if self._lorry(middle) else middle, self.limit_kmh)

    def _lorry(self, middle_kmh: float) -> bool:
        """Once in a cruise somebody pulls out."""
        if self._event_left_s > 0:
            self._event_left_s -= ACT_S
            return True
        self._event_s -= ACT_S
        if 0 >= self._event_s > -ACT_S and middle_kmh > LORRY_FROM_KMH:
            self.lorries += 1
            self._event_left_s = self._rng.uniform(*LORRY_FOR_S)
        return False

    def _warm_up(self) -> None:
        if not self._engine():
            return
        low, high = self._band(40, 65)
        self._event_s -= ACT_S
        if self._event_s <= 0:
            self._event_s = self._rng.uniform(*LIGHT_EVERY_S)
            self._event_left_s = self._rng.uniform(*LIGHT_FOR_S)
        if self._event_left_s > 0:
            self._event_left_s -= ACT_S if self.car.speed_kmh < 1 else 0
            self._wheel.stop()
        else:
            self._wheel.hold((low + high) / 2, self.limit_kmh)

    def _roll(self) -> None:
        """Up to the highest speed, a moment there, foot off until the lowest, and again."""
        if not self._engine():
            return
        low, high = self._band(60, 95)
        if self._stage == 0:
            self._wheel.hold(min(high + ABOVE_KMH, self.limit_kmh), self.limit_kmh)
            if self.car.speed_kmh >= high + 0.5 and self._stage_s > 4:
                self._to(1)
        else:
            self._wheel.release()
            if self.car.speed_kmh <= low - 1:
                self._to(0)

    def _stop_and_go(self) -> None:
        if not self._engine():
            return
        low, high = self._band(40, 72)
        if self._stage == 0:
            self._wheel.hold((low + high) / 2, self.limit_kmh)
            if self.car.speed_kmh < low:
                self._stage_s = 0.0
            if self._stage_s > STEADY_S:
                self._to(1)
        else:
            self._stand(STOP_S)

    def _load_step(self) -> None:
        """Stand half a minute, pull away firmly to the highest speed, hold it for a minute."""
        if not self._engine():
            return
        _, high = self._band(0, 72)
        if self._stage == 0:
            self._stand(STOP_S, then=1)
        elif self._stage == 1:
            self._wheel.press(PULL)
            if self.car.speed_kmh >= high:
                self._to(2)
        else:
            self._wheel.hold(high, self.limit_kmh)
            if self._stage_s > STEADY_S:
                self._to(0)

    def _stand(self, seconds: float, then: int = 0) -> None:
        self._wheel.stop()
        if self.car.speed_kmh > 0.5:
            self._stage_s = 0.0
        elif self._stage_s > seconds:
            self._to(then)

    def _engine_off(self) -> None:
        """Stop, key off, key on again: the state for a read-out."""
        self._wheel.stop()
        if self.car.speed_kmh > 0:
            return
        if self.car.body.ignition == "run":
            self.car.key_off()
            self._to(1)
        elif self._stage_s > 3:
            self.car.key_on()

    def _key_off(self) -> None:
        self._wheel.stop()
        if self.car.speed_kmh == 0 and self.car.ignition_on:
            self.car.key_off()


_ACTIONS: dict[str, Callable[[Driver], None]] = {
    "wait": Driver._wait,
    "idle": Driver._idle,
    "cruise": Driver._cruise,
    "roll": Driver._roll,
    "stop_and_go": Driver._stop_and_go,
    "warm_up": Driver._warm_up,
    "load_step": Driver._load_step,
    "engine_off": Driver._engine_off,
    "key_off": Driver._key_off,
}


class ScheduleDriver:
    """Follows rows of (t_s, speed_kmh), counted from the car's time when made. `worst_kmh` is the largest miss."""

    def __init__(self, car: SimulatedCar, rows: Sequence[tuple[float, float]]) -> None:
        if len(rows) < 2 or any(b[0] <= a[0] for a, b in pairwise(rows)):
            raise ValueError("a speed schedule needs two rows or more, with rising times")
        self.car = car
        self.rows = tuple(rows)
        self.begin_s = car.clock_s
        self.worst_kmh = 0.0
        self._act_at_s = 0.0
        self._row = 0

    @property
    def end_s(self) -> float:
        """When the schedule is over, in the car's time."""
        return self.begin_s + self.rows[-1][0] - self.rows[0][0]

    def advance(self, t: float) -> None:
        """Drive until the car's time `t`; after the last row the car is held at its last speed."""
        while (now := self.car.clock_s) < t - STEP_S / 2:
            if now >= self._act_at_s:
                self._act_at_s = now + ACT_S - STEP_S / 2
                self._pedals()
            self.car.advance(now + STEP_S)

    def _pedals(self) -> None:
        car = self.car
        if car.body.ignition in ("off", "on"):
            car.start()
        ahead_kmh = self._speed_at(car.clock_s + 0.5)
        now_kmh = self._speed_at(car.clock_s)
        if car.clock_s <= self.end_s:
            self.worst_kmh = max(self.worst_kmh, abs(now_kmh - car.speed_kmh))
        if ahead_kmh < 0.3 and car.speed_kmh < 2.5:
            car.accelerator, car.brake = 0.0, 0.3
            return
        wanted = (ahead_kmh - car.speed_kmh) / 3.6 / 0.5
        car.accelerator, car.brake = car.body.pedals_for(max(-4.5, min(3.6, wanted)))

    def _speed_at(self, t: float) -> float:
        at = self.rows[0][0] + t - self.begin_s
        while self._row + 2 < len(self.rows) and self.rows[self._row + 1][0] <= at - 1:
            self._row += 1
        row = self._row
        while row + 2 < len(self.rows) and self.rows[row + 1][0] <= at:
            row += 1
        (t0, v0), (t1, v1) = self.rows[row], self.rows[row + 1]
        share = min(1.0, max(0.0, (at - t0) / (t1 - t0)))
        return v0 + (v1 - v0) * share
