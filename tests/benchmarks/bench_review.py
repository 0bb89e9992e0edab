"""Answers per second through reading, decoding, car, trackers and happenings, beside python-OBD and json.loads.

One run prints the ratios: python-OBD's own parsing and decoding of the same replies, bare json.loads of the same lines.
Run: python -m tests.benchmarks.bench_review [hours]
"""

import json
import logging
import sys
import tempfile
import time
import tracemalloc
import warnings
from collections.abc import Callable
from math import sin
from pathlib import Path

from coach.car.arrivals import Answer, Request
from coach.drive.core import make_core
from coach.journal.reader import open_journal
from coach.journal.records import Context, Header
from coach.journal.writer import JournalWriter
from tests.recordings import a_profile

ROUNDS = 5


def replies(hours: float) -> list[tuple[float, int, bytes]]:
    """An invented drive on CAN: eight signals in turn ten times a second, readiness every ten seconds."""
    made = []
    for i in range(int(hours * 36000)):
        t = i / 10
        speed = int(70 + 20 * sin(t / 40))
        kinds = (
            (0x0D, bytes([speed])),
            (0x0C, (speed * 120).to_bytes(2, "big")),
            (0x49, bytes([60 + i % 3])),
            (0x05, bytes([min(130, 60 + i // 60)])),
            (0x0D, bytes([speed])),
            (0x04, bytes([90 + i % 7])),
            (0x0F, bytes([65])),
            (0x10, (1500 + i % 50).to_bytes(2, "big")),
        )
        pid, data = kinds[i % 8] if i % 100 else (0x01, bytes.fromhex("00076505"))
        made.append((t, pid, data))
    return made


def write(path: Path, made: list[tuple[float, int, bytes]]) -> None:
    context = Context(profile={"id": "x", "text": ""})
    with JournalWriter(path, Header(1, "simulated", "0", can=True), context, steady=True) as journal:
        for number, (t, pid, data) in enumerate(made):
            journal.write(Request(t, number, f"01{pid:02X}"))
            journal.write(Answer(t + 0.03, number, "7E8", bytes([0x41, pid]) + data))


def best(work: Callable[[], object]) -> float:
    """Least seconds of some rounds."""
    times = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def whole_way(path: Path) -> None:
    core = make_core(a_profile(), can=True)
    for arrival in open_journal(path).arrivals():
        core.feed(arrival)
    core.finish(core.now)


def bare_json(path: Path) -> None:
    with path.open("rb") as lines:
        for line in lines:
            json.loads(line)


def library(made: list[tuple[float, int, bytes]]) -> Callable[[], None]:
    """python-OBD's frame parsing and its decoders over the same replies, as lines its adapter would give."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import obd
        from obd.protocols import ISO_15765_4_11bit_500k
    logging.getLogger("obd").handlers.clear()
    protocol = ISO_15765_4_11bit_500k(["7E8 06 41 00 BE 3F A8 13"])
    lines = [(pid, f"7E8{2 + len(data):02X}41{pid:02X}{data.hex().upper()}") for _, pid, data in made]
    commands = {pid: obd.commands[1][pid] for pid in {pid for pid, _ in lines}}

    def run() -> None:
        for pid, line in lines:
            commands[pid](protocol([line]))

    return run


def memory(path: Path) -> float:
    """Highest traced memory of a whole pass in MB."""
    tracemalloc.start()
    whole_way(path)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak / 1e6


def main() -> None:
    hours = float(sys.argv[1]) if len(sys.argv) > 1 else 1.0
    made = replies(hours)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "bench.journal"
        write(path, made)
        ours, theirs, bare = best(lambda: whole_way(path)), best(library(made)), best(lambda: bare_json(path))
        print(f"{len(made)} answers, {hours:g} h, {path.stat().st_size / 1e6:.1f} MB of journal")
        for name, seconds in (("the whole way", ours), ("python-OBD parse and decode", theirs), ("json.loads", bare)):
            print(f"{name:<30} {len(made) / seconds:>10.0f} answers/s")
        print(f"the whole way against python-OBD's parsing and decoding alone: {theirs / ours:.2f} times its rate")
        print(f"the whole way against bare json.loads of the same lines:       {bare / ours:.2f} times its rate")
        long_path = Path(folder) / "long.journal"
        write(long_path, replies(hours * 10))
        print(f"highest memory {memory(path):.1f} MB for {hours:g} h, {memory(long_path):.1f} MB for {hours * 10:g} h")


if __name__ == "__main__":
    main()
