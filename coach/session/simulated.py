"""A drive with the simulated car: adapter dialect on a pseudo-terminal, python-OBD on the path, a driver at the wheel.

The car's own clock is the clock of the drive. It is moved on by `live`, at the chosen pace, so that a slow computer
makes the drive last longer and never makes it jump.
"""

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime

from coach.adapter.source import LiveSource, Patience
from coach.drive.current import current_phase, drives_on
from coach.session.drive import Drive
from coach.session.live import Kept, Wanted, begin
from coach.session.steering import cue_for
from coach.simulator.dialect import Dialect
from coach.simulator.driver import Cue, Driver
from coach.simulator.port import SimulatedPort
from coach.simulator.simulated_car import SimulatedCar
from coach.simulator.vehicle import BusProtocol, Reply

TICK_S = 0.02  # real seconds between two moves of the car; our judgement: short beside the bridges at any sane pace
LONGEST_STEP_S = 1.0  # seconds of the car's time in one move, whatever the pace
PATIENCE = Patience(asleep_s=3600.0)  # the car's clock never runs on by itself, so nothing can have slept


@dataclass(slots=True)
class Standing:
    """The car as the adapter sees it: it answers, and only the driver moves it on."""

    car: SimulatedCar
    bus: BusProtocol = field(init=False)

    def __post_init__(self) -> None:
        self.bus = self.car.bus

    @property
    def ignition_on(self) -> bool:
        """Its ignition."""
        return self.car.ignition_on

    @property
    def battery_v(self) -> float:
        """Its voltage."""
        return self.car.battery_v

    def advance(self, t: float) -> None:
        """Nothing: time is the driver's."""

    def ask(self, request: bytes) -> tuple[Reply, ...]:
        """What the car answers."""
        return self.car.ask(request)


class SimulatedDrive:
    """One drive of the simulated car. Use as a context manager; `live` lets it go on for a moment."""

    def __init__(
        self,
        car: SimulatedCar,
        wanted: Wanted,
        pace: float,
        progress: Callable[[str], None],
        began: datetime | None = None,
        seed: int = 0,
    ) -> None:
        self.car = car
        self.pace = pace
        self.driver = Driver(car, seed)
        self.port = SimulatedPort(Dialect(Standing(car)), clock=lambda: car.clock_s)
        self._wanted = wanted
        self._progress = progress
        self._began = began
        self._moved = time.monotonic()
        self._until_s = car.clock_s
        self.drive: Drive
        self.kept: Kept

    def __enter__(self) -> "SimulatedDrive":
        self.port.open()
        source = LiveSource(
            self.port.name, clock=lambda: self.car.clock_s, patience=PATIENCE, progress=self._progress, pace=self.pace
        )
        self.drive, self.kept = begin(self._wanted, self._progress, source=source, label="simulated", began=self._began)
        source.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.drive.source.close()
        self.port.close()

    def live(self) -> None:
        """Let the car live on by what the pace allows since the last call; while it is read out, at its own pace."""
        now = time.monotonic()
        pace = self.pace if self.drive.state == "driving" and not self.drive.reading else min(self.pace, 1.0)
        step_s = min(LONGEST_STEP_S, (now - self._moved) * pace)
        self._moved = now
        with self.port.lock:
            self._until_s = max(self._until_s, self.car.clock_s) + step_s
            self.driver.advance(self._until_s)

    def steer(self) -> str:
        """Let the driver do what the coach asks; returns the kind of cue."""
        core = self.drive.core
        if core is None or self.drive.state != "driving":
            return "wait"
        plan = core.plan()
        phase = current_phase(core, plan)
        cue = cue_for(core, None if core.stop.ended else phase, drives_on(core, plan) and core.stop.ended is None)
        return self.follow(cue)

    def follow(self, cue: Cue) -> str:
        """Hand the driver a cue."""
        with self.port.lock:
            self.driver.follow(cue)
        return cue.kind

    def wait(self) -> None:
        """The driver stands and leaves the key alone."""
        self.follow(Cue("wait"))

    def key_on(self) -> None:
        """Turn the key on without starting the engine."""
        with self.port.lock:
            self.car.key_on()


def evening() -> datetime:
    """A day and hour for a simulated drive: today, so that its files sort where they belong."""
    return datetime.now(UTC).astimezone()
