"""A driving cycle without the fault, as the core counts it: phases, regulated pattern, freeze frame; what breaks it.

P0420 catalyst, P0128 thermostat, P0301 misfire: SAE J2012 and the table of coach/inspection/codes.py. Within 375 rpm
and 20 % load, as warm: 40 CFR 86.1806-05(d)(1). The pattern: 40 CFR 86.010-18(d)(4)(ii). The car is invented.
"""

from typing import Any

import pytest

from coach.car.arrivals import Arrival, Choice
from coach.car.happenings import Happening
from coach.car.near import NEAR_S
from coach.drive.core import Core, make_core
from coach.drive.happenings import CleanCycleDriven
from coach.inspection.codes import all_the_time, code_monitors
from coach.words.announce import Announcer
from coach.words.before import before_lines
from coach.words.coaching import view
from coach.words.units import Units
from tests.drive.test_credit import readings
from tests.recordings import a_profile, ask

LIT = "410181076500"
FRAME = {"020200": "4202000301", "020C00": "420C001F40", "020400": "42040066", "020500": "42050082"}
"""Left by P0301 at 2,000 rpm, 40 % of load, 90 °C."""


def begun(code: str, *, known: dict[str, Any] | None = None, frame: bool = False, pending: str = "4700") -> Core:
    """The MIL on and one code stored; the drive is for a cycle without it."""
    core = make_core(a_profile(), can=True)
    core.wanted.monitors_of_codes, core.wanted.all_the_time = code_monitors("spark"), all_the_time("spark")
    core.learn({"soak_s": 36000.0, "soak_proof": "test", "clean_cycles": {"chosen": True, **(known or {})}})
    feed(core, [*ask(0, 1, "0101", ("7E8", LIT)), *ask(1, 2, "03", ("7E8", f"4301{code[1:]}"))])
    feed(core, ask(2, 3, "07", ("7E8", pending)))
    if frame:
        for number, (text, raw) in enumerate(FRAME.items(), start=4):
            feed(core, ask(float(number), number, text, ("7E8", raw)))
    return core


def feed(core: Core, arrivals: list[Arrival]) -> list[Happening]:
    return [happening for arrival in arrivals for happening in core.feed(arrival)]


def cycle_driven(happened: list[Happening]) -> list[tuple[int, int]]:
    return [(h.number, h.wanted) for h in happened if isinstance(h, CleanCycleDriven)]


def pattern(t: int, **more: float) -> list[Arrival]:
    """The regulated pattern: an idle, then ten minutes at 60 km/h."""
    idle = readings(t, 40, rpm=800.0, coolant_c=85.0, speed_kmh=0.0, **more)
    return [*idle, *readings(t + 40, 620, rpm=1900.0, coolant_c=85.0, speed_kmh=60.0, **more)]


def test_what_is_watched_all_the_time_asks_for_the_regulated_pattern_and_no_phase() -> None:
    core = begun("P0128")
    assert core.plan().phases == ()
    assert view(core, Units()).kind == "cycle"
    happened = feed(core, pattern(10))
    assert cycle_driven(happened) == [(1, 3)]
    seen = view(core, Units())
    assert (seen.kind, seen.instruction) == ("barred", "You may stop: the key off ends this driving cycle.")
    assert "driving cycle 1 of 3 without the fault" in seen.note.lower()
    assert not core.target_reached


def test_what_has_a_run_of_its_own_is_driven_for_by_its_phases_though_its_bit_is_complete() -> None:
    core = begun("P0420")
    phases = core.plan().phases
    assert phases
    assert core.clean_now().to_run == ("catalyst",)
    assert core.clean_now().pattern is None
    assert "cycle 1 of 3 without the fault" in view(core, Units()).serves
    for phase in phases:
        core.trackers[phase].full(core.now, 300.0, out := [])
        core._react(out)
    assert core.clean_now().to_run == ()
    assert cycle_driven(out) == [(1, 3)]


def test_where_the_car_says_itself_that_the_monitor_ran_no_phase_is_needed_any_more() -> None:
    core = begun("P0420")
    feed(core, ask(20, 21, "0141", ("7E8", "414100076501")))
    assert core.clean_now().to_run == ("catalyst",)
    happened = feed(core, ask(30, 22, "0141", ("7E8", "414100076500")))
    assert core.clean_now().to_run == ()
    assert cycle_driven(happened) == [(1, 3)]


