"""Behind a silence: in whatever order the first answers come, the same follows, and only what both hypotheses share.

The drives are invented. PID 1F: SAE J1979 (seconds since the engine's start, zero with the key on). Ignition counter:
13 CCR 1968.2(d)(5.5.2), from memory, and 40 CFR 86.010-18(e)(5): it rises within ten seconds of a start of two seconds.
"""

from itertools import permutations

import pytest

from coach.car.arrivals import Arrival, Reading
from coach.car.car import Car
from coach.car.driven import pattern_met, why_not
from coach.car.happenings import (
    CycleBegan,
    CycleUncertain,
    GeneralDenominatorMet,
    Happening,
    WarmUpCycleCompleted,
)
from coach.drive.happenings import WarmUpSlow
from tests.recordings import ask, played

Signals = dict[str, float]


def readings(t: float, **signals: float) -> list[Arrival]:
    """Values of one moment."""
    return [Reading(t, signal, value) for signal, value in signals.items()]


def drive(from_t: float, seconds: int, kmh: float, coolant: tuple[float, float], ran_s: float | None) -> list[Arrival]:
    """One value a second of each signal; the coolant goes from one to the other. `ran_s`: PID 1F at the first."""
    told: list[Arrival] = []
    for i in range(seconds):
        more = {} if ran_s is None else {"run_time_s": ran_s + i}
        coolant_c = round(coolant[0] + (coolant[1] - coolant[0]) * i / seconds)
        told += readings(from_t + i, rpm=1500.0, speed_kmh=kmh, coolant_c=float(coolant_c), **more)
    return told


def fold(car: Car, arrivals: list[Arrival]) -> list[Happening]:
    out: list[Happening] = []
    for arrival in arrivals:
        car.expire(arrival.t, out)
        car.fold(arrival, out)
    return out


def state(car: Car, out: list[Happening]) -> str:
    """Everything that may depend on the order, in one text."""
    cycle, found = car.cycle, car.denominator
    told = [(one.number, one.from_t, one.ran, one.start, one.warm_up, one.unproved_t) for one in car.cycles()]
    figures = (found.running_s, found.longest_idle_s, found.distance_km, found.joined().unseen_s, found.at_least)
    happened = sorted(repr(h) for h in out)
    return repr((cycle.number, cycle.now, cycle.earlier, cycle.warm_up_t, told, figures, happened))


BACK_T = 500.0
BEHIND: dict[str, tuple[float | None, Signals]] = {
    # PID 1F at the end of the first drive (none: not told), and the first answers behind 200 seconds of silence
    "another drive": (305.0, {"run_time_s": 4.0, "rpm": 900.0, "speed_kmh": 0.0, "coolant_c": 50.0, "intake_c": 30.0}),
    "the same drive": (305.0, {"run_time_s": 505.0, "rpm": 900.0, "speed_kmh": 0.0, "coolant_c": 80.0}),
    "the key on, the engine off": (305.0, {"run_time_s": 0.0, "rpm": 0.0, "speed_kmh": 0.0, "coolant_c": 50.0}),
    "a run time that proves nothing": (5.0, {"run_time_s": 60.0, "rpm": 900.0, "speed_kmh": 0.0, "coolant_c": 50.0}),
    "nothing that proves it": (None, {"rpm": 900.0, "speed_kmh": 0.0, "coolant_c": 50.0, "intake_c": 30.0}),
    "the engine off, nothing more": (None, {"rpm": 0.0, "speed_kmh": 0.0, "coolant_c": 80.0}),
}


@pytest.mark.parametrize("behind", BEHIND)
def test_the_order_of_the_first_answers_behind_a_silence_does_not_matter(behind: str) -> None:
    ran_s, values = BEHIND[behind]
    before = Car(can=True)
    began = fold(before, drive(0, 301, 50.0, (28.0, 60.0), None if ran_s is None else ran_s - 300))
    after = drive(BACK_T + 1, 30, 50.0, (52.0, 78.0), None if ran_s is None else values["run_time_s"] + 1)
    states = set()
    for order in permutations(values):
        car = before.copy()
        out = began + fold(car, [Reading(BACK_T, signal, values[signal]) for signal in order] + after)
        states.add(state(car, out))
    assert len(states) == 1


def test_the_ignition_counter_may_come_first_or_last_behind_a_silence() -> None:
    before = Car(can=True)
    fold(before, counted(0.0, 100) + drive(0.5, 300, 50.0, (28.0, 60.0), 5.0) + counted(299.0, 100))
    group = [*readings(BACK_T, rpm=900.0, speed_kmh=0.0, coolant_c=50.0, run_time_s=4.0)]
    after = drive(BACK_T + 1, 30, 50.0, (52.0, 78.0), 5.0)
    states = set()
    for place in range(5):
        for order in permutations(group):
            car = before.copy()
            arrivals = [*order[:place], *counted(BACK_T - 0.05, 101), *order[place:]]
            out = fold(car, sorted(arrivals, key=lambda a: a.t) + after)
            states.add(state(car, [h for h in out if not isinstance(h, CycleBegan)]))
            assert [type(h) for h in out if isinstance(h, CycleBegan)] == [CycleBegan]
    assert len(states) == 1


