"""The air pump of older petrol cars: after a cold start it blows air behind the exhaust valves, and the sensor sees it.

Figures are our own; published pumps run from some seconds after the start for half a minute to two.
"""

from coach.simulator.surroundings import Surroundings

BEGIN_S, END_S = 3.0, 80.0
COLD_LOW_C, COLD_HIGH_C = 2.0, 40.0
FLOW_GPS = 3.6
LEAN_GPS = 1.2  # more air than this and the front sensor sees nothing but air


class AirPump:
    """`flow_gps` now, `last_gps` of the last run. `share` is what the pump still gives, 0-1: the fault."""

    def __init__(self, fitted: bool) -> None:
        self.fitted = fitted
        self.share = 1.0
        self.on = False
        self.flow_gps = 0.0
        self.last_gps = FLOW_GPS
        self._cold = False

    @property
    def lean(self) -> bool:
        """So much air that the exhaust reads lean."""
        return self.flow_gps > LEAN_GPS

    def started(self, coolant_c: float) -> None:
        """The engine has fired; whether the pump runs is decided by how cold it is."""
        self._cold = self.fitted and COLD_LOW_C <= coolant_c <= COLD_HIGH_C

    def step(self, body: Surroundings) -> None:
        """Look at the time since the start."""
        self.on = self._cold and body.engine_on and BEGIN_S <= body.run_time_s < END_S
        self.flow_gps = FLOW_GPS * self.share if self.on else 0.0
        if self.on:
            self.last_gps = self.flow_gps
