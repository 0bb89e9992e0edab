"""Jumping through a recording: the same moment is the same, however it was reached, and no jump takes long."""

import time
from pathlib import Path

import pytest

from coach.car.arrivals import Arrival, Reading
from coach.drive.current import current_phase
from coach.drive.hold import HOLDING
from coach.drive.trackers import Cruise
from coach.session import scrub as scrubbing
from coach.session.review import review
from coach.session.scrub import EVERY, Scrub, built
from coach.words.coaching import view
from coach.words.units import Units
from tests.recordings import a_profile
from tests.screen.cars import opened

ANSWERED_WITHIN_S = 0.1  # issue: scrubbing an hour-long journal answers within a tenth of a second


@pytest.fixture(scope="module")
def scrub(recorded: Path) -> Scrub:
    return built(*opened(recorded))


def test_what_happened_is_what_a_review_from_end_to_end_says(scrub: Scrub, recorded: Path) -> None:
    assert tuple(scrub.happenings) == review(recorded).happenings


@pytest.mark.parametrize("share", [0.0, 0.1, 0.37, 0.5, 0.99, 1.0])
def test_a_jump_gives_the_core_that_a_run_from_the_start_gives(scrub: Scrub, recorded: Path, share: float) -> None:
    t = scrub.end_t * share
    arrivals, core = opened(recorded)
    for arrival in arrivals:
        if arrival.t > t:
            break
        core.feed(arrival)
    assert view(scrub.at(t).core, Units()) == view(core, Units())


def test_jumping_about_changes_nothing_for_the_next_jump(scrub: Scrub) -> None:
    before = view(scrub.at(600.0).core, Units())
    for t in (10.0, 1000.0, 599.0, 601.0):
        scrub.at(t).forward(t + 50)
    assert view(scrub.at(600.0).core, Units()) == before


def test_playing_on_brings_the_same_happenings_as_the_whole(scrub: Scrub) -> None:
    player = scrub.at(300.0)
    happened = [h for t in range(310, int(scrub.end_t), 10) for h in player.forward(float(t))]
    told = [h for h in scrub.happenings if h.t > 300.0]
    assert happened == told[: len(happened)]
    assert happened


def test_a_hold_that_counts_beside_its_band_is_inside_the_wider_limits(scrub: Scrub, recorded: Path) -> None:
    """Every second of a whole drive: what is said to count the hold counts, and some of it is beside the band."""
    arrivals, core = opened(recorded)
    beside, asked = 0, 0.0
    for arrival in arrivals:
        core.feed(arrival)
        if core.now < asked:
            continue
        asked = core.now + 1.0
        gauge, phase = view(core, Units()).gauge, current_phase(core, core.plan())
        if gauge is None or not gauge.counts:
            continue
        tracker = core.trackers[phase or ""]
        assert isinstance(tracker, Cruise)
        assert tracker.hold.state == HOLDING
        kmh = core.car.values["speed_kmh"]
        assert tracker.limits.leave_low_kmh <= kmh <= tracker.limits.leave_high_kmh
        beside += not tracker.limits.low_kmh <= kmh <= tracker.limits.high_kmh
    assert beside


def test_copies_are_bounded_in_number_however_long_the_recording(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(scrubbing, "MOST", 8)
    readings = [Reading(float(t), "speed_kmh", 60.0) for t in range(EVERY * 40)]
    from coach.drive.core import make_core

    long = built(readings, make_core(a_profile(), can=True))
    assert len(long._copies) <= 8
    assert long.at(EVERY * 39.5).core.now == EVERY * 39.5


def test_any_jump_in_an_hour_answers_within_a_tenth_of_a_second(scrub: Scrub, recorded: Path) -> None:
    arrivals, core = opened(recorded)
    hour: list[Arrival] = []
    shift = 0.0
    while shift < 3600:
        import msgspec

        hour += [msgspec.structs.replace(arrival, t=arrival.t + shift) for arrival in arrivals]
        shift += scrub.end_t + 1
    long = built(hour, core)
    worst = 0.0
    for number in range(60):
        t = (number * 997) % int(long.end_t)
        began = time.perf_counter()
        view(long.at(float(t)).core, Units())
        worst = max(worst, time.perf_counter() - began)
    print(f"\n{len(hour)} arrivals in {long.end_t:.0f} s; the longest jump took {worst * 1000:.0f} ms")
    assert worst < ANSWERED_WITHIN_S
