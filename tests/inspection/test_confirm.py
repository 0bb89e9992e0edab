"""What confirms a repair and what does not: the monitor's run, every kind of code, test results, the driving cycle."""

from dataclasses import replace
from typing import Any

import pytest

from coach.inspection.confirm import (
    LOST_IDS,
    Appeared,
    Confirmation,
    CycleDriven,
    Evidence,
    Lost,
    Missing,
    Similar,
    confirm,
    erased_by_the_car,
)
from coach.inspection.findings import Found
from coach.inspection.own_tests import NOTHING, Shown
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
        {"lost": (Lost("003-drive.journal", "missing"),)},
        {"lost": (Lost("003-drive.journal", "changed"),)},
        {"lost": (Lost("003-drive.journal", "unreadable"),)},
        {"doubtful": ("003-drive.journal",)},
    ],
)
def test_what_nobody_told_is_cannot_say_never_confirmed(changed: dict[str, Any]) -> None:
    assert judged(**changed).outcome == "cannot_say"


def test_what_became_of_lost_recordings_is_named_with_their_files() -> None:
    lost = (Lost("003.journal", "missing"), Lost("004.journal", "changed"), Lost("005.journal", "missing"))
    told = judged(lost=lost, doubtful=("004.journal", "006.journal"))
    assert [(one.id, one.files) for one in told.missing] == [
        ("recording_missing", ("003.journal", "005.journal")),
        ("recording_changed", ("004.journal",)),
        ("recording_unreadable", ("006.journal",)),
    ]
    assert all(set(LOST_IDS.values()) >= {one.id} for one in told.missing)


def test_a_code_that_came_in_a_recording_that_is_lost_now_has_come() -> None:
    since = Appeared("P0135", "pending", "2026-11-20T06:40", 1740.0)
    lost = (Lost("003.journal", "missing", (since, Appeared("P0420", "stored", "2026-11-20T06:40", 1740.0))),)
    gone = judged(lost=lost)
    assert (gone.outcome, lacks(gone), gone.since) == ("not_yet", ["recording_missing", "appeared_meanwhile"], since)
    still = judged(lost=lost, findings=findings(stored=Found(("P0135",))))
    assert (still.outcome, still.since) == ("came_back", since)


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


# ---------------------------------------------------------------- what start and drive a code's own test needs

HOT = Shown(start_coolant_c=84.0, start_intake_c=30.0, start_ambient_c=20.0, warmest_c=92.0, warm_idle_s=30.0)
COLD = Shown(start_coolant_c=18.0, start_intake_c=16.0, start_ambient_c=15.0, warmest_c=92.0)
NIGHT = replace(COLD, soak_s=9 * 3600.0)


@pytest.mark.parametrize(
    ("code", "enough", "missing"),
    [
        ("P0128", COLD, "needs_warm_up"),
        ("P0125", COLD, "needs_warm_up"),
        ("P0126", COLD, "needs_warm_up"),
        ("P052A", COLD, "needs_cold_start"),
        ("P0116", NIGHT, "needs_cold_soak"),
        ("P0506", replace(HOT, warm_idle_s=40.0), "needs_warm_idle"),
        ("P0507", replace(HOT, warm_idle_s=40.0), "needs_warm_idle"),
        ("P0299", replace(HOT, pull_s=5.0), "needs_boost_pull"),
    ],
)
def test_a_finished_hot_drive_is_not_the_drive_of_every_test(code: str, enough: Shown, missing: str) -> None:
    for shown in (HOT, NOTHING):
        told = judged(code, tests=None, cycles=(replace(WHOLE, shown=shown),))
        assert (told.outcome, lacks(told)) == ("not_yet", [missing])
    assert judged(code, tests=None, cycles=(replace(WHOLE, shown=enough),)).outcome == "confirmed"
    assert lacks(judged(code, tests=None)) == ["no_cycle", missing]


def test_a_hot_drive_and_a_cold_one_that_was_not_finished_are_not_one_cold_drive() -> None:
    hot, torn = replace(WHOLE, shown=HOT), replace(WHOLE, shown=COLD, finished=False)
    told = judged("P0128", tests=None, cycles=(hot, torn))
    assert (told.outcome, len(told.missing)) == ("not_yet", 1)


def test_an_ordinary_circuit_needs_no_start_of_its_own() -> None:
    for code in ("P0117", "P0443", "P0102"):
        assert judged(code, tests=None, cycles=(replace(WHOLE, shown=HOT),)).outcome == "confirmed"


@pytest.mark.parametrize(
    ("changed", "missing", "outcome"),
    [
        ({"findings": findings("evaporative_system")}, "partner_incomplete", "not_yet"),
        ({"cleared": False}, "partner_not_reset", "not_yet"),
        ({"findings": findings(lacking=("evaporative_system",))}, "partner_unsupported", "cannot_say"),
        (
            {"findings": replace(findings(), monitors={**findings().monitors, "evaporative_system": None})},
            "partner_unknown",
            "cannot_say",
        ),
    ],
)
def test_a_vent_valve_is_worked_in_the_leak_test_alone(changed: dict[str, Any], missing: str, outcome: str) -> None:
    told = judged("P0446", tests=None, cycles=(WHOLE,), **changed)
    assert (told.outcome, told.missing) == (outcome, (Missing(missing, (), "evaporative_system"),))
    assert judged("P0446", tests=None, cycles=(WHOLE,)).outcome == "confirmed"
    assert judged("P0443", tests=None, cycles=(WHOLE,), **changed).outcome == "confirmed"  # purge works on every drive


