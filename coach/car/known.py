"""What the recordings before this one told of the car: carried from file to file, and kept in a journal's context.

It holds what this recording's silence is judged beside, never a state that would stand for a reading of today.
"""

from typing import Protocol

from msgspec import Struct, ValidationError, convert
from msgspec.structs import replace

from coach.car.clears import Clear, UnitCleared, loses, shown_by
from coach.car.conclusion import Identity
from coach.car.ecus import ITEMS, NO_CLAIM, READINESS, SUPPORTED, Ecu
from coach.car.identity import Signs

CARRIED = (READINESS, SUPPORTED, *ITEMS.values())
"""The items whose absence in a later recording is a silence."""


class KnownUnit(Struct, frozen=True):
    """One unit: the items it ever gave, its signs by name (vin, calid, cvn), what it has shown of the last clear.

    `loses`: a clear would take something from it that a later reading misses.
    """

    gave: tuple[str, ...] = ()
    signs: dict[str, tuple[str, ...]] = {}
    cleared: UnitCleared | None = None
    loses: bool = False


class Known(Struct, frozen=True):
    """A car as earlier recordings told it. `counters`: what each unit counts since the clear, by signal; only a clear
    puts it back. `clear_seen`: a clear was sent in one; `model_year` as the user said it.

    `excused`: units that were reprogrammed or replaced; `taken_out`: units that are no part of the car any more.
    `year_now`: the calendar year of the recording, none when unknown.
    """

    units: dict[str, KnownUnit] = {}
    counters: dict[str, dict[str, float]] = {}
    clear_seen: bool = False
    model_year: int | None = None
    year_now: int | None = None
    excused: tuple[str, ...] = ()
    taken_out: tuple[str, ...] = ()
    same_car: bool = False


def known_from(told: object) -> Known:
    """What a journal's context says was known; nothing where it is no such thing."""
    try:
        return convert(told, Known)
    except ValidationError:
        return Known()


class Remembering(Protocol):
    """What a car needs for remembering: `coach.car.state.CarState` is one."""

    ecus: dict[str, Ecu]
    signs: Signs
    clear: Clear
    counters: dict[tuple[str, str], tuple[float, float]]
    known: Known
    asked_all: frozenset[str]
    asked_alone: frozenset[str]


BEFORE_S = -1.0
"""The time of what was told in an earlier recording, on the clock of this one."""


def remember(car: Remembering, known: Known) -> None:
    """A car begins with what is known of it: units that have not been heard again, signs, counters, a clear."""
    for address, unit in known.units.items():
        if address in known.taken_out:
            continue
        car.ecus[address] = Ecu(address, expected=frozenset(unit.gave), loses_known=unit.loses)
        car.signs.known.update({(address, sign): tuple(told) for sign, told in unit.signs.items()})
        if unit.cleared is not None:
            car.clear.units[address] = unit.cleared
    car.clear.seen = known.clear_seen
    car.signs.excused, car.signs.excused_all = frozenset(known.excused), known.same_car
    for address, counted in known.counters.items():
        car.counters.update({(address, signal): (value, BEFORE_S) for signal, value in counted.items()})


def beside(known: Known, signs: Signs) -> Identity:
    """Whose words these signs are, beside what is known of a car."""
    told = Signs(excused=frozenset(known.excused), excused_all=known.same_car)
    for address, unit in known.units.items():
        told.known.update({(address, sign): tuple(value) for sign, value in unit.signs.items()})
    told.told = dict(signs.told)
    return told.state


def gave(ecu: Ecu) -> frozenset[str]:
    """The carried items this unit gave or claimed, here or in an earlier recording."""
    doubted = {item for item, standing in ecu.doubts.items() if standing.why not in NO_CLAIM}
    told = {item for item in CARRIED if item in ecu.answered or item in ecu.expected or item in doubted}
    return frozenset(told | ({READINESS} if ecu.claims_readiness() else set()))


def known_after(car: Remembering) -> Known:
    """What is known at the end of a recording of the same car."""
    before, signs = car.known, {**car.signs.known, **car.signs.told}
    if READINESS in car.asked_all or not car.asked_alone:
        shown_by(car.ecus.values(), car.clear)
    units = {
        address: KnownUnit(
            tuple(sorted(gave(ecu))),
            {sign: value for (unit, sign), value in signs.items() if unit == address},
            car.clear.units.get(address),
            loses(ecu),
        )
        for address, ecu in car.ecus.items()
        if address not in before.taken_out
    }
    heard = {a: unit for a, unit in units.items() if unit.gave or unit.signs or unit.cleared}
    return replace(before, units=heard, counters=_counters(car), clear_seen=car.clear.seen)


def cleared_perhaps(known: Known) -> Known:
    """A clear was sent that nobody saw the end of, or to a car that may be this one: every unit has to show it."""
    units = {a: replace(unit, cleared=UnitCleared(had=unit.loses)) for a, unit in known.units.items()}
    return replace(known, units=units, counters={}, clear_seen=True)


def _counters(car: Remembering) -> dict[str, dict[str, float]]:
    """What was counted since the clear; a count read before a clear says nothing any more."""
    found: dict[str, dict[str, float]] = {}
    for (address, signal), (value, t) in car.counters.items():
        if "since_clear" in signal and (car.clear.t is None or t > car.clear.t):
            found.setdefault(address, {})[signal] = value
    return found
