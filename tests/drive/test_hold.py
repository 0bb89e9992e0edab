"""The hold counts only between two samples that are both inside and close enough (law: unknown is not zero).

The bridge and settle times here are those of the shipped profiles, which are our judgement; the cases are arithmetic.
"""

from hypothesis import given, settings
from hypothesis import strategies as st

from coach.car.happenings import Happening
from coach.drive.happenings import HoldPaused, HoldReset, HoldResumed, HoldStarted, PhaseUntimable
from coach.drive.hold import FULL, Break, Hold

OUT: Break = ("below_band", 38.0, 64.0)


def hold(continuous: bool = False, duration_s: float = 300.0) -> Hold:
    return Hold("cruise", duration_s, continuous, settle_s=2.0, short_break_s=10.0, bridge_s=6.0)


def play(clock: Hold, samples: list[tuple[float, Break | None]]) -> list[Happening]:
    out: list[Happening] = []
    for t, broken in samples:
        clock.expire(t, out)
        if clock.step(t, broken, out):
            break
    return out


def inside(start: int, end: int) -> list[tuple[float, Break | None]]:
    return [(float(t), None) for t in range(start, end + 1)]


def outside(start: int, end: int) -> list[tuple[float, Break | None]]:
    return [(float(t), OUT) for t in range(start, end + 1)]


def test_every_second_between_two_inside_samples_counts_the_settling_too() -> None:
    clock = hold()
    assert play(clock, inside(0, 100)) == [HoldStarted(2.0, "cruise", 0.0)]
    assert clock.held_s == 100.0


def test_the_hold_is_full_at_its_duration_and_not_before() -> None:
    clock = hold(duration_s=50.0)
    play(clock, inside(0, 49))
    assert clock.state != FULL
    out: list[Happening] = []
    assert clock.step(50.0, None, out)


def test_a_break_longer_than_the_settle_time_pauses_and_keeps_what_was_held() -> None:
    clock = hold()
    happened = play(clock, inside(0, 60) + outside(61, 80) + inside(81, 90))
    assert happened == [
        HoldStarted(2.0, "cruise", 0.0),
        HoldPaused(63.0, "cruise", 61.0, 60.0, *OUT),
        HoldResumed(83.0, "cruise", 81.0, 60.0),
    ]
    assert clock.held_s == 60.0 + 9.0


def test_a_blip_shorter_than_the_settle_time_is_not_told_and_not_counted() -> None:
    clock = hold()
    assert play(clock, inside(0, 60) + outside(61, 61) + inside(62, 100)) == [HoldStarted(2.0, "cruise", 0.0)]
    assert clock.held_s == 60.0 + 38.0


def test_a_gap_longer_than_the_bridge_pauses_at_its_deadline_and_never_counts() -> None:
    clock = hold()
    happened = play(clock, inside(0, 60) + inside(100, 110))
    assert HoldPaused(66.0, "cruise", 60.0, 60.0, "data_gap", None, 6.0) in happened
    assert clock.held_s == 70.0


def test_a_continuous_hold_is_lost_after_a_long_break_only() -> None:
    clock = hold(continuous=True)
    assert not [h for h in play(clock, inside(0, 60) + outside(61, 70) + inside(71, 80)) if isinstance(h, HoldReset)]
    clock = hold(continuous=True)
    resets = [h for h in play(clock, inside(0, 60) + outside(61, 80)) if isinstance(h, HoldReset)]
    assert resets == [HoldReset(72.0, "cruise", 60.0, "below_band")]
    assert clock.held_s == 0.0


def test_samples_further_apart_than_the_bridge_are_told_as_untimable() -> None:
    clock = hold()
    happened = play(clock, [(8.0 * i, None) for i in range(8)])
    assert PhaseUntimable(40.0, "cruise", 8.0, 6.0) in happened
    assert clock.untimable
    assert clock.held_s == 0.0


def test_an_interval_of_unknown_length_does_not_count() -> None:
    clock = hold()
    play(clock, inside(0, 60))
    clock.interrupt()
    play(clock, [(61.0, None), (62.0, None)])
    assert clock.held_s == 61.0


steps = st.lists(st.tuples(st.floats(0.1, 12.0), st.booleans()), min_size=1, max_size=60)


@settings(max_examples=200, deadline=None, derandomize=True)
@given(steps, st.booleans())
def test_never_more_is_held_than_lies_between_bridged_inside_samples(
    moves: list[tuple[float, bool]], continuous: bool
) -> None:
    clock, t, allowed, was = hold(continuous, 1e9), 0.0, 0.0, False
    out: list[Happening] = []
    clock.step(t, None, out)
    was = True
    for dt, good in moves:
        t += dt
        clock.expire(t, out)
        clock.step(t, None if good else OUT, out)
        if good and was and dt <= 6.0:
            allowed += dt
        was = good
    assert clock.held_s <= allowed + 1e-6
