"""Whether a rule is for this car at all: is the programme alive, and is such a car inspected there.

A fact of the rule's scope holds, does not hold, or cannot be told; what nobody told is never taken as an exemption.
"""

from collections.abc import Iterator
from typing import Literal

from coach.inspection.clauses import Reason, Vehicle
from coach.inspection.findings import KM_PER_MILE
from coach.inspection.parts import SUREST
from coach.inspection.rules import Rule
from coach.inspection.who import CONDITIONS, Exempt
from coach.j1979.model_year import FIRST_OBD_YEAR

EXEMPT_ID = {"nothing": "not_inspected", "another_test": "another_test", "not_stated": "not_for_it"}
USE_SPAN = 1
"""Our judgement: a car is built and first used at most a year before or after its model year."""

Missing = Literal["fuel", "model_year", "weight", "kind", "odometer", "owner", "source"]
TOLD_BY: dict[str, Missing] = {
    "fuel": "fuel",
    "under_age": "model_year",
    "from_age": "model_year",
    "before_model_year": "model_year",
    "before_use": "model_year",
    "under_lb": "weight",
    "kinds": "kind",
    "below_mi": "odometer",
    "hangs_on": "owner",
    "unclear": "source",
}
"""What has to be known of a car to tell a condition."""


def scope(rule: Rule, vehicle: Vehicle) -> tuple[Reason, ...]:
    """Why the rule is not for this car (`exempt`) or may not be (`open`), and remarks (`for`); nothing when it is."""
    facts = [reason for fact in rule.scope.exempt for reason in _fact(fact, vehicle)]
    found = [*_programme(rule, vehicle, any(reason.id == "scope_unclear" for reason in facts)), *facts]
    if exemption(tuple(found)) is not None:
        return tuple(reason for reason in found if reason.effect == "exempt")
    if vehicle.fuel is None:
        found.append(Reason("fuel_unknown", "open", "found"))
    needs_year = any(limit.first_model_year > 0 for reading in rule.reading for limit in reading.limit)
    if vehicle.model_year is None and needs_year:
        found.append(Reason("model_year_unknown", "open", "found"))
    if vehicle.disputed_year is not None:
        found = [_disputed(vehicle) if reason.id == "model_year_unknown" else reason for reason in found]
    found += _assumed(rule, vehicle)
    return tuple(dict.fromkeys(found))


def _disputed(vehicle: Vehicle) -> Reason:
    return Reason("model_year_disputed", "open", "found", (), (), vehicle.disputed_year)


def exemption(reasons: tuple[Reason, ...]) -> Reason | None:
    """The surest of the reasons for which the inspection is not for such a car."""
    exempt = [reason for reason in reasons if reason.effect == "exempt"]
    return min(exempt, key=lambda reason: SUREST.index(reason.sure), default=None)


def edges(rule: Rule, vehicle: Vehicle) -> Iterator[int]:
    """Model years at which the rule's scope may change its mind."""
    for fact in rule.scope.exempt:
        if fact.fuel is not None and vehicle.fuel not in (None, fact.fuel):
            continue
        if fact.under_age is not None:
            yield vehicle.this_year - fact.under_age + 1
        if fact.from_age is not None:
            yield vehicle.this_year - fact.from_age + 1
        if fact.before_model_year is not None:
            yield fact.before_model_year
        if fact.before_use is not None:
            yield from (int(fact.before_use[:4]) - USE_SPAN, int(fact.before_use[:4]) + USE_SPAN)


def _programme(rule: Rule, vehicle: Vehicle, unclear: bool) -> Iterator[Reason]:
    """Whether it is alive; where it ended, a car of which no source says so for certain is not let go by that."""
    if rule.ended is not None:
        over = rule.ended.date <= vehicle.on and not unclear
        yield Reason("programme_ended" if over else "programme_ends", "exempt" if over else "for", rule.ended.sure)
    if rule.status == "unknown":
        said = vehicle.inspected is True
        yield Reason("said_inspected" if said else "programme_unknown", "for" if said else "open", rule.sure)


# ---------------------------------------------------------------- one fact


