"""Drive of a petrol hybrid: the pedal asks for power, motor or engine gives it, the engine stops by itself."""

import math
import random

from coach.simulator.body_spec import BodySpec
from coach.simulator.outputs import DriveOutputs
from coach.simulator.powertrain import AIR_G_PER_L, AIR_PER_FUEL, FOOT_OFF, KJ_PER_G
from coach.simulator.surroundings import Surroundings

# When the engine runs: all our own numbers, of the size usual for such cars, so that coaching has to cope with them.
WARM_UP_C = 52.0  # below this the engine runs to warm itself and the catalyst
STOP_KW = 5.0
STOP_BELOW_KMH = 6.0
LOW_CHARGE = 0.42
FULL_CHARGE = 0.62
SHORTEST_RUN_S = 14.0
EV_KW, EV_KMH = 66.0, 128.0  # in a plug-in's electric mode the engine helps only beyond these
HELD_KW, HELD_KMH = 5.5, 32.0  # told to hold its charge, it runs the engine from these on
PLUGGED_CHARGE, EMPTY_CHARGE = 0.88, 0.17  # a plug-in leaves home with the first and drives electrically to the second
LOWEST_CHARGE, HIGHEST_CHARGE = 0.12, 0.95
CHARGE_KW = 4.0
REGENERATION_MS2 = 0.9  # foot off: the motor brakes by this much, less below walking pace
HIGHEST_FORCE_N = 4600.0
IDLE_RPM = 1120.0


class HybridPowertrain(DriveOutputs):
    """State of engine, motor and drive battery. `charge` is 0-1. `step` gives the force at the wheels in newtons."""

    def __init__(self, spec: BodySpec, rng: random.Random) -> None:
        super().__init__(spec, rng)
        self.charge = PLUGGED_CHARGE if spec.plug_in else 0.52
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
        self.charge += (self.engine_kw * 0.93 - drawn_kw - 0.4) * dt / 3600 / self.spec.battery_kwh
        low, high = (LOWEST_CHARGE, HIGHEST_CHARGE) if self.spec.plug_in else (0.2, 0.85)
        self.charge = min(high, max(low, self.charge))
        return force

    def electric(self, body: Surroundings) -> bool:
        """A plug-in with charge enough drives electrically, however cold its engine, unless told to hold the charge."""
        return self.spec.plug_in and not body.hold_charge and self.charge > EMPTY_CHARGE

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
        a = body.demand
        return a * self._most_n(body) - (1 - a) * self._back_n(body) if a > FOOT_OFF else -self._back_n(body)

    def _decide(self, body: Surroundings, wheel_kw: float, dt: float) -> None:
        self._since_switch_s += dt
        settled = not self.engine_on or self._since_switch_s > SHORTEST_RUN_S
        wanted = not self._easy(body, wheel_kw) if self.engine_on else self._needed(body, wheel_kw)
        wanted = wanted or (body.coolant_c < WARM_UP_C and not self.electric(body))
        if settled and wanted is not self.engine_on:
            self.engine_on, self._since_switch_s = wanted, 0.0

    def _limits(self, body: Surroundings) -> tuple[float, float, float]:
        """Power, speed and charge at which the engine starts: kW, km/h, 0-1."""
        low = EMPTY_CHARGE if self.spec.plug_in else LOW_CHARGE
        if self.electric(body):
            return EV_KW, EV_KMH, low
        if body.hold_charge:
            return HELD_KW, HELD_KMH, low
        return self.spec.electric_kw, self.spec.electric_kmh, low

    def _needed(self, body: Surroundings, wheel_kw: float) -> bool:
        most_kw, fastest_kmh, low = self._limits(body)
        return wheel_kw > most_kw or body.speed_kmh > fastest_kmh or self.charge < low

    def _easy(self, body: Surroundings, wheel_kw: float) -> bool:
        _, fastest_kmh, low = self._limits(body)
        return wheel_kw < STOP_KW and body.speed_kmh < fastest_kmh - STOP_BELOW_KMH and self.charge > low + 0.04

    def _engine(self, body: Surroundings, wheel_kw: float, dt: float) -> None:
        if not self.engine_on:
            charge, gear = self.charge, self.gear
            self.rest()
            self.charge, self.gear = charge, gear
            self.map_kpa = body.baro_kpa
            return
        full = self.charge if body.hold_charge else (EMPTY_CHARGE + 0.1 if self.spec.plug_in else FULL_CHARGE)
        wanted = max(0.0, wheel_kw) / 0.9 + CHARGE_KW * max(-1.0, min(1.0, (full - self.charge) * 8))
        self.engine_kw += (max(0.6, min(self.spec.engine_power_kw, wanted)) - self.engine_kw) * min(1.0, dt / 0.8)
        rpm = IDLE_RPM + 52 * self.engine_kw + self.rng.uniform(-6, 6)
        self.rpm += (rpm - self.rpm) * min(1.0, dt / 0.4)
        omega = max(1.0, self.rpm) * math.pi / 30
        self.torque_nm = 1000 * self.engine_kw / omega
        friction_kw = self.spec.friction_bar * self.spec.displacement_l * 100 / (4 * math.pi) * omega / 1000
        self.fuel_gps = (self.engine_kw + friction_kw) / self.spec.efficiency / KJ_PER_G["spark"]
        self._breathe(body)

    def _breathe(self, body: Surroundings) -> None:
        swept = max(0.5, self.spec.displacement_l * self.rpm / 120 * AIR_G_PER_L * body.air_share)
        full = swept * 0.9
        self.maf_gps = min(full, self.fuel_gps * AIR_PER_FUEL)
        share = self.maf_gps / full
        self.load_pct, self.absolute_load_pct = 100 * share, 100 * self.maf_gps / swept
        self.map_kpa = body.baro_kpa * (0.12 + 0.88 * share)
        rest = self.spec.throttle_rest_pct
        self.throttle_pct = rest + (90 - rest) * max(0.0, share - 0.25) ** 1.5
