"""Faults as changes of the physical car. The control units are not told: they find them by measuring, or not at all."""

from collections.abc import Callable
from dataclasses import dataclass

from coach.simulator.body import Body
from coach.simulator.monitor_sets import HEALTHY
from coach.simulator.secondary_air import FLOW_GPS
from coach.simulator.thermal import MISSING, STUCK_OPEN


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault: what it is in words, the code a car usually finds for it, and how it changes the body."""

    words: str
    code: str
    inject: Callable[[Body], None]
    repair: Callable[[Body], None]


Change = Callable[[Body, float], None]


def _fault(words: str, code: str, change: Change, broken: float, sound: float) -> Fault:
    """A fault that sets one thing of the body to a value."""
    return Fault(words, code, lambda body: change(body, broken), lambda body: change(body, sound))


def _worn(words: str, code: str, name: str, broken: float) -> Fault:
    """A worn part: what the monitors measure of it."""

    def change(body: Body, value: float) -> None:
        body.wear[name] = value

    return _fault(words, code, change, broken, HEALTHY[name])


def _lazy(body: Body, on: float) -> None:
    """A front sensor that takes a sixth of a second to switch; the limits of our cars are about a tenth."""
    body.oxygen.lazy = on > 0
    body.wear["front_sensor_switch_ms"] = 171.0 if on else HEALTHY["front_sensor_switch_ms"]


def _thermostat(body: Body, share: float) -> None:
    body.thermal.stuck_open = share


def _battery(body: Body, on: float) -> None:
    body.battery.weak = on > 0
    body.battery.rest(0.0)


def _storage(body: Body, share: float) -> None:
    body.oxygen.storage = share


def _pump(body: Body, share: float) -> None:
    body.air.share, body.air.last_gps = share, FLOW_GPS * share


def _crack(body: Body, share: float) -> None:
    body.soot.crack = share


def _ash(body: Body, kpa: float) -> None:
    body.soot.ash_kpa = kpa


def _nox_catalyst(body: Body, health: float) -> None:
    body.nox.health = health


def _fluid(body: Body, strength: float) -> None:
    body.nox.fluid.strength = strength


FAULTS: dict[str, Fault] = {
    "lazy_oxygen_sensor": _fault("front oxygen sensor answers too slowly", "P0133", _lazy, 1, 0),
    "leaking_filler_cap": _worn("fuel filler cap does not seal", "P0457", "tank_pressure_kpa", 0.22),
    "stuck_open_thermostat": _fault(
        "thermostat stuck open, the engine stays cool", "P0128", _thermostat, STUCK_OPEN, 0
    ),
    "missing_thermostat": _fault("no thermostat at all, the engine stays cold", "P0128", _thermostat, MISSING, 0),
    "weak_battery": _fault("weak battery and generator", "P0562", _battery, 1, 0),
    "misfire": _worn("cylinder 1 misfires under load", "P0301", "misfire_share", 0.05),
    "open_sensor_heater": _worn("heater of the front oxygen sensor draws no current", "P0135", "front_heater_a", 0.02),
    "worn_catalyst": _fault("catalyst stores hardly any oxygen", "P0420", _storage, 0.05, 1),
    "dead_air_pump": _fault("secondary air pump gives no air", "P0411", _pump, 0.04, 1),
    "cracked_particle_filter": _fault("particle filter is cracked, soot goes through", "P2002", _crack, 0.92, 0),
    "clogged_particle_filter": _fault("particle filter full of ash, it holds back too much", "P2463", _ash, 10.5, 0),
    "worn_nox_catalyst": _fault("NOx catalyst converts too little", "P20EE", _nox_catalyst, 0.3, 1),
    "watered_exhaust_fluid": _fault("exhaust fluid is mostly water", "P20EE", _fluid, 0.25, 1),
}
"""Faults by name. A car without the part simply never notices."""
