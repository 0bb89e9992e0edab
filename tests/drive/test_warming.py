"""The slope of the coolant tells an open thermostat early; one odd reading tells nothing.

The limits are the tracker's own judgements; published drives: DOI 10.35097/1130. The other drives are invented.
"""

from coach.car.arrivals import Arrival, Reading
from coach.car.happenings import Happening
from coach.drive.core import Core
from coach.drive.happenings import PhaseDriven, WarmUpSlow, WarmUpStalled
from coach.simulator.cars import make_car
from coach.words.sentences import sentence
from coach.words.units import Units
from tests.recordings import DRIVES, arrivals_of, ask, fed, played
from tests.simulator.coached import coach


def warming(coolants: dict[int, float], end_s: int, kmh: float = 55.0) -> tuple[Core, list[Happening]]:
    """A drive whose coolant runs straight between the given seconds; everything open."""
    times = sorted(coolants)
    arrivals: list[Arrival] = [*ask(0.0, 1, "0101", ("7E8", "41010007FFFF"))]
    for t in range(1, end_s):
        before = max(at for at in times if at <= t)
        after = min((at for at in times if at > t), default=before)
        share = (t - before) / (after - before) if after > before else 0.0
        coolant_c = coolants[before] + share * (coolants[after] - coolants[before])
        arrivals += [Reading(t + 0.1, "rpm", 1600.0), Reading(t + 0.2, "speed_kmh", kmh)]
        if t % 4 == 0:
            arrivals.append(Reading(t + 0.3, "coolant_c", round(coolant_c)))
    return fed(arrivals)


def stalls(happened: list[Happening]) -> list[WarmUpStalled]:
    return [h for h in happened if isinstance(h, WarmUpStalled)]


def test_an_engine_that_stays_at_41_is_told_of_in_minutes_and_nothing_is_driven_in_vain() -> None:
    core, happened = warming({0: 10.0, 240: 41.0, 900: 41.0}, 460)
    (told,) = stalls(happened)
    assert told.t < 425  # three minutes after it stood, not ten
    assert told.coolant_c == 41.0
    assert told.rose_c <= 1.0
    said = sentence(told, Units(), {})
    assert "stands at 41 °C: the thermostat may hang open" in said
    plan = core.plan()
    assert not plan.drive
    assert {left.reason for left in plan.not_today if left.monitor == "catalyst"} == {"stays_cold"}


def test_a_coolant_that_rises_after_all_brings_the_plan_back() -> None:
    core, happened = warming({0: 10.0, 240: 50.0, 440: 50.0, 600: 85.0}, 640)
    assert len(stalls(happened)) == 1
    assert [h for h in happened if isinstance(h, PhaseDriven) and h.phase == "warm_up_drive"]
    assert "highway_cruise" in core.plan().phases


def test_standing_in_the_cold_blames_no_thermostat() -> None:
    assert not stalls(warming({0: 10.0, 240: 41.0, 900: 41.0}, 850, kmh=0.0)[1])


def test_the_coldest_published_drive_is_slow_and_never_stands() -> None:
    # -10 °C, coolant from -1 to 64 °C in 25 minutes: cold weather, no fault that a slope could show
    _, happened = played(arrivals_of(DRIVES / "2018-02-27_ka_ka_normal.csv.gz"))
    assert not stalls(happened)
    assert [h for h in happened if isinstance(h, WarmUpSlow)]


def test_one_odd_reading_neither_ends_the_warm_up_nor_begins_a_phase() -> None:
    core, _ = warming({0: 10.0, 300: 40.0}, 200)
    happened = list(core.feed(Reading(200.5, "coolant_c", 95.0)))
    assert not [h for h in happened if isinstance(h, PhaseDriven)]
    happened += core.feed(Reading(204.5, "coolant_c", 31.0))
    assert not [h for h in happened if isinstance(h, PhaseDriven)]


def test_a_simulated_car_without_a_thermostat_is_found_out_and_a_sound_one_is_not() -> None:
    cold = coach(make_car("small", faults=["missing_thermostat"]), "spark_engine_off_leak", longest_s=900)
    assert stalls(cold.happened)
    assert stalls(cold.happened)[0].running_s < 720
    assert not stalls(coach(make_car("small"), "spark_engine_off_leak", longest_s=700).happened)
