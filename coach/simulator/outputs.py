"""What every drive shows to the rest of the car, whatever turns the wheels."""

import random

from coach.simulator.body_spec import BodySpec


class DriveOutputs:
    """Speeds, loads and flows of an engine at rest. The drives go on from here; units stand in the names."""

    def __init__(self, spec: BodySpec, rng: random.Random) -> None:
        self.spec = spec
        self.rng = rng
        self.rpm = 0.0
        self.gear = 0
        self.fuel_gps = 0.0
        self.maf_gps = 0.0
        self.load_pct = 0.0
        self.absolute_load_pct = 0.0
        self.map_kpa = 101.0
        self.throttle_pct = spec.throttle_rest_pct
        self.torque_nm = 0.0
        self.engine_on = False
        self.fuel_cut = False
        self.boost = 0.0

    def rest(self) -> None:
        """Ignition off: nothing turns."""
        self.rpm = self.fuel_gps = self.maf_gps = self.load_pct = self.absolute_load_pct = self.torque_nm = 0.0
        self.engine_on = self.fuel_cut = False
        self.throttle_pct = self.spec.throttle_rest_pct
