"""Oxygen sensors and fuel control: closed loop, the swing of the front sensor, the calm of the rear one, the trims."""

import math

from coach.simulator.surroundings import Surroundings

CLOSED_LOOP_COOLANT_C = 28.0  # our own: closed loop begins early on cars with heated sensors
CLOSED_LOOP_AFTER_S = 35.0
OPEN_LOOP_LOAD_PCT = 92.0
SWING_HZ, LAZY_HZ = 1.1, 0.28  # a sound front sensor swings about once a second in a cruise; a lazy one is our own

OWN_TRIM_PCT = 1.6  # what this world's engines settle at
LEARN_S = 420.0  # how slowly the long term trim learns that
RICH_PER_LOAD_PCT = 9.0  # a full canister's vapour at full purge; our own
REAR_SWING_V, WORN_SWING_V = 0.03, 0.34  # a catalyst that stores no oxygen lets the front sensor's swing through
REAR_S, WORN_REAR_S = 3.0, 0.25
RATIO_PER_STORAGE = 0.75  # what the catalyst monitor makes of it: rear swing against front swing


class OxygenSensors:
    """Voltages of front and rear sensor (V) and the trims (%). Faults: `lazy`, and `storage` of the catalyst (0-1)."""

    def __init__(self) -> None:
        self.lazy = False
        self.storage = 1.0
        self.front_v = 0.45
        self.rear_v = 0.45
        self.short_trim_pct = 0.0
        self.long_trim_pct = OWN_TRIM_PCT
        self.status = 0
        """As PID 03 has it: 0 off, 1 open loop cold, 2 closed loop, 4 open loop by driving."""
        self._phase = 0.0

    def forget(self) -> None:
        """The control unit lost its power: the trims are learned anew."""
        self.short_trim_pct = self.long_trim_pct = 0.0

    def step(self, body: Surroundings, dt: float) -> None:
        """Live on for `dt` seconds."""
        drive = body.powertrain
        self.status = self._status(body)
        if self.status == 2:
            self._phase += dt * (LAZY_HZ if self.lazy else SWING_HZ) * (0.6 + 0.01 * drive.load_pct)
            swing = math.sin(2 * math.pi * self._phase)
            self.front_v = 0.45 + 0.37 * swing
            self.short_trim_pct = -3.1 * swing
            if body.canister_load:
                self.short_trim_pct -= RICH_PER_LOAD_PCT * body.canister_load * body.purge_pct / 100
            self.long_trim_pct += (OWN_TRIM_PCT - self.long_trim_pct) * dt / LEARN_S
            worn = 1 - self.storage
            rear_v = 0.66 + (REAR_SWING_V + worn * (WORN_SWING_V - REAR_SWING_V)) * swing
            self.rear_v += (rear_v - self.rear_v) * dt / (REAR_S + worn * (WORN_REAR_S - REAR_S))
        elif self.status == 4:
            rich = not drive.fuel_cut
            self.front_v += ((0.85 if rich else 0.04) - self.front_v) * min(1.0, dt / 0.6)
            self.rear_v += ((0.8 if rich else 0.05) - self.rear_v) * min(1.0, dt / 1.5)
            self.short_trim_pct = 0.0
        elif body.air.lean:
            self.front_v += (0.06 - self.front_v) * min(1.0, dt / 0.6)
        else:
            self.front_v += (0.45 - self.front_v) * min(1.0, dt / 2)
            self.rear_v += (0.45 - self.rear_v) * min(1.0, dt / 2)
            self.short_trim_pct = 0.0

    def _status(self, body: Surroundings) -> int:
        if not body.engine_on:
            return 0
        if body.coolant_c < CLOSED_LOOP_COOLANT_C or body.run_time_s < CLOSED_LOOP_AFTER_S or body.air.on:
            return 1
        return 4 if body.powertrain.fuel_cut or body.load_pct > OPEN_LOOP_LOAD_PCT else 2
