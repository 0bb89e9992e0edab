"""`coach simulate`: serves a simulated car on a pseudo-terminal, for any client that speaks to adapters."""

import argparse
import csv
import io
import time
from math import isfinite
from pathlib import Path
from typing import Any

from coach.cli.exits import DONE
from coach.ordinary import small_text

PROTOCOLS = (
    *("j1850_pwm", "j1850_vpw", "iso_9141", "kwp_slow", "kwp_fast"),
    *("can_11_500", "can_29_500", "can_11_250", "can_29_250"),
)
CARS = "small, estate, hybrid, diesel, hatch, coupe, roadster, plug_in, van"
FAULTS = (
    "lazy_oxygen_sensor, leaking_filler_cap, stuck_open_thermostat, missing_thermostat, weak_battery, misfire, "
    "open_sensor_heater, worn_catalyst, dead_air_pump, cracked_particle_filter, clogged_particle_filter, "
    "worn_nox_catalyst, watered_exhaust_fluid"
)
CIRCUMSTANCES = (
    "high_altitude, undamped_fuel_sender, just_refuelled, hot_winter_fuel, speed_holder, pto, frozen_exhaust_fluid, "
    "sooty_filter, held_charge"
)
TICK_S = 0.02


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """The command's arguments."""
    parser = commands.add_parser(
        "simulate",
        help="serve a simulated car on a pseudo-terminal",
        description="Serves a simulated car behind a simulated adapter and prints the port. Ctrl-C ends it.",
        epilog="example: coach simulate --car estate --delay-ms 80 --drive-schedule udds.csv",
    )
    parser.add_argument("--car", default="small", metavar="NAME", help=CARS)
    parser.add_argument(
        "--fault",
        action="append",
        default=[],
        metavar="NAME",
        help=f"may be repeated; what is broken: {FAULTS}; or what nobody has to mend: {CIRCUMSTANCES}",
    )
    parser.add_argument(
        "--stored", action="store_true", help="its faults were found: codes stored, MIL on, all complete"
    )
    parser.add_argument("--mended", action="store_true", help="the same, and the parts were replaced just now")
    parser.add_argument("--delay-ms", type=float, default=30.0, metavar="N", help="what a request takes (default 30)")
    parser.add_argument("--drop", type=float, default=0.0, metavar="SHARE", help="lines that get lost, 0 to 1")
    parser.add_argument("--noise", type=float, default=0.0, metavar="SHARE", help="lines that get spoiled, 0 to 1")
    parser.add_argument("--protocol", choices=PROTOCOLS, metavar="NAME", help=", ".join(PROTOCOLS))
    parser.add_argument("--pace", type=float, default=1.0, metavar="N", help="times real time (default 1)")
    parser.add_argument("--seed", type=int, default=0, metavar="N")
    parser.add_argument("--drive-schedule", type=Path, metavar="CSV", help="drive time_s,speed_kmh from a file")
    parser.add_argument("--idle", action="store_true", help="start the engine and let it idle; else only the key is on")
    parser.set_defaults(command=run)


def run(arguments: argparse.Namespace) -> int:
    """Serve until Ctrl-C."""
    from coach.cli.common import checked_pace
    from coach.simulator.cars import make_car
    from coach.simulator.dialect import Dialect, Trouble
    from coach.simulator.driver import Cue, Driver, ScheduleDriver
    from coach.simulator.faults import FAULTS as BROKEN
    from coach.simulator.port import SimulatedPort

    pace = checked_pace(arguments.pace)
    for share in (arguments.drop, arguments.noise):
        if not 0 <= share <= 1:
            raise ValueError("--drop and --noise are shares between 0 and 1")
    if not 0 <= arguments.delay_ms <= 5000:
        raise ValueError("--delay-ms is between 0 and 5000")
    faults, stored = tuple(arguments.fault), arguments.stored or arguments.mended
    car = make_car(arguments.car, faults=faults, seed=arguments.seed, bus=arguments.protocol, cleared=not stored)
    for fault in BROKEN.keys() & set(faults) if arguments.mended else ():
        car.repair(fault)
    car.key_on()
    driver: Any = Driver(car, arguments.seed)
    driver.follow(Cue("idle" if arguments.idle else "wait"))
    if arguments.drive_schedule is not None:
        driver = ScheduleDriver(car, schedule(arguments.drive_schedule))
    trouble = Trouble(delay_s=arguments.delay_ms / 1000, drop_rate=arguments.drop, noise_rate=arguments.noise)
    with SimulatedPort(Dialect(_still(car), trouble, arguments.seed), clock=lambda: car.clock_s) as port:
        print(f"SIMULATED car {arguments.car} on {port.name}", flush=True)
        print(f"  for example: coach check --port {port.name}", flush=True)
        try:
            _serve(car, driver, port, pace)
        except KeyboardInterrupt:
            return DONE
    return DONE


def _still(car: Any) -> Any:
    from coach.session.simulated import Standing

    return Standing(car)


def _serve(car: Any, driver: Any, port: Any, pace: float) -> None:
    moved, until_s = time.monotonic(), car.clock_s
    while port.failure is None:
        time.sleep(TICK_S)
        now = time.monotonic()
        until_s += min(1.0, (now - moved) * pace)
        with port.lock:
            driver.advance(until_s)
        moved = now


def _figure(cell: str) -> float:
    if not isfinite(value := float(cell)):
        raise ValueError(f"{cell} is no figure")
    return value


def schedule(path: Path) -> list[tuple[float, float]]:
    """Rows of a speed schedule: time_s, speed_kmh, with a header. ValueError that names the line otherwise."""
    try:
        rows = list(csv.reader(io.StringIO(small_text(path), newline="")))
    except csv.Error as error:
        raise ValueError(f"{path}: no schedule: {error}") from None
    found = []
    for number, row in enumerate(rows[1:], start=2):
        try:
            found.append((_figure(row[0]), _figure(row[1])))
        except (ValueError, IndexError):
            raise ValueError(f"{path}: line {number} is not time_s,speed_kmh") from None
    if len(found) < 2:
        raise ValueError(f"{path}: a schedule needs a header and two rows or more")
    return found
