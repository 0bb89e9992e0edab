"""A second evaluator of inspection rules, straight from the facts in tests/reference/inspection_rules.toml.

It knows nothing of the program's forms and code, and is made to be read beside those facts.
"""

import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

FACTS: dict[str, Any] = tomllib.loads(
    (Path(__file__).parents[1] / "reference/inspection_rules.toml").read_text(encoding="utf-8")
)
NO_NUMBER = {"allowed": -1, "unread": True, "confidence": "memory"}
"""Where no number fits the car, the MIL may still fail it, and nothing else is known."""
LIGHT_LB = 6000.0  # a weight that nobody told is a car's


@dataclass(frozen=True)
class Car:
    """A car with everything complete and clean but for what is named; `complete`: how many monitors are."""

    year: int
    fuel: str
    weight_lb: float | None
    incomplete: tuple[str, ...]
    mil_on: bool
    complete: int


def expected(place: str, car: Car, on: str) -> tuple[str, bool]:
    """The outcome of a car on a day, and whether a refusal is only by readings that were not all read."""
    facts = FACTS[place]
    out = inspected(facts, car, on)
    if out == "no":
        return "exempt", False
    numbers = readings(facts, car, on) or ([NO_NUMBER] if facts.get("rules") else [])
    said = [verdict(facts, rule, car) for rule in numbers]
    if out != "yes":
        harmless = out == "perhaps" and said and set(said) == {"yes"} and certain(facts, car, on)
        return ("ready" if harmless else "cannot_say"), False
    if said and set(said) == {"no"}:
        return "not_ready", not certain_refusal(facts, car, on)
    if said and set(said) == {"yes"} and certain(facts, car, on):
        return "ready", False
    return "cannot_say", False


# ---------------------------------------------------------------- is it inspected there


def inspected(facts: Any, car: Car, on: str) -> str:
    """yes, no, perhaps (not at all, if its owner meets a condition), or unclear."""
    if car.fuel == "diesel" and (car.weight_lb or 0) > facts.get("still_heavy_diesel_above_lb", 10**9):
        return "unclear"
    if facts.get("ended") and facts["ended"] <= on:
        return "no"
    scope = facts.get("scope", {})
    told = {*ages(scope, car, int(on[:4])), *years(facts, scope, car), *fuels(facts, scope, car), *weights(scope, car)}
    if facts.get("applies") is False and facts["status"] != "ended":  # a text that has no cars of its own
        told = {"unclear" if one == "no" else one for one in told}
    if facts["status"] == "unknown":
        told.add("unclear")
    if scope.get("needs"):
        told.add("unclear")
    return next((one for one in ("no", "unclear", "perhaps") if one in told), "yes")


def ages(scope: Any, car: Car, this_year: int) -> list[str]:
    age, told = this_year - car.year, []
    newest, oldest = scope.get("newest_exempt", {}), scope.get("oldest_exempt", {})
    hangs = newest.get("needs") or newest.get("only") or newest.get("for")
    under = scope.get("newest_sure_under", newest.get("under", 0))
    if newest.get("fuel", car.fuel) == car.fuel and under and age < under:
        told.append("perhaps" if hangs else "no")
    transfer = scope.get("transfer", {})
    if transfer.get("fuel") == car.fuel and age < transfer["newest_under"]:
        told.append("no")
    if age >= oldest.get("from", 10**4):
        told.append("perhaps" if oldest.get("only") else "no")
    if age in scope.get("unclear_ages", []):
        told.append("unclear")
    if age > scope.get("obd_ages", {}).get("last", 10**4) or age < scope.get("obd_ages", {}).get("first", -100):
        told.append("no")
    return told


def years(facts: Any, scope: Any, car: Car) -> list[str]:
    first = facts["min_model_year"][car.fuel]
    older = scope.get("before_model_year", {}).get(car.fuel, 0)
    told = ["no"] if car.year < max(first, older) else []
    used = scope.get("before_first_use", {}).get(car.fuel)
    if used is not None:  # a car is first used at most a year before or after its model year
        day = int(used[:4])
        told += ["no"] if car.year + 1 < day else ["perhaps_tested_otherwise"] if car.year - 1 < day else []
    return ["unclear" if one == "perhaps_tested_otherwise" else one for one in told]


