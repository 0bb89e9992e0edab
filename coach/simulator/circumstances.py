"""What a car may be in without anything being broken: height, weather, tank, and how its driver drives it."""

from collections.abc import Callable
from dataclasses import dataclass

from coach.simulator.body import Body
from coach.simulator.filter_soot import FULL_G, TRIGGER

HIGH_M = 2650.0
FROST_C, THAW_C, HOT_C, MILD_C = -16.0, 9.0, 33.0, 18.0
SOOTY, USUAL_SOOT = 1.15, 0.74  # of a full filter
FILLED_PCT = 28.0
DAYS_H = 72.0


@dataclass(frozen=True, slots=True)
class Circumstance:
    """In words, how it comes about, and how it ends."""

    words: str
    begin: Callable[[Body], None]
    end: Callable[[Body], None]


def _weather(body: Body, ambient_c: float) -> None:
    """The car has stood in this air for days."""
    body.ambient_c = ambient_c
    body.rest(DAYS_H * 3600)


def _fluid(fluid_c: float, ambient_c: float) -> Callable[[Body], None]:
    """The fluid has its cold from the nights before; the air of today is another."""

    def change(body: Body) -> None:
        _weather(body, ambient_c)
        body.nox.fluid.stand(fluid_c)

    return change


def _altitude(metres: float) -> Callable[[Body], None]:
    def change(body: Body) -> None:
        body.altitude_m = metres

    return change


def _undamped(on: bool) -> Callable[[Body], None]:
    def change(body: Body) -> None:
        body.tank.undamped = on

    return change


def _filled(pct: float) -> Callable[[Body], None]:
    def change(body: Body) -> None:
        body.tank.fill(body.tank.level_pct + pct)

    return change


def _hot_fuel(on: bool) -> Callable[[Body], None]:
    def change(body: Body) -> None:
        body.tank.winter_fuel = on
        _weather(body, HOT_C if on else MILD_C)

    return change


def _holder(on: bool) -> Callable[[Body], None]:
    def change(body: Body) -> None:
        body.holder.used = on
        body.holder.let_go()

    return change


def _pto(on: bool) -> Callable[[Body], None]:
    def change(body: Body) -> None:
        body.pto_on = on and body.spec.pto_kw > 0

    return change


def _hold_charge(on: bool) -> Callable[[Body], None]:
    def change(body: Body) -> None:
        body.hold_charge = on and body.spec.plug_in

    return change


def _soot(share: float) -> Callable[[Body], None]:
    def change(body: Body) -> None:
        body.soot.soot_g = share * TRIGGER * FULL_G

    return change


CIRCUMSTANCES: dict[str, Circumstance] = {
    "high_altitude": Circumstance("2,650 m above the sea", _altitude(HIGH_M), _altitude(0.0)),
    "undamped_fuel_sender": Circumstance("the fuel reading shows every wave", _undamped(True), _undamped(False)),
    "just_refuelled": Circumstance("filled up since the last drive", _filled(FILLED_PCT), _filled(-FILLED_PCT)),
    "hot_winter_fuel": Circumstance("winter fuel in the tank on a hot day", _hot_fuel(True), _hot_fuel(False)),
    "speed_holder": Circumstance("the driver leaves everything to the speed holder", _holder(True), _holder(False)),
    "pto": Circumstance("the power take-off is engaged", _pto(True), _pto(False)),
    "frozen_exhaust_fluid": Circumstance(
        "the exhaust fluid has frozen to a block in the nights before",
        _fluid(FROST_C, THAW_C),
        _fluid(MILD_C, MILD_C),
    ),
    "sooty_filter": Circumstance("a regeneration is due at once", _soot(SOOTY), _soot(USUAL_SOOT)),
    "held_charge": Circumstance(
        "the plug-in holds its charge and runs its engine", _hold_charge(True), _hold_charge(False)
    ),
}
"""Circumstances by name. A car that cannot be in one simply is not."""
