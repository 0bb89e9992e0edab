"""What the simulator's tests share: schedules, drives by cue, and reading a car as a tester would."""

import csv
import time
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from coach.j1979.dtc import decode_codes
from coach.j1979.pids import split_current_data
from coach.j1979.readiness import CycleStatus, Readiness, decode_cycle_status, decode_readiness
from coach.simulator.answers import is_can
from coach.simulator.cars import make_car
from coach.simulator.driver import Cue, Driver, ScheduleDriver
from coach.simulator.simulated_car import SimulatedCar

SCHEDULES = Path(__file__).parent.parent / "reference" / "schedules"

Stage = tuple[Cue, float]

SPARK_DRIVE: tuple[Stage, ...] = (
    (Cue("idle"), 130),
    (Cue("warm_up", 40, 70), 420),
    (Cue("cruise", 62, 80), 380),
    (Cue("cruise", 80, 100), 700),
    (Cue("roll", 60, 95), 200),
    (Cue("idle"), 60),
)
"""Some half an hour that suits a spark car; seconds stand behind each cue."""


def schedule(name: str) -> list[tuple[float, float]]:
    """Rows (t_s, speed_kmh) of a published schedule."""
    with (SCHEDULES / f"{name}.csv").open() as lines:
        return [(float(row["time_s"]), float(row["speed_kmh"])) for row in csv.DictReader(lines)]


def drive_schedule(car: SimulatedCar, name: str) -> ScheduleDriver:
    """Drive a whole published schedule, engine start included."""
    driver = ScheduleDriver(car, schedule(name))
    driver.advance(driver.end_s)
    return driver


@dataclass(frozen=True)
class Driven:
    """What came of a car driven over a schedule from a cold start. Do not move its car any further."""

    car: SimulatedCar
    distance_km: float
    worst_kmh: float
    to_70_s: float
    pace: float
    """Times faster than real time."""


@lru_cache
def driven(name: str, schedule_name: str, ambient_c: float = 22.0) -> Driven:
    """The same drive for all tests that only look at its end."""
    car = make_car(name, ambient_c=ambient_c)
    car.switch_start_stop(False)
    begin_km, begin, reached = car.body.odometer_km, time.perf_counter(), float("inf")
    driver = ScheduleDriver(car, schedule(schedule_name))
    while car.clock_s < driver.end_s:
        driver.advance(car.clock_s + 5)
        if car.body.coolant_c >= 70:
            reached = min(reached, car.clock_s)
    pace = (driver.end_s - driver.begin_s) / (time.perf_counter() - begin)
    return Driven(car, car.body.odometer_km - begin_km, driver.worst_kmh, reached, pace)


def drive(car: SimulatedCar, stages: Iterable[Stage] = SPARK_DRIVE, seed: int = 1) -> Driver:
    """Follow cues, each for its seconds; the key stays on."""
    driver = Driver(car, seed)
    for cue, seconds in stages:
        driver.follow(cue)
        driver.advance(car.clock_s + seconds)
    return driver


def one_day(car: SimulatedCar, stages: Iterable[Stage] = SPARK_DRIVE, night_h: float = 12.0, seed: int = 1) -> None:
    """A drive, key off, a night."""
    drive(car, stages, seed)
    car.soak(night_h)


def payloads(car: SimulatedCar, request: str, ecu: int = 0) -> list[bytes]:
    """What one unit answers."""
    address = car.address(car.ecus[ecu])
    return [reply.payload for reply in car.ask(bytes.fromhex(request)) if reply.ecu == address]


def codes(car: SimulatedCar, service: str) -> set[str]:
    """Codes of service 03, 07 or 0A of all units."""
    found: set[str] = set()
    for reply in car.ask(bytes.fromhex(service)):
        found.update(decode_codes(reply.payload, is_can(car.bus)))
    return found


def data(car: SimulatedCar, pid: int, ecu: int = 0) -> bytes:
    """The data bytes of one PID."""
    (payload,) = payloads(car, f"01{pid:02X}", ecu)
    ((_, found),) = split_current_data(payload, (pid,))
    return found


def readiness(car: SimulatedCar, ecu: int = 0) -> Readiness:
    """PID 01 decoded."""
    return decode_readiness(data(car, 0x01, ecu))


def cycle_status(car: SimulatedCar) -> CycleStatus:
    """PID 41 decoded."""
    return decode_cycle_status(data(car, 0x41))
