"""Whatever a car, a file or a user says, every screen shows it and none obeys it: no control, no markup, no forged key.

The walk is over all screens of the program: one that is not in the table fails here.
"""

import pkgutil
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from importlib import import_module
from os import mkfifo
from pathlib import Path
from tempfile import mkdtemp
from typing import Any

import pytest
from textual.command import CommandPalette
from textual.pilot import Pilot
from textual.screen import Screen
from textual.widgets import Input, Static

import coach.screen
from coach.jobs.store import JobStore
from coach.screen.app import CoachApp
from coach.screen.chosen import Chosen
from coach.screen.drive import DriveScreen
from coach.screen.drive_ways import DriveWaysScreen
from coach.screen.job import JobScreen
from coach.screen.keys import AskScreen, CheckScreen, CoachScreen, HelpScreen, ReadScreen
from coach.screen.page import Words
from coach.screen.pump import Ended
from coach.screen.review import ReviewScreen
from coach.screen.speech import Voice, spoken
from coach.screen.start import StartScreen
from coach.screen.ways import WaysScreen
from coach.session.review import review
from coach.visible import HIDDEN, visible
from coach.words.readout import ReadOut, readout_page
from coach.words.units import Units
from tests.cli.test_hostile_files import RECORDINGS, damaged_records
from tests.hostile import EVIL, EVIL_NAME, World, evil_journal, harmless, world
from tests.screen.cars import StillFeed, text_of, until

SIZE = (160, 50)
PORTS = ((f"/dev/{EVIL_NAME}", EVIL),)


@pytest.fixture(scope="module")
def evil(tmp_path_factory: pytest.TempPathFactory) -> World:
    return world(tmp_path_factory.mktemp("hostile") / EVIL_NAME)


@dataclass(frozen=True)
class Scene:
    """A first screen and what is done on it."""

    first: Callable[[World], Screen[None]]
    steps: Callable[[Pilot[Any]], Awaitable[None]]


def check_screen(app: Any, shows: bool = True) -> None:
    """Nothing on it steers the terminal; `shows`: something hidden was there, and is shown. Lines wrap as they like."""
    text = text_of(app)
    assert HIDDEN.search(text) is None
    assert "[U+" in text or not shows, text


def chosen(evil: World) -> Chosen:
    return Chosen(folder=evil.folder)


def drive(evil: World) -> DriveScreen:
    """The hostile drive as it stood after two minutes."""
    feed = StillFeed(Path(mkdtemp(dir=evil.folder)), evil.journal, 120.0, label=EVIL)
    feed.path = lambda: Path(EVIL_NAME)  # type: ignore[method-assign]
    return DriveScreen(feed, Units(), voice=Voice(lambda name: None), reader=lambda: 0.0)


async def driving(pilot: Pilot[Any]) -> None:
    screen = pilot.app.screen
    assert isinstance(screen, DriveScreen)
    await until(pilot, lambda: screen.stage == "before")
    check_screen(pilot.app)
    await pilot.press("enter")
    await until(pilot, lambda: screen.moment is not None and screen.stage == "driving")
    screen.note(EVIL)
    await until(pilot, lambda: "etc/passwd" in text_of(pilot.app))


async def driving_and_looking(pilot: Pilot[Any]) -> None:
    """The drive, its read-out, the help and the palette above it, and back to the read-out."""
    await driving(pilot)
    check_screen(pilot.app)
    for key, kind in (("question_mark", HelpScreen), ("ctrl+p", CommandPalette), ("r", CheckScreen)):
        await pilot.press(key)
        await until(pilot, lambda kind=kind: isinstance(pilot.app.screen, kind))  # type: ignore[misc]
        if kind is CommandPalette:
            pilot.app.screen.query_one(Input).value = EVIL
            await pilot.pause()
        check_screen(pilot.app, shows=kind is CheckScreen)
        if kind is not CheckScreen:
            await pilot.press("escape")


async def ended(pilot: Pilot[Any]) -> None:
    screen = pilot.app.screen
    assert isinstance(screen, DriveScreen)
    await until(pilot, lambda: screen.stage == "before")
    screen.pump.finish("done")
    await until(pilot, lambda: screen.stage == "ended")
    check_screen(pilot.app)
    screen._end(Ended((EVIL,), EVIL, False, EVIL, EVIL))
    await pilot.pause()


async def looked(pilot: Pilot[Any]) -> None:
    screen = pilot.app.screen
    assert isinstance(screen, JobScreen)
    await until(pilot, lambda: screen.seen is not None)


async def job_page(pilot: Pilot[Any]) -> None:
    await looked(pilot)
    await pilot.press("s")
    await until(pilot, lambda: isinstance(pilot.app.screen, ReadScreen))


async def built(pilot: Pilot[Any]) -> None:
    screen = pilot.app.screen
    assert isinstance(screen, ReviewScreen)
    await until(pilot, lambda: screen.scrub is not None)
    await pilot.press("n")


async def summary(pilot: Pilot[Any]) -> None:
    await built(pilot)
    await pilot.press("t", "r")
    await until(pilot, lambda: isinstance(pilot.app.screen, ReadScreen))


async def refused(pilot: Pilot[Any]) -> None:
    await until(pilot, lambda: "Escape goes back; the start offers" in " ".join(text_of(pilot.app).split()))


