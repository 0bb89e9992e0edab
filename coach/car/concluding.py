"""The one function that says what may be concluded of the car now. It reads the state and changes nothing.

A finding stands only while every unit that has a say in it is beyond doubt, all units were asked, and it is the same
car; else it is none, with the reason that comes first.
"""

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from coach.car.conclusion import (
    KINDS_OF_CODES,
    CodesFinding,
    Conclusion,
    Identity,
    LampFinding,
    MonitorFinding,
    Standing,
)
from coach.car.ecus import (
    ITEMS,
    READINESS,
    SUPPORTED,
    Ecu,
    all_codes,
    asked_for,
    concerned,
    doubt,
    doubt_of_codes,
    mil_on,
    monitor_state,
    said_codes,
)
from coach.j1979.model_year import model_year
from coach.j1979.monitors import CONTINUOUS, MONITORS

if TYPE_CHECKING:
    from coach.car.state import CarState

FOREIGN: frozenset[Identity] = frozenset({"unproved", "changed", "another", "two_vins"})
"""Whose words count for nothing until a sign agrees, or until the user says what it was."""
PERMANENT_FROM_YEAR = 2010
"""Permanent codes: phased in from model year 2010, 13 CCR 1968.2; the year from memory."""
NOT_SUPPORTED = frozenset({0x11, 0x12, 0x31})  # negative response codes: no such service, no such item
ANY_YEAR = 2100  # without a date every year a letter may stand for is possible

Why = tuple[str, tuple[str, ...], float | None]
"""A reason, the units it is about, and since when."""


def conclude(car: "CarState") -> Conclusion:
    """All that may be said of the car now."""
    identity = car.signs.state
    readiness = _why_not(car, READINESS, identity)
    monitors = _monitors(car, readiness)
    codes: dict[str, CodesFinding] = {kind: _codes(car, kind, identity) for kind in KINDS_OF_CODES}
    lamp = _lamp(car, readiness)
    return Conclusion(
        identity,
        monitors,
        lamp,
        codes,
        car.clear.finding(),
        _standing(monitors, lamp, codes),
        tuple(sorted(a for a, ecu in car.ecus.items() if _gave_and_is_silent(ecu))),
        tuple(_odd(car)),
        tuple(_again(car, identity)),
    )


# ---------------------------------------------------------------- why not


def _why_not(car: "CarState", item: str, identity: Identity) -> Why | None:
    """Why nothing can be said of an item for the whole car; a unit's own doubt is looked at with the unit."""
    if identity in FOREIGN:
        return f"identity_{identity}", (), car.episode_t
    for doubted in (item, SUPPORTED):
        standing = car.doubts.get(doubted)
        if standing is not None:
            return standing.why, (), standing.t
    if not _covered(car, item):
        return "not_all_asked", tuple(sorted(car.asked_alone)), None
    return None


def _covered(car: "CarState", item: str) -> bool:
    """Whether every unit there is was asked for it: all at once, or, where all are known, each by itself."""
    if item in car.asked_all or not car.asked_alone:
        return True
    known = SUPPORTED in car.asked_all and all(item in ecu.answered for ecu in car.ecus.values())
    return known and bool(car.ecus)


def _doubtful(ecus: Iterable[Ecu], item: str) -> Why:
    """The units in doubt, the first one's reason, and since when the oldest of their doubts stands."""
    found = [(ecu.address, why, ecu.doubts.get(item)) for ecu in ecus if (why := doubt(ecu)) is not None]
    since = [standing.t for _, _, standing in found if standing is not None]
    return (found[0][1] if found else "never_read"), tuple(a for a, _, _ in found), min(since, default=None)


# ---------------------------------------------------------------- findings


def _monitors(car: "CarState", why: Why | None) -> dict[str, MonitorFinding]:
    ecus, told = tuple(car.ecus.values()), car.reported.since_t
    alone = why is not None and (why[0].startswith("identity_") or why[0] == "not_all_asked")
    only_continuous = _only_continuous(ecus)
    found = {}
    for monitor in MONITORS:
        state = None if alone else monitor_state(ecus, monitor, why is not None)
        if state == "unsupported" and only_continuous and monitor not in CONTINUOUS:
            found[monitor] = MonitorFinding(None, "only_continuous", _addresses(concerned(ecus)))
        elif state is None:
            reason, units, since_t = why or _doubtful(concerned(ecus), READINESS)
            found[monitor] = MonitorFinding(None, reason, units, since_t)
        else:
            having = [e for e in ecus if e.readiness is not None and monitor in e.readiness.supported]
            found[monitor] = MonitorFinding(state, None, _addresses(having), told.get(monitor))
    return found


def _only_continuous(ecus: Iterable[Ecu]) -> bool:
    """Every unit that spoke has continuous monitors only: no car with these services is built like that."""
    told = [ecu.readiness for ecu in ecus if ecu.readiness is not None]
    return bool(told) and not any(readiness.supported.difference(CONTINUOUS) for readiness in told)


def _addresses(ecus: Iterable[Ecu]) -> tuple[str, ...]:
    return tuple(sorted(ecu.address for ecu in ecus))


def _lamp(car: "CarState", why: Why | None) -> LampFinding:
    ecus = tuple(car.ecus.values())
    alone = why is not None and (why[0].startswith("identity_") or why[0] == "not_all_asked")
    lit = None if alone else mil_on(ecus, why is not None)
    if lit is None:
        reason, units, since_t = why or _doubtful(concerned(ecus), READINESS)
        return LampFinding(None, reason, units, since_t)
    by = [e for e in concerned(ecus) if e.readiness is not None and (e.readiness.mil_on or not lit)]
    return LampFinding(lit, None, _addresses(by), car.reported.since_t.get("mil"))


