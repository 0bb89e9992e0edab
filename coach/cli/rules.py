"""`coach rules`: inspection rules as data; and what a verdict under one needs from the command line."""

import argparse
from datetime import datetime
from pathlib import Path
from typing import Any

from coach.cli.exits import COULD_NOT_TELL, DONE, NOT_INSPECTED, NOT_READY, USAGE
from coach.cli.terminal import print_json, say

VERDICT_CODES = {"ready": DONE, "not_ready": NOT_READY, "cannot_say": COULD_NOT_TELL, "exempt": NOT_INSPECTED}
FUELS = {"petrol": "gasoline", "gasoline": "gasoline", "diesel": "diesel"}
KINDS = {"hybrid": "hybrid", "plug-in": "plug_in", "gas": "gas", "flexible": "flexible", "plain": "plain"}
SAID = {"yes": True, "no": False}
"""The word the user writes and the word the rules have."""


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """The command's arguments."""
    rules = commands.add_parser(
        "rules", help="list and explain inspection rules", epilog="example: coach rules show us-ca-smogcheck"
    )
    actions = rules.add_subparsers(required=True, metavar="ACTION")
    listed = actions.add_parser("list", help="every rule, with its date and how sure it is")
    listed.add_argument("--json", action="store_true", help="the same as data")
    listed.set_defaults(command=_list)
    shown = actions.add_parser("show", help="one rule in words, with its source")
    shown.add_argument("id", metavar="ID", help="a rule's id, or a .toml file of your own")
    shown.add_argument("--json", action="store_true", help="the same as data")
    shown.set_defaults(command=_show)
    checked = actions.add_parser(
        "check",
        help="hold rules against their own worked cases",
        description="Judges the worked cases of a rule's file and says where the rule says something else.",
        epilog="example: coach rules check my-state.toml",
    )
    checked.add_argument(
        "file", nargs="*", metavar="FILE", help="a .toml file or an id; all shipped rules when left out"
    )
    checked.add_argument("--json", action="store_true", help="the same as data")
    checked.set_defaults(command=_check)


def rule_arguments(parser: argparse.ArgumentParser, fuel: tuple[str, ...] = ("--fuel-type", "--fuel")) -> None:
    """Which rule, and what it has to know that the car does not tell. `fuel`: how the kind of fuel is written."""
    told_arguments(parser, fuel)
    parser.add_argument(
        "--odometer-mi", type=float, metavar="MILES", help="where a rule asks, and neither the car nor its job tells"
    )
    parser.add_argument(
        "--lamp", choices=("yes", "no"), help="whether the MIL lights at key-on, engine off, as you see it"
    )
    parser.add_argument(
        "--failed-with", action="append", default=[], metavar="CODE", help="a retest: a code it failed with; repeatable"
    )


def told_arguments(parser: argparse.ArgumentParser, fuel: tuple[str, ...] = ("--fuel-type", "--fuel")) -> None:
    """What the user tells once: a job keeps it."""
    parser.add_argument("--rules", metavar="ID", help="judge by this inspection rule; see coach rules list")
    parser.add_argument(
        "--model-year", type=int, metavar="YEAR", help="the car's model year, when its VIN does not tell"
    )
    parser.add_argument(
        *fuel, dest="fuel_type", choices=tuple(FUELS), help="petrol or diesel, when the car does not tell"
    )
    parser.add_argument(
        "--against-the-car",
        action="store_true",
        default=None,
        help="the car's own word on model year or fuel is wrong; mine holds",
    )
    parser.add_argument("--weight-lb", type=float, metavar="LB", help="gross vehicle weight rating, where a rule asks")
    parser.add_argument("--kind", choices=tuple(KINDS), help="hybrid, natural gas and the like, where a rule asks")
    parser.add_argument(
        "--inspected",
        choices=("yes", "no"),
        help="whether the place inspects it, where the car alone does not tell",
    )


def _list(arguments: argparse.Namespace) -> int:
    from coach.session.rules import all_rules
    from coach.words.rules import rules_page

    rules = all_rules()
    if arguments.json:
        keys = ("id", "name", "status", "sure", "source_date", "outdated")
        rows = [{key: getattr(rule, key) or None for key in keys} for rule in rules]
        print_json({"schema": "coach.rules", "version": 1, "rules": rows})
    else:
        print(rules_page(rules))
    return DONE


def _show(arguments: argparse.Namespace) -> int:
    from coach.session.rules import a_rule
    from coach.words.rules import rule_page

    rule = a_rule(arguments.id)
    if arguments.json:
        print_json({"schema": "coach.rule", "version": 2, "rule": rule.model_dump(mode="json")})
    else:
        print(rule_page(rule))
    return DONE


