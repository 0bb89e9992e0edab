"""Sound cars in circumstances, and cars with logic of their own, under the coach: it never says more than they do.

Circumstances, thresholds and drives are invented.
"""

from coach.car.happenings import (
    CodesCleared,
    CycleMonitorChanged,
    EngineStarted,
    GeneralDenominatorMet,
)
from coach.drive.happenings import GateClosed, PhaseDriven, RepeatCounted, TargetReached
from coach.simulator.cars import make_car
from coach.simulator.driver import Cue
from tests.simulator.coached import Coached, coach
from tests.simulator.helpers import readiness
from tests.simulator.test_coached_by_the_core import agrees, completed
from tests.simulator.test_coached_faults import driven

ALL_BUT_THE_LEAK_TEST = {"oxygen_sensor_heater", "oxygen_sensor", "catalyst", "egr_vvt"}


def disabled_at(coached: Coached, monitor: str) -> float | None:
    """When PID 41 first called a monitor disabled."""
    changes = (h for h in coached.happened if isinstance(h, CycleMonitorChanged) and h.monitor == monitor)
    return next((h.t for h in changes if h.after == "disabled"), None)


# ---------------------------------------------------------------- tank


def test_a_fuel_reading_that_surges_moves_no_plan_and_is_not_told_again_and_again() -> None:
    car = make_car("small", faults=["undamped_fuel_sender"], fuel_pct=69)
    shown: list[float] = []

    def look(coached: Coached) -> None:
        shown.append(coached.car.body.fuel_pct)

    coached = coach(car, "spark_engine_off_leak", meanwhile=look)
    assert max(shown) - min(shown) > 12
    assert set(completed(coached.happened)) == ALL_BUT_THE_LEAK_TEST
    told = [h.phase for h in coached.happened if isinstance(h, GateClosed) and h.gate == "fuel_pct"]
    assert all(told.count(phase) <= 3 for phase in told)
    assert agrees(coached)
    car.soak(8)
    car.key_on()
    assert readiness(car).incomplete == frozenset()


def test_after_filling_up_the_leak_test_waits_until_the_canister_is_purged() -> None:
    done = {}
    for faults in ((), ("just_refuelled",)):
        car = make_car("hatch", faults=faults, fuel_pct=40)
        coached = coach(car, "spark_running_leak", longest_s=1500)
        done[faults] = completed(coached.happened)["evaporative_system"]
        assert agrees(coached)
    assert done["just_refuelled",] > done[()] + 60


def test_too_much_vapour_ends_the_leak_test_for_the_day_and_a_cool_day_brings_it() -> None:
    car = make_car("hatch", faults=["hot_winter_fuel"])
    hot = coach(car, "spark_running_leak", longest_s=1200)
    given_up = disabled_at(hot, "evaporative_system")
    assert given_up is not None
    assert 300 < given_up < 900  # not at the start: it began, and gave up
    assert "evaporative_system" not in completed(hot.happened)
    assert agrees(hot)
    car.repair("hot_winter_fuel")
    car.soak(12)
    assert "evaporative_system" in completed(coach(car, "spark_running_leak", longest_s=1500).happened)


# ---------------------------------------------------------------- height, battery, speed holder


def test_in_the_mountains_the_leak_test_is_off_and_nothing_counts_as_a_general_denominator() -> None:
    car = make_car("small", faults=["high_altitude"])
    before = car.ecus[0].counters.general_denominator
    coached = coach(car, "spark_engine_off_leak")
    assert disabled_at(coached, "evaporative_system") is not None
    assert set(completed(coached.happened)) == ALL_BUT_THE_LEAK_TEST
    assert not any(isinstance(h, GeneralDenominatorMet) for h in coached.happened)
    assert car.ecus[0].counters.general_denominator == before
    car.soak(10)
    car.key_on()
    assert agrees(coached)
    assert readiness(car).incomplete == {"evaporative_system"}


def test_a_battery_taken_off_in_mid_job_is_told_as_a_clear_and_nothing_from_before_it_counts() -> None:
    car = make_car("small", permanent=["P0420"])
    coached = coach(car, "spark_engine_off_leak", longest_s=850)
    assert coached.core.monitor_states()["oxygen_sensor"] == "complete"
    car.disconnect_battery()
    assert car.ecus[0].memory.permanent == ["P0420"]
    begin = len(coached.happened)
    coached.drive(seed=2, longest_s=400)
    after = coached.happened[begin:]
    assert any(isinstance(h, CodesCleared) for h in after)
    assert not any(isinstance(h, TargetReached) for h in coached.happened)
    assert coached.core.monitor_states()["oxygen_sensor"] == "incomplete"
    assert agrees(coached)