def test_a_pid_41_that_says_complete_from_the_beginning_may_be_a_copy_of_pid_01_and_proves_nothing() -> None:
    core = begun("P0420")
    feed(core, ask(10, 20, "0141", ("7E8", "414100076500")))
    assert core.clean_now().to_run == ("catalyst",)


def test_while_the_car_says_that_it_has_not_run_a_driven_phase_is_not_enough() -> None:
    core = begun("P0420")
    feed(core, ask(10, 20, "0141", ("7E8", "414100076501")))
    for phase in core.plan().phases:
        core.trackers[phase].full(core.now, 300.0, out := [])
        core._react(out)
    assert core.clean_now().to_run == ("catalyst",)
    assert not cycle_driven(out)
    assert core.plan().waiting == ("catalyst",)


# ---------------------------------------------------------------- near the freeze frame


@pytest.mark.parametrize(
    ("rpm", "load_pct", "near"),
    [(1900.0, 45.0, True), (2375.0, 60.0, True), (2376.0, 45.0, False), (1900.0, 61.0, False)],
)
def test_misfire_wants_a_stretch_near_its_freeze_frame(rpm: float, load_pct: float, near: bool) -> None:
    core = begun("P0301", frame=True)
    feed(core, pattern(10, load_pct=90.0))
    clock = core.clean_now().near
    assert clock is not None
    assert clock.held_s == 0
    seen = view(core, Units())
    assert (seen.kind, seen.instruction) == ("cycle", "Where the road allows it, keep 1625 to 2375 rpm.")
    assert seen.gauge is not None
    assert (seen.gauge.unit, seen.gauge.low, seen.gauge.high) == ("x100 rpm", 17.0, 23.0)
    happened = feed(core, readings(700, 80, rpm=rpm, load_pct=load_pct, coolant_c=85.0, speed_kmh=60.0))
    assert (cycle_driven(happened) == [(1, 3)]) is near


def test_across_a_gap_no_second_near_the_freeze_frame_is_counted() -> None:
    core = begun("P0301", frame=True)
    near = {"rpm": 2000.0, "load_pct": 40.0, "coolant_c": 90.0, "speed_kmh": 60.0}
    feed(core, [*readings(10, 20, **near), *readings(60, 20, **near)])
    clock = core.clean_now().near
    assert clock is not None
    assert 30 <= clock.held_s <= 40 < NEAR_S


def test_a_frame_that_is_not_whole_is_said_and_holds_nothing_up() -> None:
    core = begun("P0301")
    now = core.clean_now()
    assert (now.near, now.near_unknown) == (None, True)
    assert any("near the freeze frame, which cannot be watched" in line for line in before_lines(core, Units(), ""))


# ---------------------------------------------------------------- the count


@pytest.mark.parametrize(("counted", "number"), [({}, 1), ({"P0128": 1}, 2), ({"P0128": 2}, 3), ({"P0999": 2}, 1)])
def test_the_number_goes_on_from_what_the_job_counted(counted: dict[str, int], number: int) -> None:
    core = begun("P0128", known={"counted": counted})
    assert core.clean_now().number == number
    assert cycle_driven(feed(core, pattern(10))) == [(number, 3)]


def test_a_second_cycle_in_one_recording_is_the_next_one() -> None:
    core = begun("P0128")
    feed(core, [*readings(5, 1, run_time_s=5.0), *pattern(10)])
    feed(core, readings(700, 3, run_time_s=0.0, rpm=0.0, speed_kmh=0.0))
    assert core.clean_now().number == 2
    assert cycle_driven(feed(core, pattern(703))) == [(2, 3)]


def test_the_fault_seen_again_breaks_the_count_and_ends_the_coaching() -> None:
    core = begun("P0128", known={"counted": {"P0128": 2}})
    feed(core, readings(5, 60, rpm=1500.0, coolant_c=85.0, speed_kmh=50.0))
    feed(core, ask(70, 30, "07", ("7E8", "47010128")))
    now = core.clean_now()
    assert (now.number, now.returned, now.filled) == (1, ("P0128",), False)
    assert core.stop.ended is not None
    assert core.stop.ended.reason == "repaired_code"
    assert not cycle_driven(feed(core, pattern(100)))


def test_a_code_that_is_pending_from_the_cycle_before_does_not_break_this_one() -> None:
    core = begun("P0128", pending="47010128")
    assert core.clean_now().returned == ()
    assert cycle_driven(feed(core, pattern(10))) == [(1, 3)]


