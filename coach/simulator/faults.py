"""Faults as changes of the physical car. The control units are not told: they find them by measuring, or not at all."""

from collections.abc import Callable
from dataclasses import dataclass

from coach.simulator.body import Body
from coach.simulator.monitor_sets import HEALTHY


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault: what it is in words, the code a car usually finds for it, and how it changes the body."""

    words: str
    code: str
    inject: Callable[[Body], None]
    repair: Callable[[Body], None]


def _worn(name: str, value: float) -> Callable[[Body], None]:
    def change(body: Body) -> None:
        body.wear[name] = value

    return change


def _lazy(on: bool) -> Callable[[Body], None]:
    """A front sensor that takes a sixth of a second to switch; the limits of our cars are about a tenth."""

    def change(body: Body) -> None:
        body.oxygen.lazy = on
        body.wear["front_sensor_switch_ms"] = 171.0 if on else HEALTHY["front_sensor_switch_ms"]

    return change


def _thermostat(on: bool) -> Callable[[Body], None]:
    def change(body: Body) -> None:
        body.thermal.thermostat_stuck = on

    return change


def _battery(on: bool) -> Callable[[Body], None]:
    def change(body: Body) -> None:
        body.battery.weak = on
        body.battery.rest(0.0)

    return change


FAULTS: dict[str, Fault] = {
    "lazy_oxygen_sensor": Fault("front oxygen sensor answers too slowly", "P0133", _lazy(True), _lazy(False)),
    "leaking_filler_cap": Fault(
        "fuel filler cap does not seal",
        "P0457",
        _worn("tank_pressure_kpa", 0.22),
        _worn("tank_pressure_kpa", HEALTHY["tank_pressure_kpa"]),
    ),
    "stuck_open_thermostat": Fault(
        "thermostat stuck open, the engine stays cool", "P0128", _thermostat(True), _thermostat(False)
    ),
    "weak_battery": Fault("weak battery and generator", "P0562", _battery(True), _battery(False)),
    "misfire": Fault(
        "cylinder 1 misfires under load", "P0301", _worn("misfire_share", 0.05), _worn("misfire_share", 0.0)
    ),
    "open_sensor_heater": Fault(
        "heater of the front oxygen sensor draws no current",
        "P0135",
        _worn("front_heater_a", 0.02),
        _worn("front_heater_a", HEALTHY["front_heater_a"]),
    ),
}
"""Faults by name. A car without the part simply never notices."""
