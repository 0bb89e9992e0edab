"""Every screen, held still at a moment of which the picture is always the same: for kept pages and for pictures.

A scene is a first screen and what is done on it. The drives are the shipped replays and the one recorded for the tests.
"""

import gzip
import re
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from textual.pilot import Pilot
from textual.screen import Screen

from coach.car.arrivals import Answer
from coach.drive.happenings import CoachingEnded
from coach.jobs.store import Job, JobStore
from coach.library import shipped
from coach.screen.app import CoachApp
from coach.screen.chosen import Chosen
from coach.screen.drive import DriveScreen
from coach.screen.job import JobScreen
from coach.screen.keys import CheckScreen
from coach.screen.page import DrivePage
from coach.screen.review import ReviewScreen
from coach.screen.speech import Voice
from coach.screen.start import StartScreen
from coach.session.review import open_recording, review
from coach.words.readout import ReadOut, readout_page
from coach.words.units import Units
from tests.screen.cars import CarFeed, StillFeed, at, until
from tests.screen.with_code import with_code

US = Units(us=True)
ADAPTER = (("/dev/rfcomm0", "Bluetooth serial"),)
WRITTEN = Path("drives/drive-2026-11-25-0640.journal")
"""Where an ended drive says it is; the folder of a test has another name every time."""
Steps = Callable[[Pilot[Any]], Awaitable[None]]


@dataclass(frozen=True)
class Scene:
    """A first screen, what is done on it, and what the app has chosen."""

    first: Screen[None]
    steps: Steps
    chosen: Chosen


async def nothing(pilot: Pilot[Any]) -> None:
    await pilot.pause()


def _replay(name: str) -> Path:
    return shipped("replays") / f"{name}.journal.gz"


def _quiet(feed: CarFeed, alone: bool = False) -> DriveScreen:
    return DriveScreen(feed, US, voice=Voice(lambda name: None), alone=alone, reader=lambda: 0.0)


def _drive(folder: Path, recorded: Path, t: float, press: tuple[str, ...] = (), **how: Any) -> Scene:
    """A drive as it stood at `t`; `press` afterwards."""
    alone, kind = how.pop("alone", False), how.pop("kind", "phase")
    feed = StillFeed(folder, recorded, t, label="" if alone else "simulated", **how)
    screen = _quiet(feed, alone)

    async def steps(pilot: Pilot[Any]) -> None:
        await until(pilot, lambda: screen.stage == "before")
        _driven_so_far(screen, recorded)
        await pilot.press("enter")
        await until(pilot, lambda: screen.moment is not None and screen.stage == "driving")
        assert screen.moment is not None and screen.moment.seen is not None
        assert screen.moment.seen.kind == kind
        await pilot.press(*press)

    return Scene(screen, steps, Chosen(us=True, folder=folder))


def _driven_so_far(screen: DriveScreen, recorded: Path) -> None:
    """The last minutes of speed, as if it had been driven on this screen."""
    speeds = [reading for reading in _speeds(recorded) if reading[0] < screen.pump.feed.drive.source.now() - 1]
    trailing = screen.pump._trailing
    for second, kmh in speeds:
        trailing._kept.append((second, trailing.shown(kmh)))


def _speeds(recorded: Path) -> list[tuple[float, float]]:
    """(second, km/h) from the answers to PID 0D, whose one byte is the speed (SAE J1979)."""
    arrivals = open_recording(recorded).arrivals()
    answers = (a for a in arrivals if isinstance(a, Answer) and a.payload[:2] == b"\x41\x0d")
    return list({float(int(a.t)): float(a.payload[2]) for a in answers}.items())


def _before(folder: Path, _recorded: Path, alone: bool = False, car: str = "small") -> Scene:
    feed = CarFeed(folder, car=car, label="simulated")
    feed.hold = at(0.0)
    screen = _quiet(feed, alone)

    async def steps(pilot: Pilot[Any]) -> None:
        await until(pilot, lambda: screen.stage == "before")
        seen = screen.moment  # what was posted while it was still being read out goes by first
        await until(pilot, lambda: screen.moment is not seen and screen.moment is not None and not screen.moment.asks)

    return Scene(screen, steps, Chosen(us=True, folder=folder))


