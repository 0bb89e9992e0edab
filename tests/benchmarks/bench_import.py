"""Frames per second of importing a capture beside python-can's own reader over the same file, in one run.

Two buses: a car's, with a twentieth of its frames diagnostics, and one behind a gateway that shows diagnostics only.
Run: python -m tests.benchmarks.bench_import [frames]
     python -m tests.benchmarks.bench_import memory MEGABYTES FOLDER
"""

import random
import resource
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import can

from coach.importer.imported import open_import

ROUNDS = 5
ENGINES: dict[str, tuple[Callable[[Path], object], Callable[[Path], object]]] = {
    "candump": (can.CanutilsLogWriter, can.CanutilsLogReader),
    "asc": (can.ASCWriter, can.ASCReader),
    "trc": (can.TRCWriter, can.TRCReader),
    "blf": (can.BLFWriter, can.BLFReader),
}
SIGNALS = (0x0D, 0x0C, 0x49, 0x05, 0x11, 0x04, 0x0F, 0x10)
LONG = (0x0C, 0x10)
"""Signals of two bytes."""


def frames(count: int, every: int) -> Iterator[can.Message]:
    """An invented bus: each `every`-th frame is a question or its answer, the rest is the car's own traffic."""
    rng, t = random.Random(1), 1.7e9
    for i in range(count):
        t += 0.0004 if every > 1 else 0.012
        if i % every:
            yield can.Message(
                timestamp=t, arbitration_id=rng.randrange(0x100, 0x600), is_extended_id=False, data=rng.randbytes(8)
            )
            continue
        turn, answers = divmod(i // every, 2)
        pid = SIGNALS[turn % len(SIGNALS)]
        payload = bytes([0x41, pid]) + rng.randbytes(2 if pid in LONG else 1) if answers else bytes([1, pid])
        yield can.Message(
            timestamp=t,
            arbitration_id=0x7E8 if answers else 0x7DF,
            is_extended_id=False,
            data=(bytes([len(payload)]) + payload).ljust(8, b"\0"),
        )


def seconds(*works: Callable[[], object]) -> list[float]:
    """Least processor time of each over some rounds in turn: the machine may be shared, and its pace change."""
    best = [float("inf")] * len(works)
    for _ in range(ROUNDS):
        for i, work in enumerate(works):
            began = time.process_time()
            work()
            best[i] = min(best[i], time.process_time() - began)
    return best


def exhaust(items: object) -> None:
    """Read everything there is."""
    for _ in items:  # type: ignore[attr-defined]
        pass


def compare(count: int) -> None:
    """Print both rates and their ratio for every format and both buses."""
    with tempfile.TemporaryDirectory() as folder:
        for bus, every in (("a car's bus", 20), ("diagnostics only", 1)):
            for kind, (make, reader) in ENGINES.items():
                path = Path(folder) / f"x.{kind}"
                writer = make(path)
                for message in frames(count, every):
                    writer.on_message_received(message)  # type: ignore[attr-defined]
                writer.stop()  # type: ignore[attr-defined]
                theirs, ours = seconds(
                    lambda path=path, reader=reader: exhaust(reader(path)),  # type: ignore[misc]
                    lambda path=path: exhaust(open_import(path).arrivals()),  # type: ignore[misc]
                )
                print(
                    f"{bus:<17} {kind:<8} python-can {count / theirs:9,.0f} frames/s"
                    f"   import {count / ours:9,.0f} frames/s   ratio {theirs / ours:.2f}"
                )


def memory(megabytes: int, folder: Path) -> None:
    """Import a capture of this size and print the highest memory; the file stays, to be used again."""
    path = folder / f"big{megabytes}.log"
    if not path.exists():
        part = folder / "part.log"
        writer = can.CanutilsLogWriter(part)
        for message in frames(200_000, 20):
            writer.on_message_received(message)
        writer.stop()
        lines = part.read_bytes()
        with path.open("wb") as out:
            while out.tell() < megabytes << 20:
                out.write(lines)
        part.unlink()
    began = time.perf_counter()
    found = open_import(path)
    count = sum(1 for _ in found.arrivals())
    took_s = time.perf_counter() - began
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    size = path.stat().st_size >> 20
    print(f"{size} MB, {found.report.frames:,} frames, {count:,} arrivals in {took_s:.0f} s; peak {peak:.0f} MB")  # type: ignore[union-attr]


if __name__ == "__main__":
    if sys.argv[1:2] == ["memory"]:
        memory(int(sys.argv[2]), Path(sys.argv[3]))
    else:
        compare(int(sys.argv[1]) if len(sys.argv) > 1 else 100_000)
