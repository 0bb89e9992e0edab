"""A permanent code that is gone is the car's own word only where a drive can have led to it.

The recordings are written here byte by byte, after SAE J1979; the car is invented. 40 CFR 86.010-18(b)(3)(iii): the car
erases it after its test ran and passed in a drive of the regulated pattern.
"""

from pathlib import Path

import pytest

from coach.jobs.store import Job, JobStore
from tests.inspection.story import THURSDAY
from tests.inspection.test_evidence import CLEAN, OPEN, OWN, RESET, add, said, since_clear, told, vin

CALIBRATION = {"0904": f"490401{b'CALIBRATION 0001'.hex()}"}
SIGNS = {**vin(OWN), **CALIBRATION}
MISFIRE = {"0101": "410181076500", "03": "43010301", "07": "4700", "0A": "4A010301"}


def run_minutes(minutes: int) -> dict[str, str]:
    """The minutes the engine ran since the clear."""
    return {"014E": f"414E{minutes:04X}"}


def opened(tmp_path: Path) -> Job:
    """P0301, stored and permanent, read out."""
    job = JobStore(tmp_path).new(THURSDAY, ("P0301",), "a coil")
    add(job, "before", said(MISFIRE, SIGNS, since_clear(20, 256), run_minutes(512)))
    return job


@pytest.mark.parametrize(
    ("counted", "outcome"),
    [
        ({**since_clear(0, 0), **run_minutes(0)}, "not_yet"),
        ({**since_clear(0, 1), **run_minutes(3)}, "not_yet"),
        ({}, "not_yet"),
        (run_minutes(14), "confirmed"),
        (since_clear(0, 9), "confirmed"),
        (since_clear(1, 0), "confirmed"),
    ],
)
def test_a_permanent_code_gone_after_a_clear_counts_only_when_as_much_was_driven_as_the_car_needs(
    tmp_path: Path, counted: dict[str, str], outcome: str
) -> None:
    job = opened(tmp_path)
    add(job, "clear", said(SIGNS, {"04": "44"}, {**RESET, "0A": "4A010301"}, since_clear(0, 0), run_minutes(0)))
    add(job, "between", said({**CLEAN, "0101": OPEN}, SIGNS, counted))
    assert told(job)[1].outcome == outcome


@pytest.mark.parametrize(
    ("counted", "outcome"),
    [
        ({**since_clear(20, 256), **run_minutes(512)}, "not_yet"),
        ({**since_clear(20, 257), **run_minutes(515)}, "not_yet"),
        ({**since_clear(23, 301), **run_minutes(570)}, "confirmed"),
    ],
)
def test_without_a_clear_the_counters_have_to_rise_before_a_vanished_permanent_code_is_the_cars_word(
    tmp_path: Path, counted: dict[str, str], outcome: str
) -> None:
    job = opened(tmp_path)
    add(job, "between", said(CLEAN, SIGNS, counted))
    assert told(job)[1].outcome == outcome
