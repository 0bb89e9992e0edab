"""Where moments come from: a drive on the line, or one of the simulated car. A feed owns its drive; one thread owns it.

Live and simulated differ only in which feed is opened, as everywhere.
"""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from coach.car.happenings import Happening
from coach.session.drive import Drive

if TYPE_CHECKING:
    from coach.session.live import Kept, Wanted
    from coach.session.simulated import SimulatedDrive

STEP_S = 0.1  # real seconds a step waits for something to come in
NIGHT_H = 10.0  # the night of the simulated car
STANDING_S = 12.0  # car's seconds with the key off before the last look; our judgement, as the page tells a user


class Progress:
    """Keeps what a link last said of itself; any thread may tell it."""

    def __init__(self) -> None:
        self.text = ""

    def __call__(self, text: str) -> None:
        """The newest word."""
        self.text = text


class Feed(Protocol):
    """A drive that is stepped. `label` is shown always; empty for the car on the line."""

    label: str
    pace: float
    progress: Progress
    drive: Drive

    def open(self) -> None:
        """Begin. OSError and ValueError say what is in the way."""

    def step(self) -> tuple[Happening, ...]:
        """A moment passes."""

    def go(self) -> None:
        """The wheels may turn."""

    def key_off(self) -> None:
        """The user says the key is off."""

    def may_read(self) -> bool:
        """Whether the key could be turned on again by now."""

    def key_on(self) -> None:
        """The user says the key is on again."""

    def path(self) -> Path | None:
        """Where the drive is written; none before it is."""

    def morning(self) -> "Feed | None":
        """The same car the next morning, where time can be made to pass; else none."""

    def close(self) -> None:
        """Let go of everything."""


class LiveFeed:
    """A drive on the line. `begin` makes it; it is told what to report progress to."""

    def __init__(self, begin: Callable[[Callable[[str], None]], tuple[Drive, "Kept"]], label: str = "") -> None:
        self.label = label
        self.pace = 1.0
        self.progress = Progress()
        self.drive: Drive
        self._begin = begin
        self._kept: Kept | None = None

    def open(self) -> None:
        """Begin."""
        self.drive, self._kept = self._begin(self.progress)
        self.drive.source.start()

    def step(self) -> tuple[Happening, ...]:
        """What came in within a tenth of a second."""
        return self.drive.step(STEP_S)

    def go(self) -> None:
        """Nothing: the driver drives."""

    def key_off(self) -> None:
        """Nothing: the driver turns the key."""

    def may_read(self) -> bool:
        """The user says so."""
        return True

    def key_on(self) -> None:
        """Nothing: the driver turns the key."""

    def path(self) -> Path | None:
        """Where the drive is written."""
        return self._kept.path if self._kept is not None else None

    def morning(self) -> Feed | None:
        """None: nobody can make the night pass."""
        return None

    def close(self) -> None:
        """Close the port, if it was opened."""
        if hasattr(self, "drive"):
            self.drive.source.close()


class SimulatedFeed:
    """A drive of the simulated car, at a pace, with a simulated driver who does what the coach says."""

    def __init__(
        self,
        simulated: "SimulatedDrive",
        began: datetime,
        wanted: "Wanted",
        progress: Progress,
    ) -> None:
        self.pace = simulated.pace
        self.label = f"simulated, {self.pace:g} times real time"
        self.progress = progress
        self.drive: Drive
        self._simulated = simulated
        self._began = began
        self._wanted = wanted
        self._going = False
        self._parking = False
        self._off_t: float | None = None

    def open(self) -> None:
        """Key on."""
        self._simulated.__enter__()
        self.drive = self._simulated.drive
        self._simulated.key_on()

    def step(self) -> tuple[Happening, ...]:
        """The car lives on, the driver looks at the coach."""
        from coach.session.simulated import TICK_S

        self._simulated.live()
        happened = self.drive.step(TICK_S)
        if self._going:
            self._simulated.steer()
        if self._parking and self._off_t is None and not self._simulated.car.ignition_on:
            self._off_t = self._simulated.car.clock_s
            self._simulated.wait()  # else the driver, still standing, would turn the key off again
        return happened

    def go(self) -> None:
        """The simulated driver begins to follow, or goes on after all."""
        self._going, self._parking, self._off_t = True, False, None

    def key_off(self) -> None:
        """The simulated driver stops and turns the key."""
        from coach.session.steering import STAND

        self._going, self._parking = False, True
        self._simulated.follow(STAND)

    def may_read(self) -> bool:
        """Once the simulated car has stood with its key off for a moment."""
        return self._off_t is not None and self._simulated.car.clock_s - self._off_t >= STANDING_S

    def key_on(self) -> None:
        """Key on again, engine off."""
        self._simulated.key_on()

    def path(self) -> Path | None:
        """Where the drive is written."""
        return self._simulated.kept.path

    def morning(self) -> Feed | None:
        """The same car after a night."""
        from coach.session.simulated import SimulatedDrive

        car = self._simulated.car
        later = self._began + timedelta(hours=NIGHT_H, seconds=self.drive.source.now())
        car.soak(NIGHT_H)
        known = {"soak_s": NIGHT_H * 3600, "soak_proof": "the simulated car stood for the night"}
        wanted, progress = replace(self._wanted, known=known), Progress()
        simulated = SimulatedDrive(car, wanted, self.pace, progress, later, seed=2)
        return SimulatedFeed(simulated, later, wanted, progress)

    def close(self) -> None:
        """Close the pseudo-terminal, if it was opened."""
        if hasattr(self, "drive"):
            self._simulated.__exit__()


def simulated_feed(car: str, wanted: "Wanted", pace: float, faults: tuple[str, ...] = (), seed: int = 1) -> Feed:
    """A cold morning of the simulated car; its codes were cleared last night."""
    from coach.session.simulated import SimulatedDrive, evening
    from coach.simulator.cars import make_car

    began = evening().replace(hour=6, minute=40, second=0, microsecond=0)
    known = {"soak_s": NIGHT_H * 3600, "soak_proof": "the simulated car stood for the night"}
    wanted = replace(wanted, known=known)
    made = make_car(car, faults=faults, seed=seed, soaked_h=NIGHT_H)
    progress = Progress()
    return SimulatedFeed(SimulatedDrive(made, wanted, pace, progress, began, seed), began, wanted, progress)


def live_feed(wanted: "Wanted") -> Feed:
    """The car on the line at the port wanted."""

    def begin(progress: Callable[[str], None]) -> tuple[Drive, "Kept"]:
        from coach.session.live import begin as begin_live

        return begin_live(wanted, progress)

    return LiveFeed(begin)


def go_on_feed(path: Path, wanted: "Wanted") -> Feed:
    """A drive that was broken off, gone on with."""

    def begin(progress: Callable[[str], None]) -> tuple[Drive, "Kept"]:
        from coach.session.live import go_on

        return go_on(path, wanted, progress)

    return LiveFeed(begin)
