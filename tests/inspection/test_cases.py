"""A rule's file carries its own worked cases, so that a change of law is one file: the rule and its cases together.

The shipped cases are worked by hand from the sources each file names; here they are also held against the second
evaluator of `oracle.py`, which knows nothing of the program's code.
"""

import pytest

from coach.inspection.cases import lacking, worked
from coach.inspection.rules import RuleError, parse_rule
from coach.inspection.worked import Case
from coach.session.rules import rule_paths
from coach.words.cases import FEWEST, checked_words, found_in
from tests.inspection.makers import a_rule, all_rules
from tests.inspection.oracle import Car, expected

IDS = tuple(rule.id for rule in all_rules())
TEXTS = {path.stem: path.read_text(encoding="utf-8") for path in rule_paths()}


@pytest.mark.parametrize("rule_id", IDS)
def test_every_shipped_rule_says_what_its_worked_cases_say(rule_id: str) -> None:
    rule = a_rule(rule_id)
    assert len(rule.case) >= FEWEST
    assert lacking(rule) == ()
    assert [case.case.name for case in worked(rule) if not case.right] == []


def in_the_grid(case: Case) -> bool:
    """Whether the second evaluator knows everything the case is about."""
    beyond = (case.inspected, case.odometer_mi, case.kind, case.lamp_lights, *case.failed_with, *case.permanent)
    driven = case.warm_ups >= 5 or {"misfire", "fuel_system"} & set(case.incomplete)
    return not any(told is not None for told in beyond) and not driven and not (case.stored and not case.mil_on)


def test_the_worked_cases_agree_with_the_second_evaluator() -> None:
    compared = 0
    for rule in all_rules():
        for case in rule.case:
            if not in_the_grid(case) or case.model_year is None or case.fuel is None:
                continue
            complete = len(case.fitted - set(case.incomplete) - set(case.lacking))
            car = Car(case.model_year, case.fuel, case.weight_lb, case.incomplete, case.mil_on, complete)
            assert expected(rule.id, car, case.on)[0] == case.expected, (rule.id, case.name)
            compared += 1
    assert compared > 150


CHANGES = (  # a change of law in one place of a file, and the case that says so
    ("us-il", "under_age = 4", "under_age = 3", "three years old"),
    ("us-il", "to_lb = 14000", "to_lb = 16000", "14,001 lb"),
    ("us-ny", "from_age = 25", "from_age = 26", "25 years old"),
    ("us-co", '"oxygen_sensor_heater", "catalyst"]', '"oxygen_sensor_heater"]', "catalyst open"),
    ("us-mo", "below_mi = 40000", "below_mi = 50000", "last year's model with 45,000 miles"),
    ("us-pa", "commanded_on = true", "commanded_on = false", "MIL commanded on without a code"),
)


@pytest.mark.parametrize(("rule_id", "old", "new", "case"), CHANGES)
def test_a_change_of_law_without_its_case_is_found(rule_id: str, old: str, new: str, case: str) -> None:
    text = TEXTS[rule_id].replace("{ over_lb = 14000,", "{ over_lb = 16000,") if "to_lb" in old else TEXTS[rule_id]
    assert old in text
    checked = found_in("mine", parse_rule(text.replace(old, new), "mine.toml"))
    wrong = [one.case.name for one in checked.cases if not one.right]
    assert (wrong[:1], checked.right) == ([case], False)


def test_every_number_a_shipped_rule_lets_go_is_held_by_a_case() -> None:
    held = 0
    for rule_id, text in TEXTS.items():
        lines = text.splitlines()
        for number, line in enumerate(lines):
            key, _, value = line.partition(" = ")
            if key not in ("allowed", "min_complete"):
                continue
            only = lines[number + 1] if lines[number + 1].startswith("only") else ""
            if only and only.count(",") + 1 == int(value):
                continue  # of a list of so many monitors that may be open, no more can be
            changed = [*lines[:number], f"{key} = {int(value) + 1}", *lines[number + 1 :]]
            assert not found_in("mine", parse_rule("\n".join(changed), "mine.toml")).right, (rule_id, number)
            held += 1
    assert held > 60


def test_what_a_file_lacks_is_named_and_a_difference_is_told_with_its_reason() -> None:
    text = TEXTS["us-il"]
    bare = parse_rule(text[: text.index("[[case]]")], "mine.toml")
    assert lacking(bare) == ("accepted", "refused", "exempt")
    assert "  no case for 'exempt'" in tuple(checked_words(found_in("mine.toml", bare)))
    changed = parse_rule(text.replace("allowed = 1", "allowed = 2"), "mine.toml")
    said = "\n".join(checked_words(found_in("mine.toml", changed)))
    assert "mine.toml: 9 worked cases, 2 not as the rule says" in said
    assert "one more open than it lets go, 2012: the case says refused, the rule accepted; told as ready" in said


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('says = "accepted"', 'says = "allowed"', "case.0.says"),
        ('incomplete = ["evaporative_system"]', 'incomplete = ["particulate_filter"]', "no particulate_filter on such"),
        ('on = "2026-11-28"', 'on = "today"', "case.0.on"),
        ("model_year = 2012", "modelyear = 2012", "nearest known key is 'model_year'"),
    ],
)
def test_a_mistake_in_a_case_names_it(old: str, new: str, said: str) -> None:
    head, cases = TEXTS["us-il"].split("[[case]]", 1)
    assert old in cases
    with pytest.raises(RuleError, match=said):
        parse_rule(f"{head}[[case]]{cases.replace(old, new, 1)}", "mine.toml")