def _ended(folder: Path, recorded: Path) -> Scene:
    feed = StillFeed(folder, recorded, 1e9, label="simulated")
    feed.path = lambda: WRITTEN  # type: ignore[method-assign]
    screen = _quiet(feed)

    async def steps(pilot: Pilot[Any]) -> None:
        await until(pilot, lambda: screen.stage == "before")
        screen.pump.finish("done")
        await until(pilot, lambda: screen.stage == "ended")

    return Scene(screen, steps, Chosen(us=True, folder=folder))


def _recording(folder: Path, recorded: Path, t: float, press: tuple[str, ...] = ()) -> Scene:
    screen = ReviewScreen(recorded)

    async def steps(pilot: Pilot[Any]) -> None:
        await until(pilot, lambda: screen.scrub is not None)
        screen.go_to(t)
        await pilot.press(*press)

    return Scene(screen, steps, Chosen(us=True, folder=folder))


def _job(folder: Path) -> Job:
    when = datetime.fromisoformat("2026-11-25T06:40:00+00:00")
    job = JobStore(folder).new(when, ("P0135",), "front oxygen sensor")
    job.new_file("drive", when).write_bytes(gzip.decompress(_replay("small_car_morning_drive").read_bytes()))
    return job.again()


def _start(folder: Path, _recorded: Path, ports: tuple[tuple[str, str], ...] = ADAPTER, empty: bool = False) -> Scene:
    if not empty:
        _job(folder)
        (folder / "drives").mkdir(exist_ok=True)
        (folder / WRITTEN).write_bytes(gzip.decompress(_replay("misfire_comes_back").read_bytes()))
    chosen = Chosen(folder=folder)
    return Scene(StartScreen(chosen, lambda: ports), nothing, chosen)


def _the_job(folder: Path, _recorded: Path) -> Scene:
    chosen = Chosen(us=True, folder=folder)
    screen = JobScreen(_job(folder), chosen, lambda: ADAPTER)
    return Scene(screen, lambda pilot: until(pilot, lambda: screen.seen is not None), chosen)


def _check(folder: Path, recorded: Path) -> Scene:
    core = review(recorded).core
    found = ReadOut(core.car, "simulated", "simulated", "ISO 15765-4", "2026-11-25T06:40:00+00:00", 12.6)
    return Scene(CheckScreen(readout_page(found, US, show_vin=False)), nothing, Chosen(us=True, folder=folder))


def _stop(folder: Path, _recorded: Path) -> Scene:
    path = _replay("misfire_comes_back")
    ended = next(h for h in review(path).happenings if isinstance(h, CoachingEnded))
    return _drive(folder, path, ended.t + 2.0, kind="stop")


def _coded(folder: Path, t: float, kind: str = "phase", press: tuple[str, ...] = (), **how: Any) -> Scene:
    """The morning drive as if P0128 had stood from the beginning."""
    return _drive(folder, with_code(_replay(MORNING), folder), t, press, kind=kind, **how)


def _before_coded(folder: Path, recorded: Path) -> Scene:
    """The page before a driving cycle without the fault."""
    feed = StillFeed(folder, with_code(_replay(MORNING), folder), 45.0, label="simulated", known=CLEAN)
    screen = _quiet(feed)
    return Scene(screen, lambda pilot: until(pilot, lambda: screen.stage == "before"), Chosen(us=True, folder=folder))


