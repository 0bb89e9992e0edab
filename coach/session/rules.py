"""Finds and opens inspection rules, shipped or one's own, and puts together what a rule needs to know of the car."""

from collections.abc import Collection, Iterator
from difflib import get_close_matches
from pathlib import Path

from coach.car.car import Car
from coach.car.readout import vins_of
from coach.inspection.clauses import Vehicle
from coach.inspection.findings import findings_of
from coach.inspection.parts import DrivenBy, Fuel
from coach.inspection.refuses import refused
from coach.inspection.rules import Rule, parse_rule
from coach.inspection.two_words import TwoWords
from coach.j1979.model_year import model_year
from coach.library import shipped
from coach.ordinary import is_there, small_text


def rule_paths() -> Iterator[Path]:
    """The shipped rules in order of id."""
    yield from sorted((shipped("profiles") / "inspection").glob("*.toml"))


def all_rules() -> tuple[Rule, ...]:
    """Every shipped rule."""
    return tuple(parse_rule(path.read_text(encoding="utf-8"), path.name) for path in rule_paths())


def a_rule(rule_id: str) -> Rule:
    """A shipped rule by its id, or one's own file. KeyError, RuleError or NoOrdinaryFile for none."""
    known = {path.stem: path for path in rule_paths()}
    own = Path(rule_id)
    if rule_id in known:
        return parse_rule(known[rule_id].read_text(encoding="utf-8"), known[rule_id].name)
    if own.suffix == ".toml" and is_there(own):
        return parse_rule(small_text(own), str(own))
    near = get_close_matches(rule_id, known, n=1, cutoff=0.4)
    hint = f"; the nearest is {near[0]}" if near else ""
    raise KeyError(f"no rule {rule_id!r}{hint}; coach rules list has them all, or name a .toml file of your own")


def vehicle_of(
    car: Car,
    on: str,
    *,
    year: int | None = None,
    fuel: Fuel | None = None,
    gvwr_lb: float | None = None,
    lamp_lights: bool | None = None,
    failed_with: tuple[str, ...] = (),
    against_the_car: bool = False,
    odometer_km: float | None = None,
    kept_km: float | None = None,
    kind: DrivenBy | None = None,
    inspected: bool | None = None,
) -> tuple[Vehicle, TwoWords]:
    """What a rule needs beside the findings. `on`: today in ISO 8601. `year`, `fuel`: what the user says.

    The car's own word on these two holds, unless the user says that it is wrong: `against_the_car`. The second value
    has what each of them says, and whose word holds. The odometer is the user's, else the car's, else `kept_km`, the
    job's.
    """
    vins, found = vins_of(car), findings_of(car)
    vin = model_year(vins[0] if len(vins) == 1 else None, int(on[:4]), car.can)  # of two VINs nobody knows whose
    told = TwoWords(vin, found.fuel, year, fuel, against_the_car)
    disputed = year if told.open_dispute else None
    read = (odometer_km, found.values.get("odometer_km"), kept_km)
    km = next((one for one in read if one is not None), None)
    weight_and_lamp = (gvwr_lb, lamp_lights, failed_with)
    return Vehicle(on, told.model_year, told.fuel, *weight_and_lamp, disputed, km, kind, inspected), told


def refusals(rule: Rule, car: Car, vehicle: Vehicle, target: Collection[str]) -> dict[str, object]:
    """{"id", "name", "refuses"}: what a drive is told of the rule its target was made by."""
    refuses = refused(rule, findings_of(car), vehicle, target)
    return {"id": rule.id, "name": rule.name, "refuses": list(refuses)}
