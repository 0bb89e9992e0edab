"""The physics behind the circumstances: tank, air, exhaust fluid, speed holder, drive battery; and the list of names.

Physical constants come from outside where a docstring says so; the rest is invented.
"""

import math

import pytest

from coach.cli import simulate
from coach.simulator.aftertreatment import ExhaustFluid
from coach.simulator.air import pressure_kpa
from coach.simulator.cars import CARS, PECULIAR_CARS, make_car
from coach.simulator.circumstances import CIRCUMSTANCES
from coach.simulator.driver import Cue, ScheduleDriver
from coach.simulator.faults import FAULTS
from coach.simulator.in_use import DriveCounter
from coach.simulator.simulated_car import SimulatedCar
from coach.simulator.tank import Tank
from tests.simulator.helpers import Stage, cycle_status, data, drive, driven, one_day, readiness

TRIP: tuple[Stage, ...] = ((Cue("idle"), 30), (Cue("cruise", 76, 100), 1000))


def test_the_help_of_simulate_names_every_car_fault_and_circumstance() -> None:
    assert simulate.CARS.split(", ") == [*CARS, *PECULIAR_CARS]
    assert simulate.FAULTS.split(", ") == list(FAULTS)
    assert simulate.CIRCUMSTANCES.split(", ") == list(CIRCUMSTANCES)


@pytest.mark.parametrize("name", [*FAULTS, *CIRCUMSTANCES])
def test_what_is_mended_or_over_leaves_the_car_as_it_was(name: str) -> None:
    for kind in ("small", "van"):
        car, untouched = make_car(kind), make_car(kind)
        car.inject(name)
        car.repair(name)
        drive(car, ((Cue("cruise", 60, 80), 30),))
        drive(untouched, ((Cue("cruise", 60, 80), 30),))
        assert car.body.odometer_km == pytest.approx(untouched.body.odometer_km, abs=0.05)
        assert car.body.coolant_c == pytest.approx(untouched.body.coolant_c, abs=1)
        assert car.faults == set()


# ---------------------------------------------------------------- tank


def test_a_pull_and_a_stop_surge_the_fuel_both_ways_and_a_damped_sender_hardly_follows() -> None:
    spread = {}
    for undamped in (False, True):
        tank = Tank(50, 50, 18)
        tank.undamped = undamped
        shown = []
        for i in range(400):
            tank.surge(1.5 if i < 100 else (-2.0 if i < 200 else 0.0), 0.0, 0.1)
            shown.append(tank.shown_pct)
        spread[undamped] = (min(shown), max(shown))
    assert spread[True][0] < 38 < 62 < spread[True][1]
    assert 47 < spread[False][0] <= spread[False][1] < 53


def test_a_long_climb_tilts_the_reading_and_the_litres_stay() -> None:
    tank = Tank(50, 50, 18)
    for _ in range(6000):
        tank.surge(0.0, 0.06, 0.1)
    assert tank.shown_pct == pytest.approx(50 - 80 * 0.06, abs=1)
    assert tank.litres == 25


def test_warm_winter_fuel_makes_vapour_that_cool_summer_fuel_does_not() -> None:
    def vapour(winter: bool, fuel_c: float) -> float:
        tank = Tank(50, 50, fuel_c)
        tank.winter_fuel = winter
        return tank.vapour_kpa

    assert vapour(False, 18) == 0
    assert vapour(False, 40) < 1.2 < vapour(True, 34) < vapour(True, 42)


def test_filling_loads_the_canister_the_trims_see_it_and_purging_empties_it() -> None:
    trims = {}
    for filled in (False, True):
        car = make_car("small", fuel_pct=30)
        if filled:
            car.refuel(70)
            assert car.body.canister_load == pytest.approx(0.36)
        drive(car, ((Cue("idle"), 30), (Cue("cruise", 60, 80), 300)))
        assert car.ecus[0].refuelled is filled
        seen = []
        for _ in range(300):
            car.advance(car.clock_s + 0.1)
            seen.append(car.body.oxygen.short_trim_pct)
        trims[filled] = sum(seen) / len(seen)
        drive(car, ((Cue("cruise", 60, 80), 500),))
        assert not car.ecus[0].refuelled
        assert car.body.canister_load < 0.2
    assert trims[True] < trims[False] - 0.3  # its vapour is fuel: less has to be injected