CLEAN = {"clean_cycles": {"chosen": True, "counted": {"P0128": 1}}}
RULE = {"rule": {"id": "of-the-test", "name": "A rule of the test", "refuses": []}}
MORNING = "small_car_morning_drive"
SCENES: dict[str, Callable[[Path, Path], Scene]] = {
    "start": _start,
    "start-empty": lambda folder, recorded: _start(folder, recorded, (), empty=True),
    "job": _the_job,
    "before": _before,
    "before-alone": lambda folder, recorded: _before(folder, recorded, alone=True),
    "idle": lambda folder, _: _drive(folder, _replay(MORNING), 100.0),
    "warm-up": lambda folder, _: _drive(folder, _replay(MORNING), 300.0),
    "cruise": lambda folder, _: _drive(folder, _replay(MORNING), 700.0),
    "rolls": lambda folder, _: _drive(folder, _replay(MORNING), 800.0),
    "broken": lambda folder, _: _drive(folder, _replay("estate_on_an_old_protocol"), 945.9),
    "still-counts": lambda folder, recorded: _recording(folder, recorded, 998.6),
    "link-lost": lambda folder, _: _drive(folder, _replay(MORNING), 700.0, away_s=40.0),
    "alone": lambda folder, _: _drive(folder, _replay(MORNING), 700.0, alone=True),
    "stop": _stop,
    "may-stop": lambda folder, _: _drive(folder, _replay(MORNING), 600.0, target=["oxygen_sensor_heater"], kind="done"),
    "let-go": lambda folder, _: _drive(
        folder, _replay(MORNING), 1e9, target=["catalyst", "oxygen_sensor"], known=RULE, kind="done"
    ),
    "codes": lambda folder, _: _coded(folder, 700.0),
    "codes-stand": lambda folder, _: _coded(folder, 1e9, "barred", target=["catalyst", "oxygen_sensor"]),
    "before-clean": _before_coded,
    "clean-cycle": lambda folder, _: _coded(folder, 450.0, "cycle", known=CLEAN),
    "clean-driven": lambda folder, _: _coded(folder, 1e9, "barred", known=CLEAN),
    "until-tomorrow": lambda folder, _: _drive(folder, _replay(MORNING), 1e9, kind="nothing"),
    "fuel": lambda folder, _: _drive(folder, _replay("estate_on_an_old_protocol"), 60.0, press=("g", "6")),
    "key-off": lambda folder, _: _drive(folder, _replay(MORNING), 700.0, press=("e",)),
    "ended": lambda folder, recorded: _ended(folder, _replay(MORNING)),
    "help": lambda folder, _: _drive(folder, _replay(MORNING), 700.0, press=("question_mark",)),
    "palette": lambda folder, _: _drive(folder, _replay(MORNING), 700.0, press=("ctrl+p",)),
    "check": lambda folder, _: _check(folder, _replay("misfire_comes_back")),
    "review": lambda folder, _: _recording(folder, _replay(MORNING), 966.7),
    "plots": lambda folder, _: _recording(folder, _replay(MORNING), 966.7, press=("t",)),
    "summary": lambda folder, _: _recording(folder, _replay(MORNING), 966.7, press=("r",)),
    "jump": lambda folder, _: _recording(folder, _replay(MORNING), 966.7, press=("g", "1", "2")),
}
"""All screens by name; pictures are made of every one, pages are kept of those in `test_pages.py`."""


@asynccontextmanager
async def shown(
    name: str, folder: Path, recorded: Path, size: tuple[int, int], look: str = "dark"
) -> AsyncIterator[tuple[CoachApp, Pilot[Any]]]:
    """A scene on a terminal of this size, in this look, held still."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(DrivePage, "_look_at_clock", lambda page: None)
        scene = SCENES[name](folder, recorded)
        app = CoachApp(scene.first, look=look, chosen=scene.chosen)
        async with app.run_test(size=size) as pilot:
            await scene.steps(pilot)
            await pilot.pause()
            yield app, pilot


def picture(app: CoachApp) -> str:
    """The screen as SVG, without what differs from run to run, and without fonts from the network."""
    svg = re.sub(r"@font-face \{.*?\}\s*", "", app.export_screenshot(title="coach"), flags=re.DOTALL)
    return re.sub(r"terminal-\d+", "coach", svg)
