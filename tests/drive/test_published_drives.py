"""Published schedules and real logged drives, against published and hand-computed figures.

Schedules: 40 CFR Part 86 Appendix I; distances and durations as published by the US EPA. Seconds at 25 mph or more and
the longest idle are counted from the one-second tables. Drives: DOI 10.35097/1130, figures counted from the files.
"""

import pytest

from coach.car.happenings import ClockSteppedBack, GeneralDenominatorMet, WarmUpCycleCompleted
from coach.drive.happenings import PhaseDriven, WarmUpSlow
from tests.recordings import DRIVES, SCHEDULES, arrivals_of, played

SCHEDULE_FIGURES = [
    # name, duration s, miles, seconds at 25 mph or more, longest idle s, meets the general denominator
    ("udds", 1369, 7.45, 513, 39, True),
    ("hwfet", 765, 10.26, 739, 3, False),
    ("us06", 600, 8.01, 467, 9, False),
]


@pytest.mark.parametrize(("name", "duration_s", "miles", "fast_s", "idle_s", "met"), SCHEDULE_FIGURES)
def test_schedules_give_the_published_figures(
    name: str, duration_s: int, miles: float, fast_s: int, idle_s: int, met: bool
) -> None:
    core, happened = played(arrivals_of(SCHEDULES / f"{name}.csv"))
    found = core.car.denominator
    assert found.running_s == pytest.approx(duration_s, abs=1)
    assert found.distance_km / 1.609344 == pytest.approx(miles, rel=0.005)
    assert found.fast_s == pytest.approx(fast_s, abs=1)
    assert found.longest_idle_s == pytest.approx(idle_s, abs=1)
    assert any(isinstance(h, GeneralDenominatorMet) for h in happened) is met
    assert found.engine_assumed  # a schedule has no engine speed, and that is said


def test_the_cold_drive_never_completes_a_warm_up_cycle() -> None:
    core, happened = played(arrivals_of(DRIVES / "2018-02-27_ka_ka_normal.csv.gz"))
    assert core.car.cycle.start is not None
    assert core.car.cycle.start.seen
    assert core.car.cycle.start.coolant_c == -1.0
    assert max(h.coolant_c for h in happened if isinstance(h, WarmUpSlow)) < 70
    assert not [h for h in happened if isinstance(h, WarmUpCycleCompleted | PhaseDriven | GeneralDenominatorMet)]
    found = core.car.denominator
    assert found.fast_s == pytest.approx(454, abs=1)
    assert found.longest_standing_s == pytest.approx(63, abs=1)
    assert found.distance_km == pytest.approx(11.00, rel=0.005)
    assert found.too_cold_s > 0  # below -7 °C nothing counts towards the denominator


def test_the_start_stop_drive_idles_too_short_with_the_engine_running() -> None:
    core, happened = played(arrivals_of(DRIVES / "2017-08-02_rt_s_normal.csv.gz"))
    found = core.car.denominator
    assert found.fast_s == pytest.approx(2029, abs=1)
    assert found.longest_idle_s == pytest.approx(28, abs=1)
    assert found.longest_standing_s == pytest.approx(66, abs=1)
    assert found.distance_km == pytest.approx(54.27, rel=0.005)
    assert found.met_t is None
    assert [h.back_s for h in happened if isinstance(h, ClockSteppedBack)] == [pytest.approx(0.466)]
    warm = [h for h in happened if isinstance(h, WarmUpCycleCompleted)]
    assert [(h.start_coolant_c, h.coolant_c) for h in warm] == [(33.0, 71.0)]
    assert core.car.cycle.number == 1  # an automatic stop is no new driving cycle


def test_an_idle_after_driving_off_is_no_cold_start_and_is_not_asked_for_today() -> None:
    core, _ = played(arrivals_of(DRIVES / "2017-08-02_rt_s_normal.csv.gz"))
    plan = core.plan()
    assert "cold_start_idle" not in plan.phases
    secondary = next(found for found in plan.not_today if found.monitor == "secondary_air")
    assert "not_driven_off" in [failed.gate for failed in secondary.failed]
    # the heater's ladder takes either rung: the cruise, driven here, served it instead
    assert core.trackers["sensor_cruise"].driven_t is not None
    assert "oxygen_sensor_heater" in plan.waiting
