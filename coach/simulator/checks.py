"""Component checks that run all the time: thermostat, charging voltage, misfire. Each fails, passes, or waits.

Thresholds are our own; they only have to be such that a sound car never fails.
"""

from collections.abc import Callable
from typing import Protocol

from coach.simulator.body import Body

# Thermostat: a sound engine is this warm well before this much time on the move; one stuck open settles below.
WARM_C = 68.0
WARM_AFTER_S = 780.0
WARM_DRIVEN_KMH = 24.0
WARM_START_HIGH_C = 50.0
# Charging: 45 s below 12.6 V with the engine on is no healthy generator.
CHARGING_LOW_V = 12.6
CHARGING_LOW_S = 45.0
CHARGING_GOOD_S = 120.0
# Misfire: two percent of the firings under load, for the time of about a thousand revolutions.
MISFIRE_SHARE = 0.02
MISFIRE_LOAD_PCT = 28.0
MISFIRE_S = 40.0
MISFIRE_CLEAN_S = 400.0


class Check(Protocol):
    """A check through one driving cycle: true passed, false failed, none not known yet."""

    result: bool | None

    def look(self, body: Body, dt: float) -> None:
        """Look at the car, `dt` seconds after the last look."""


class ThermostatCheck:
    """Has the coolant come up when it should have?"""

    def __init__(self, body: Body) -> None:
        self.result: bool | None = None
        self._applies = body.coolant_c < WARM_START_HIGH_C
        self._km = body.odometer_km
        self._on_s = 0.0

    def look(self, body: Body, dt: float) -> None:
        """Pass when warm; fail when the engine has run long enough, driven, without getting warm."""
        if self.result is not None or not self._applies:
            return
        self._on_s += dt if body.engine_on else 0.0
        mean_kmh = 3600 * (body.odometer_km - self._km) / max(1.0, body.run_time_s)
        if body.coolant_c >= WARM_C:
            self.result = True
        elif self._on_s >= WARM_AFTER_S and mean_kmh >= WARM_DRIVEN_KMH:
            self.result = False


class ChargingCheck:
    """Does the generator hold the voltage?"""

    def __init__(self, body: Body) -> None:
        self.result: bool | None = None
        self._low_s = self._good_s = 0.0

    def look(self, body: Body, dt: float) -> None:
        """Fail after a while of low voltage; pass after longer of good."""
        if not body.engine_on or self.result is False:
            return
        if body.module_v < CHARGING_LOW_V:
            self._low_s += dt
        else:
            self._low_s, self._good_s = 0.0, self._good_s + dt
        if self._low_s >= CHARGING_LOW_S:
            self.result = False
        elif self._good_s >= CHARGING_GOOD_S:
            self.result = True


class MisfireCheck:
    """Does a cylinder miss under load?"""

    def __init__(self, body: Body) -> None:
        self.result: bool | None = None
        self._missing_s = self._clean_s = 0.0

    def look(self, body: Body, dt: float) -> None:
        """Fail after enough missing; pass after longer without."""
        if not body.engine_on or body.load_pct < MISFIRE_LOAD_PCT or self.result is False:
            return
        if body.wear["misfire_share"] > MISFIRE_SHARE:
            self._missing_s += dt
        else:
            self._clean_s += dt
        if self._missing_s >= MISFIRE_S:
            self.result = False
        elif self._clean_s >= MISFIRE_CLEAN_S:
            self.result = True


CHECKS: dict[str, Callable[[Body], Check]] = {
    "thermostat": ThermostatCheck,
    "charging": ChargingCheck,
    "misfire": MisfireCheck,
}
