"""The 12 V side: rest, the dip of cranking, charging; a weak battery sags until the control units fall silent."""

import math

from coach.simulator.surroundings import Surroundings

# Common lead-acid figures: 12.5 V rested, 9 to 10 V when cranking, 13.5 to 14.8 V charging. The weak ones are our own.
REST_V, WEAK_REST_V = 12.55, 11.7
FRESH_V = 0.5  # surface charge after a drive, gone within the hour
FRESH_S = 1800.0
KEY_ON_V = -0.35
CRANK_V, WEAK_CRANK_V = 9.7, 6.4
CHARGING_V, WEAK_CHARGING_V = 13.9, 12.4
WEAK_SINKS_V_PER_S, WEAK_LOWEST_V = 0.0009, 11.5  # a generator that does not keep up: half a volt in ten minutes
COLD_CHARGING_V = 0.5  # added on a cold battery
SETTLE_S = 0.35
BROWN_OUT_V = 7.0  # below this a control unit resets: common practice 6 to 8 V


class Battery:
    """`volts` at the connector; `weak` is the fault."""

    def __init__(self, rested_h: float) -> None:
        self.weak = False
        self._sunk_v = 0.0
        self.fresh_v = FRESH_V * math.exp(-rested_h * 3600 / FRESH_S)
        self.volts = REST_V + self.fresh_v

    @property
    def browned_out(self) -> bool:
        """Too low for any control unit."""
        return self.volts < BROWN_OUT_V

    def rest(self, seconds: float) -> None:
        """Settle with the ignition off for `seconds`."""
        self.fresh_v *= math.exp(-seconds / FRESH_S)
        self._sunk_v = 0.0
        self.volts = self._rest_v()

    def step(self, body: Surroundings, dt: float) -> None:
        """Live on for `dt` seconds."""
        if body.ignition == "crank":
            target, time_s = (WEAK_CRANK_V if self.weak else CRANK_V), 0.1
        elif body.ignition == "run" and (body.engine_on or body.spec.wheel_power_kw):
            target, time_s = self._charging_v(body), SETTLE_S
            self.fresh_v += (FRESH_V - self.fresh_v) * dt / 600
            self._sunk_v += WEAK_SINKS_V_PER_S * dt if self.weak else 0.0
        else:
            target, time_s = self._rest_v() + KEY_ON_V, SETTLE_S
        self.volts += (target - self.volts) * min(1.0, dt / time_s)

    def _rest_v(self) -> float:
        return (WEAK_REST_V if self.weak else REST_V) + (0.3 * self.fresh_v if self.weak else self.fresh_v)

    def _charging_v(self, body: Surroundings) -> float:
        if self.weak:
            return max(WEAK_LOWEST_V, WEAK_CHARGING_V - self._sunk_v)
        return CHARGING_V + COLD_CHARGING_V * max(0.0, min(1.0, (50 - body.intake_c) / 50))
