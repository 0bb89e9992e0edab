"""A target chosen in mid-drive is judged too; what is waited for in vain, and what was put aside, are kept apart.

The car here is invented for the test.
"""

from coach.car.arrivals import Arrival, Choice, Request
from coach.car.happenings import Happening
from coach.drive.core import Core
from coach.drive.current import before_parking
from coach.drive.happenings import PhaseGivenUp, TargetReached
from coach.words.announce import Announcer
from coach.words.before import after_lines, before_lines
from coach.words.coaching import view
from coach.words.units import Units
from tests.drive.test_credit import readings
from tests.recordings import ask, fed

EASY = {"rpm": 1500.0, "coolant_c": 85.0, "speed_kmh": 50.0}
NO_CATALYST = "410100076501"  # all complete but the catalyst


def codes(stored: str = "4300", pending: str = "4700", t: float = 0.2) -> list[Arrival]:
    both = [*ask(t, 91, "03", ("7E8", stored)), *ask(t + 0.2, 92, "07", ("7E8", pending))]
    return [*both, *ask(t + 0.4, 93, "0A", ("7E8", "4A00"))]


def begun(*after: Arrival) -> tuple[Core, list[Happening]]:
    core, happened = fed([*ask(0, 1, "0101", ("7E8", NO_CATALYST)), *codes()])
    for arrival in after:
        happened.extend(core.feed(arrival))
    return core, happened


def reached(happened: list[Happening]) -> list[TargetReached]:
    return [h for h in happened if isinstance(h, TargetReached)]


def test_a_chosen_target_that_is_complete_already_is_reached_once_and_one_may_stop() -> None:
    choice = {"target": ["oxygen_sensor"]}
    core, happened = begun(Choice(5.0, choice), Choice(6.0, choice), *readings(7, 20, speed_kmh=50.0))
    assert reached(happened) == [TargetReached(5.0, ("oxygen_sensor",))]
    seen = view(core, Units())
    assert seen.instruction == "You may stop: nothing more is needed."
    assert "for is complete, by the car's own word: oxygen sensor." in seen.note
    assert seen.beside == "catalyst: left open, not asked for on this drive"


def test_the_reached_target_is_named_aloud_once() -> None:
    core, _ = begun()
    announcer = Announcer(core, Units())
    announcer.take(())
    said = announcer.take(core.feed(Choice(5.0, {"target": ["oxygen_sensor"]})))
    assert [line.text for line in said] == [
        "What this drive is for is complete, by the car's own word: oxygen sensor.",
        "You may stop: nothing more is needed. Catalyst: left open, not asked for on this drive.",
    ]


def test_another_target_that_is_open_takes_the_word_back() -> None:
    core, happened = begun(Choice(5.0, {"target": ["oxygen_sensor"]}), Choice(6.0, {"target": ["catalyst"]}))
    assert len(reached(happened)) == 1
    assert not core.target_reached
    assert view(core, Units()).kind == "phase"


def test_a_target_chosen_while_the_car_is_doubted_is_judged_when_its_word_is_certain() -> None:
    garbled = ask(4, 2, "0101", ("7E8", "4101000765"))  # a byte short
    core, happened = begun(*garbled, Choice(6.0, {"target": ["oxygen_sensor"]}), *readings(7, 9, speed_kmh=50.0))
    assert not reached(happened)
    for arrival in ask(20, 3, "0101", ("7E8", NO_CATALYST)):
        happened.extend(core.feed(arrival))
    assert [h.monitors for h in reached(happened)] == [("oxygen_sensor",)]


def test_what_waits_for_a_warm_up_that_was_put_aside_was_not_waited_for_in_vain() -> None:
    core, _ = begun(*readings(1, 5, rpm=1500.0, coolant_c=20.0, speed_kmh=30.0), Choice(6.0, {"skip": "warm_up_drive"}))
    assert {found.reason for found in core.plan().not_today} == {"skipped"}
    assert view(core, Units()).instruction == "You may stop: the rest was put aside."