def _codes(car: "CarState", kind: str, identity: Identity) -> CodesFinding:
    ecus, why = tuple(car.ecus.values()), _why_not(car, ITEMS[kind], identity)
    said = () if identity in FOREIGN else said_codes(ecus, kind)
    sure = () if identity in FOREIGN else said_codes([e for e in ecus if e.why_not(ITEMS[kind]) is None], kind)
    answered = any(kind in ecu.codes or ITEMS[kind] in ecu.expected for ecu in ecus)
    if kind == "permanent" and not answered and identity not in FOREIGN:
        if older_than_permanent(car) and not any(_spoke_of(ecu, kind) for ecu in ecus):
            return CodesFinding((), said, sure, False)  # whatever line was lost, it held no permanent code
        if why is None and _refused_or_silent(ecus):
            return CodesFinding(None, said, sure, None, "silent_to_0A")
    certain = all_codes(ecus, kind, False) if why is None else None
    if certain is not None:
        return CodesFinding(certain, said, sure, True, None, _addresses(asked_for(ecus, kind)))
    if why is None:
        lacking = [(e, reason) for e in asked_for(ecus, kind) if (reason := doubt_of_codes(e, kind)) is not None]
        since = [e.doubts[ITEMS[kind]].t for e, _ in lacking if ITEMS[kind] in e.doubts]
        why = (lacking[0][1] if lacking else "never_read"), _addresses(e for e, _ in lacking), min(since, default=None)
    return CodesFinding(None, said, sure, True if answered else None, *why)


def _spoke_of(ecu: Ecu, kind: str) -> bool:
    """Whether this unit said something of these codes, though not as an answer that can be used."""
    standing = ecu.doubts.get(ITEMS[kind])
    return standing is not None and standing.why in ("not_asked", "late", "contradicted", "another_car")


def _refused_or_silent(ecus: Iterable[Ecu]) -> bool:
    """Nobody gave permanent codes, and nothing but refusals and silence says so."""
    return all(ecu.doubts[ITEMS["permanent"]].why == "refused" for ecu in ecus if ITEMS["permanent"] in ecu.doubts)


def older_than_permanent(car: "CarState") -> bool:
    """Whether the car is known to be older than permanent codes: by its VIN, else by the model year the job holds."""
    vins = {
        vin for signs in (car.signs.known, car.signs.told) for (_, s), v in signs.items() if s == "vin" for vin in v
    }
    if len(vins) == 1:
        told = model_year(next(iter(vins)), car.known.year_now or ANY_YEAR, car.can)
        years = (told.year,) if told.year is not None else told.candidates
        if years:
            return all(year < PERMANENT_FROM_YEAR for year in years)
    return car.known.model_year is not None and car.known.model_year < PERMANENT_FROM_YEAR


# ---------------------------------------------------------------- the whole


def _standing(monitors: dict[str, MonitorFinding], lamp: LampFinding, codes: dict[str, CodesFinding]) -> Standing:
    if lamp.on or any(found.sure for found in codes.values()):
        return "fault"
    states = {found.state for found in monitors.values()}
    if "incomplete" in states:
        return "incomplete"
    clean = lamp.on is False and all(found.certain == () for found in codes.values())
    return "complete" if clean and None not in states and "complete" in states else "uncertain"


def _gave_and_is_silent(ecu: Ecu) -> bool:
    return any(ecu.why_not(item) in ("silent", "not_heard_again") for item in (READINESS, *ITEMS.values()))


def _odd(car: "CarState") -> Iterator[tuple[str, str]]:
    for address, ecu in sorted(car.ecus.items()):
        if ecu.readiness is not None:
            yield from ((address, bit) for bit in ecu.readiness.odd)
    if _only_continuous(car.ecus.values()):
        yield ",".join(sorted(car.ecus)), "only_continuous"


def _again(car: "CarState", identity: Identity) -> Iterator[str]:
    """What would end the doubts, asked of all units: signs first, since without them nothing counts."""
    if identity in ("unproved", "changed", "another", "two_vins"):
        yield from car.signs.wanted
    for item in (SUPPORTED, READINESS, *ITEMS.values()):
        doubted = item in car.doubts or any(_asks_again(ecu, item) for ecu in car.ecus.values())
        if doubted or (item in car.asked_all and _left_open(car, item)):
            yield item.replace(" ", "")
        elif item == ITEMS["permanent"] and _may_be_lost(car, item):
            yield item


def _may_be_lost(car: "CarState", item: str) -> bool:
    """Asked for, and nobody answered at all, by a car that may well have it."""
    spoke = any(item in ecu.answered or item in ecu.refused for ecu in car.ecus.values())
    return item in car.asked_all and not spoke and not older_than_permanent(car)


def _left_open(car: "CarState", item: str) -> bool:
    """Asked for, and a unit that has a say never gave it, or gave fewer codes than it counts."""
    ecus = car.ecus.values()
    if item == READINESS:
        return any(doubt(ecu) == "never_read" for ecu in concerned(ecus))
    kind = next((kind for kind, asked in ITEMS.items() if asked == item), None)
    if kind is None or (kind == "permanent" and not any(kind in ecu.codes for ecu in ecus)):
        return False
    open_ones = [ecu for ecu in asked_for(ecus, kind) if item not in ecu.refused]
    return any(doubt_of_codes(ecu, kind) in ("never_read", "fewer_than_counted") for ecu in open_ones)


def _asks_again(ecu: Ecu, item: str) -> bool:
    """That it is not supported is an answer; everything else is worth another question."""
    why = ecu.why_not(item)
    return why is not None and not (why == "refused" and ecu.refused.get(item) in NOT_SUPPORTED)