def test_a_speed_holder_drives_the_rolls_with_the_pedal_at_rest_and_none_of_them_counts() -> None:
    car = make_car("small", faults=["speed_holder"])
    rest: list[bool] = []
    pulled_kpa: list[float] = []

    def look(coached: Coached) -> None:
        body = coached.car.body
        rest.append(body.accelerator < 0.01 and body.speed_kmh > 40)
        if rest[-1]:
            pulled_kpa.append(body.powertrain.map_kpa)

    coached = coach(car, "spark_engine_off_leak", longest_s=1750, meanwhile=look)
    assert sum(rest) > 600
    assert sorted(pulled_kpa)[len(pulled_kpa) // 2] > 33  # the engine pulls: behind a closed throttle there are 24 kPa
    assert "closed_throttle_decel" in coached.phases
    assert not any(isinstance(h, RepeatCounted) and h.what == "deceleration" for h in coached.happened)
    assert set(completed(coached.happened)) == ALL_BUT_THE_LEAK_TEST - {"egr_vvt"}
    assert agrees(coached)


# ---------------------------------------------------------------- logic of their own


def test_leak_test_and_sensor_test_shut_each_other_out_and_a_warm_restart_brings_the_second() -> None:
    coached = coach(make_car("roadster"), "spark_running_leak", longest_s=1000)
    assert {"evaporative_system", "oxygen_sensor_heater"} <= set(completed(coached.happened))
    assert disabled_at(coached, "oxygen_sensor") is not None
    assert {"oxygen_sensor", "catalyst"} & set(completed(coached.happened)) == set()
    assert agrees(coached)
    coached.drive(seed=2, longest_s=1500)
    assert {"oxygen_sensor", "catalyst", "egr_vvt"} <= set(completed(coached.happened))
    assert agrees(coached)


def test_a_two_trip_car_shows_nothing_after_a_perfect_drive_and_all_after_a_second_one_in_a_row() -> None:
    car = make_car("coupe")
    first = coach(car, "spark_running_leak", longest_s=1700)
    assert {"sensor_cruise", "leak_test_cruise", "highway_cruise"} <= driven(first)
    assert completed(first.happened) == {}
    assert agrees(first)
    car.soak(10)
    second = coach(car, "spark_running_leak", longest_s=1700)
    assert set(completed(second.happened)) == {
        "oxygen_sensor_heater",
        "oxygen_sensor",
        "catalyst",
        "evaporative_system",
    }
    assert agrees(second)


def test_a_plug_in_that_drives_electrically_gets_no_credit_until_it_is_told_to_hold_its_charge() -> None:
    car = make_car("plug_in")

    def town(coached: Coached) -> Cue | None:
        """Off after a minute, whatever the coach still waits for."""
        return Cue("cruise", 50, 75) if coached.core.now > 60 else None

    coached = coach(car, "hybrid", longest_s=800, meanwhile=town)
    assert not any(isinstance(h, EngineStarted | PhaseDriven) for h in coached.happened)
    assert completed(coached.happened) == {}
    assert car.body.coolant_c < 20
    counted = car.ecus[0].drive
    assert (counted.running_s > 600, counted.fast_s > 300, counted.fuelled_s, counted.met) == (True, True, 0, False)
    assert agrees(coached)
    car.inject("held_charge")
    coached.drive(seed=1, longest_s=1800)
    assert set(completed(coached.happened)) == ALL_BUT_THE_LEAK_TEST
    assert agrees(coached)


# ---------------------------------------------------------------- diesel


def test_with_the_power_take_off_engaged_nothing_runs_and_all_does_once_it_is_off() -> None:
    car = make_car("van", faults=["pto"])

    def off_later(coached: Coached) -> None:
        if coached.core.now > 900 and "pto" in coached.car.faults:
            assert completed(coached.happened) == {}
            coached.car.repair("pto")

    coached = coach(car, "light_diesel", longest_s=3600, meanwhile=off_later)
    done = completed(coached.happened)
    assert min(done.values()) > 900
    assert {"boost_pressure", "nox_aftertreatment", "particulate_filter"} <= set(done)
    assert agrees(coached)


def test_frozen_exhaust_fluid_keeps_the_nox_test_waiting_until_it_has_thawed() -> None:
    car = make_car("van", faults=["frozen_exhaust_fluid"])
    thawed: list[float] = []

    def look(coached: Coached) -> None:
        if coached.car.body.nox.fluid.liquid:
            thawed.append(coached.core.now)

    coached = coach(car, "light_diesel", longest_s=3000, meanwhile=look)
    assert 600 < thawed[0] < 2000
    assert completed(coached.happened)["nox_aftertreatment"] > thawed[0] + 400
    assert agrees(coached)


def test_an_interrupted_regeneration_brings_nothing_and_the_next_one_brings_both_monitors() -> None:
    car = make_car("diesel", faults=["sooty_filter"])
    burning: list[float] = []
    stopped: list[float] = []

    def traffic(coached: Coached) -> Cue | None:
        """A jam forty seconds into the first regeneration."""
        if coached.car.body.regenerating:
            burning.append(coached.core.now)
        if burning and 40 < coached.core.now - burning[0] < 90:
            stopped.append(coached.core.now)
            return Cue("idle")
        return None

    coached = coach(car, "light_diesel", longest_s=4200, meanwhile=traffic)
    done = completed(coached.happened)
    assert car.body.soot.interrupted == 1
    assert car.body.soot.regenerations == 1
    assert done["nmhc_catalyst"] > stopped[-1] + 150
    assert done["particulate_filter"] > done["nmhc_catalyst"]
    assert agrees(coached)
