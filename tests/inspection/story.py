"""The story's car, cleared through python-OBD on a pseudo-terminal and driven in-process, all of it into a job."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType

from coach.adapter.wire import Deadlines
from coach.car.arrivals import Answer, Arrival, LinkChange, Request
from coach.jobs.records import Kind
from coach.jobs.store import Job
from coach.journal.records import Context, Header
from coach.journal.writer import JournalWriter
from coach.session.clear import Cleared, Loss, Wanted, clear
from coach.session.questions import readout
from coach.session.simulated import Standing
from coach.simulator.answers import is_can
from coach.simulator.dialect import Dialect
from coach.simulator.port import SimulatedPort
from coach.simulator.simulated_car import SimulatedCar
from tests.recordings import a_profile
from tests.simulator.coached import Coached

QUICK = Deadlines(query_s=0.5, pending_s=1.0, search_s=2.0, dead_s=1.0, setup_s=0.5, baud_s=0.05, quiet_s=0.005)
THURSDAY = datetime(2026, 11, 19, 18, 0, tzinfo=UTC)


def cleared(
    car: SimulatedCar, job: Job, typed: str = "clear", seen: Callable[[Loss], None] = lambda _: None
) -> Cleared:
    """`coach clear` on this car, the user typing this word."""

    def confirm(loss: Loss) -> str:
        seen(loss)
        return typed

    with SimulatedPort(Dialect(Standing(car)), clock=lambda: car.clock_s) as port:
        wanted = Wanted(
            port.name,
            lambda kind: job.new_file(kind, THURSDAY),
            protocol="6",
            label="simulated",
            deadlines=QUICK,
            settle_s=0.0,
            now=lambda: THURSDAY,
        )
        return clear(wanted, confirm, lambda _: None)


@dataclass
class Recorded(Coached):
    """A coached drive whose arrivals are written to a journal as well. Use as a context manager."""

    path: Path = Path()
    began: str = ""

    def __post_init__(self) -> None:
        header = Header(1, "simulated", "test", self.began, "simulated", "ISO 15765-4", is_can(self.car.bus))
        self.journal = JournalWriter(self.path, header, Context(), overwrite=True)
        self._first_t = self.car.clock_s
        super().__post_init__()

    def __enter__(self) -> "Recorded":
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.journal.close("done" if kind is None else "interrupted")

    def feed(self, arrival: Request | Answer | LinkChange) -> None:
        """Times count from the drive's beginning."""
        t = round(arrival.t - self._first_t, 3)
        dated: Arrival = type(arrival)(**{**{n: getattr(arrival, n) for n in arrival.__struct_fields__}, "t": t})
        self.journal.write(dated)
        self.happened.extend(self.core.feed(dated))

    def read_out(self) -> None:
        """Key on, engine off: a whole read-out."""
        self.car.key_on()
        self.car.advance(self.car.clock_s + 2)
        for text in readout(self.core.car):
            if text != "ATRV":
                self.ask(text)


def read(car: SimulatedCar, job: Job, kind: Kind, began: datetime) -> None:
    """Key on, a whole read-out into the job, key off."""
    with Recorded(car, a_profile(), path=job.new_file(kind, began), began=began.isoformat()) as asked:
        asked.read_out()
    car.key_off()


def drive(car: SimulatedCar, job: Job, began: datetime, target: tuple[str, ...] | None = None) -> Recorded:
    """A coached drive after a cold night into the job, with the read-out behind it."""
    with Recorded(car, a_profile(), path=job.new_file("drive", began), began=began.isoformat()) as coached:
        coached.core.learn({"soak_s": 10 * 3600.0, "soak_proof": "test"})
        coached.core.wanted.target = target
        coached.drive(seed=3, longest_s=4200)
        car.advance(car.clock_s + 5)
        coached.read_out()
    car.key_off()
    return coached
