"""What confirms a repair and what does not: the monitor's run, every kind of code, test results, the driving cycle."""

from dataclasses import replace
from typing import Any

import pytest

from coach.inspection.confirm import Appeared, Confirmation, CycleDriven, Evidence, Similar, confirm
from coach.inspection.findings import Found
from coach.j1979.test_results import TestResult
from tests.inspection.makers import NONE, findings

GOOD = TestResult(0x41, 0x81, 0x0E, (1460, 260, 2400), 1.46, 0.26, 2.4, "A", "oxygen_sensor_heater", True)
BAD = TestResult(0x41, 0x81, 0x0E, (20, 260, 2400), 0.02, 0.26, 2.4, "A", "oxygen_sensor_heater", False)
EMPTY = TestResult(0x41, 0x81, 0x0E, (0, 0, 0), 0.0, 0.0, 0.0, "A", "oxygen_sensor_heater", None)
WHOLE = CycleDriven("2026-11-20T06:40", True, True, NONE, True)


def judged(code: str = "P0135", chosen: str | None = None, **changed: Any) -> Confirmation:
    """The heater's evidence is complete unless something is changed."""
    told = {"findings": findings(), "cleared": True, "tests": (GOOD,), **changed}
    return confirm(code, Evidence(**told), chosen)


def lacks(told: Confirmation) -> list[str]:
    return [one.id for one in told.missing]


def test_with_everything_there_it_is_confirmed_with_the_figures() -> None:
    told = judged()
    assert (told.outcome, told.missing, told.tests) == ("confirmed", (), (GOOD,))


@pytest.mark.parametrize(
    ("changed", "missing"),
    [
        ({"findings": findings("oxygen_sensor_heater")}, "monitor_incomplete"),
        ({"findings": findings(permanent=Found(("P0135",)))}, "permanent_stands"),
        ({"findings": findings(pending=Found(("P0141",)))}, "other_code"),
        ({"tests": (BAD,)}, "test_outside"),
        ({"tests": (EMPTY,)}, "no_test_result"),
        ({"cleared": False}, "monitor_not_reset"),
        ({"cleared": False, "findings": findings(stored=Found(("P0135",)))}, "stored_stands"),
        ({"appeared": (Appeared("P0135", "pending", None, 5.0),)}, "appeared_meanwhile"),
    ],
)
def test_one_thing_missing_is_not_yet_and_is_named(changed: dict[str, Any], missing: str) -> None:
    told = judged(**changed)
    assert told.outcome == "not_yet"
    assert missing in lacks(told)


@pytest.mark.parametrize(
    "changed",
    [
        {"findings": findings(stored=Found(None))},
        {"findings": findings(pending=Found(None))},
        {"findings": findings(permanent=Found(None))},
        {"findings": replace(findings(), monitors={**findings().monitors, "oxygen_sensor_heater": None})},
        {"findings": findings(lacking=("oxygen_sensor_heater",))},
    ],
)
def test_what_nobody_told_is_cannot_say_never_confirmed(changed: dict[str, Any]) -> None:
    assert judged(**changed).outcome == "cannot_say"


def test_without_test_results_or_permanent_codes_on_offer_they_are_no_condition() -> None:
    older = findings(permanent=Found(None, (), offered=False))
    assert judged(findings=older, tests=None).outcome == "confirmed"


def test_without_a_clear_a_monitor_that_was_seen_to_run_counts() -> None:
    assert judged(cleared=False, ran=frozenset({"oxygen_sensor_heater"})).outcome == "confirmed"


def test_a_code_that_is_back_says_since_when_and_with_its_freeze_frame() -> None:
    back = findings(stored=Found(("P0135",)), mil_on=True)
    since = Appeared("P0135", "pending", "2026-11-20T06:40", 1740.0)
    told = judged(findings=back, appeared=(since,), frozen_by="P0135", frozen={"rpm": 1820.0})
    assert (told.outcome, told.since, told.frozen) == ("came_back", since, {"rpm": 1820.0})
    other = judged(findings=back, appeared=(since,), frozen_by="P0420", frozen={"rpm": 1820.0})
    assert other.frozen == {}


