"""Many simulated drives with random faults, gaps and noise: what the program says against what the car reports.

python -m tests.benchmarks.many_drives [drives] [seconds each]. Counts, for every drive: a monitor called complete that
a control unit does not report, "no codes" where a unit has one, an exception. All three must be zero.
"""

import random
import sys
import tempfile
import time
from pathlib import Path

from coach.simulator.cars import CARS, PECULIAR_CARS, make_car
from coach.simulator.simulated_car import TROUBLES
from tests.session.in_process import InProcessSource, Misfortune
from tests.session.test_drive import complete_by_the_car, driven, session


def coded(source: InProcessSource, text: str) -> bool:
    """Whether a control unit had a code when it was asked last."""
    replies = source.truth.get(text, ())
    return any(reply.payload[0] == int(text, 16) + 0x40 and any(reply.payload[1:]) for reply in replies)


def one(number: int, seconds: float, folder: Path) -> tuple[bool, bool]:
    """One drive: whether it falsely said complete, and whether it falsely said that there is no code."""
    rng = random.Random(number)
    names = (*CARS, *PECULIAR_CARS)
    faults = tuple(rng.sample(sorted(TROUBLES), rng.choice((0, 1, 1, 2))))
    car = make_car(names[number % len(names)], faults=faults, seed=number, soaked_h=rng.choice((0.5, 4, 10)))
    trouble = Misfortune(
        rng.choice((0.0, 0.05, 0.2)), rng.choice((0.0, 0.02, 0.1)), rng.choice((None, 60.0, 200.0)), rng.uniform(5, 60)
    )
    drive, source = session(folder / "d.journal", car, None, trouble, number)
    (folder / "d.journal").unlink(missing_ok=True)
    driven(drive, source, seconds)
    if drive.core is None:
        return False, False
    said = {m for m, state in drive.core.monitor_states().items() if state == "complete"}
    clean = {"03": drive.core.car.codes("stored"), "07": drive.core.car.codes("pending")}
    false_clean = any(codes == () and coded(source, text) for text, codes in clean.items())
    return not said <= complete_by_the_car(car), false_clean


def main() -> None:
    """Run them all and print the counts."""
    drives = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    seconds = float(sys.argv[2]) if len(sys.argv) > 2 else 300.0
    began, complete, clean, raised = time.monotonic(), 0, 0, 0
    with tempfile.TemporaryDirectory() as folder:
        for number in range(drives):
            try:
                falsely, falsely_clean = one(number, seconds, Path(folder))
            except Exception as error:
                raised += 1
                print(f"drive {number}: {type(error).__name__}: {error}")
                continue
            complete += falsely
            clean += falsely_clean
            if falsely or falsely_clean:
                print(f"drive {number}: falsely complete {falsely}, falsely clean {falsely_clean}")
    print(f"{drives} drives of {seconds:g} s in {time.monotonic() - began:.0f} s of real time")
    print(f"falsely complete {complete}, falsely no codes {clean}, exceptions {raised}")


if __name__ == "__main__":
    main()
