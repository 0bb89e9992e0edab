"""Plain numbers the trackers work with, one frozen record a kind of phase; read from a profile in `build.py`.

Seconds, km/h, °C, %, rpm. A limit that is none is not watched.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Timing:
    """Clock of a hold, see `coach.drive.hold`."""

    duration_s: float
    continuous: bool
    settle_s: float
    short_break_s: float
    bridge_s: float


@dataclass(frozen=True, slots=True)
class CruiseLimits:
    """A steady cruise: enter between `low` and `high`, leave beyond the outer pair."""

    low_kmh: float
    high_kmh: float
    leave_low_kmh: float
    leave_high_kmh: float
    foot_pct: float | None
    leave_foot_pct: float | None
    foot_signals: tuple[str, ...]
    low_rpm: float | None
    high_rpm: float | None
    leave_low_rpm: float | None
    leave_high_rpm: float | None
    engine_on: bool


@dataclass(frozen=True, slots=True)
class IdleLimits:
    """Standing with the engine idling. `cold_start`: only the idle before the car first moves counts."""

    speed_max_kmh: float
    accelerator_closed: bool
    cold_start: bool


@dataclass(frozen=True, slots=True)
class WarmUpLimits:
    """Driving until the coolant is warm; past `longest_s` below `fault_below_c` the thermostat is suspect."""

    until_c: float
    longest_s: float
    fault_below_c: float


@dataclass(frozen=True, slots=True)
class TownLimits:
    """Stop-and-go: time in town, stops with idle, and stretches at a steady speed."""

    duration_s: float
    low_kmh: float
    high_kmh: float
    steady_kmh: float
    steady_s: float
    steady_count: int
    idle_s: float
    idle_count: int


@dataclass(frozen=True, slots=True)
class DecelerationLimits:
    """Rolling with the accelerator released from `from_kmh` to `to_kmh`."""

    from_kmh: float
    to_kmh: float
    shortest_s: float
    speed_min_kmh: float
    repeats: int
    bridge_s: float


@dataclass(frozen=True, slots=True)
class LoadStepLimits:
    """Idle, a firm acceleration, a short cruise."""

    idle_s: float
    accelerator_low_pct: float
    accelerator_high_pct: float
    to_kmh: float
    cruise_s: float
    cruise_kmh: float
    repeats: int
    bridge_s: float