def test_a_code_in_no_table_cannot_be_said_until_the_user_names_its_monitor() -> None:
    assert (judged("P1234").outcome, lacks(judged("P1234"))) == ("cannot_say", ["code_not_in_table"])
    assert lacks(judged("P1234", "catalyst", tests=None)) == ["no_cycle"]  # it may be a fault in the wiring
    told = judged("P1234", "catalyst", tests=None, cycles=(WHOLE,))
    assert (told.outcome, told.assigned is not None and told.assigned.chosen) == ("confirmed", True)
    assert lacks(judged("P0420", "evaporative_system", findings=findings("catalyst"))) == ["monitor_incomplete"]
    assert lacks(judged("P1234", "comprehensive_component", tests=None)) == ["no_cycle"]


# ---------------------------------------------------------------- continuous monitors


@pytest.mark.parametrize(
    ("cycle", "missing"),
    [
        (replace(WHOLE, pattern_met=False), "pattern_not_met"),
        (replace(WHOLE, finished=False), "cycle_not_finished"),
        (replace(WHOLE, pending_after=None), "pending_not_read"),
        (replace(WHOLE, pending_after=Found(("P0302",))), "pending_after_cycle"),
        (replace(WHOLE, similar=False), "not_similar"),
    ],
)
def test_the_bit_of_misfire_confirms_nothing_a_finished_cycle_does(cycle: CycleDriven, missing: str) -> None:
    assert lacks(judged("P0301", tests=None)) == ["no_cycle"]
    assert lacks(judged("P0301", tests=None, cycles=(cycle,))) == [missing]
    assert judged("P0301", tests=None, cycles=(cycle, WHOLE)).outcome == "confirmed"


def test_a_misfire_without_a_freeze_frame_to_drive_near_to_cannot_be_said() -> None:
    assert judged("P0301", tests=None, cycles=(replace(WHOLE, similar=None),)).outcome == "cannot_say"
    assert judged("P0443", tests=None, cycles=(replace(WHOLE, similar=None),)).outcome == "confirmed"


def test_a_sensors_wiring_wants_its_monitor_and_a_finished_cycle() -> None:
    assert lacks(judged("P0132", tests=None)) == ["no_cycle"]
    assert judged("P0132", tests=None, cycles=(WHOLE,)).outcome == "confirmed"
    assert lacks(judged("P0133", tests=None)) == []


# 375 rpm, 20 % load, same warm-up status: 13 CCR 1968.2 and 40 CFR 86.1806-05(d)(1)
@pytest.mark.parametrize(
    ("rpm", "load_pct", "coolant_c", "near"),
    [
        (1875.0, 60.0, 90.0, True),
        (1876.0, 60.0, 90.0, False),
        (1500.0, 60.1, 90.0, False),
        (1500.0, 40.0, 60.0, False),
    ],
)
def test_similar_conditions_are_within_375_rpm_and_20_percent_of_load_and_as_warm(
    rpm: float, load_pct: float, coolant_c: float, near: bool
) -> None:
    watch = Similar({"rpm": 1500.0, "load_pct": 40.0, "coolant_c": 88.0})
    watch.see(rpm, load_pct, coolant_c)
    assert watch.result() is near


def test_without_load_or_frame_nothing_is_similar_and_nothing_is_not() -> None:
    watch = Similar({"rpm": 1500.0, "load_pct": 40.0, "coolant_c": 88.0})
    watch.see(1500.0, None, 88.0)
    assert watch.result() is None
    blind = Similar({})
    blind.see(1500.0, 40.0, 88.0)
    assert blind.result() is None


def test_near_another_systems_freeze_frame_says_nothing_of_a_misfire() -> None:
    for frame, outcome in (("P0301", "confirmed"), ("P0300", "confirmed"), ("P0171", "cannot_say")):
        assert judged("P0302", tests=None, cycles=(WHOLE,), similar_to=frame).outcome == outcome