def _check(arguments: argparse.Namespace) -> int:
    """Exit 0 when every rule says what its cases say, 1 when one does not, 2 when a file is no rule."""
    from coach.inspection.rules import RuleError
    from coach.ordinary import NoOrdinaryFile
    from coach.session.rules import a_rule, rule_paths
    from coach.words.cases import check_document, checked_words, found_in

    found, unread = [], list[str]()
    for name in arguments.file or [path.stem for path in rule_paths()]:
        try:
            found.append(found_in(name, a_rule(name)))
        except RuleError as error:
            unread += error.mistakes
        except (NoOrdinaryFile, OSError, KeyError) as error:
            unread.append(str(error.args[0] if isinstance(error, KeyError) else error))
    for line in unread:
        say(f"coach: {line}", aside=True)
    if arguments.json:
        print_json(check_document(found))
    else:
        for one in found:
            for line in checked_words(one):
                say(line)
    if unread:
        return USAGE
    return DONE if all(one.right for one in found) else NOT_READY


KEPT = {
    "rules": "rule",
    "model_year": "model_year",
    "fuel_type": "fuel",
    "weight_lb": "gvwr_lb",
    "kind": "kind",
    "inspected": "inspected",
}
"""What the user tells once: the name on the command line, and the one in a job's record."""
WORDS: dict[str, dict[str, Any]] = {"fuel_type": FUELS, "kind": KINDS, "inspected": SAID}
"""What is written in other words on the command line than a job keeps it in."""


def tell(arguments: argparse.Namespace, job: Any, keep: bool = True) -> None:
    """What is typed the job keeps; what is left out is what the job keeps of it. ValueError for what cannot be."""
    from coach.session.kept_rule import kept_rule

    check_told(arguments)
    if job is None:
        return
    given = {kept: value for name, kept in KEPT.items() if (value := _given(arguments, name)) is not None}
    against = arguments.against_the_car
    if keep and (given or against):
        job.told(**given, against_the_car=against)
    anew = any(given.get(name, told) != told for name in ("model_year", "fuel") if (told := getattr(job.record, name)))
    if against is None and not anew:
        arguments.against_the_car = job.record.against_the_car
    arguments.kept_km = job.record.odometer_km
    if arguments.rules is None:
        kept_rule(job.record)
    for name, kept in KEPT.items():
        if getattr(arguments, name) is None:
            setattr(arguments, name, getattr(job.record, kept))


def _given(arguments: argparse.Namespace, name: str) -> Any:
    """What was typed, as a job keeps it: a rule of one's own by its whole path."""
    value = getattr(arguments, name)
    if name == "rules" and value is not None and Path(value).suffix == ".toml":
        return str(Path(value).resolve())
    return WORDS.get(name, {}).get(value, value)  # what a job filled in is in its own words already


def check_told(arguments: argparse.Namespace) -> None:
    """ValueError for figures no car has, KeyError for a rule that is not there: said before the car is asked."""
    from coach.session.rules import a_rule

    year, weight, this_year = arguments.model_year, arguments.weight_lb, datetime.now().year
    miles = getattr(arguments, "odometer_mi", None)  # a job has the odometer by itself
    if year is not None and not 1980 <= year <= this_year + 2:
        raise ValueError(f"--model-year {year}: between 1980 and {this_year + 2}")
    if weight is not None and not 0 < weight <= 200_000:
        raise ValueError(f"--weight-lb {weight:g}: between 1 and 200000")
    if miles is not None and not 0 <= miles <= 3_000_000:
        raise ValueError(f"--odometer-mi {miles:g}: between 0 and 3000000")
    if arguments.rules:
        a_rule(arguments.rules)


def verdict_on(car: Any, arguments: argparse.Namespace, found: Any = None) -> tuple[Any, Any]:
    """The verdict under the rule that was named, and what car and user say of model year and fuel.

    `found`: the findings where more is known than this car tells, as in a job of several recordings.
    """
    from coach.inspection.findings import findings_of
    from coach.inspection.verdict import judge
    from coach.session.rules import a_rule

    rule = a_rule(arguments.rules)
    vehicle, told = vehicle_by(car, arguments)
    return judge(rule, found or findings_of(car), vehicle), told


def vehicle_by(car: Any, arguments: argparse.Namespace) -> tuple[Any, Any]:
    """What a rule has to know of the car, and what car and user say of model year and fuel."""
    from coach.jobs.record_file import checked_codes
    from coach.session.rules import vehicle_of
    from coach.words.units import KM_PER_MILE

    check_told(arguments)
    fuel: Any = FUELS.get(arguments.fuel_type)
    kind: Any = KINDS.get(arguments.kind, arguments.kind)  # typed, or as a job keeps it
    miles = arguments.odometer_mi
    today = datetime.now().date().isoformat()
    return vehicle_of(
        car,
        today,
        year=arguments.model_year,
        fuel=fuel,
        gvwr_lb=arguments.weight_lb,
        lamp_lights=SAID.get(arguments.lamp),
        failed_with=checked_codes(tuple(arguments.failed_with)),
        against_the_car=bool(arguments.against_the_car),
        odometer_km=None if miles is None else miles * KM_PER_MILE,
        kind=kind,
        kept_km=getattr(arguments, "kept_km", None),
        inspected=SAID.get(arguments.inspected, arguments.inspected),
    )
