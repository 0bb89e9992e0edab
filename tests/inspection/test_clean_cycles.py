"""How many driving cycles without the fault a job holds: what counts, what neither counts nor breaks, what breaks.

Three in a row in which the monitor ran: 40 CFR 86.1806-05(d)(1); near the freeze frame for misfire and fuel: the same.
The cycles are invented.
"""

from dataclasses import replace
from typing import Any

import pytest

from coach.car.happenings import CycleMonitorChanged, CycleStatusDistrusted, MonitorChanged
from coach.car.near import NEAR_S
from coach.car.ran import RanWatch
from coach.inspection.clean_cycles import clean_counts
from coach.inspection.confirm import CycleDriven, Evidence
from coach.inspection.findings import Found
from tests.inspection.makers import NONE, findings

WHOLE = CycleDriven("2026-11-20T06:40", True, True, NONE, True, near_s=NEAR_S)
RAN = replace(WHOLE, pattern_met=False, ran=frozenset({"catalyst"}))


def count(code: str, *cycles: CycleDriven, similar_to: str | None = "P0301") -> int:
    evidence = Evidence(findings(), False, cycles=cycles, similar_to=similar_to)
    return clean_counts((code,), evidence)[code]


@pytest.mark.parametrize(
    ("code", "changed", "counts"),
    [
        ("P0128", {}, 1),
        ("P0128", {"pattern_met": False}, 0),
        ("P0128", {"pattern_met": None}, 0),
        ("P0128", {"finished": False}, 0),
        ("P0128", {"pending_after": None}, 0),
        ("P0128", {"pending_after": Found(None)}, 0),
        ("P0128", {"pending_after": Found(("P0113",))}, 1),  # another component's
        ("P0128", {"pending_after": Found(("P1234",))}, 0),  # in no table: it may be anybody's
        ("P0420", {}, 1),  # the car tells no run: the pattern stands for it
        ("P0420", {"ran": frozenset({"catalyst"}), "pattern_met": False}, 1),
        ("P0420", {"ran": frozenset({"oxygen_sensor"})}, 0),
        ("P0301", {}, 1),
        ("P0301", {"near_s": NEAR_S - 1}, 0),
        ("P0301", {"pattern_met": False}, 0),
        ("P1234", {}, 0),  # nobody knows its monitor
    ],
)
def test_what_makes_a_cycle_one_without_the_fault(code: str, changed: dict[str, Any], counts: int) -> None:
    assert count(code, replace(WHOLE, **changed)) == counts


def test_near_another_systems_freeze_frame_is_not_near_its_own() -> None:
    assert count("P0301", WHOLE, similar_to="P0171") == count("P0301", WHOLE, similar_to=None) == 0
    assert count("P0302", WHOLE) == 1


def test_only_cycles_in_a_row_up_to_now_count_and_the_fault_breaks_the_row() -> None:
    back = replace(WHOLE, pending_after=Found(("P0420",)))
    unknown = replace(WHOLE, finished=False)
    assert count("P0420", RAN, RAN, RAN) == 3
    assert count("P0420", RAN, RAN, back, RAN) == 1
    assert count("P0420", RAN, RAN, back) == 0
    assert count("P0420", RAN, unknown, RAN) == 2  # a drive that cannot be told neither counts nor breaks


def changed(before: str | None, after: str | None, ecu: str = "7E8") -> CycleMonitorChanged:
    return CycleMonitorChanged(1.0, ecu, "catalyst", before, after)


@pytest.mark.parametrize(
    ("happened", "ran"),
    [
        ([changed(None, "to_run"), changed("to_run", "complete")], True),
        ([changed(None, "complete")], False),  # it may be a copy of PID 01
        ([changed(None, "to_run"), changed(None, "to_run", "7E9"), changed("to_run", "complete")], False),
        (
            [changed(None, "to_run"), CycleStatusDistrusted(2.0, "7E8", "catalyst"), changed("to_run", "complete")],
            False,
        ),
        ([MonitorChanged(1.0, "catalyst", "incomplete", "complete")], True),
        ([MonitorChanged(1.0, "catalyst", None, "complete")], False),
    ],
)
def test_a_monitor_ran_only_where_it_was_seen_to_be_open_in_the_same_cycle(happened: list[Any], ran: bool) -> None:
    watch = RanWatch()
    for happening in happened:
        watch.happened(happening)
    assert ("catalyst" in watch.ran) is ran
