"""What each part of the car's body sees of the rest of it. The body is one; its parts know only this."""

from typing import Literal, Protocol

from coach.simulator.body_spec import BodySpec

Ignition = Literal["off", "on", "crank", "run"]


class Drive(Protocol):
    """What the other parts see of the powertrain."""

    engine_on: bool
    fuel_gps: float
    fuel_cut: bool
    load_pct: float
    rpm: float
    maf_gps: float


class Soot(Protocol):
    """What the other parts see of a particulate filter."""

    regenerating: bool


class Air(Protocol):
    """What the other parts see of an air pump."""

    on: bool

    @property
    def lean(self) -> bool:
        """So much air that the exhaust reads lean."""


class Surroundings(Protocol):
    """The body as its parts see it: units stand in the names."""

    spec: BodySpec
    ignition: Ignition
    accelerator: float
    demand: float
    brake: float
    ambient_c: float
    baro_kpa: float
    air_share: float
    run_time_s: float
    start_stop_active: bool
    pto_on: bool
    hold_charge: bool

    @property
    def powertrain(self) -> Drive:
        """The powertrain."""

    @property
    def air(self) -> Air:
        """The air pump."""

    @property
    def soot(self) -> Soot:
        """The particulate filter."""

    @property
    def purge_pct(self) -> float:
        """Purge."""

    @property
    def canister_load(self) -> float:
        """How full of vapour the canister is."""

    @property
    def speed_kmh(self) -> float:
        """Speed."""

    @property
    def coolant_c(self) -> float:
        """Coolant."""

    @property
    def catalyst_c(self) -> float:
        """Catalyst."""

    @property
    def intake_c(self) -> float:
        """Intake air."""

    @property
    def load_pct(self) -> float:
        """Calculated load."""

    @property
    def engine_on(self) -> bool:
        """Whether the engine turns."""

    @property
    def running(self) -> bool:
        """Whether the car is started."""

    @property
    def speed_ms(self) -> float:
        """Speed."""
