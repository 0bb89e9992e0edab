"""What a drive is told of the rule its target was made by: what it would refuse once the monitors are complete.

Rules: 16 CCR 3340.42.2 (California), 40 CFR 85.2222 (federal text) as the shipped files have them. The car is invented.
"""

from typing import Any

import pytest

from coach.inspection.needs import target
from coach.inspection.refuses import refused
from tests.inspection.makers import a_rule, all_rules, findings, vehicle


def refuses(rule: str, *incomplete: str, year: int | None = 2012, **how: Any) -> tuple[str, ...]:
    found, car = findings(*incomplete), vehicle(year, **how)
    return refused(a_rule(rule), found, car, target(a_rule(rule), found, car))


def test_a_rule_that_looks_at_no_permanent_code_refuses_none() -> None:
    assert refuses("us-federal", "evaporative_system") == ()


def test_a_rule_that_counts_permanent_codes_refuses_them_and_the_doubt_about_them() -> None:
    assert {"permanent", "permanent_unknown"} <= set(refuses("us-ca-smogcheck"))


def test_a_rule_nobody_read_in_its_source_is_unsure_whatever_the_car_says() -> None:
    assert "rule_unsure" in refuses("us-tx")


def test_a_model_year_that_is_not_known_leaves_the_rule_unsure() -> None:
    assert "rule_unsure" in refuses("us-federal", year=None)


def test_a_lamp_that_stays_dark_is_refused_whatever_is_driven() -> None:
    assert "rule_against" in refuses("us-federal", lamp_lights=False)


@pytest.mark.parametrize("rule", [rule.id for rule in all_rules()])
def test_every_shipped_rule_says_something_a_drive_knows(rule: str) -> None:
    from coach.drive.target import BARS

    assert set(refuses(rule)) <= set(BARS)