def test_a_filling_before_a_short_trip_is_still_remembered_at_the_next_start() -> None:
    car = make_car("small", fuel_pct=30)
    drive(car, ((Cue("idle"), 20),))
    car.key_off()
    car.refuel(60)
    for _ in range(2):
        drive(car, ((Cue("idle"), 20),))
        assert car.ecus[0].refuelled
        car.key_off()


# ---------------------------------------------------------------- air


def test_the_air_thins_as_the_standard_atmosphere_says() -> None:
    """ICAO standard atmosphere: 79.5 kPa at 2,000 m and 70.1 kPa at 3,000 m, for 101.325 kPa at the sea."""
    assert pressure_kpa(2000) / pressure_kpa(0) == pytest.approx(79.50 / 101.325, abs=0.001)
    assert pressure_kpa(3000) / pressure_kpa(0) == pytest.approx(70.11 / 101.325, abs=0.001)


def test_a_pass_is_climbed_in_metres_of_its_grade_and_the_engine_has_less_breath_on_top() -> None:
    car = make_car("small", soaked_h=0.2)
    car.grade = 0.05
    low = full_throttle_load(car)
    km = car.body.odometer_km
    driver = ScheduleDriver(car, [(0.0, car.speed_kmh), (60.0, 70.0), (2000.0, 70.0)])
    driver.advance(car.clock_s + 2000)
    climbed_m = 0.05 * 1000 * (car.body.odometer_km - km)
    assert car.body.altitude_m == pytest.approx(climbed_m, rel=0.05)
    assert data(car, 0x33)[0] == round(pressure_kpa(car.body.altitude_m))
    assert full_throttle_load(car) < 0.9 * low


def full_throttle_load(car: SimulatedCar) -> float:
    """Air at full throttle for a second, g/s for each 1000 rpm."""
    if not car.body.running:
        car.start()
        car.advance(car.clock_s + 5)
    car.brake, car.accelerator = 0.0, 1.0
    car.advance(car.clock_s + 4)
    return 1000 * car.body.maf_gps / car.body.rpm


def test_at_home_again_the_same_night_brings_the_leak_test() -> None:
    car = make_car("small", faults=["high_altitude"])
    one_day(car, TRIP)
    car.key_on()
    assert "evaporative_system" in readiness(car).incomplete
    car.repair("high_altitude")
    one_day(car, TRIP)
    car.key_on()
    assert "evaporative_system" in readiness(car).complete


# ---------------------------------------------------------------- exhaust fluid


def test_ice_holds_the_fluid_at_its_melting_point_until_it_is_gone() -> None:
    """Urea and water freezes at -11 °C; the heat to melt it is many times that to warm it by a degree."""
    fluid = ExhaustFluid(-20)
    assert (fluid.ice, fluid.liquid) == (1.0, False)
    temperatures, liquid_s = [], math.inf
    for second in range(12_000):
        fluid.step(-15.0, heated=True, dt=1.0)
        temperatures.append(fluid.temperature_c)
        if fluid.liquid:
            liquid_s = min(liquid_s, second)
    melting = [t for t in temperatures if -11.5 < t < -10.5]
    assert len(melting) > 4000
    assert 900 < liquid_s < 3000
    fluid.rest(-20, 60 * 3600)
    assert not fluid.liquid


# ---------------------------------------------------------------- speed holder


