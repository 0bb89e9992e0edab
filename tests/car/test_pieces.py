"""Real drives cut, joined and thinned at random: what is claimed of the whole is never more than the pieces support."""

from functools import cache

import pytest

from coach.car.car import Car
from coach.car.driven import DrivenCycle, pattern_met
from coach.car.happenings import CycleBegan, GeneralDenominatorMet, Happening, WarmUpCycleCompleted
from tests.car.pieces import Recording, TrueCycle, count, folded, make

SEEDS = range(60)


@cache
def judged(seed: int) -> tuple[Recording, Car, tuple[Happening, ...]]:
    recording = make(seed)
    car, happened = folded(recording.arrivals)
    return recording, car, tuple(happened)


def within(cycle: TrueCycle, told: DrivenCycle) -> bool:
    """The program's cycle covers this one."""
    return told.from_t - 1 <= cycle.pieces[0].at_t and cycle.pieces[-1].end_t <= told.to_t + 1


@pytest.mark.parametrize("seed", SEEDS)
def test_no_pattern_is_claimed_that_no_driving_cycle_met(seed: int) -> None:
    recording, _car, happened = judged(seed)
    claimed = [h for h in happened if isinstance(h, GeneralDenominatorMet)]
    met = [cycle for cycle in recording.cycles if cycle.counted().met(-1.0, foot=not recording.thinned)]
    assert len(claimed) <= len(met)
    for h in claimed:
        assert any(cycle.pieces[0].at_t <= h.t for cycle in met)


@pytest.mark.parametrize("seed", SEEDS)
def test_no_pattern_is_denied_that_a_driving_cycle_met(seed: int) -> None:
    recording, car, _happened = judged(seed)
    for told in car.cycles():
        if pattern_met(told.pattern) is False:
            inside = [cycle for cycle in recording.cycles if within(cycle, told)]
            assert not [cycle for cycle in inside if cycle.counted().met(1.0, foot=True)]


@pytest.mark.parametrize("seed", SEEDS)
def test_the_totals_are_those_of_the_pieces_no_more_and_none_lost(seed: int) -> None:
    recording, car, _happened = judged(seed)
    found = car.denominator
    whole = [count(piece.drive, piece.from_t, piece.to_t) for piece in recording.pieces]
    running_s, km = sum(one.cold_running_s for one in whole), sum(one.km for one in whole)
    spare_s = 3.0 * len(whole) + (60.0 if recording.thinned else 0.0)
    assert found.whole_running_s <= running_s + spare_s
    assert found.whole_distance_km <= km * (1.05 if recording.thinned else 1.01) + 0.1
    if not recording.thinned:
        assert found.whole_running_s >= running_s - 8.0 * len(whole)
        assert found.whole_distance_km >= km * 0.99 - 0.05 * len(whole)
    if len(whole) > 1:
        assert found.whole_at_least


@pytest.mark.parametrize("seed", SEEDS)
def test_no_warm_up_cycle_is_claimed_that_was_none_and_none_is_denied(seed: int) -> None:
    recording, car, happened = judged(seed)
    claimed = [h for h in happened if isinstance(h, WarmUpCycleCompleted)]
    assert len(claimed) <= sum(cycle.warmed(seen=True) for cycle in recording.cycles)
    for told in car.cycles():
        if told.warm_up is False:
            assert not [c for c in recording.cycles if within(c, told) and c.warmed(seen=False)]


@pytest.mark.parametrize("seed", SEEDS)
def test_every_key_off_is_told_or_left_open_and_none_is_made_up(seed: int) -> None:
    recording, car, happened = judged(seed)
    told = car.cycles()
    began = [h.t for h in happened if isinstance(h, CycleBegan)]
    offs = [piece.at_t for piece in recording.pieces if piece.before in ("off", "clock")]
    assert len(began) <= len(offs)
    for at_t in offs:
        proved = any(at_t - 1 <= t <= at_t + 90 for t in began)
        left_open = any(at_t - 1 <= t <= at_t + 10 for one in told for t in one.unproved_t)
        assert proved or left_open
    if not offs:
        assert len(told) == 1
    if recording.witness and not recording.thinned:
        assert not [one for one in told if one.unproved_t]


def test_the_pieces_bring_about_what_they_are_made_for() -> None:
    all_ = [judged(seed) for seed in SEEDS]
    verdicts = {pattern_met(told.pattern) for _, car, _ in all_ for told in car.cycles()}
    assert verdicts == {True, False, None}
    assert {told.warm_up for _, car, _ in all_ for told in car.cycles()} == {True, False, None}
    assert any(told.unproved_t for _, car, _ in all_ for told in car.cycles())
    assert any(isinstance(h, CycleBegan) for _, _, happened in all_ for h in happened)
