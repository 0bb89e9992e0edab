"""What counts towards the general denominator, what may, and which reason decided. All drives here are invented.

40 CFR 86.010-18(d)(4)(ii): 600 s running, 300 s at 25 mph or more, one unbroken idle of 30 s with the accelerator
released and no more than 1 mph, at -7 °C or warmer and below 2,440 m.
"""

import random
from itertools import permutations

import pytest

from coach.car.arrivals import Arrival, ClockStep, Reading
from coach.car.car import Car
from coach.car.driven import pattern_met, why_not
from coach.car.happenings import GeneralDenominatorMet, Happening, WarmUpCycleCompleted
from coach.car.totals import Standstill, Streak
from coach.drive.core import Core
from tests.recordings import ask, played

REST = {"rpm": 800.0, "speed_kmh": 0.0, "pedal_d_pct": 16.0}
DRIVES = {"rpm": 1800.0, "speed_kmh": 60.0, "pedal_d_pct": 25.0}


def every(step_s: float, from_t: float, to_t: float, **signals: float) -> list[Arrival]:
    """The same values every `step_s` seconds."""
    steps = round((to_t - from_t) / step_s)
    return [Reading(round(from_t + i * step_s, 3), s, v) for i in range(steps) for s, v in signals.items()]


def idle(*arrivals: list[Arrival]) -> tuple[float, float, tuple[str, ...]]:
    """The longest idle, the longest standstill, and what kept the one from being the other."""
    core, _ = played(sorted((a for some in arrivals for a in some), key=lambda a: a.t))
    found = core.car.denominator.joined()
    assert found.longest is not None
    return found.longest_idle_s, found.longest.seconds, found.longest.decided()


def running_s(*arrivals: list[Arrival]) -> float:
    core, _ = played([a for some in arrivals for a in some])
    return core.car.denominator.running_s


# ---------------------------------------------------------------- the idle


def test_a_touch_of_the_pedal_ends_an_idle() -> None:
    """25 % for 1.5 s, where 16 % is the pedal's rest, in the middle of a minute's standstill."""
    touched = {**REST, "pedal_d_pct": 25.0, "rpm": 1346.0}
    found = idle(every(0.5, 0, 30, **REST), every(0.5, 30, 31.5, **touched), every(0.5, 31.5, 60, **REST))
    assert found[0] == pytest.approx(29.5, abs=0.6)
    assert found[1:] == (pytest.approx(59.5), ("accelerator",))


def test_a_touch_between_two_speeds_ends_it_too() -> None:
    """A pedal asked more often than the speed: what was seen of it counts, not what stood when the speed came."""
    speeds = every(5.0, 0, 65, rpm=800.0, speed_kmh=0.0)
    pedal = every(0.5, 0.1, 60, pedal_d_pct=16.0)
    touched = [Reading(a.t, "pedal_d_pct", 25.0) if 31 <= a.t < 32.5 else a for a in pedal]
    assert idle(speeds, pedal)[0] == pytest.approx(60)
    assert idle(speeds, touched)[0] == pytest.approx(30)
    assert idle(speeds, touched)[2] == ("accelerator",)


def test_a_touch_seen_by_one_pedal_sensor_alone_counts() -> None:
    stands = every(1.0, 0, 60, **REST, pedal_e_pct=16.0)
    assert idle(stands)[0] == pytest.approx(59)
    assert idle(stands, [Reading(30.5, "pedal_e_pct", 25.0)])[0] == pytest.approx(29, abs=1)


def test_the_reason_that_is_told_is_the_one_that_decided() -> None:
    """A touch in the middle takes half of the idle, five seconds of a stopped engine at the end only those."""
    off = {**REST, "rpm": 0.0}
    first, touch = every(1.0, 0, 30, **REST), every(1.0, 30, 31, **{**REST, "pedal_d_pct": 25.0})
    assert idle(first, touch, every(1.0, 31, 60, **REST))[2] == ("accelerator",)
    assert idle(first, every(1.0, 30, 60, **off))[2] == ("engine_off",)
    assert idle(first, touch, every(1.0, 31, 60, **REST), every(1.0, 60, 65, **off))[2][0] == "accelerator"
    deaf = every(1.0, 30, 60, speed_kmh=0.0, pedal_d_pct=16.0)
    assert idle(first, deaf)[2] == ("engine_unseen",)


def test_seconds_that_no_single_reason_took_are_told_with_all_of_theirs() -> None:
    still = Standstill()
    for _ in range(5):
        still.add(2.0, "engine_off")
        still.add(1.5, "accelerator")
    assert still.idle.longest_s == 0.0
    assert still.decided() == ("engine_off", "accelerator")