def test_the_speed_holder_keeps_its_speed_uphill_with_the_pedal_at_rest_and_a_brake_ends_it() -> None:
    car = make_car("small", soaked_h=0.2)
    drive(car, ((Cue("cruise", 76, 84), 60),))
    car.accelerator = 0.0
    car.body.holder.set_kmh = 80.0
    car.grade = 0.02
    car.advance(car.clock_s + 60)
    assert car.speed_kmh == pytest.approx(80, abs=3)
    assert data(car, 0x49)[0] == round(2.55 * car.body.spec.pedal_d_rest_pct)
    assert not car.body.powertrain.fuel_cut
    assert data(car, 0x0B)[0] > 40
    car.brake = 0.3
    car.advance(car.clock_s + 1)
    assert car.body.holder.set_kmh is None
    assert car.body.demand == 0


# ---------------------------------------------------------------- logic of their own


def test_a_cycle_without_a_run_breaks_the_row_of_a_two_trip_car() -> None:
    car = make_car("coupe")
    short: tuple[Stage, ...] = ((Cue("idle"), 40),)
    for stages, catalyst in ((TRIP, False), (short, False), (TRIP, False), (TRIP, True)):
        one_day(car, stages)
        car.key_on()
        assert ("catalyst" in readiness(car).complete) is catalyst


def test_a_warm_start_leaves_the_roadsters_sensor_test_free() -> None:
    car = make_car("roadster", soaked_h=0.3)
    drive(car, ((Cue("idle"), 80), (Cue("cruise", 62, 90), 500)))
    states = cycle_status(car)
    assert states.state("evaporative_system", readiness(car).supported) == "disabled"
    assert "oxygen_sensor" in readiness(car).complete


def test_a_plug_in_uses_its_charge_first_and_its_engine_when_that_is_gone() -> None:
    """A small drive battery of some 10 kWh is good for 30 to 60 km (common values of such cars, from memory)."""
    car = make_car("plug_in")
    driver = ScheduleDriver(car, [(0.0, 0.0), (40.0, 80.0), (3600.0, 80.0)])
    km = car.body.odometer_km
    while not car.body.engine_on and car.clock_s < 3600:
        driver.advance(car.clock_s + 10)
    assert 30 < car.body.odometer_km - km < 70
    assert car.body.fuel_used_l < 0.02
    driver.advance(car.clock_s + 300)
    assert car.body.fuel_used_l > 0.1


def test_a_drive_of_all_the_times_counts_only_with_ten_seconds_of_fuel_in_it() -> None:
    """The ten seconds are from memory of newer California text; the other times are 40 CFR 86.010-18(d)(4)(ii)."""
    assert not DriveCounter(600, 300, 0, 30, fuelled_s=9).met
    assert DriveCounter(600, 300, 0, 30, fuelled_s=10).met


def test_the_power_take_off_costs_fuel_and_raises_the_idle() -> None:
    burnt = {}
    for faults in ((), ("pto",)):
        car = make_car("van", faults=faults, soaked_h=0.2)
        drive(car, ((Cue("idle"), 120),))
        burnt[faults] = car.body.fuel_used_l
        assert data(car, 0x1E)[0] == len(faults)
        assert (car.body.rpm > 1100) is bool(faults)
    assert burnt["pto",] > 3 * burnt[()]


def test_no_battery_forgets_trims_and_readiness_and_keeps_counters() -> None:
    car = make_car("small", cleared=False, permanent=["P0420"])
    counters = car.ecus[0].counters.words()
    car.disconnect_battery()
    car.key_on()
    assert readiness(car).incomplete == readiness(make_on("small")).incomplete
    assert car.ecus[0].counters.words() == counters
    assert car.ecus[0].memory.permanent == ["P0420"]
    assert car.body.oxygen.long_trim_pct == 0
    drive(car, ((Cue("idle"), 30), (Cue("cruise", 60, 80), 900)))
    assert car.body.oxygen.long_trim_pct == pytest.approx(1.6, abs=0.4)


def make_on(name: str) -> SimulatedCar:
    car = make_car(name)
    car.key_on()
    return car


def test_a_sound_sender_shows_the_true_level_after_a_town_drive() -> None:
    car = driven("small", "udds").car
    assert car.body.fuel_pct == pytest.approx(car.body.tank.level_pct, abs=1.5)
