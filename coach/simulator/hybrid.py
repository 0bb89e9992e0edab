"""Drive of a petrol hybrid: the pedal asks for power, motor or engine gives it, the engine stops by itself."""

import math
import random

from coach.simulator.body_spec import BodySpec
from coach.simulator.outputs import DriveOutputs
from coach.simulator.powertrain import AIR_G_PER_L, AIR_PER_FUEL, FOOT_OFF, KJ_PER_G
from coach.simulator.surroundings import Surroundings

# When the engine runs: all our own numbers, of the size usual for such cars, so that coaching has to cope with them.
WARM_UP_C = 52.0  # below this the engine runs to warm itself and the catalyst
START_KW = 11.5
STOP_KW = 5.0
START_KMH = 67.0
STOP_KMH = 61.0
LOW_CHARGE = 0.42
FULL_CHARGE = 0.62
SHORTEST_RUN_S = 14.0
BATTERY_KWH = 1.3
CHARGE_KW = 4.0
REGENERATION_MS2 = 0.9  # foot off: the motor brakes by this much, less below walking pace
HIGHEST_FORCE_N = 4600.0
IDLE_RPM = 1120.0


class HybridPowertrain(DriveOutputs):
    """State of engine, motor and drive battery. `charge` is 0-1. `step` gives the force at the wheels in newtons."""

    def __init__(self, spec: BodySpec, rng: random.Random) -> None:
        super().__init__(spec, rng)
        self.charge = 0.52
        self.engine_kw = 0.0
        self._since_switch_s = 99.0

    def started(self, body: Surroundings) -> None:
        """The car is ready to drive; whether the engine runs is the next step's decision."""
        self._since_switch_s = 99.0

    def warm(self, body: Surroundings) -> None:
        """Take over the coolant temperature: here it decides only whether the engine runs, at every step."""

    def rest(self) -> None:
        """Nothing turns, and nothing charges."""
        super().rest()
        self.engine_kw = 0.0

    def step(self, body: Surroundings, dt: float) -> float:
        """Live on for `dt` seconds; the force at the wheels in newtons."""
        if body.ignition != "run":
            self.rest()
            return 0.0
        force = self._force(body)
        wheel_kw = force * body.speed_ms / 1000
        self._decide(body, wheel_kw, dt)
        self._engine(body, wheel_kw, dt)
        drawn_kw = wheel_kw / 0.9 if wheel_kw > 0 else wheel_kw * 0.6
        self.charge += (self.engine_kw * 0.93 - drawn_kw - 0.4) * dt / 3600 / BATTERY_KWH
        self.charge = min(0.85, max(0.2, self.charge))
        return force

    def accelerator_for(self, body: Surroundings, force_n: float) -> tuple[float, float]:
        """Pedal (0-1) for this force at the wheels, and the force that is then still missing (negative: brake)."""
        most, back = self._most_n(body), self._back_n(body)
        if force_n <= -back:
            return 0.0, force_n + back
        return min(1.0, max(FOOT_OFF, (force_n + back) / (most + back))), 0.0

    def _most_n(self, body: Surroundings) -> float:
        return min(HIGHEST_FORCE_N, 1000 * self.spec.wheel_power_kw / max(1.0, body.speed_ms))

    def _back_n(self, body: Surroundings) -> float:
        return REGENERATION_MS2 * self.spec.mass_kg * min(1.0, body.speed_ms / 3.0)

    def _force(self, body: Surroundings) -> float:
        a = body.accelerator
        return a * self._most_n(body) - (1 - a) * self._back_n(body) if a > FOOT_OFF else -self._back_n(body)

    def _decide(self, body: Surroundings, wheel_kw: float, dt: float) -> None:
        self._since_switch_s += dt
        cold = body.coolant_c < WARM_UP_C
        if not self.engine_on:
            start = wheel_kw > START_KW or body.speed_kmh > START_KMH or self.charge < LOW_CHARGE or cold
            if start:
                self.engine_on, self._since_switch_s = True, 0.0
        elif self._since_switch_s > SHORTEST_RUN_S and not cold:
            easy = wheel_kw < STOP_KW and body.speed_kmh < STOP_KMH
            if easy and self.charge > LOW_CHARGE + 0.04:
                self.engine_on, self._since_switch_s = False, 0.0

    def _engine(self, body: Surroundings, wheel_kw: float, dt: float) -> None:
        if not self.engine_on:
            charge, gear = self.charge, self.gear
            self.rest()
            self.charge, self.gear = charge, gear
            self.map_kpa = body.baro_kpa
            return
        wanted = max(0.0, wheel_kw) / 0.9 + CHARGE_KW * max(-1.0, min(1.0, (FULL_CHARGE - self.charge) * 8))
        self.engine_kw += (max(0.6, min(self.spec.engine_power_kw, wanted)) - self.engine_kw) * min(1.0, dt / 0.8)
        rpm = IDLE_RPM + 52 * self.engine_kw + self.rng.uniform(-6, 6)
        self.rpm += (rpm - self.rpm) * min(1.0, dt / 0.4)
        omega = max(1.0, self.rpm) * math.pi / 30
        self.torque_nm = 1000 * self.engine_kw / omega
        friction_kw = self.spec.friction_bar * self.spec.displacement_l * 100 / (4 * math.pi) * omega / 1000
        self.fuel_gps = (self.engine_kw + friction_kw) / self.spec.efficiency / KJ_PER_G["spark"]
        self._breathe(body)

    def _breathe(self, body: Surroundings) -> None:
        swept = max(0.5, self.spec.displacement_l * self.rpm / 120 * AIR_G_PER_L)
        full = swept * 0.9
        self.maf_gps = min(full, self.fuel_gps * AIR_PER_FUEL)
        share = self.maf_gps / full
        self.load_pct, self.absolute_load_pct = 100 * share, 100 * self.maf_gps / swept
        self.map_kpa = body.baro_kpa * (0.12 + 0.88 * share)
        rest = self.spec.throttle_rest_pct
        self.throttle_pct = rest + (90 - rest) * max(0.0, share - 0.25) ** 1.5
