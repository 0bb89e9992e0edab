"""The simulated cars by name, and the one way to make one. All are invented; their VINs belong to no maker."""

import random
from collections.abc import Iterable
from dataclasses import dataclass, replace

from coach.simulator import bodies, monitor_sets, monitor_sets_peculiar
from coach.simulator.body import Body
from coach.simulator.body_spec import BodySpec
from coach.simulator.faults import FAULTS
from coach.simulator.nearest import known
from coach.simulator.rules import EcuSpec, MonitorRule
from coach.simulator.simulated_car import TROUBLES, SimulatedCar
from coach.simulator.vehicle import BusProtocol

ENGINE, GEARBOX = 0x10, 0x18  # usual source bytes of engine and transmission units
SPARK_PIDS = frozenset((0x01, *range(0x03, 0x08), 0x0B, 0x0C, 0x0D, 0x0F, 0x10, 0x11, 0x13, 0x14, 0x15, 0x1C, 0x1F))
NEWER_PIDS = frozenset(
    (0x21, 0x2E, 0x2F, 0x30, 0x31, 0x33, 0x3C, 0x41, 0x42, 0x43, 0x45, 0x46, 0x49, 0x4A, 0x4D, 0x4E, 0x51)
)
OLDER_PIDS = (SPARK_PIDS - {0x0B}) | {0x08, 0x09, 0x12, 0x18, 0x19}  # two banks of three cylinders, an air pump
DIESEL_PIDS = (SPARK_PIDS | NEWER_PIDS | {0x78, 0x7C, 0x8B, 0xA6}) - {0x03, 0x06, 0x07, 0x13, 0x14, 0x15, 0x2E, 0x3C}
VAN_PIDS = DIESEL_PIDS | {0x1E}
GEARBOX_PIDS = frozenset((0x01, 0x0D, 0x1C, 0x42))
ENGINE_NAME = "ECM\0-EngineControl"
AGED_CYCLES, AGED_SHARE = 1412, 0.61  # a car some years old whose every second drive or so is long enough
AGED_KM, AGED_WARM_UPS, AGED_RUN_S = 4211.0, 96, 5.2e5


@dataclass(frozen=True, slots=True)
class CarSpec:
    """What `make_car` needs to build one."""

    description: str
    bus: BusProtocol
    body: BodySpec
    units: tuple[EcuSpec, ...]
    vin: str
    odometer_km: float


def _gearbox(calibration_id: str, cvn: int) -> EcuSpec:
    """A transmission unit: it watches its own components and nothing else."""
    return EcuSpec(
        source=GEARBOX,
        can_id="7E9",
        name="TCM\0-Transmission",
        calibration_id=calibration_id,
        cvn=cvn,
        pids=GEARBOX_PIDS,
        monitors=(MonitorRule("comprehensive_component"),),
    )


def _engine(
    monitors: tuple[MonitorRule, ...],
    pids: frozenset[int],
    calibration_id: str,
    cvn: int,
    *,
    compression: bool = False,
    latched: bool = False,
) -> EcuSpec:
    return EcuSpec(
        source=ENGINE,
        can_id="7E8",
        name=ENGINE_NAME,
        calibration_id=calibration_id,
        cvn=cvn,
        pids=pids,
        monitors=monitors,
        checks=monitor_sets.CHECKS,
        compression=compression,
        in_use=True,
        has_vin=True,
        has_test_results=True,
        latched=latched,
    )


def _older_engine() -> EcuSpec:
    """Before CAN: no counters, no permanent codes, no name of the unit, no results a tester of today reads."""
    return EcuSpec(
        source=ENGINE,
        can_id="7E8",
        name=ENGINE_NAME,
        calibration_id="SIMESTATE-0291",
        cvn=0x2A7714C3,
        pids=OLDER_PIDS,
        monitors=monitor_sets.ESTATE,
        checks=monitor_sets.CHECKS,
        permanent=False,
        has_vin=True,
        has_name=False,
    )


def _coupe_engine() -> EcuSpec:
    """A two-trip maker's unit."""
    return replace(
        _older_engine(),
        calibration_id="SIMCOUPE-00196",
        cvn=0x7D02E46B,
        pids=SPARK_PIDS,
        monitors=monitor_sets_peculiar.COUPE,
        runs_needed=2,
    )