def test_after_a_silence_that_may_hide_a_key_off_nothing_of_before_is_taken_together_with_what_comes() -> None:
    core = begun("P0301", frame=True)
    feed(core, pattern(10, load_pct=90.0))  # the pattern, not near the frame
    feed(core, readings(680, 1, rpm=0.0, speed_kmh=0.0))
    near = {"rpm": 2000.0, "load_pct": 40.0, "coolant_c": 90.0, "speed_kmh": 60.0}
    happened = feed(core, readings(3000, 90, **near))
    assert not cycle_driven(happened)


def test_a_code_that_came_before_such_a_silence_may_be_of_this_cycle_still() -> None:
    core = begun("P0128")
    feed(core, readings(5, 60, rpm=1500.0, coolant_c=85.0, speed_kmh=0.0))
    feed(core, ask(70, 30, "07", ("7E8", "47010128")))
    assert not cycle_driven(feed(core, pattern(100)))
    assert core.car.cycle.unproved
    assert core.clean_now().pattern is True


def test_a_silence_that_the_run_time_judges_takes_nothing_away() -> None:
    for ran_s, driven in ((670.0, [(1, 3)]), (20.0, [])):  # the run time has gone on, or begun anew
        core = begun("P0128")
        first = [arrival for arrival in pattern(10) if arrival.t < 500]
        feed(core, [*first, *readings(500, 1, rpm=800.0, speed_kmh=0.0, run_time_s=500.0)])
        behind = [*readings(520, 150, rpm=1900.0, speed_kmh=60.0), *readings(670, 1, run_time_s=ran_s)]
        assert cycle_driven(feed(core, [*behind, *readings(671, 3, rpm=1900.0, speed_kmh=60.0)])) == driven


# ---------------------------------------------------------------- choosing it


def test_it_may_be_chosen_on_the_way_and_given_up_again() -> None:
    core = begun("P0420", known={"chosen": False})
    assert core.plan().phases == ()
    feed(core, [Choice(5.0, {"target": "clean_cycles"})])
    assert core.plan().phases
    feed(core, [Choice(6.0, {"target": "monitors"})])
    assert core.plan().phases == ()
    assert core.wanted.target is None


def test_with_the_mil_out_and_the_code_gone_the_target_is_reached_and_with_the_code_left_it_is_said() -> None:
    core = begun("P0128", known={"counted": {"P0128": 2}})
    feed(core, ask(10, 30, "0101", ("7E8", "410100076500")))
    assert view(core, Units()).instruction == "You may stop: P0128 is still stored."
    feed(core, [*ask(20, 31, "03", ("7E8", "4300")), *ask(21, 32, "0A", ("7E8", "4A00"))])
    assert core.target_reached
    assert view(core, Units()).note == "The MIL is out and no code stands: the car has taken the fault back by itself."


def test_without_a_stored_code_it_is_said_that_there_is_none_to_put_out() -> None:
    core = make_core(a_profile(), can=True)
    core.learn({"clean_cycles": {"chosen": True}})
    feed(core, [*ask(0, 1, "0101", ("7E8", LIT)), *ask(2, 3, "07", ("7E8", "4700"))])
    assert "No stored code was told" in "\n".join(before_lines(core, Units(), ""))
    assert view(core, Units()).instruction == "You may stop: no stored code was told."


def test_a_car_that_told_no_code_has_taken_no_fault_back() -> None:
    core = make_core(a_profile(), can=True)
    core.learn({"clean_cycles": {"chosen": True}})
    told = {"0101": "410100076565", "03": "4300", "07": "4700", "0A": "4A00"}  # as after a clear
    feed(core, [arrival for n, (text, raw) in enumerate(told.items()) for arrival in ask(n, n, text, ("7E8", raw))])
    assert core.target_reached
    assert view(core, Units()).note.startswith("The MIL is out and no code stands: there was none to put out")


def test_how_the_cycle_goes_is_told_once_a_minute_in_plain_lines() -> None:
    core = begun("P0128")
    announcer, said = Announcer(core, Units()), []
    for arrival in pattern(10):
        said += announcer.take(core.feed(arrival))
    progress = [one.text for one in said if one.cue == "progress"]
    assert len(progress) >= 5
    assert any("of 5:00" in text for text in progress)
    assert sum(one.cue == "CleanCycleDriven" for one in said) == 1
