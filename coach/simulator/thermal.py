"""Heat: coolant with thermostat, catalyst, intake air; warming by fuel, cooling by air and time.

Sizes are our own, chosen so that a cold small car reaches 70 °C in some five to eight minutes of town driving.
"""

import math

from coach.simulator.body_spec import BodySpec
from coach.simulator.powertrain import KJ_PER_G
from coach.simulator.surroundings import Surroundings

TO_COOLANT = {"spark": 0.30, "compression": 0.24}  # share of the fuel's heat, textbook order of size
BLOCK_KW_PER_K = 0.011  # what a standing engine loses to the air around it
BLOCK_WIND_KW_PER_K = 0.010  # added at 100 km/h
RADIATOR_KW_PER_K = 0.20  # thermostat fully open, standing with the fan
RADIATOR_WIND_KW_PER_K = 0.55  # added at 100 km/h
RADIATOR_FOR_KJ_PER_K = 54.0  # these figures are for an engine of this size; a larger one has a larger radiator
OPENING_K = 9.0  # the thermostat is fully open so far above its mark
STUCK_OPEN = 0.36  # share of the full flow that a thermostat stuck open lets by
MISSING = (
    0.5  # left out, or its plate has broken off: the short way round the engine stays open too, so half goes there
)
CATALYST_S = 45.0  # time constant of the catalyst with gas flowing
CATALYST_REST_S = 1500.0
HOT_SPARK_C, PER_ROOT_GPS_C = 375.0, 62.0  # exhaust: about 460 °C at idle, 590 °C in a cruise
HOT_DIESEL_C, PER_LOAD_C = 105.0, 3.9
REGENERATION_C = 610.0


class Thermal:
    """Temperatures in °C. `stuck_open` is the fault: the share of the full flow that always goes by, 0-1."""

    def __init__(self, spec: BodySpec, ambient_c: float, soaked_h: float) -> None:
        self.spec = spec
        self.stuck_open = 0.0
        self.coolant_c = self.intake_c = spec.thermostat_c + 4
        self.catalyst_c = 450.0
        self.rest(ambient_c, soaked_h * 3600)

    def rest(self, ambient_c: float, seconds: float) -> None:
        """Cool down for `seconds` without fuel or wind, exactly, whatever the length."""
        cooling_s = self.spec.coolant_kj_per_k / BLOCK_KW_PER_K
        self.coolant_c = ambient_c + (self.coolant_c - ambient_c) * math.exp(-seconds / cooling_s)
        self.catalyst_c = ambient_c + (self.catalyst_c - ambient_c) * math.exp(-seconds / CATALYST_REST_S)
        self.intake_c = ambient_c + (self.intake_c - ambient_c) * math.exp(-seconds / (0.8 * cooling_s))

    def step(self, body: Surroundings, dt: float) -> None:
        """Live on for `dt` seconds."""
        self._coolant(body, dt)
        self._exhaust(body, dt)
        # a bonnet without wind heats the intake; driving brings it near ambient
        settle_c = body.ambient_c + 0.28 * (self.coolant_c - body.ambient_c) / (1 + body.speed_ms)
        near_k = 2.0 if body.engine_on else 0.0
        self.intake_c += (settle_c + near_k - self.intake_c) * dt / 90.0 if body.running else 0.0

    def _coolant(self, body: Surroundings, dt: float) -> None:
        wind = body.speed_ms / 27.8
        heat_kw = body.powertrain.fuel_gps * KJ_PER_G[self.spec.fuel] * TO_COOLANT[self.spec.fuel]
        opening = min(1.0, max(self.stuck_open, (self.coolant_c - self.spec.thermostat_c) / OPENING_K))
        loss = BLOCK_KW_PER_K + BLOCK_WIND_KW_PER_K * wind
        size = self.spec.coolant_kj_per_k / RADIATOR_FOR_KJ_PER_K
        loss += opening * size * (RADIATOR_KW_PER_K + RADIATOR_WIND_KW_PER_K * wind)
        self.coolant_c += (heat_kw - loss * (self.coolant_c - body.ambient_c)) * dt / self.spec.coolant_kj_per_k

    def _exhaust(self, body: Surroundings, dt: float) -> None:
        drive = body.powertrain
        if not body.engine_on:
            settle_c, time_s = body.ambient_c, CATALYST_REST_S
        elif drive.fuel_cut:
            settle_c, time_s = 210.0, 90.0
        elif self.spec.fuel == "spark":
            settle_c, time_s = HOT_SPARK_C + PER_ROOT_GPS_C * math.sqrt(drive.maf_gps), CATALYST_S
        else:
            settle_c, time_s = HOT_DIESEL_C + PER_LOAD_C * drive.load_pct, CATALYST_S
            if body.soot.regenerating:
                settle_c = max(settle_c, REGENERATION_C)
        self.catalyst_c += (settle_c - self.catalyst_c) * min(1.0, dt / time_s)
