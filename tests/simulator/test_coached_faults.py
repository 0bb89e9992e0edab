"""Broken cars under the coach: what the physics shows, what the units find in one trip and in two, what the core says.

Faults, thresholds and drives are invented; the two-trip rule is 40 CFR 86.010-18(b)(2).
"""

import pytest

from coach.car.happenings import CodeAppeared, CycleMonitorChanged
from coach.drive.happenings import CoachingEnded, PhaseDriven, WarmUpStalled
from coach.drive.obstacles import obstacles
from coach.j1979.test_results import decode_test_results
from coach.simulator.cars import make_car
from coach.simulator.driver import Cue
from coach.simulator.simulated_car import SimulatedCar
from tests.simulator.coached import Coached, coach
from tests.simulator.helpers import codes, data, drive, payloads, readiness
from tests.simulator.test_coached_by_the_core import agrees, completed


def found(coached: Coached) -> set[tuple[str, str]]:
    """Kind and code of all that appeared."""
    return {(h.kind, h.code) for h in coached.happened if isinstance(h, CodeAppeared)}


def driven(coached: Coached) -> set[str]:
    """Phases the core gave credit for."""
    return {h.phase for h in coached.happened if isinstance(h, PhaseDriven)}


def stands_at_fault(coached: Coached) -> bool:
    """The core says of the whole car that there is a fault, and agrees with the units on every monitor."""
    return agrees(coached) and coached.core.car.conclude().standing == "fault"


def results(car: SimulatedCar, mid: int) -> list[bool | None]:
    """Whether each test of a service 06 monitor passed."""
    return [result.passed for result in decode_test_results(payloads(car, f"06{mid:02X}")[0])]


# ---------------------------------------------------------------- thermostat


@pytest.mark.parametrize(
    ("fault", "low_c", "high_c"), [("missing_thermostat", 25, 46), ("stuck_open_thermostat", 40, 66)]
)
def test_an_engine_without_its_thermostat_stays_cool_and_nothing_that_wants_a_warm_one_is_credited(
    fault: str, low_c: float, high_c: float
) -> None:
    coached = coach(make_car("small", faults=[fault], ambient_c=14), "spark_engine_off_leak", longest_s=1500)
    assert low_c < coached.car.body.coolant_c < high_c
    assert found(coached) <= {("pending", "P0128")}  # the slope tells it before the car's own test does
    assert any(isinstance(h, WarmUpStalled) for h in coached.happened)
    assert not driven(coached) & {"warm_up_drive", "sensor_cruise", "highway_cruise"}
    assert set(completed(coached.happened)) == {"oxygen_sensor_heater"}
    assert any(o.detail in ("coolant_min_c", "P0128") for o in obstacles(coached.core)["catalyst"])
    assert {left.reason for left in coached.core.plan().not_today if left.monitor == "catalyst"} == {"stays_cold"}
    assert agrees(coached)


# ---------------------------------------------------------------- catalyst


def test_a_worn_catalyst_is_pending_after_one_trip_and_stored_after_the_second_and_never_stands_as_done() -> None:
    car = make_car("small", faults=["worn_catalyst"])
    first = coach(car, "spark_engine_off_leak", longest_s=1400)
    assert found(first) == {("pending", "P0420")}
    ran = [h for h in first.happened if isinstance(h, CycleMonitorChanged) and h.monitor == "catalyst"]
    assert ran[-1].after == "complete"  # it has run, and found a fault: not complete since the clear
    assert "catalyst" not in completed(first.happened)
    assert stands_at_fault(first)
    assert results(car, 0x21) == [False]
    car.soak(10)
    second = coach(car, "spark_engine_off_leak", longest_s=1400)
    assert ("stored", "P0420") in found(second)
    assert "mil_on" in {h.reason for h in second.happened if isinstance(h, CoachingEnded)}
    assert stands_at_fault(second)
    assert readiness(car).incomplete == frozenset()  # the bit is set, and the lamp is lit
    assert readiness(car).mil_on