def counted(t: float, cycles: int) -> list[Arrival]:
    """Infotype 08 on CAN with this ignition counter: answered at `t` + 0.05."""
    words = [7, cycles, *([0] * 14)]
    return ask(t, int(t * 10), "0908", ("7E8", "490810" + "".join(f"{word:04X}" for word in words)))


def test_two_drives_with_the_key_off_between_make_no_warm_up_cycle_and_no_open_thermostat() -> None:
    """28 °C to 78 °C, each half of it in another driving cycle, whichever of PID 1F, 0C and 05 is heard first."""
    values = {"run_time_s": 4.0, "rpm": 900.0, "speed_kmh": 0.0, "coolant_c": 58.0}
    core, _ = played(drive(0, 1300, 50.0, (28.0, 60.0), 5.0))
    for order in permutations(values):
        one = core.copy()
        behind = [*(Reading(9000.0, s, values[s]) for s in order), *drive(9001.0, 300, 50.0, (58.0, 78.0), 5.0)]
        happened = [h for arrival in behind for h in one.feed(arrival)]
        assert [h.proof for h in happened if isinstance(h, CycleBegan)] == ["run_time_fell"]
        assert not [h for h in happened if isinstance(h, WarmUpCycleCompleted | WarmUpSlow)]
        assert [c.warm_up for c in one.car.cycles()] == [None, False]  # the first was under way before it was recorded


def test_a_key_turned_off_and_on_too_quickly_for_a_silence_may_be_told_in_any_order_too() -> None:
    before = Car(can=True)
    began = fold(before, drive(0, 301, 50.0, (28.0, 60.0), 5.0))
    values = {"run_time_s": 1.0, "rpm": 900.0, "speed_kmh": 0.0, "coolant_c": 61.0, "intake_c": 30.0}
    states = set()
    for order in permutations(values):
        car = before.copy()
        out = fold(car, [Reading(304.0, s, values[s]) for s in order] + drive(305, 30, 50.0, (61.0, 90.0), 2.0))
        states.add(state(car, began + out))
        assert [h.start_coolant_c for h in out if isinstance(h, WarmUpCycleCompleted)] == [61.0]
    assert len(states) == 1


def test_a_restart_that_the_counter_has_counted_began_the_cycle() -> None:
    first = [*drive(0, 100, 50.0, (20.0, 40.0), None), *counted(100.5, 100)]
    stands = [r for i in range(20) for r in readings(102.0 + i, rpm=0.0, speed_kmh=0.0, coolant_c=40.0)]
    again = drive(122, 100, 50.0, (40.0, 50.0), None)
    core, happened = played([*first, *stands, *again, *counted(222.5, 101)])
    assert [h.proof for h in happened if isinstance(h, CycleBegan)] == ["ignition_counter_rose"]
    assert core.car.cycle.start is not None
    assert (core.car.cycle.start.t, core.car.cycle.start.coolant_c) == (122.0, 40.0)


def test_a_pause_at_standstill_loses_nothing_of_what_was_driven_before() -> None:
    stands, drives = readings_of(0, 40, 0.0), readings_of(40, 700, 60.0)
    core, happened = played([*stands, *drives, *readings_of(740, 5, 0.0), *readings_of(753, 3, 0.0)])
    found = core.car.cycles()
    assert len(found) == 1 and found[0].unproved_t == (753.0,)
    assert pattern_met(found[0].pattern) is True
    assert [h.t for h in happened if isinstance(h, GeneralDenominatorMet)] == [pytest.approx(600, abs=2)]
    assert core.car.denominator.whole_distance_km == pytest.approx(700 / 60, rel=0.01)
    assert core.car.denominator.whole_at_least


def readings_of(from_t: float, seconds: int, kmh: float, **more: float) -> list[Arrival]:
    return [r for i in range(seconds) for r in readings(from_t + i, rpm=1500.0, speed_kmh=kmh, **more)]


def test_a_pattern_in_two_halves_is_neither_met_nor_missed_and_the_reason_is_told() -> None:
    halves = [*readings_of(0, 40, 0.0), *readings_of(40, 320, 60.0), *readings_of(360, 3, 0.0)]
    core, happened = played([*halves, *readings_of(375, 320, 60.0)])
    found = core.car.cycles()[0]
    assert pattern_met(found.pattern) is None
    assert why_not(found.pattern) == ("silence_unproved",)
    assert not [h for h in happened if isinstance(h, GeneralDenominatorMet)]
    assert [h.silent_s for h in happened if isinstance(h, CycleUncertain)] == [13.0]


def test_the_same_two_halves_are_met_once_the_run_time_has_gone_on() -> None:
    halves = [*readings_of(0, 40, 0.0), *readings_of(40, 320, 60.0), *readings_of(360, 3, 0.0)]
    halves += [Reading(360.5, "run_time_s", 400.0)]
    behind = readings_of(375, 320, 60.0)
    core, happened = played(sorted([*halves, *behind, Reading(600.0, "run_time_s", 640.0)], key=lambda a: a.t))
    assert [h.t for h in happened if isinstance(h, GeneralDenominatorMet)] == [pytest.approx(612, abs=2)]
    assert not core.car.cycle.unproved


