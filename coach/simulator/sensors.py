"""Oxygen sensors and fuel control: closed loop, the swing of the front sensor, the calm of the rear one, the trims."""

import math

from coach.simulator.surroundings import Surroundings

CLOSED_LOOP_COOLANT_C = 28.0  # our own: closed loop begins early on cars with heated sensors
CLOSED_LOOP_AFTER_S = 35.0
OPEN_LOOP_LOAD_PCT = 92.0
SWING_HZ, LAZY_HZ = 1.1, 0.28  # a sound front sensor swings about once a second in a cruise; a lazy one is our own


class OxygenSensors:
    """Voltages of front and rear sensor (V) and the trims (%). `lazy` is the fault."""

    def __init__(self) -> None:
        self.lazy = False
        self.front_v = 0.45
        self.rear_v = 0.45
        self.short_trim_pct = 0.0
        self.long_trim_pct = 1.6
        self.status = 0
        """As PID 03 has it: 0 off, 1 open loop cold, 2 closed loop, 4 open loop by driving."""
        self._phase = 0.0

    def step(self, body: Surroundings, dt: float) -> None:
        """Live on for `dt` seconds."""
        drive = body.powertrain
        self.status = self._status(body)
        if self.status == 2:
            self._phase += dt * (LAZY_HZ if self.lazy else SWING_HZ) * (0.6 + 0.01 * drive.load_pct)
            swing = math.sin(2 * math.pi * self._phase)
            self.front_v = 0.45 + 0.37 * swing
            self.short_trim_pct = -3.1 * swing
            self.rear_v += (0.66 + 0.03 * swing - self.rear_v) * dt / 3
        elif self.status == 4:
            rich = not drive.fuel_cut
            self.front_v += ((0.85 if rich else 0.04) - self.front_v) * min(1.0, dt / 0.6)
            self.rear_v += ((0.8 if rich else 0.05) - self.rear_v) * min(1.0, dt / 1.5)
            self.short_trim_pct = 0.0
        else:
            self.front_v += (0.45 - self.front_v) * min(1.0, dt / 2)
            self.rear_v += (0.45 - self.rear_v) * min(1.0, dt / 2)
            self.short_trim_pct = 0.0

    def _status(self, body: Surroundings) -> int:
        if not body.engine_on:
            return 0
        if body.coolant_c < CLOSED_LOOP_COOLANT_C or body.run_time_s < CLOSED_LOOP_AFTER_S:
            return 1
        return 4 if body.powertrain.fuel_cut or body.load_pct > OPEN_LOOP_LOAD_PCT else 2