def test_an_idle_whose_ends_are_not_seen_is_not_counted_longer_than_it_surely_was() -> None:
    """Speeds five seconds apart: standing at six of them is an idle of 25 s for certain and of 35 s at the most."""
    rest = every(5.0, 100, 700, **DRIVES)
    six = [*every(5.0, 0, 70, **DRIVES), *every(5.0, 70, 100, **REST), *rest]
    core, happened = played(six)
    assert pattern_met(core.car.denominator) is None
    assert why_not(core.car.denominator) == ("too_close",)
    assert not [h for h in happened if isinstance(h, GeneralDenominatorMet)]
    five = [*every(5.0, 0, 75, **DRIVES), *every(5.0, 75, 95, **REST), *every(5.0, 95, 700, **DRIVES)]
    core, _ = played(five)
    assert why_not(core.car.denominator) == ("short_idle",)


def test_an_idle_that_only_the_cold_takes_away_is_told_as_cold() -> None:
    cold, mild = {"ambient_c": -12.0}, {"ambient_c": 3.0}
    core, _ = played([*every(1.0, 0, 60, **REST, **cold), *every(1.0, 60, 800, **DRIVES, **mild)])
    assert why_not(core.car.denominator) == ("too_cold",)
    core, _ = played([*every(1.0, 0, 25, **REST, **cold), *every(1.0, 25, 800, **DRIVES, **mild)])
    assert why_not(core.car.denominator) == ("short_idle",)


def test_an_idle_half_in_the_cold_counts_only_its_other_half() -> None:
    stands = [*every(1.0, 0, 28, **REST, ambient_c=-8.0), *every(1.0, 28, 40, **REST, ambient_c=-6.0)]
    core, happened = played([*stands, *every(1.0, 40, 800, **DRIVES)])
    assert core.car.denominator.longest_idle_s == pytest.approx(40, abs=1)
    assert not [h for h in happened if isinstance(h, GeneralDenominatorMet)]


# ---------------------------------------------------------------- the engine


@pytest.mark.parametrize("ran_s", [None, 1.0, 3.0])
def test_an_interval_in_which_the_engine_starts_counts_from_the_start(ran_s: float | None) -> None:
    """Samples five seconds apart: PID 1F tells how much of the last interval the engine ran, in whatever order."""
    told = {"rpm": 800.0, "speed_kmh": 0.0, **({} if ran_s is None else {"run_time_s": ran_s})}
    off = every(5.0, 0, 20, rpm=0.0, speed_kmh=0.0)
    on = every(1.0, 21, 41, rpm=800.0, speed_kmh=0.0)
    found = {running_s(off, [Reading(20.0, s, told[s]) for s in order], on) for order in permutations(told)}
    assert found == {20.0 + (ran_s or 0.0)}


def test_the_run_time_of_a_whole_cycle_adds_nothing_at_an_automatic_start() -> None:
    first = every(1.0, 0, 100, rpm=800.0, speed_kmh=0.0)
    off = every(5.0, 100, 120, rpm=0.0, speed_kmh=0.0)
    on = [*every(1.0, 120, 141, rpm=800.0, speed_kmh=0.0)]
    assert running_s(first, off, on) == running_s(first, off, [Reading(120.0, "run_time_s", 120.0)], on)


def test_running_time_is_sure_only_when_an_engine_speed_confirms_it() -> None:
    speeds = every(1.0, 0, 20, speed_kmh=30.0)
    engine = [Reading(t, "rpm", 1500.0) for t in (0.0, 5.0, 10.0)]
    core, _ = played(sorted([*speeds, *engine, Reading(15.0, "rpm", 0.0)], key=lambda a: a.t))
    found = core.car.denominator
    assert found.counted_running_s == 10.0
    assert found.running_s == pytest.approx(14.0, abs=1)


def a_hybrid(stands: dict[str, float]) -> Core:
    """Half of the drive electric; `stands`: how it idled."""
    electric, burns = {**DRIVES, "rpm": 0.0}, DRIVES
    turns = [
        a
        for k in range(10)
        for a in (*every(1, 80 * k, 80 * k + 40, **electric), *every(1, 80 * k + 40, 80 * k + 80, **burns))
    ]
    core, _ = played([*turns, *every(1.0, 800, 840, **stands), *every(1.0, 840, 850, **burns)])
    return core


def test_what_a_hybrid_may_count_with_its_engine_off_is_not_denied() -> None:
    """Newer rules count the time its drive is active instead of its engine: which one a car counts is unknown."""
    core = a_hybrid(REST)
    assert core.car.denominator.running_s < 500
    assert (pattern_met(core.car.denominator), why_not(core.car.denominator)) == (None, ("hybrid",))
    stopped = [
        a
        for k in range(5)
        for a in (
            *every(1, 100 * k, 100 * k + 50, **REST),
            *every(1, 100 * k + 50, 100 * k + 100, **{**REST, "rpm": 0.0}),
        )
    ]
    core, _ = played(stopped)  # a car that only stands with its engine off is none
    assert pattern_met(core.car.denominator) is False


def test_high_ground_is_told_as_the_reason() -> None:
    high = {"baro_kpa": 70.0}
    core, _ = played([*every(1.0, 0, 60, **REST, **high), *every(1.0, 60, 800, **DRIVES)])
    assert why_not(core.car.denominator) == ("too_high",)


# ---------------------------------------------------------------- the warm-up cycle