def _fact(fact: Exempt, vehicle: Vehicle) -> Iterator[Reason]:
    met = _conditions(fact, vehicle)
    if False in met.values():
        return
    if None not in met.values():
        if fact.sure != "found" and vehicle.inspected is True:
            yield Reason("said_inspected", "for", fact.sure, fact=fact)
        else:
            yield Reason(EXEMPT_ID[fact.instead], "exempt", fact.sure, fact=fact)
        return
    missing = {TOLD_BY[key] for key, holds in met.items() if holds is None}
    if vehicle.model_year is not None:
        missing -= {"model_year"}  # known, and it does not tell when the car was first used
    if "fuel" in missing:
        return  # said once, for the rule as a whole
    if "model_year" in missing:
        yield Reason("model_year_unknown", "open", "found")
    elif "weight" in missing:
        yield Reason("weight_not_told", "open", fact.sure, (), (), None, fact.under_lb)
    elif "source" in missing:
        yield Reason("scope_unclear", "open", fact.sure, fact=fact)
    else:
        yield Reason("may_be_exempt", "open", fact.sure, fact=fact)


def _conditions(fact: Exempt, vehicle: Vehicle) -> dict[str, bool | None]:
    """Each condition of a fact: met, not met, or none where the car and its user did not tell."""
    given = (key for key in CONDITIONS if getattr(fact, key) not in (None, (), ""))
    return {key: _met(key, fact, vehicle) for key in given}


def _met(key: str, fact: Exempt, vehicle: Vehicle) -> bool | None:
    age = None if vehicle.model_year is None else vehicle.this_year - vehicle.model_year
    weight_lb, kind = vehicle.gvwr_lb, vehicle.kind
    limit = getattr(fact, key)
    match key:
        case "fuel":
            return None if vehicle.fuel is None else vehicle.fuel == limit
        case "kinds":
            return (None if "plain" in limit else False) if kind is None else kind in limit
        case "except_kinds":
            return kind not in limit
        case "under_age":
            return None if age is None else age < limit
        case "from_age":
            return None if age is None else age >= limit
        case "before_model_year":
            return None if vehicle.model_year is None else vehicle.model_year < limit
        case "over_lb":
            return weight_lb is not None and weight_lb > limit
        case "to_lb":
            return weight_lb is None or weight_lb <= limit
        case "under_lb":
            return None if weight_lb is None else weight_lb < limit
        case "before_use":
            used = _used_before(int(limit[:4]), vehicle.model_year)
            return _users_word(vehicle) if used is None and age is not None else used
        case "below_mi":
            return None if vehicle.odometer_km is None else vehicle.odometer_km / KM_PER_MILE < limit
        case _:  # hangs_on, unclear
            return _users_word(vehicle)


def _users_word(vehicle: Vehicle) -> bool | None:
    """Whether such a car is let go, where only the user can say it."""
    return None if vehicle.inspected is None else not vehicle.inspected


def _used_before(year: int, model_year: int | None) -> bool | None:
    """Whether a car was built or first used before a day of that year, by its model year alone."""
    if model_year is None:
        return None if year >= FIRST_OBD_YEAR else False
    if model_year + USE_SPAN < year:
        return True
    return False if model_year - USE_SPAN >= year else None


# ---------------------------------------------------------------- what was assumed


def _assumed(rule: Rule, vehicle: Vehicle) -> Iterator[Reason]:
    """What was taken for granted where nobody told, and would make another car of it: said, and nothing else."""
    if vehicle.gvwr_lb is None:
        heavy = [f for f in rule.scope.exempt if f.over_lb is not None and _but_for(f, vehicle, "over_lb", "to_lb")]
        first = min(heavy, key=lambda fact: fact.over_lb or 0.0, default=None)
        if first is not None:
            yield Reason("weight_not_told", "for", first.sure, (), (), None, first.over_lb)
    if vehicle.kind is None:
        for fact in rule.scope.exempt:
            rare = [kind for kind in (*fact.kinds, *fact.except_kinds) if kind != "electric"]
            if rare and "plain" not in rare and _but_for(fact, vehicle, "kinds", "except_kinds"):
                yield Reason("kind_not_told", "for", fact.sure, fact=fact)


def _but_for(fact: Exempt, vehicle: Vehicle, *keys: str) -> bool:
    """Whether, but for these conditions, the fact would not be ruled out."""
    met = _conditions(fact, vehicle)
    return all(holds is not False for key, holds in met.items() if key not in keys)
