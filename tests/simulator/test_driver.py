"""The simulated driver: late, a little clumsy, cut up by a lorry, and never above the limit."""

import pytest

from coach.simulator.cars import CARS, make_car
from coach.simulator.driver import Cue, Driver, ScheduleDriver
from coach.simulator.simulated_car import SimulatedCar


def warm(name: str = "small") -> SimulatedCar:
    car = make_car(name, soaked_h=0.1)
    car.start()
    car.advance(10)
    return car


def watch(driver: Driver, seconds: float, step_s: float = 0.5) -> list[float]:
    speeds = []
    for _ in range(int(seconds / step_s)):
        driver.advance(driver.car.clock_s + step_s)
        speeds.append(driver.car.speed_kmh)
    return speeds


def test_a_cue_is_acted_on_after_a_second_or_two() -> None:
    driver = Driver(warm(), 5)
    driver.follow(Cue("cruise", 40, 60))
    driver.advance(driver.car.clock_s + 0.9)
    assert driver.cue.kind == "wait"
    assert driver.car.accelerator == 0
    driver.advance(driver.car.clock_s + 1.3)
    assert driver.cue.kind == "cruise"
    assert driver.car.accelerator > 0


def test_the_same_cue_again_changes_nothing() -> None:
    driver = Driver(warm(), 5)
    for _ in range(50):
        driver.follow(Cue("cruise", 40, 60))
        driver.advance(driver.car.clock_s + 1)
    assert driver.car.speed_kmh == pytest.approx(50, abs=4)


@pytest.mark.parametrize("name", CARS)
def test_a_cruise_stays_in_its_band_but_for_a_lorry(name: str) -> None:
    driver = Driver(warm(name), 4)
    driver.follow(Cue("cruise", 64, 80))
    speeds = watch(driver, 420)[100:]
    assert driver.lorries == 1
    inside = [64 <= speed <= 80 for speed in speeds]
    assert 0.88 < sum(inside) / len(inside) < 1
    assert max(speeds) < 80
    assert 52 < min(speeds) < 63
    assert max(speeds) - min(speed for speed in speeds if speed > 64) > 2  # a person, not a controller


def test_the_foot_is_light_in_a_cruise() -> None:
    """Within 3 % over four seconds most of the time: what the profiles call an even foot."""
    driver = Driver(warm(), 4)
    driver.follow(Cue("cruise", 64, 80))
    watch(driver, 60)
    ranges = []
    for _ in range(200):
        driver.advance(driver.car.clock_s + 1)
        ranges.append(driver.car.body.foot_range_pct)
    assert sorted(ranges)[150] < 3


def test_the_limit_is_never_passed_and_braking_is_never_violent() -> None:
    driver = Driver(warm(), 6, limit_kmh=70)
    for cue in (Cue("cruise", 80, 100), Cue("roll", 40, 95), Cue("load_step", None, 90), Cue("stop_and_go", 40, 90)):
        driver.follow(cue)
        before = driver.car.speed_kmh
        for speed in watch(driver, 150, 0.2):
            assert speed <= 70
            assert before - speed < 0.2 * 3.6 * 3.0
            before = speed


def test_a_roll_goes_foot_off_from_high_to_low_again_and_again() -> None:
    driver = Driver(warm(), 2)
    driver.follow(Cue("roll", 60, 95))
    rolls, top, low = [], 0.0, 0.0
    rolling = False
    for _ in range(600):
        driver.advance(driver.car.clock_s + 0.5)
        foot_off = driver.car.accelerator == 0 and driver.car.brake == 0
        if foot_off and not rolling:
            top = driver.car.speed_kmh
        if rolling and not foot_off:
            rolls.append((top, low))
        rolling, low = foot_off, driver.car.speed_kmh
    assert len(rolls) >= 3
    assert all(high > 94 and bottom < 60 for high, bottom in rolls)


def test_stop_and_go_stands_half_a_minute_between_steady_stretches() -> None:
    driver = Driver(warm(), 2)
    driver.follow(Cue("stop_and_go", 40, 60))
    speeds = watch(driver, 360)
    stands = [speed < 1 for speed in speeds]
    runs = "".join("s" if stand else "d" for stand in stands).split("d")
    assert sum(len(run) >= 60 for run in runs) >= 2


def test_a_load_step_pulls_firmly_from_a_stand() -> None:
    driver = Driver(warm(), 2)
    driver.follow(Cue("load_step", None, 72))
    firm_s = top = 0.0
    for _ in range(300):
        driver.advance(driver.car.clock_s + 0.5)
        firm_s += 0.5 * (driver.car.body.foot_pct > 50)
        top = max(top, driver.car.speed_kmh)
    assert firm_s > 3
    assert 70 < top < 80


def test_engine_off_leaves_the_key_on_and_key_off_does_not() -> None:
    driver = Driver(warm(), 2)
    driver.follow(Cue("cruise", 40, 60))
    watch(driver, 40)
    driver.follow(Cue("engine_off"))
    watch(driver, 40)
    assert (driver.car.speed_kmh, driver.car.body.ignition) == (0, "on")
    driver.follow(Cue("key_off"))
    watch(driver, 5)
    assert not driver.car.ignition_on
    driver.follow(Cue("wait"))
    watch(driver, 10)
    assert not driver.car.ignition_on
    driver.follow(Cue("idle"))
    watch(driver, 10)
    assert driver.car.body.running


def test_a_schedule_must_have_rising_times() -> None:
    car = make_car("small")
    for rows in ([], [(0.0, 0.0)], [(0.0, 0.0), (0.0, 10.0)]):
        with pytest.raises(ValueError, match="rising times"):
            ScheduleDriver(car, rows)
