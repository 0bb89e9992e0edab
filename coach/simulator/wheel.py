"""The feet of a person: holding a speed with a light foot and small wobbles, stopping, pressing, letting go.

Speeds in km/h, pedals 0-1. Which speed is wanted when is the driver's business.
"""

import random

from coach.simulator.simulated_car import SimulatedCar
from coach.simulator.speed_holder import LOWEST_KMH

ACT_S = 0.2  # how often the feet act; our own, well under a human reaction
# Comfort and clumsiness, our judgement: what an ordinary driver does without thinking.
PULL_MS2 = 1.5  # from a stand; less the faster the car already is
PULL_LOST_MS2_PER_KMH = 0.011
EASY_PULL_MS2 = 0.55
BRAKE_MS2 = -1.9
EASE_S = 9.0
WOBBLE_KMH = 2.6
WOBBLE_S = 14.0
WOBBLE_SETTLE_S = 7.0
JUDGE_STEPS = 1
FOOT_A_STEP = 0.04
FOOT_TREMOR = 0.0045
FOOT_LAG = 0.15  # share of the way a light foot goes in a step: about a second and a quarter
LIGHT = 0.10  # pedal changes up to this are made with a light foot
BRAKE_HELD = 0.25
# The speed holder's buttons: within how much of the wanted speed it is set, and what its buttons change in a step.
SET_WITHIN_KMH = 4.0
BUTTON_KMH = 0.4
ROLL_BUTTON_KMH = 0.12  # 0.6 km/h a second: slower than the car would roll, so the engine goes on driving it


class Wheel:
    """Moves the pedals of one car."""

    def __init__(self, car: SimulatedCar, rng: random.Random) -> None:
        self.car = car
        self._rng = rng
        self._wobble_kmh = 0.0
        self._wobble_to_kmh = 0.0
        self._wobble_left_s = 0.0
        self._judged_steps = 0
        self._pedals = (0.0, 0.0)

    def hold(self, speed_kmh: float, limit_kmh: float) -> None:
        """Drive at this speed, as well as people do, and never above the limit."""
        if self._left_to_the_holder(min(limit_kmh - 1, speed_kmh)):
            return
        self._drift()
        wanted = min(limit_kmh - 1, speed_kmh + self._wobble_kmh)
        gap_ms = (wanted - self.car.speed_kmh) / 3.6
        pull = max(EASY_PULL_MS2, PULL_MS2 - PULL_LOST_MS2_PER_KMH * self.car.speed_kmh)
        acceleration = max(BRAKE_MS2, min(pull, gap_ms / EASE_S))
        accelerator, brake = self._judged(acceleration)
        if gap_ms > -1.2:
            brake = 0.0  # a little too fast: people lift, they do not brake
        change = accelerator - self.car.accelerator
        if abs(change) < LIGHT and accelerator > 0.02:
            accelerator = self.car.accelerator + FOOT_LAG * change
        tremor = self._rng.uniform(-FOOT_TREMOR, FOOT_TREMOR) if accelerator > 0.02 else 0.0
        self._feet(accelerator + tremor, brake)

    def _left_to_the_holder(self, speed_kmh: float) -> bool:
        """A driver who likes the speed holder sets it near the wanted speed, then only presses its buttons."""
        holder, now_kmh = self.car.body.holder, self.car.speed_kmh
        if not holder.used or now_kmh < LOWEST_KMH + 2:
            return False
        if holder.set_kmh is None and abs(speed_kmh - now_kmh) < SET_WITHIN_KMH:
            holder.set_kmh, holder.demand = now_kmh, self.car.accelerator
        if holder.set_kmh is None:
            return False
        holder.set_kmh += max(-BUTTON_KMH, min(BUTTON_KMH, speed_kmh - holder.set_kmh))
        self._feet(0.0, 0.0)
        return True

    def _judged(self, acceleration_ms2: float) -> tuple[float, float]:
        """The pedals for this, judged anew a few times a second."""
        self._judged_steps -= 1
        if self._judged_steps < 0:
            self._judged_steps = JUDGE_STEPS
            self._pedals = self.car.body.pedals_for(acceleration_ms2)
        return self._pedals

    def stop(self) -> None:
        """Brake gently to a stand and stay there."""
        if self.car.speed_kmh < 1.5:
            self._feet(0.0, BRAKE_HELD)
            return
        _, brake = self.car.body.pedals_for(BRAKE_MS2)
        self._feet(0.0, brake)

    def press(self, accelerator: float) -> None:
        """Hold the pedal down so far."""
        self._feet(accelerator, 0.0)

    def release(self) -> None:
        """Both feet off. Who drives by the speed holder takes its speed down instead."""
        holder = self.car.body.holder
        if holder.set_kmh is not None:
            holder.set_kmh -= ROLL_BUTTON_KMH
        self.car.accelerator = self.car.brake = 0.0

    def _feet(self, accelerator: float, brake: float) -> None:
        """A foot takes time: the pedal moves by so much a step; off the accelerator is quicker."""
        now = self.car.accelerator
        step = FOOT_A_STEP if accelerator > now else 3 * FOOT_A_STEP
        self.car.accelerator = now + max(-step, min(step, accelerator - now))
        self.car.brake = brake if self.car.accelerator < 0.02 else 0.0

    def _drift(self) -> None:
        """Attention wanders: every few seconds another few km/h off."""
        self._wobble_left_s -= ACT_S
        if self._wobble_left_s <= 0:
            self._wobble_left_s = self._rng.uniform(0.5, 1.5) * WOBBLE_S
            self._wobble_to_kmh = self._rng.uniform(-WOBBLE_KMH, WOBBLE_KMH)
        self._wobble_kmh += (self._wobble_to_kmh - self._wobble_kmh) * ACT_S / WOBBLE_SETTLE_S
