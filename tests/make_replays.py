"""Makes the shipped replays: simulated drives, small and packed, with the happenings they gave.

python -m tests.make_replays writes replays/*.journal.gz and *.happenings.json.gz. Nothing in them is real; the VIN is
never asked.
"""

import gzip
import json
from pathlib import Path
from typing import Any

from msgspec import to_builtins

from coach.car.arrivals import Outcome, Request
from coach.car.happenings import Happening
from coach.journal.records import Context, Header
from coach.journal.writer import JournalWriter
from coach.session.drive import Beginning, Drive
from coach.session.live import a_profile
from coach.simulator.cars import make_car
from coach.simulator.driver import Driver
from tests.session.in_process import InProcessSource, Misfortune
from tests.session.test_drive import KNOWN, driven

REPLAYS = Path(__file__).parent.parent / "replays"
DRIVES: dict[str, tuple[str, str, tuple[str, ...], Misfortune, float]] = {
    "small_car_morning_drive": ("small", "spark_engine_off_leak", (), Misfortune(away_every_s=620.0), 2400.0),
    "estate_on_an_old_protocol": ("estate", "spark_running_leak", (), Misfortune(lost=0.01), 2700.0),
    "misfire_comes_back": ("small", "spark_engine_off_leak", ("misfire",), Misfortune(), 1500.0),
}


OLDER: dict[str, dict[str, int]] = {"estate_on_an_old_protocol": {"model_year": 2003}}
"""The user's word where no VIN says that a car is older than permanent codes."""


class WithoutVin(InProcessSource):
    """A replay holds no VIN: the question is never put to the car."""

    def _one(self, ask: Any) -> None:
        if ask.text != "0902":
            super()._one(ask)
            return
        self._ids += 1
        self._pending += [Request(self.now(), self._ids, ask.text), Outcome(self.now(), self._ids, "no_answer", "")]
        self._scheduler.report(ask, self.now(), "no_answer", {})


def make(name: str, folder: Path) -> list[Happening]:
    """One replay; the happenings it gave live."""
    car_name, profile, faults, misfortune, longest_s = DRIVES[name]
    car = make_car(car_name, faults=faults, seed=1)
    source = WithoutVin(car, Driver(car, 1), delay_s=0.3, misfortune=misfortune, seed=1)

    def record(header: Header, context: Context) -> JournalWriter:
        return JournalWriter(folder / f"{name}.journal.gz", header, context, overwrite=True)

    known = {**KNOWN, **({"car": OLDER[name]} if name in OLDER else {})}
    beginning = Beginning("simulated", "replay", None, a_profile, record, profile, known=known)
    return driven(Drive(source, beginning), source, longest_s)


def packed(happenings: list[Happening]) -> bytes:
    """Happenings as JSON lines, packed the same way every time."""
    lines = "\n".join(json.dumps(to_builtins(happening), ensure_ascii=False) for happening in happenings)
    return gzip.compress((lines + "\n").encode(), mtime=0)


def main() -> None:
    """Make them all."""
    for name in DRIVES:
        happenings = make(name, REPLAYS)
        (REPLAYS / f"{name}.happenings.json.gz").write_bytes(packed(happenings))
        print(name, len(happenings), (REPLAYS / f"{name}.journal.gz").stat().st_size)


if __name__ == "__main__":
    main()