def test_standing_before_the_engine_runs_is_no_wait_in_vain() -> None:
    """Half an hour with the key on, reading; then half an hour in a queue."""
    key_on = readings(1, 1800, rpm=0.0, coolant_c=20.0, speed_kmh=0.0)
    queue = readings(1801, 3600, rpm=800.0, coolant_c=60.0, speed_kmh=0.0)
    core, happened = begun(*key_on, *queue)
    assert core.planned
    assert not [h for h in happened if isinstance(h, PhaseGivenUp)]
    for arrival in readings(3601, 6400, rpm=1500.0, coolant_c=60.0, speed_kmh=15.0):
        happened.extend(core.feed(arrival))
    assert [h for h in happened if isinstance(h, PhaseGivenUp)]


def test_a_test_that_runs_while_it_stands_is_not_promised_before_enough_was_driven() -> None:
    """The profile wants 300 s of driving before it is parked."""
    core, _ = fed(ask(0, 1, "0101", ("7E8", "410100076504")))  # only the evaporative system is open
    for arrival in readings(1, 60, rpm=1500.0, coolant_c=85.0, speed_kmh=50.0):
        core.feed(arrival)
    assert before_parking(core, core.plan()) is not None
    assert view(core, Units()).instruction == "Keep driving easily, then park it."
    for arrival in readings(61, 400, rpm=1500.0, coolant_c=85.0, speed_kmh=50.0):
        core.feed(arrival)
    assert before_parking(core, core.plan()) is None
    assert view(core, Units()).instruction.startswith("You may stop. Park it:")


def test_a_look_with_the_key_off_and_on_takes_nothing_from_the_drive_before_it() -> None:
    """The end of every drive: PID 1F, the time since engine start, falls to nothing and the engine stands."""
    core, _ = fed(ask(0, 1, "0101", ("7E8", "410100076504")))
    drive = [reading for t in range(1, 400) for reading in readings(t, 1, run_time_s=float(t), **EASY)]
    for arrival in [*drive, *readings(420, 3, run_time_s=0.0, rpm=0.0, speed_kmh=0.0)]:
        core.feed(arrival)
    assert core.car.denominator.running_s == 0
    assert "Parked for the engine-off leak test: park it now for 6 h, key off" in "\n".join(after_lines(core, Units()))


def test_before_a_drive_that_is_not_needed_the_page_says_so() -> None:
    core, _ = fed([*ask(0, 1, "0101", ("7E8", "410100076500")), *codes()])
    page = "\n".join(before_lines(core, Units(), ""))
    assert "No drive is needed. Every monitor this car has is complete, by its own word." in page
    core, _ = fed(ask(0, 1, "0101", ("7E8", "410100076504")))
    page = "\n".join(before_lines(core, Units(), ""))
    assert "Any easy drive will do, then park it: driving before parking 0 s, it needs at least 5 min." in page


def test_what_the_car_has_not_told_is_not_said_to_be_none() -> None:
    core, _ = fed(ask(0, 1, "010D", ("7E8", "410D00")))
    assert "Complete: not told." in before_lines(core, Units(), "")
    assert "Codes, stored: uncertain." in after_lines(core, Units())


def test_while_one_unit_is_silent_no_monitor_the_car_does_not_have_is_still_to_run() -> None:
    both = ask(0, 1, "0101", ("7E8", NO_CATALYST), ("7E9", NO_CATALYST))
    core, _ = fed([*both, *ask(5, 2, "0101", ("7E8", NO_CATALYST)), Request(9.0, 3, "010D")])
    assert core.monitor_states()["heated_catalyst"] is None
    seen = view(core, Units())
    assert seen.to_run == "catalyst"
    assert "oxygen sensor" in seen.complete


def test_before_the_car_has_told_nothing_is_said_of_what_it_has() -> None:
    core, _ = fed([])
    seen = view(core, Units())
    assert (seen.complete, seen.to_run) == ("", "not told")
    assert not any("no published driving pattern" in line for line in seen.not_today)