async def settled(pilot: Pilot[Any]) -> None:
    await pilot.pause()
    await pilot.pause()


async def asked(pilot: Pilot[Any]) -> None:
    await settled(pilot)
    await pilot.press("o")
    pilot.app.screen.query_one(Input).value = EVIL
    await pilot.press("enter")
    await until(pilot, lambda: "no such file" in text_of(pilot.app))


def page_of(evil: World) -> str:
    core = review(evil.journal).core
    return readout_page(ReadOut(core.car, "live", EVIL, EVIL, EVIL, 12.6), Units(), show_vin=False)


SCENES: dict[str, Scene] = {
    "start": Scene(lambda evil: StartScreen(chosen(evil), lambda: PORTS), settled),
    "asked": Scene(lambda evil: StartScreen(chosen(evil), lambda: PORTS), asked),
    "job": Scene(lambda evil: JobScreen(evil.job, chosen(evil), lambda: PORTS), looked),
    "job signed off": Scene(lambda evil: JobScreen(evil.closed, chosen(evil), lambda: PORTS), looked),
    "job page": Scene(lambda evil: JobScreen(evil.job, chosen(evil), lambda: PORTS), job_page),
    "review": Scene(lambda evil: ReviewScreen(evil.journal), built),
    "summary": Scene(lambda evil: ReviewScreen(evil.journal), summary),
    "no review": Scene(lambda evil: ReviewScreen(evil.broken), refused),
    "drive": Scene(drive, driving_and_looking),
    "ended": Scene(drive, ended),
    "check": Scene(lambda evil: CheckScreen(page_of(evil)), settled),
}
ABSTRACT = {CoachScreen, WaysScreen, DriveWaysScreen}


@pytest.mark.asyncio
@pytest.mark.parametrize("name", SCENES)
async def test_no_screen_obeys_what_it_is_told(name: str, evil: World) -> None:
    scene = SCENES[name]
    app = CoachApp(scene.first(evil), chosen=chosen(evil))
    async with app.run_test(size=SIZE, notifications=True) as pilot:
        await scene.steps(pilot)
        check_screen(app)
        actions = {
            segment.style.meta.get("@click")
            for strip in app.screen._compositor.render_strips()
            for segment in strip
            if segment.style is not None and segment.style.meta
        }
        assert "app.quit" not in actions or "q quit" in text_of(app)
        assert not any("etc/passwd" in str(action) for action in actions)


def test_the_walk_goes_through_every_screen_there_is() -> None:
    modules = [
        import_module(f"coach.screen.{found.name}")
        for found in pkgutil.iter_modules(coach.screen.__path__)
        if found.name != "__main__"
    ]
    screens = {
        kind
        for module in modules
        for kind in vars(module).values()
        if isinstance(kind, type) and issubclass(kind, Screen) and kind.__module__.startswith("coach.")
    }
    assert screens - ABSTRACT == {
        *(StartScreen, AskScreen, JobScreen, ReadScreen, ReviewScreen, DriveScreen, CheckScreen, HelpScreen)
    }


@pytest.mark.asyncio
async def test_a_widget_that_forgets_all_of_it_steers_nothing_all_the_same() -> None:
    class Careless(CoachScreen):
        def compose(self) -> Any:
            yield Static(EVIL + "\udc80", markup=False)
            yield Input(EVIL)
            yield Words()

    app = CoachApp(Careless())
    async with app.run_test(size=SIZE, notifications=True) as pilot:
        app.notify(EVIL, title=EVIL, markup=False)
        await until(pilot, lambda: text_of(app).count("etc/passwd") >= 3)
        assert HIDDEN.search(text_of(app)) is None


@pytest.mark.asyncio
async def test_the_start_stands_whatever_lies_in_the_folder_and_is_typed(tmp_path: Path) -> None:
    damaged_records(JobStore(tmp_path))
    (tmp_path / "drives").mkdir()
    mkfifo(tmp_path / "drives" / "drive-2026-11-25-0640.journal")
    for name in ("marks", "nested alone", "year 9999", "zeros", "nested line"):
        (tmp_path / "drives" / f"drive-{name}.journal").write_bytes(RECORDINGS[name][0])
    start = StartScreen(Chosen(folder=tmp_path), lambda: PORTS)
    app = CoachApp(start)
    async with app.run_test(size=SIZE, notifications=True) as pilot:
        await settled(pilot)
        await until(pilot, lambda: "job.json" in text_of(app))
        for typed in ("~nobody-of-that-name/x", "x" * 5000, str(tmp_path), "/dev/zero", EVIL):
            await pilot.press("o")
            app.screen.query_one(Input).value = typed
            await pilot.press("enter")
            await until(pilot, lambda: "whole" in text_of(app))
            await pilot.press("escape")
        assert app.screen is start


def test_a_speech_program_is_handed_no_command_and_no_hidden_character() -> None:
    text = spoken("[[rate 999]] " + EVIL + "\0\udc80")
    assert "[" not in text and "]" not in text
    assert visible(text) == text and "\0" not in text
    text.encode()


def test_a_recording_made_of_all_of_it_is_one_of_a_real_car(tmp_path: Path) -> None:
    reviewed = review(evil_journal(tmp_path / "d.journal"))
    assert reviewed.core.car.ecus and not reviewed.profile_assumed
    harmless("\n".join(reviewed.profile.names().values()))
    assert JobStore(tmp_path).open_job() is None
