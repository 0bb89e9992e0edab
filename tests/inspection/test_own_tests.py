"""What a drive shows of the starts and drives that single tests need, sample by sample.

Limits: cold start 35 °C and 7 °C over the intake air (Toyota), 8 h of rest, a thermostat's 75 °C (Toyota), idle speed
judged at 80 °C (Cadillac 2001) for 3 x 10 s (Subaru 2006), boost at 3,800 rpm for 4 s (Acura RDX 2012). Data invented.
"""

from dataclasses import replace

import pytest

from coach.inspection.own_tests import NOTHING, OwnTestWatch, Shown, began_cold, began_soaked, could_run

COLD = Shown(start_coolant_c=18.0, start_intake_c=16.0, start_ambient_c=15.0, soak_s=10 * 3600.0, warmest_c=90.0)


@pytest.mark.parametrize(
    ("changed", "cold"),
    [
        ({}, True),
        ({"start_coolant_c": 35.0, "start_intake_c": 28.0}, True),
        ({"start_coolant_c": 36.0, "start_intake_c": 30.0}, False),
        ({"start_coolant_c": 24.0}, False),  # 8 over the intake air: it has not stood long enough
        ({"start_coolant_c": -9.0, "start_intake_c": -10.0, "start_ambient_c": -10.0}, False),
        ({"start_coolant_c": -7.0, "start_intake_c": -7.0, "start_ambient_c": -7.0}, True),
        ({"start_coolant_c": None}, None),
        ({"start_intake_c": None}, True),  # by the air outside
        ({"start_intake_c": None, "start_ambient_c": None}, None),
        ({"start_ambient_c": None}, True),
    ],
)
def test_a_cold_start_is_cold_near_the_air_and_not_in_deep_frost(
    changed: dict[str, float | None], cold: bool | None
) -> None:
    assert began_cold(replace(COLD, **changed)) is cold


@pytest.mark.parametrize(("soak_s", "soaked"), [(8 * 3600.0, True), (7.9 * 3600.0, False), (None, None)])
def test_a_night_is_proved_by_its_hours(soak_s: float | None, soaked: bool | None) -> None:
    assert began_soaked(replace(COLD, soak_s=soak_s)) is soaked


def test_a_warm_start_is_no_night_whatever_the_clock_says() -> None:
    assert began_soaked(replace(COLD, start_coolant_c=60.0)) is False


def test_a_drive_that_told_nothing_runs_no_test_that_needs_something() -> None:
    assert could_run(None, NOTHING)
    for own in ("warm_up", "cold_start", "cold_soak", "warm_idle", "boost_pull", "fuel_used"):
        assert not could_run(own, NOTHING)  # type: ignore[arg-type]


def test_a_thermostat_is_tested_from_cold_up_to_warm() -> None:
    assert could_run("warm_up", COLD)
    assert not could_run("warm_up", replace(COLD, warmest_c=74.0))
    assert not could_run("warm_up", replace(COLD, start_coolant_c=80.0))


def test_nothing_recorded_proves_the_test_of_a_fuel_gauge() -> None:
    assert not could_run("fuel_used", replace(COLD, warm_idle_s=100.0, pull_s=100.0))


class Road:
    """A made-up car: signals with the time they were heard."""

    def __init__(self) -> None:
        self.watch, self.t, self.idle_s = OwnTestWatch(), 0.0, 0.0
        self.heard: dict[str, tuple[float, float]] = {}

    def fresh(self, signal: str, age_s: float) -> float | None:
        value, at = self.heard.get(signal, (0.0, -1e9))
        return value if self.t - at <= age_s else None

    def go(self, seconds: float, running: bool | None = True, idling: bool = False, **values: float) -> None:
        """One sample after so many seconds."""
        self.t += seconds
        self.idle_s = self.idle_s + seconds if idling else 0.0
        self.heard |= {signal: (value, self.t) for signal, value in values.items()}
        self.watch.see(self.t, running, self.idle_s, self.fresh)


def test_the_start_is_the_first_coolant_with_the_engine_running_and_the_air_of_its_first_minute() -> None:
    road = Road()
    road.go(1, running=False, coolant_c=20.0)
    road.go(1, coolant_c=21.0, run_time_s=1.0)
    road.go(30, intake_c=19.0)
    road.go(40, ambient_c=12.0, coolant_c=35.0)
    shown = road.watch.shown()
    assert (shown.start_coolant_c, shown.start_intake_c, shown.start_ambient_c) == (21.0, 19.0, None)
    assert shown.warmest_c == 35.0


@pytest.mark.parametrize(
    ("run_time_s", "coolant_c", "start_c"), [(600.0, 85.0, None), (5.0, 85.0, 85.0), (600.0, 30.0, 30.0)]
)
def test_a_recording_that_begins_late_knows_a_warm_start_not_but_a_cold_one(
    run_time_s: float, coolant_c: float, start_c: float | None
) -> None:
    road = Road()
    road.go(1, coolant_c=coolant_c, intake_c=20.0, run_time_s=run_time_s)
    assert road.watch.shown().start_coolant_c == start_c


def test_a_warm_idle_counts_from_the_moment_the_engine_is_warm() -> None:
    road = Road()
    for _ in range(20):
        road.go(1, idling=True, coolant_c=70.0)
    for _ in range(36):
        road.go(1, idling=True, coolant_c=80.0)
    assert road.watch.shown().warm_idle_s == 35.0
    assert could_run("warm_idle", road.watch.shown())


def test_a_warm_idle_is_broken_by_the_foot_the_road_and_a_stopped_engine() -> None:
    for breaking in ({"idling": False}, {"idling": True, "running": False}):
        road = Road()
        for _ in range(30):
            road.go(1, idling=True, coolant_c=85.0)
        road.go(1, **breaking)  # type: ignore[arg-type]
        for _ in range(30):
            road.go(1, idling=True, coolant_c=85.0)
        assert not could_run("warm_idle", road.watch.shown())


def test_a_pull_is_one_stretch_at_high_speed_and_load() -> None:
    road = Road()
    for _ in range(5):
        road.go(1, rpm=3900.0, load_pct=85.0)
    assert (road.watch.shown().pull_s, could_run("boost_pull", road.watch.shown())) == (4.0, True)
    broken = Road()
    for number in range(8):
        broken.go(1, rpm=3900.0, load_pct=50.0 if number == 4 else 85.0)
    assert broken.watch.shown().pull_s == 3.0


def test_a_gap_in_the_samples_is_no_pull() -> None:
    road = Road()
    for _ in range(4):
        road.go(2, rpm=3900.0, load_pct=85.0)
    assert not could_run("boost_pull", road.watch.shown())


def test_how_long_it_stood_is_kept_by_the_record_and_else_by_the_user() -> None:
    told, proved = OwnTestWatch(), OwnTestWatch(3600.0)
    told.stood(36000.0)
    proved.stood(36000.0)
    told.stood(None)
    assert (told.shown().soak_s, proved.shown().soak_s) == (36000.0, 3600.0)