def test_behind_a_worn_catalyst_the_rear_sensor_swings_with_the_front_one() -> None:
    spread = {}
    for faults in ((), ("worn_catalyst",)):
        car = make_car("small", faults=faults)
        drive(car, ((Cue("idle"), 60), (Cue("cruise", 60, 80), 400)))
        seen = []
        for _ in range(200):
            car.advance(car.clock_s + 0.1)
            seen.append(data(car, 0x15)[0] / 200)
        spread[faults] = max(seen) - min(seen)
    assert spread[()] < 0.1
    assert spread["worn_catalyst",] > 0.3


# ---------------------------------------------------------------- secondary air


def test_a_dead_air_pump_is_found_at_the_cold_idle_only_and_a_second_cold_start_lights_the_lamp() -> None:
    car = make_car("estate", faults=["dead_air_pump"])
    first = coach(car, "spark_running_leak", longest_s=1500)
    assert found(first) == {("pending", "P0411")}
    assert "secondary_air" not in completed(first.happened)
    assert stands_at_fault(first)
    car.soak(0.2)
    drive(car, ((Cue("idle"), 120),))
    assert codes(car, "03") == set()  # warm: the pump does not even run
    car.soak(12)
    second = coach(car, "spark_running_leak", longest_s=300)
    assert ("stored", "P0411") in found(second)
    assert stands_at_fault(second)


def test_while_the_air_pump_blows_the_front_sensor_reads_lean_and_the_loop_stays_open() -> None:
    seen = {}
    for faults in ((), ("dead_air_pump",)):
        car = make_car("estate", faults=faults)
        car.start()
        car.advance(60)
        seen[faults] = (data(car, 0x12)[0], data(car, 0x03)[0], data(car, 0x14)[0] / 200)
        car.advance(120)
        assert data(car, 0x12)[0] == 4
    assert seen[()][:2] == seen["dead_air_pump",][:2] == (1, 1)
    assert seen[()][2] < 0.1 < 0.3 < seen["dead_air_pump",][2]


# ---------------------------------------------------------------- diesel


@pytest.mark.parametrize(
    ("name", "fault", "code", "monitor"),
    [
        ("diesel", "cracked_particle_filter", "P2002", "particulate_filter"),
        ("diesel", "clogged_particle_filter", "P2463", "particulate_filter"),
        ("van", "worn_nox_catalyst", "P20EE", "nox_aftertreatment"),
    ],
)
def test_a_fault_behind_the_diesel_is_found_by_its_own_monitor_and_the_rest_goes_on(
    name: str, fault: str, code: str, monitor: str
) -> None:
    coached = coach(make_car(name, faults=[fault]), "light_diesel", longest_s=2500)
    assert found(coached) == {("pending", code)}
    assert {"boost_pressure", "egr_vvt", "exhaust_gas_sensor"} <= set(completed(coached.happened))
    assert monitor not in completed(coached.happened)
    assert stands_at_fault(coached)


def test_the_measured_pressure_and_conversion_follow_the_part() -> None:
    def measured(name: str, what: str, *faults: str) -> float:
        car = make_car(name, faults=faults)
        drive(car, ((Cue("cruise", 65, 80), 500),))
        assert not car.body.regenerating
        return car.body.measured(what)

    sound_kpa = measured("diesel", "filter_pressure_kpa")
    assert measured("diesel", "filter_pressure_kpa", "cracked_particle_filter") < 0.2 * sound_kpa
    assert measured("diesel", "filter_pressure_kpa", "clogged_particle_filter") > sound_kpa + 10
    sound_pct = measured("van", "scr_conversion_pct")
    assert measured("van", "scr_conversion_pct", "worn_nox_catalyst") == pytest.approx(0.3 * sound_pct, abs=3)
    assert measured("van", "scr_conversion_pct", "watered_exhaust_fluid") == pytest.approx(0.25 * sound_pct, abs=3)
