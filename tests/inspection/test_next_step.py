"""What comes next by the findings alone: one table; every step has its words, and a repaired code that comes is mended.

Definitions of pending, stored, permanent: 40 CFR 86.010-2; the findings are invented.
"""

from typing import Any

import pytest

from coach.car.identity import Signs
from coach.car.state import CarState
from coach.inspection.findings import Found
from coach.inspection.next_step import STEPS, NextStep, next_steps, steps_of
from coach.j1979.test_results import TestResult
from coach.words.next_step import ABOUT_CODES, STEP_WORDS, step_words
from coach.words.units import Units
from tests.inspection.makers import findings

BAD = TestResult(0x21, 0x81, 0x14, (90, 0, 80), 90.0, 0.0, 80.0, "ohm", "catalyst", False)
GOOD = TestResult(0x21, 0x81, 0x14, (40, 0, 80), 40.0, 0.0, 80.0, "ohm", "catalyst", True)
OWN = TestResult(0xE1, 0x81, 0x01, (9, 0, 8), 9.0, 0.0, 8.0, "", None, False)
P0420, P0301 = Found(("P0420",)), Found(("P0301",))


@pytest.mark.parametrize(
    ("changed", "steps"),
    [
        ({}, ["nothing"]),
        ({"stored": P0420, "pending": P0420, "mil_on": True}, ["mend"]),
        ({"stored": P0420, "pending": Found(None), "mil_on": True}, ["mend", "read_again"]),
        ({"stored": P0420, "mil_on": True}, ["clean_cycles"]),
        ({"stored": P0420, "mil_on": True, "permanent": P0420}, ["clean_cycles"]),
        ({"stored": P0420, "mil_on": None}, ["clean_cycles", "read_again"]),
        ({"stored": P0420}, ["ages_out"]),
        ({"mil_on": True, "stored": Found(None)}, ["mend", "read_again"]),
        ({"pending": P0301}, ["second_drive"]),
        ({"permanent": P0420}, ["wait_for_permanent"]),
        ({"permanent": P0420, "pending": P0301}, ["second_drive"]),
        ({"permanent": Found(None)}, ["read_again"]),
        ({"permanent": Found(None, offered=False)}, ["nothing"]),
        ({"stored": Found(None)}, ["read_again"]),
        ({"stored": Found(None, ("P0420",))}, ["ages_out", "read_again"]),
        ({"mil_on": None}, ["read_again"]),
    ],
)
def test_the_codes_and_the_mil_decide_the_step(changed: dict[str, Any], steps: list[str]) -> None:
    assert [step.id for step in next_steps(findings(**changed))] == steps


@pytest.mark.parametrize(
    ("known", "told", "step"),
    [
        ({("7E8", "calid"): ("A",)}, {("7E8", "calid"): ("B",)}, "say_what_was_done"),
        ({}, {("7E8", "vin"): ("V1",), ("7E9", "vin"): ("V2",)}, "say_what_was_done"),
        ({("7E8", "vin"): ("V1",)}, {("7E8", "vin"): ("V2",)}, "find_the_car"),
        ({("7E8", "vin"): ("V1",)}, {}, "read_again"),
    ],
)
def test_reading_again_is_not_asked_for_where_it_would_end_no_doubt(known: Any, told: Any, step: str) -> None:
    car = CarState(can=True)
    car.signs = Signs(known=known, told=told)
    assert [one.id for one in steps_of(car)] == [step]


def test_monitors_are_driven_for_and_a_permanent_code_is_waited_for_beside_them() -> None:
    steps = next_steps(findings("catalyst", permanent=P0420))
    assert steps == (NextStep("drive", (), ("catalyst",)), NextStep("wait_for_permanent", ("P0420",)))


@pytest.mark.parametrize(
    ("open_ones", "tests", "told"),
    [((), (BAD,), True), ((), (GOOD,), False), (("catalyst",), (BAD,), False), ((), (OWN,), False)],
)
def test_a_result_outside_its_limits_is_told_only_of_a_monitor_that_is_complete(
    open_ones: tuple[str, ...], tests: tuple[TestResult, ...], told: bool
) -> None:
    steps = next_steps(findings(*open_ones), tests)
    assert (NextStep("result_outside_limits", (), ("catalyst",)) in steps) is told


def test_with_a_permanent_code_and_a_result_outside_its_limits_driving_is_not_the_next_step() -> None:
    steps = next_steps(findings(permanent=P0420), (BAD,))
    assert [step.id for step in steps] == ["result_outside_limits", "wait_for_permanent"]


def test_the_repaired_code_pending_once_more_is_mended_and_not_waited_for() -> None:
    assert next_steps(findings(pending=P0420), repaired=("P0420",)) == (NextStep("mend", ("P0420",)),)
    both = next_steps(findings(pending=Found(("P0301", "P0420"))), repaired=("P0420",))
    assert [step.id for step in both] == ["mend", "second_drive"]


def test_every_step_has_its_words_and_codes_are_named() -> None:
    assert set(STEP_WORDS) == set(STEPS)
    assert set(ABOUT_CODES) < set(STEPS)
    for step in STEPS:
        words = step_words(NextStep(step, ("P0420",), ("catalyst",)), Units())
        assert "{" not in words
        assert ("P0420" in words) is (step in ABOUT_CODES and step != "result_outside_limits")