def test_what_two_parts_could_not_have_met_together_is_not_met() -> None:
    core, _ = played([*readings_of(0, 100, 0.0), *readings_of(108, 100, 60.0)])
    found = core.car.cycles()[0].pattern
    assert pattern_met(found) is False
    assert why_not(found) == ("short_running", "short_fast")


def test_a_silence_that_may_have_held_the_rest_leaves_it_open() -> None:
    core, _ = played([*readings_of(0, 100, 0.0), *readings_of(600, 100, 60.0)])
    found = core.car.cycles()[0].pattern
    assert pattern_met(found) is None
    assert why_not(found) == ("unseen",)


def test_moving_at_both_ends_of_a_short_silence_is_one_cycle_at_one_end_it_is_not_known() -> None:
    core, _ = played([*readings_of(0, 100, 60.0), *readings_of(130, 100, 60.0)])
    assert not core.car.cycle.unproved
    core, _ = played([*readings_of(0, 100, 60.0), *readings_of(130, 100, 0.0)])
    assert core.car.cycle.unproved


def test_a_warm_up_needs_its_rise_from_every_start_there_may_have_been() -> None:
    """Started hot, then a silence, then from cool to hot: a warm-up only if the key was off in it."""
    hot = drive(0, 60, 50.0, (80.0, 80.0), None)
    cool = drive(3000, 300, 50.0, (40.0, 76.0), None)
    core, happened = played([*hot, *readings(60.0, speed_kmh=0.0), *cool])
    assert not [h for h in happened if isinstance(h, WarmUpCycleCompleted)]
    assert core.car.cycle.warm_up() is None
    cold = drive(0, 60, 50.0, (30.0, 34.0), None)
    _, happened = played([*cold, *readings(60.0, speed_kmh=0.0), *cool])
    assert [h.start_coolant_c for h in happened if isinstance(h, WarmUpCycleCompleted)] == [40.0]


def test_a_drive_begun_at_key_on_holds_one_driving_cycle() -> None:
    """The ignition counter is read with the key on, and rises by one at the engine's own start."""
    key_on = [*counted(0.0, 100), *readings(1.0, rpm=0.0, speed_kmh=0.0, run_time_s=0.0)]
    runs = drive(5, 100, 50.0, (20.0, 40.0), 1.0)
    core, happened = played([*key_on, *runs, *counted(106.0, 101), *drive(107, 20, 50.0, (40.0, 41.0), 103.0)])
    assert not [h for h in happened if isinstance(h, CycleBegan)]
    assert len(core.car.cycles()) == 1


def test_a_counter_that_rises_by_two_since_the_key_was_on_tells_of_a_second_cycle() -> None:
    key_on = [*counted(0.0, 100), *readings(1.0, rpm=0.0, speed_kmh=0.0)]
    runs = drive(5, 100, 50.0, (20.0, 40.0), None)
    _, happened = played([*key_on, *runs, *counted(106.0, 102), *drive(107, 20, 50.0, (40.0, 41.0), None)])
    assert [h.proof for h in happened if isinstance(h, CycleBegan)] == ["ignition_counter_rose"]


def test_a_counter_that_has_not_moved_proves_that_the_key_was_not_off() -> None:
    first = [*drive(0, 100, 50.0, (20.0, 40.0), None), *counted(101.0, 100), *readings(102.0, speed_kmh=0.0)]
    behind = drive(300, 40, 50.0, (45.0, 50.0), None)
    core, _ = played([*first, *behind])
    assert core.car.cycle.unproved
    core, _ = played([*first, *behind, *counted(341.0, 100)])
    assert not core.car.cycle.unproved
    core, happened = played([*first, *behind, *counted(341.0, 101)])
    assert len([h for h in happened if isinstance(h, CycleBegan)]) == 1


def test_a_look_with_the_key_on_is_no_driving_cycle_of_its_own() -> None:
    first = drive(0, 400, 60.0, (20.0, 60.0), 1.0)
    core, happened = played([*first, *readings(430.0, run_time_s=0.0, rpm=0.0, speed_kmh=0.0)])
    assert len([h for h in happened if isinstance(h, CycleBegan)]) == 1
    assert [one.ran for one in core.car.cycles()] == [True]
    assert core.car.cycles()[0].pattern.joined().running_s == pytest.approx(400, abs=2)


def test_of_two_units_that_tell_the_same_start_only_one_begins_a_cycle() -> None:
    def told(t: float, a: int, b: int) -> list[Arrival]:
        return ask(t, int(t), "011F", ("7E8", f"411F{a:04X}"), ("7E9", f"411F{b:04X}"))

    first = [*readings(0.0, rpm=900.0, speed_kmh=0.0), *told(1, 300, 301), *told(20, 320, 321)]
    _, happened = played([*first, *told(600, 4, 5), *readings(601.0, rpm=900.0, speed_kmh=0.0)])
    assert len([h for h in happened if isinstance(h, CycleBegan)]) == 1