def fuels(facts: Any, scope: Any, car: Car) -> list[str]:
    own = scope.get(car.fuel, {})
    if own.get("inspected") is False or own.get("obd") is False:
        return ["no"]
    told = ["no"] if car.year < own.get("first_model_year", 0) else []
    if (car.weight_lb or LIGHT_LB) > own.get("gvwr_max_lb", 10**9):
        told.append("no")
    if scope.get("petrol_out_unless_gas") and car.fuel == "gasoline":
        told.append("perhaps")
    first = facts["min_model_year"]
    if not own and first["gasoline"] and not first[car.fuel] and car.fuel not in scope.get("before_model_year", {}):
        told.append("unclear")  # petrol's first year is stated and this fuel's is not
    return told


def weights(scope: Any, car: Car) -> list[str]:
    gvwr, weight = scope.get("gvwr", {}), car.weight_lb
    if weight is None and gvwr.get("min_lb"):
        return ["unclear"]
    if weight is not None and weight < gvwr.get("min_lb", 0):
        return ["no"]
    weight = LIGHT_LB if weight is None else weight
    if car.fuel == "gasoline" and weight > 8500 and car.year < scope.get("heavy_gasoline_min_model_year", 0):
        return ["no"]
    if weight > scope.get("unclear_above_lb", {}).get(car.fuel, 10**9):
        return ["unclear"]
    for band in (*gvwr.get("bands", []), *scope.get("gvwr_bands", [])):
        if band.get("fuel", car.fuel) == car.fuel and band["min_lb"] <= weight <= (band["max_lb"] or 10**9):
            return [] if car.year >= band["first_model_year"] else ["no"]
    most = gvwr.get("max_lb") or gvwr.get("max_kg", 0) / 0.45359237 or 10**9
    return ["no"] if car.fuel in gvwr.get("fuel", car.fuel) and weight > most else []


# ---------------------------------------------------------------- what the rule says


def readings(facts: Any, car: Car, on: str) -> list[Any]:
    """The rule that fits, and beside it other readings of it that are in force."""
    fits = [r for r in facts.get("rules", []) if r["fuel"] in (car.fuel, "any")]
    found = [r for r in fits if r["years"][0] <= car.year <= r["years"][1]][:1]
    more = facts.get("readings", [])
    return found + [r for r in more if r["fuel"] in (car.fuel, "any") and r["since"] <= on and car.year >= r["first"]]


def verdict(facts: Any, rule: Any, car: Car) -> str:
    """yes, no, or open for one reading."""
    if car.mil_on and facts["mil"] == "fails":
        return "no"
    if facts.get("stored_fails") and car.mil_on:
        return "no"
    let_go, must = rule.get("only", car.incomplete), rule.get("must", [])
    too_many = rule["allowed"] >= 0 and len(car.incomplete) > rule["allowed"]
    if too_many or any(m in must or m not in let_go for m in car.incomplete):
        return "no"
    if car.complete < rule.get("min_complete", 0):
        return "no"
    if car.mil_on:  # its stored code, and the MIL itself, decide in a way that was not read
        return "open"
    if rule.get("unread"):
        return "open"
    return "open" if facts.get("demand_unread") and car.incomplete else "yes"


def certain(facts: Any, car: Car, on: str) -> bool:
    """Everything a "ready" rests on was read in its source, and there is one reading of it."""
    rules = readings(facts, car, on)
    doubt = (
        facts.get("outdated") or facts.get("in_force") or facts.get("demand_unread") or facts["confidence"] == "memory"
    )
    alike = len({(r["allowed"], *r.get("only", [])) for r in rules}) == 1
    return not doubt and alike and all(r["confidence"] == "found" for r in rules)


def certain_refusal(facts: Any, car: Car, on: str) -> bool:
    """Each reading has a reason against the car that was read in its source."""
    read = all(r["confidence"] == "found" for r in readings(facts, car, on))
    return read and not facts.get("outdated") and not facts.get("in_force")
