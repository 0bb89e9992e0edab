"""Two-trip logic, MIL, permanent codes, clearing: rules of 40 CFR 86.010-18(b), (k)(4)(iv), (k)(4)(ix), (k)(5)."""

import pytest

from coach.simulator.cars import CARS, PECULIAR_CARS, make_car
from coach.simulator.driver import Cue
from coach.simulator.fault_memory import FaultMemory
from coach.simulator.simulated_car import SimulatedCar
from tests.simulator.helpers import Stage, codes, data, drive, driven, one_day, payloads, readiness

TO_SENSOR: tuple[Stage, ...] = (
    (Cue("idle"), 90),
    (Cue("cruise", 60, 80), 640),
)
REGULATED: tuple[Stage, ...] = (*TO_SENSOR, (Cue("idle"), 60))


def key_on(car: SimulatedCar) -> SimulatedCar:
    car.key_on()
    car.advance(car.clock_s + 1)
    return car


def number(car: SimulatedCar, pid: int) -> int:
    return int.from_bytes(data(car, pid), "big")


def test_a_fault_is_pending_after_one_driving_cycle_and_stored_with_the_mil_after_the_second() -> None:
    car = make_car("small", faults=["lazy_oxygen_sensor"])
    one_day(car, TO_SENSOR)
    key_on(car)
    assert (codes(car, "03"), codes(car, "07"), codes(car, "0A")) == (set(), {"P0133"}, set())
    assert "oxygen_sensor" in readiness(car).incomplete  # it ran and found a fault: not complete before the second
    one_day(car, TO_SENSOR)
    key_on(car)
    assert (codes(car, "03"), codes(car, "07"), codes(car, "0A")) == ({"P0133"}, {"P0133"}, {"P0133"})
    found = readiness(car)
    assert (found.mil_on, found.code_count) == (True, 1)
    assert "oxygen_sensor" in found.complete  # complete is not passed
    assert payloads(car, "020200")[0][3:] == bytes.fromhex("0133")


def test_a_pending_code_goes_when_the_next_cycle_is_clean_and_stays_when_nothing_looked() -> None:
    memory = FaultMemory(keeps_permanent=True)
    memory.fail("P0133", 1, {})
    memory.end_cycle(True)
    memory.end_cycle(True)
    assert set(memory.pending) == {"P0133"}
    memory.passed("P0133")
    memory.end_cycle(False)
    assert not memory.pending
    assert not memory.stored


def test_three_clean_cycles_put_the_mil_out_and_keep_readiness() -> None:
    car = make_car("small", faults=["lazy_oxygen_sensor"], cleared=False)
    car.repair("lazy_oxygen_sensor")
    for lit in (True, True, False):
        one_day(car, TO_SENSOR)
        key_on(car)
        assert readiness(car).mil_on is lit
    assert codes(car, "03") == codes(car, "0A") == set()
    assert readiness(car).incomplete == frozenset()


def test_a_cycle_in_which_the_monitor_did_not_run_is_not_a_clean_one() -> None:
    memory = FaultMemory(keeps_permanent=True)
    memory.fail("P0133", 1, {})
    memory.end_cycle(True)
    memory.fail("P0133", 2, {})
    memory.end_cycle(True)
    for _ in range(5):
        memory.end_cycle(True)
    assert memory.mil_on
    memory.passed("P0133")
    memory.end_cycle(True)
    assert memory.stored == {"P0133": 1}


def test_clearing_resets_what_it_must_and_leaves_permanent_codes_and_counters() -> None:
    car = make_car("small", faults=["lazy_oxygen_sensor"], cleared=False)
    key_on(car)
    counters = payloads(car, "0908")
    assert number(car, 0x30) > 0
    assert number(car, 0x31) > 0
    assert [reply.payload for reply in car.ask(b"\x04")] == [b"\x44", b"\x44"]
    assert (codes(car, "03"), codes(car, "07"), codes(car, "0A")) == (set(), set(), {"P0133"})
    assert [number(car, pid) for pid in (0x21, 0x30, 0x31, 0x4D, 0x4E)] == [0] * 5
    assert readiness(car).complete == {"misfire", "fuel_system", "comprehensive_component"}
    assert payloads(car, "0908") == counters
    assert payloads(car, "0601")[0][4:] == bytes(6)


