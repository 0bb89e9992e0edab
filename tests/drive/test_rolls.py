"""A roll is a car that slows with the foot off and the engine not driving it; a resting pedal alone is none.

Published drives: DOI 10.35097/1130, a turbo car with a speed holder; what its rolls are was read off the drawn speed,
pedal and manifold pressure. The other drives are invented; the limits are the profiles' own.
"""

import pytest

from coach.car.arrivals import Arrival, Reading
from coach.car.happenings import Happening
from coach.drive.core import Core, make_core
from coach.drive.happenings import RepeatCounted, RepeatRejected
from coach.drive.profile import parse_profile
from coach.drive.rolling import Deceleration
from coach.library import profile_text
from coach.words.sentences import break_words
from coach.words.units import Units
from tests.recordings import DRIVES, a_profile, arrivals_of

IDLE_KPA, IDLE_LOAD = 34.0, 22.0


def rolls(arrivals: list[Arrival]) -> tuple[Core, list[RepeatCounted], list[RepeatRejected]]:
    """What was counted and what was not, in a core that goes on counting."""
    core = make_core(a_profile(), can=True)
    tracker = core.trackers["closed_throttle_decel"]
    happened: list[Happening] = []
    for arrival in arrivals:
        happened += core.feed(arrival)
        if tracker.driven_t is not None:
            tracker.again()
    counted = [h for h in happened if isinstance(h, RepeatCounted) and h.what == "deceleration"]
    return core, counted, [h for h in happened if isinstance(h, RepeatRejected) and h.what == "deceleration"]


def seconds(begin: float, speeds: list[float], **values: float) -> list[Arrival]:
    """One sample of everything a second, the speed last."""
    return [
        Reading(begin + t, signal, value)
        for t, kmh in enumerate(speeds)
        for signal, value in {**values, "speed_kmh": kmh}.items()
    ]


def before(**idle: float) -> list[Arrival]:
    """A warm idle, by which the rest of the pedal, load and pressure are learned, and a pull to 100 km/h."""
    standing = seconds(0, [0.0] * 20, coolant_c=85.0, rpm=750.0, pedal_d_pct=14.0, **idle)
    return [*standing, *seconds(20, [100.0] * 130, rpm=2400.0, pedal_d_pct=30.0, load_pct=60.0, map_kpa=70.0)]


FALLING = [100.0 - 1.8 * t for t in range(25)]


def test_every_roll_of_the_published_drives_is_one() -> None:
    found = {path.name[:10]: rolls(arrivals_of(path))[1] for path in sorted(DRIVES.iterdir())}
    told = {day: [(round(h.t), round(h.lasted_s)) for h in counted] for day, counted in found.items()}
    # drawn: 102 to 61 km/h, 137 to 69, 96 to 61, foot off, manifold pressure falling to that of the idle
    assert told == {"2017-07-06": [(723, 11), (1437, 19), (4192, 13)], "2017-08-02": [], "2018-02-27": []}


def test_what_the_speed_holder_drives_is_no_roll_however_slow_it_becomes() -> None:
    free = seconds(150, FALLING[:12], rpm=2000.0, pedal_d_pct=14.0, map_kpa=29.0, load_pct=12.0)
    held = seconds(162, FALLING[12:], rpm=1600.0, pedal_d_pct=14.0, map_kpa=66.0, load_pct=48.0)
    _, counted, rejected = rolls([*before(map_kpa=IDLE_KPA, load_pct=IDLE_LOAD), *free, *held])
    assert not counted
    assert [h.reason for h in rejected] == ["engine_drives"]
    words = break_words(rejected[0].reason, rejected[0].value, rejected[0].limit, Units())
    assert words == "the engine drove the car (load or manifold pressure 48, up to 24 rolls)"


@pytest.mark.parametrize("witness", [{"map_kpa": 30.0}, {"load_pct": 12.0}, {}])
def test_a_true_roll_counts_with_whatever_witness_the_car_has(witness: dict[str, float]) -> None:
    idle = {signal: {"map_kpa": IDLE_KPA, "load_pct": IDLE_LOAD}[signal] for signal in witness}
    _, counted, _ = rolls([*before(**idle), *seconds(150, FALLING, rpm=2000.0, pedal_d_pct=14.0, **witness)])
    assert [round(h.lasted_s) for h in counted] == [23]


def test_minutes_at_one_speed_are_not_told_as_rolling() -> None:
    plateau = seconds(150, [100.0] * 90, rpm=2400.0, pedal_d_pct=14.0)
    _, counted, _ = rolls([*before(), *plateau, *seconds(240, FALLING, rpm=2000.0, pedal_d_pct=14.0)])
    assert [round(h.lasted_s) for h in counted] == [23]  # from the end of the plateau, not from its beginning


def test_a_roll_that_stays_at_a_speed_on_the_way_is_told_as_held() -> None:
    halfway = [*FALLING[:10], *[83.0] * 20, *[83.0 - 1.8 * t for t in range(20)]]
    _, counted, rejected = rolls([*before(), *seconds(150, halfway, rpm=2000.0, pedal_d_pct=14.0)])
    assert not counted
    assert [h.reason for h in rejected] == ["speed_held"]


def test_an_engine_that_falls_silent_leaves_no_false_idle() -> None:
    # two readings far too low while the engine is shut off: measured on a published drive (36 kPa, idle 100 kPa)
    tracker = rolls([])[0].trackers["closed_throttle_decel"]
    assert isinstance(tracker, Deceleration)
    for t, kpa in enumerate((100.0, 101.0, 100.0, 99.0, 100.0, 36.0, 38.0)):
        tracker.overrun.update("map_kpa", kpa, float(t), idling=True)
    assert tracker.overrun.idle["map_kpa"] == pytest.approx(100.0, abs=1)


def test_seconds_below_the_published_lowest_speed_do_not_lengthen_a_roll() -> None:
    # 28 mph = 45 km/h, rear sensor test (2009 on); a profile may let a roll end lower
    text = profile_text("spark_engine_off_leak").replace('end = { value = "60 km/h"', 'end = { value = "20 km/h"', 1)
    core = make_core(parse_profile(text), can=True)
    falling = [*[100.0 - 8.0 * t for t in range(8)], *[44.0 - 1.0 * t for t in range(26)]]
    happened: list[Happening] = []
    for arrival in [*before(), *seconds(150, falling, rpm=2000.0, pedal_d_pct=14.0)]:
        happened += core.feed(arrival)
    assert [h.reason for h in happened if isinstance(h, RepeatRejected)] == ["braked"]
    assert not [h for h in happened if isinstance(h, RepeatCounted)]