@pytest.mark.parametrize(("peak_c", "complete"), [(70.0, False), (71.0, True)])
def test_a_warm_up_cycle_counts_from_the_later_of_the_two_texts(peak_c: float, complete: bool) -> None:
    """343 K is 70 °C, 160 °F is 71.1 °C, told by PID 05 in whole degrees as 71."""
    core, happened = played(
        [*every(1.0, 0, 5, rpm=0.0, coolant_c=20.0), *every(1.0, 5, 9, rpm=900.0, coolant_c=peak_c)]
    )
    assert bool([h for h in happened if isinstance(h, WarmUpCycleCompleted)]) is complete
    assert core.car.cycle.warm_up() is complete


def test_a_diesel_that_got_warm_enough_by_its_own_text_is_not_denied_its_warm_up_cycle() -> None:
    """13 CCR 1968.2(c), from memory: 140 °F (60 °C) for compression ignition; PID 01 tells the layout."""
    rest = [*every(1.0, 1, 5, rpm=0.0, coolant_c=20.0), *every(1.0, 5, 9, rpm=900.0, coolant_c=64.0)]
    core, _ = played([*ask(0, 1, "0101", ("7E8", "4101000F0000")), *rest])
    assert core.car.cycles()[-1].warm_up is None
    core, _ = played([*ask(0, 1, "0101", ("7E8", "410100070000")), *rest])
    assert core.car.cycles()[-1].warm_up is False


# ---------------------------------------------------------------- parts taken as one


def test_streaks_of_two_parts_join_across_the_gap_between_them() -> None:
    one, two = Streak(), Streak()
    one.add(5.0)
    one.stop()
    one.add(10.0)
    two.add(7.0)
    two.stop()
    two.add(3.0)
    both = one.then(4.0, two)
    assert (both.longest_s, both.lead_s, both.now_s) == (21.0, 5.0, 3.0)
    unbroken = Streak()
    unbroken.add(2.0)
    again = both.then(1.0, unbroken)
    assert (again.longest_s, again.now_s) == (21.0, 6.0)
    lead = unbroken.then(1.0, two)
    assert (lead.lead_s, lead.longest_s) == (10.0, 10.0)


# ---------------------------------------------------------------- anything at all


def anything(seed: int) -> list[Arrival]:
    """Engine, speed, coolant, run time and ignition counter at random, with silences and clocks that are set."""
    rng, t, told = random.Random(seed), 0.0, list[Arrival]()
    for number in range(400):
        t = round(t + rng.choice((0.0, 0.5, 1.0, 1.0, 3.0, 3.0, 9.0, 70.0, 700.0) if rng.random() < 0.2 else (1.0,)), 3)
        kind = rng.random()
        if kind < 0.01:
            told.append(ClockStep(t, rng.choice((0.0, 0.5, 90.0, 4000.0))))
        elif kind < 0.04:
            words = (7, rng.choice((100, 100, 101, 102)), *([0] * 14))
            raw = "490810" + "".join(f"{word:04X}" for word in words)
            told += ask(t, number, "0908", (rng.choice(("7E8", "7E9")), raw))
            t += 0.05
        else:
            signal = rng.choice(("rpm", "rpm", "speed_kmh", "speed_kmh", "coolant_c", "run_time_s", "pedal_d_pct"))
            told.append(Reading(t, signal, rng.choice(VALUES[signal])))
    return told


VALUES = {
    "rpm": (0.0, 800.0, 1500.0, 1500.0),
    "speed_kmh": (0.0, 0.0, 30.0, 60.0),
    "coolant_c": (20.0, 60.0, 75.0),
    "run_time_s": (0.0, 5.0, 100.0, 500.0),
    "pedal_d_pct": (16.0, 16.0, 25.0),
}


@pytest.mark.parametrize("seed", range(100))
def test_whatever_comes_what_is_sure_is_no_more_than_what_may_be_and_a_copy_goes_on_alike(seed: int) -> None:
    car, other, happened, again = Car(can=True), Car(can=True), list[Happening](), list[Happening]()
    for number, arrival in enumerate(anything(seed)):
        for one, out in ((car, happened), (other, again)):
            one.expire(arrival.t, out)
            one.fold(arrival, out)
        if number % 7 == 0:
            other = other.copy()
    assert happened == again
    assert repr(car.cycle) == repr(other.cycle) and repr(car.denominator) == repr(other.denominator)
    assert len(car.ended) + 1 == car.cycle.number
    assert len(car.cycle.earlier) == len(car.denominator.earlier)
    for one in (*car.ended, *car.cycles()):
        whole = one.pattern.joined()
        assert whole.counted_running_s <= whole.running_s + 1e-6
        most = whole.most()
        assert whole.counted_running_s <= most["running"] + 1e-6
        assert whole.counted_fast_s <= most["fast"] + 1e-6
        assert whole.counted_idle_s <= most["idle"] + 1e-6
        assert whole.running_s + whole.off_s + whole.unseen_s <= arrival.t + 100.0
        assert not (pattern_met(one.pattern) and one.pattern.lacking())
        assert bool(why_not(one.pattern)) is not bool(pattern_met(one.pattern))
