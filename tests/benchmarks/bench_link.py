"""Readings a second over a simulated adapter: our link and scheduler beside python-OBD asking one by one, in one run.

`python -m tests.benchmarks.bench_link [seconds]`. Both get the same adapter, the same eight signals and the same delay
per request; python-OBD runs with `fast=False`, its own decoders and no pause. Exits 1 when a target is missed: three
times the readings on CAN, not slower before CAN, no signal starved.
"""

import logging
import sys
import time
from statistics import median

from coach.adapter.link import connect
from coach.adapter.scheduler import Scheduler, answered_lengths
from coach.simulator.dialect import Dialect, Trouble
from coach.simulator.port import SimulatedPort
from tests.adapter.cars import EIGHT, ScriptedCar, can_car, old_car

DELAYS_MS = (10, 30, 80)  # the issue's
ROUNDS = 3
TARGET_CAN, TARGET_BEFORE_CAN = 3.0, 0.97  # 0.97: equal within the scatter of one run


def ours(name: str, seconds: float) -> tuple[float, float]:
    """Readings a second and the worst age of any signal in seconds, first answers left out."""
    link = connect(name, protocol=None)
    scheduler = Scheduler(link.can)
    scheduler.want(dict.fromkeys(EIGHT, 0.02), 0.0)
    began = time.monotonic()
    heard: dict[str, float] = {}
    count, worst_s = 0, 0.0
    while (t := time.monotonic() - began) < seconds:
        ask = scheduler.next(t)
        if ask is None:
            time.sleep(min(0.005, scheduler.wait_s(t) or 0.0))
            continue
        exchange = link.ask(ask.text)
        now = time.monotonic() - began
        lengths = answered_lengths(ask, exchange.good)
        scheduler.report(ask, now, exchange.outcome, lengths)
        for text in lengths:
            count += 1
            worst_s = max(worst_s, now - heard.get(text, now))
            heard[text] = now
    link.close()
    missing = set(EIGHT) - set(heard)
    assert not missing, f"never heard: {missing}"
    return count / seconds, worst_s


def one_by_one(name: str, seconds: float) -> tuple[float, float]:
    """The same figures for python-OBD."""
    import obd

    logging.getLogger("obd").handlers.clear()
    connection = obd.OBD(name, fast=False, check_voltage=False)
    commands = [obd.commands[1][int(text[2:], 16)] for text in EIGHT]
    began = time.monotonic()
    heard: dict[str, float] = {}
    count, worst_s, at = 0, 0.0, 0
    while time.monotonic() - began < seconds:
        command = commands[at % len(commands)]
        response = connection.query(command, force=True)
        now = time.monotonic() - began
        if not response.is_null():
            count += 1
            worst_s = max(worst_s, now - heard.get(command.name, now))
            heard[command.name] = now
        at += 1
    connection.close()
    return count / seconds, worst_s


def measure(car: ScriptedCar, delay_ms: int, seconds: float) -> float:
    """Print one line; returns the ratio of the medians."""
    mine, theirs = [], []
    for _ in range(ROUNDS):
        for rates, run in ((theirs, one_by_one), (mine, ours)):
            with SimulatedPort(Dialect(car, Trouble(delay_s=delay_ms / 1000))) as port:
                rates.append(run(port.name, seconds))
    own, other = median(rate for rate, _ in mine), median(rate for rate, _ in theirs)
    print(
        f"{car.bus:12} {delay_ms:3} ms  ours {own:7.1f}/s, worst age {max(age for _, age in mine):5.2f} s   "
        f"one by one {other:6.1f}/s, {max(age for _, age in theirs):5.2f} s   ratio {own / other:4.2f}"
    )
    return own / other


def main() -> int:
    """Run all of it."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 4.0
    failed = False
    for make, target in ((can_car, TARGET_CAN), (old_car, TARGET_BEFORE_CAN)):
        for delay_ms in DELAYS_MS:
            failed |= measure(make(), delay_ms, seconds) < target
    print("a target was missed" if failed else f"targets met: {TARGET_CAN} on CAN, {TARGET_BEFORE_CAN} before it")
    return int(failed)


if __name__ == "__main__":
    sys.exit(main())