_NEW = SPARK_PIDS | NEWER_PIDS
_EVERYDAY: dict[str, CarSpec] = {
    "small": CarSpec(
        "small petrol car, CAN, two control units, leak test with the engine off",
        "can_11_500",
        bodies.SMALL,
        (_engine(monitor_sets.SMALL, _NEW, "SIMSMALL-01A4", 0x91BC0A34), _gearbox("SIMSMALL-GB02", 0x5D103E77)),
        "ZZZSM0000S0000001",
        88_412.0,
    ),
    "estate": CarSpec(
        "older six-cylinder estate, ISO 9141, leak test with the engine running",
        "iso_9141",
        bodies.ESTATE,
        (_older_engine(),),
        "ZZZES0000E0000002",
        241_770.0,
    ),
    "hybrid": CarSpec(
        "petrol hybrid, CAN, readiness moves only when the key is turned off",
        "can_11_500",
        bodies.HYBRID,
        (_engine(monitor_sets.HYBRID, _NEW, "SIMHYBRID-0077", 0x0C44D2B1, latched=True),),
        "ZZZHY0000H0000003",
        61_305.0,
    ),
    "diesel": CarSpec(
        "light diesel with particle filter, CAN, compression-ignition layout",
        "can_11_500",
        bodies.DIESEL,
        (
            _engine(monitor_sets.DIESEL, DIESEL_PIDS, "SIMDIESEL-5510", 0xB7780912, compression=True),
            _gearbox("SIMDIESEL-GB1", 0x77E1A05C),
        ),
        "ZZZDS0000D0000004",
        133_902.0,
    ),
    "hatch": CarSpec(
        "turbo hatchback, start-stop, catalyst test wants some foot movement",
        "can_29_500",
        bodies.HATCH,
        (_engine(monitor_sets.HATCH, _NEW | {0xA6}, "SIMHATCH-2201", 0x40F19E08),),
        "ZZZHA0000T0000005",
        47_218.0,
    ),
}
_PECULIAR: dict[str, CarSpec] = {
    "coupe": CarSpec(
        "older coupé, J1850, a monitor counts only after two driving cycles in a row",
        "j1850_vpw",
        bodies.COUPE,
        (_coupe_engine(),),
        "ZZZCP0000C0000006",
        212_640.0,
    ),
    "roadster": CarSpec(
        "roadster, CAN, leak test and sensor test shut each other out",
        "can_11_500",
        bodies.ROADSTER,
        (_engine(monitor_sets_peculiar.ROADSTER, _NEW, "SIMROADST-0310", 0x6E20B9D4),),
        "ZZZRD0000R0000007",
        73_119.0,
    ),
    "plug_in": CarSpec(
        "plug-in hybrid, CAN, its engine stays off while it drives electrically",
        "can_11_500",
        bodies.PLUG_IN,
        (_engine(monitor_sets_peculiar.PLUG_IN, _NEW, "SIMPLUGIN-1102", 0x18F3A7C5),),
        "ZZZPG0000P0000008",
        38_870.0,
    ),
    "van": CarSpec(
        "diesel van with exhaust fluid and power take-off, CAN, compression-ignition layout",
        "can_11_500",
        bodies.VAN,
        (_engine(monitor_sets_peculiar.VAN, VAN_PIDS, "SIMVAN-DE6-04", 0xC90D551E, compression=True),),
        "ZZZVN0000V0000009",
        154_223.0,
    ),
}
_SPECS = {**_EVERYDAY, **_PECULIAR}
CARS: dict[str, str] = {name: spec.description for name, spec in _EVERYDAY.items()}
"""Name of each everyday car and what it is, in a line."""
PECULIAR_CARS: dict[str, str] = {name: spec.description for name, spec in _PECULIAR.items()}
"""The same of the cars with logic that few cars have."""


def make_car(
    name: str,
    *,
    faults: Iterable[str] = (),
    seed: int = 0,
    cleared: bool = True,
    fuel_pct: float = 55.0,
    ambient_c: float = 18.0,
    soaked_h: float = 10.0,
    permanent: Iterable[str] = (),
    bus: BusProtocol | None = None,
) -> SimulatedCar:
    """A car standing, ignition off, `soaked_h` hours after its last drive, tank `fuel_pct` %, air `ambient_c` °C.

    `cleared`: codes were just cleared, nothing has run since; else all monitors are complete, and the codes of the
    faults it has are stored with the MIL on. `permanent` are codes still held from before the clear. `bus` puts the
    same car on another transport. ValueError for an unknown car or fault, naming the nearest.
    """
    spec = _SPECS[known(name, _SPECS, "car")]
    names = tuple(known(fault, TROUBLES, "fault") for fault in faults)
    rng = random.Random(f"{name} {seed}")
    body = Body(spec.body, rng, fuel_pct, ambient_c, soaked_h, spec.odometer_km)
    body.vin = spec.vin
    body.wear.update(monitor_sets.HEALTHY)
    car = SimulatedCar(name, spec.description, bus or spec.bus, body, spec.units, rng)
    for ecu in car.ecus:
        ecu.counters.age(AGED_CYCLES, AGED_SHARE)
        ecu.stand(body)
    if not cleared:
        _live(car)
    for fault in names:
        car.inject(fault)
        if not cleared and fault in FAULTS:
            _mature(car, FAULTS[fault].code)
    if car.ecus[0].spec.permanent:
        car.ecus[0].memory.permanent.extend(code for code in permanent if code not in car.ecus[0].memory.permanent)
    return car


def _live(car: SimulatedCar) -> None:
    """Everything has run, as after some months of ordinary driving."""
    for ecu in car.ecus:
        ecu.age(AGED_KM, AGED_WARM_UPS, AGED_RUN_S, car.body)


def _mature(car: SimulatedCar, code: str) -> None:
    """The fault has been there for two driving cycles: stored, MIL on."""
    for ecu in car.ecus:
        ecu.mature(code, car.body)