def test_clearing_is_refused_while_the_engine_runs() -> None:
    car = make_car("small", cleared=False)
    car.start()
    car.advance(5)
    assert [reply.payload.hex() for reply in car.ask(b"\x04")] == ["7f0422", "7f0422"]
    assert readiness(car).incomplete == frozenset()


def test_a_permanent_code_goes_at_key_off_after_its_monitor_passed_in_a_regulated_drive() -> None:
    car = make_car("small", permanent=["P0135"])
    drive(car, TO_SENSOR[:1])  # the heater passes, the drive is far too short
    assert "oxygen_sensor_heater" in readiness(car).complete
    car.soak(12)
    assert codes(key_on(car), "0A") == {"P0135"}
    drive(car, REGULATED)
    assert car.ecus[0].drive.met
    assert codes(car, "0A") == {"P0135"}  # not before the key is off
    car.key_off()
    assert codes(key_on(car), "0A") == set()


def test_the_older_car_has_no_permanent_codes() -> None:
    car = make_car("estate", faults=["lazy_oxygen_sensor"], cleared=False, permanent=["P0135"])
    key_on(car)
    assert car.ask(b"\x0a") == ()
    assert codes(car, "03") == {"P0133"}


def test_a_leaking_cap_is_found_in_the_night() -> None:
    car = make_car("small", faults=["leaking_filler_cap"])
    one_day(car, ((Cue("idle"), 30), (Cue("cruise", 60, 80), 1030)))
    key_on(car)
    assert (codes(car, "07"), codes(car, "03")) == ({"P0457"}, set())
    assert "evaporative_system" in readiness(car).incomplete


def test_a_thermostat_stuck_open_keeps_the_engine_cool_until_the_car_notices() -> None:
    car = make_car("small", faults=["stuck_open_thermostat"], ambient_c=10)
    drive(car, ((Cue("idle"), 60), (Cue("cruise", 60, 80), 900)))
    assert 40 < car.body.coolant_c < 66
    assert codes(car, "07") == {"P0128"}
    assert {"catalyst", "oxygen_sensor"} <= readiness(car).incomplete
    sound = driven("small", "udds").car
    assert sound.body.coolant_c > 78
    assert codes(sound, "07") == set()


def test_a_weak_generator_keeps_the_heater_test_waiting() -> None:
    car = make_car("small", faults=["weak_battery"])
    drive(car, TO_SENSOR)
    assert 11.4 < car.battery_v < 12.0  # it sinks as it drives
    assert codes(car, "07") == {"P0562"}
    assert "oxygen_sensor_heater" in readiness(car).incomplete


@pytest.mark.parametrize("name", ["small", "diesel"])
def test_a_misfire_under_load_becomes_pending_in_the_drive(name: str) -> None:
    car = make_car(name, faults=["misfire"])
    drive(car, ((Cue("idle"), 20), (Cue("cruise", 80, 100), 120)))
    assert codes(car, "07") == {"P0301"}


def test_a_fault_may_come_in_the_middle_of_a_drive() -> None:
    car = make_car("small")
    drive(car, TO_SENSOR[:1])
    assert codes(car, "07") == set()
    car.inject("misfire")
    drive(car, ((Cue("cruise", 80, 100), 150),))
    assert codes(car, "07") == {"P0301"}


@pytest.mark.parametrize("name", [*CARS, *PECULIAR_CARS])
def test_a_sound_car_never_sets_a_code_over_a_long_drive(name: str) -> None:
    car = make_car(name, ambient_c=-5)
    drive(car, ((Cue("idle"), 60), (Cue("warm_up", 30, 60), 200), (Cue("cruise", 60, 110), 250), (Cue("roll"), 80)))
    assert codes(car, "07") == codes(car, "03") == set()


def test_the_lit_mil_is_counted_in_distance_and_minutes() -> None:
    car = make_car("small", faults=["lazy_oxygen_sensor"], cleared=False)
    drive(car, ((Cue("idle"), 20), (Cue("cruise", 60, 80), 200)))
    assert number(car, 0x21) == int(car.ecus[0].since_clear.mil_km) > 0
    assert number(car, 0x4D) == 3
