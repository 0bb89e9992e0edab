"""What a control unit's monitor wants before it runs, as data: bands, times, rolls, load steps, starts, a leak test.

Pure tables; `trials.py` watches the car by them. Which numbers a car has stands in `monitor_sets.py`.
"""

from dataclasses import dataclass

OPEN = float("inf")


@dataclass(frozen=True, slots=True)
class Band:
    """An attribute of the body that must lie between `low` and `high`, both included, in its own unit."""

    signal: str
    low: float = -OPEN
    high: float = OPEN


@dataclass(frozen=True, slots=True)
class Hold:
    """Seconds inside all bands; `continuous` starts again after every break longer than `pause_s`."""

    bands: tuple[Band, ...]
    needed_s: float
    continuous: bool = False
    pause_s: float = 2.0
    window_s: float = OPEN
    """Engine run time after which this way is closed for the driving cycle."""
    cold_start: bool = False


@dataclass(frozen=True, slots=True)
class Roll:
    """Closed-throttle decelerations with the fuel cut, from above `from_kmh` to below `to_kmh`."""

    bands: tuple[Band, ...]
    from_kmh: float
    to_kmh: float
    shortest_s: float
    repeats: int


@dataclass(frozen=True, slots=True)
class LoadStep:
    """A firm pull: the foot beyond `foot_pct` for `pull_s`, ending above `to_kmh`, from below `from_kmh`."""

    bands: tuple[Band, ...]
    foot_pct: float
    pull_s: float
    from_kmh: float
    to_kmh: float
    repeats: int


@dataclass(frozen=True, slots=True)
class Regenerated:
    """A finished regeneration in this driving cycle, then `after_s` inside the bands."""

    bands: tuple[Band, ...]
    after_s: float


Way = Hold | Roll | LoadStep | Regenerated


@dataclass(frozen=True, slots=True)
class Start:
    """What must hold at the start of the engine, or the monitor is disabled for this driving cycle. °C, %."""

    coolant_low_c: float = -OPEN
    coolant_high_c: float = OPEN
    over_intake_c: float = OPEN
    """How far coolant and intake air may be apart: further means not soaked."""
    ambient_low_c: float = -OPEN
    ambient_high_c: float = OPEN
    fuel_low_pct: float = -OPEN
    fuel_high_pct: float = OPEN
    baro_low_kpa: float = -OPEN
    """Too high in the mountains below this."""


@dataclass(frozen=True, slots=True)
class Leak:
    """The engine-off leak test: what the drive before must have been, when it begins after key-off, how long it is."""

    driven_s: float
    coolant_low_c: float
    fuel_low_pct: float
    fuel_high_pct: float
    ambient_high_c: float
    begin_h: float
    takes_s: float
    bands: tuple[Band, ...] = ()
    """What must hold when its hour has come, or there is no test that night."""


@dataclass(frozen=True, slots=True)
class Measure:
    """What a monitor measures: a key of `Body.wear`, its limits, where service 06 shows it, and the code beyond them.

    `per_unit` is raw counts for one unit of the value under unit-and-scaling id `unit_id`.
    """

    name: str
    mid: int
    tid: int
    unit_id: int
    per_unit: float
    low: float
    high: float
    code: str
    offset: float = 0.0


@dataclass(frozen=True, slots=True)
class MonitorRule:
    """One monitor of one control unit. All `ways` must be gone through, unless `any_way`. `pairs`: service 09 names."""

    id: str
    ways: tuple[Way, ...] = ()
    any_way: bool = False
    start: Start = Start()
    after: tuple[str, ...] = ()
    """Monitors that must be complete since the clear before this one begins."""
    only: tuple[Band, ...] = ()
    """It stands still outside these."""
    gives_up: tuple[Band, ...] = ()
    """Outside these, once begun, it is over for this driving cycle."""
    excluded_by: tuple[str, ...] = ()
    """Once one of these has begun in a driving cycle, this one has to leave that cycle to it."""
    purged_first: bool = False
    """After a filling it waits until the canister has been purged."""
    leak: Leak | None = None
    measures: tuple[Measure, ...] = ()
    pairs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Continuous:
    """A component check that runs all the time and can only fail: `what` names a function of `checks.py`."""

    what: str
    code: str
    monitor: str


@dataclass(frozen=True, slots=True)
class EcuSpec:
    """One control unit: physical source byte, name, what it watches and which PIDs of service 01 it has."""

    source: int
    can_id: str
    name: str
    calibration_id: str
    cvn: int
    pids: frozenset[int]
    monitors: tuple[MonitorRule, ...]
    checks: tuple[Continuous, ...] = ()
    compression: bool = False
    in_use: bool = False
    permanent: bool = True
    has_vin: bool = False
    has_calibration: bool = True
    has_name: bool = True
    has_test_results: bool = False
    latched: bool = False
    """Readiness is shown as of the last key-off: nothing moves before."""
    runs_needed: int = 1
    """Driving cycles in a row in which a monitor must have run before it counts as complete."""
