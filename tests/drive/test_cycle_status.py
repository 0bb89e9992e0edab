"""PID 41 is acted on once it has earned its trust: then nothing is driven or parked for what the car has switched off.

Byte layouts: SAE J1979 PID 01 and PID 41. The minute is the product's own judgement; the cars are invented.
"""

from coach.car.arrivals import Arrival, Reading
from coach.car.happenings import CycleStatusTrusted, Happening
from coach.drive.core import Core
from coach.drive.happenings import MonitorNotConfirmed
from coach.words.coaching import view
from coach.words.sentences import sentence
from coach.words.units import Units
from tests.recordings import ask, fed

# catalyst 01, evaporative system 04, oxygen sensor 20, its heater 40
OPEN = "410100076565"
NO_LEAK_TEST = "414100076165"  # all open, the leak test not enabled
COPY = "414100076565"
NOTHING = "414100000000"


def drive(end_s: int, status: str, ready: str = OPEN, begin_s: int = 0) -> list[Arrival]:
    """The engine runs; PID 01 and PID 41 are asked every six seconds."""
    arrivals: list[Arrival] = []
    for t in range(begin_s, end_s):
        arrivals += [Reading(t + 0.1, "rpm", 800.0), Reading(t + 0.2, "speed_kmh", 0.0)]
        if t == begin_s == 0:
            cold = {"coolant_c": 20.0, "intake_c": 20.0, "fuel_level_pct": 50.0}
            arrivals += [Reading(0.25, signal, value) for signal, value in cold.items()]
        if t % 6 == 0:
            arrivals += ask(t + 0.3, 2 * t, "0101", ("7E8", ready))
            arrivals += ask(t + 0.5, 2 * t + 1, "0141", ("7E8", status))
    return arrivals


def reasons(core: Core) -> dict[str, str]:
    return {left.monitor: left.reason for left in core.plan().not_today}


def trusted(happened: list[Happening]) -> list[CycleStatusTrusted]:
    return [h for h in happened if isinstance(h, CycleStatusTrusted)]


def test_a_minute_of_running_makes_the_word_hold_and_nobody_is_parked_for_a_test_that_is_off() -> None:
    early, happened = fed(drive(50, NO_LEAK_TEST))
    assert [planned.phase for planned in early.plan().park] == ["engine_off_leak_soak"]
    assert not trusted(happened)
    core, happened = fed(drive(80, NO_LEAK_TEST))
    assert reasons(core) == {"evaporative_system": "off_this_cycle"}
    assert core.plan().park == ()
    told = trusted(happened)
    assert [(h.ecu, h.disabled) for h in told] == [("7E8", ("evaporative_system",))]
    assert 60 <= told[0].t <= 72
    said = "7E8 has switched off evaporative system for this drive: nothing is driven for it."
    assert sentence(told[0], Units(), {}) == said


def test_with_the_engine_running_leak_test_the_cruise_of_it_is_not_asked_for() -> None:
    core, _ = fed(drive(80, NO_LEAK_TEST), "spark_running_leak")
    assert "leak_test_cruise" not in core.plan().phases
    assert "highway_cruise" in core.plan().phases


def test_what_is_called_off_and_not_believed_yet_comes_last() -> None:
    off_catalyst = "414100076465"
    core, _ = fed(drive(20, off_catalyst), "spark_running_leak")
    assert core.plan().phases[-1] == "highway_cruise"
    assert "catalyst" not in reasons(core)


def test_a_copy_of_pid_01_and_a_unit_that_enables_nothing_are_never_believed() -> None:
    for status in (COPY, NOTHING):
        core, happened = fed(drive(300, status))
        assert not trusted(happened)
        assert not reasons(core)


def test_a_copy_that_moves_before_pid_01_is_read_again_shows_no_word_of_its_own() -> None:
    moved, moved_there = "414100076545", "410100076545"
    core, _ = fed([*drive(120, COPY), *drive(240, moved, moved_there, begin_s=120)])
    assert not core.car.ecus["7E8"].status_trust.earned


def test_a_bit_that_comes_back_ends_the_trust_and_the_monitor_is_planned_again() -> None:
    core, _ = fed([*drive(80, NO_LEAK_TEST), *drive(100, COPY, begin_s=80)])
    assert not reasons(core)
    assert [planned.phase for planned in core.plan().park] == ["engine_off_leak_soak"]


def test_what_is_off_before_the_engine_has_run_a_minute_only_delays_the_trust() -> None:
    # a unit that enables its monitors one after the other as their start conditions are judged
    core, happened = fed([*drive(24, "414100070065"), *drive(100, NO_LEAK_TEST, begin_s=24)])
    assert not core.car.ecus["7E8"].status_distrusted
    assert [h.disabled for h in trusted(happened)] == [("evaporative_system",)]


def test_what_ran_by_pid_41_while_pid_01_stands_is_told_as_done_and_shown_after_the_key_was_off() -> None:
    sensor_done = "414100076545"  # oxygen sensor complete in this cycle
    core, happened = fed([*drive(60, COPY), *drive(100, sensor_done, begin_s=60)])
    assert "oxygen_sensor" in core.plan().waiting
    core, happened = fed([*drive(60, COPY), *drive(140, sensor_done, begin_s=60)])
    assert reasons(core) == {"oxygen_sensor": "ran"}
    told = [h for h in happened if isinstance(h, MonitorNotConfirmed)]
    assert [(h.monitor, h.next) for h in told] == [("oxygen_sensor", "ran")]
    said = "The car says that the oxygen sensor monitor has run: it shows it after the key was off."
    assert sentence(told[0], Units(), {}) == said
    assert view(core, Units()).not_today == (
        "oxygen sensor: done: the car says it ran on this drive, and shows it after the key was off",
    )