def leak(mid: int, passed: bool | None = True) -> TestResult:
    """A leak test's result: 1.00 kPa of at least 0.95 passes, 0.90 fails."""
    raw = {True: (100, 95, 0xFFFF), False: (90, 95, 0xFFFF), None: (0, 0, 0)}[passed]
    value, low, high = (word / 100 for word in raw)
    return TestResult(mid, 0x92, 0x17, raw, value, low, high, "kPa", "evaporative_system", passed)


@pytest.mark.parametrize(
    ("code", "tests", "missing"),
    [
        ("P0456", (leak(0x3B),), ["leak_size_unknown"]),  # 0.040 in says nothing of 0.020
        ("P0456", (leak(0x3B), leak(0x3C)), []),
        ("P0456", (leak(0x3C, None),), ["leak_size_unknown", "no_test_result"]),
        ("P0456", (leak(0x3B, False),), ["leak_size_unknown", "test_outside"]),
        ("P0456", None, ["leak_size_unknown"]),
        ("P0442", (leak(0x3C),), []),  # 0.020 in says it of 0.040 too
        ("P0442", (leak(0x39),), []),  # of another size: it shows nothing, and is no condition
        ("P0442", (leak(0x3B, False),), ["test_outside"]),
        ("P0455", (leak(0x39),), []),
    ],
)
def test_a_leak_is_confirmed_by_its_own_size(
    code: str, tests: tuple[TestResult, ...] | None, missing: list[str]
) -> None:
    assert lacks(judged(code, tests=tests)) == missing


def test_the_leak_tests_own_counter_speaks_for_the_smallest_leak() -> None:
    assert judged("P0456", tests=(leak(0x3B),)).outcome == "cannot_say"
    assert judged("P0456", tests=(leak(0x3B),), counted=frozenset({"evaporative_system"})).outcome == "confirmed"


def test_one_banks_result_is_not_the_others() -> None:
    bank_1 = TestResult(0x21, 0x84, 0x20, (100, 0, 190), 0.39, 0.0, 0.74, "ratio", "catalyst", True)
    assert judged("P0430", tests=(bank_1,)).tests == ()
    assert judged("P0420", tests=(bank_1,)).tests == (bank_1,)
    worn = TestResult(0x21, 0x84, 0x20, (200, 0, 190), 0.78, 0.0, 0.74, "ratio", "catalyst", False)
    assert lacks(judged("P0430", tests=(worn,))) == ["test_outside"]


def test_a_diesels_catalyst_is_measured_by_the_same_test_id() -> None:
    # SAE J1979: the same bits and ids name other monitors with compression ignition
    heat = TestResult(0x21, 0x86, 0x16, (900, 780, 0xFFFF), 50.0, 38.0, 6513.5, "°C", "catalyst", True)
    diesel = replace(findings(), ignition="compression", monitors={**findings().monitors, "nmhc_catalyst": "complete"})
    assert judged("P0420", findings=diesel, tests=(heat,)).tests == (heat,)


def test_a_fixed_threshold_is_no_result() -> None:
    fixed = TestResult(0x01, 0x01, 0x0A, (2992, 2992, 2992), 365.0, 365.0, 365.0, "mV", "oxygen_sensor", None)
    told = judged("P0133", tests=(fixed,))
    assert (told.outcome, told.tests) == ("confirmed", ())


def test_what_is_known_from_memory_alone_confirms_nothing_until_the_user_names_the_monitor() -> None:
    told = judged("P2450", tests=None, cycles=(WHOLE,))  # its title was read nowhere
    assert (told.outcome, lacks(told)) == ("cannot_say", ["assignment_unread"])
    assert judged("P2450", "evaporative_system", tests=None, cycles=(WHOLE,)).outcome == "confirmed"
    assert judged("P2450", tests=None, erased=frozenset({"P2450"})).outcome == "confirmed"
    assert lacks(judged("P0420", "evaporative_system", findings=findings("catalyst"))) == ["monitor_incomplete"]


# ---------------------------------------------------------------- the car's own word


def test_a_permanent_code_the_car_erased_was_driven_and_passed_by_its_own_test() -> None:
    # 40 CFR 86.010-18(b)(3)(iii): erased only after the test ran, passed, and a drive of the pattern was free of it
    for code in ("P0301", "P0128", "P0446", "P0456", "P0461", "P0171"):
        assert judged(code, tests=None).outcome != "confirmed"
        assert judged(code, tests=None, erased=frozenset({code})).outcome == "confirmed"
    back = judged("P0301", tests=None, erased=frozenset({"P0301"}), findings=findings(pending=Found(("P0301",))))
    assert back.outcome == "came_back"


@pytest.mark.parametrize(
    ("now", "reprogrammed", "erased"),
    [
        (Found(()), False, {"P0301"}),
        (Found(("P0301",)), False, set()),
        (Found((), ("P0301",)), False, set()),
        (Found(None), False, set()),
        (Found(()), True, set()),
    ],
)
def test_a_permanent_code_is_erased_when_every_unit_says_so_and_none_was_reprogrammed(
    now: Found, reprogrammed: bool, erased: set[str]
) -> None:
    assert erased_by_the_car(("P0301",), now, reprogrammed) == erased
