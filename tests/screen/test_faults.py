"""A fault in words or on a screen is told in one line; the drive goes on and is written. The faults are put in here."""

from pathlib import Path
from typing import Any

import pytest

from coach.car import happenings as car
from coach.cli.lines import Lines
from coach.drive.core import SPECIAL
from coach.journal.reader import open_journal
from coach.screen.app import CoachApp
from coach.screen.drive import DriveScreen
from coach.screen.pump import Ended, Pump, Ready
from coach.screen.review import ReviewScreen
from coach.screen.speech import Voice
from coach.session.drive import Drive
from coach.simulator.cars import make_car
from coach.simulator.driver import Cue
from coach.words.sentences import SENTENCES
from coach.words.units import Units
from tests.screen.cars import CarFeed, StillFeed, at, text_of, until
from tests.session.test_drive import session

FAULT = "A fault of this program, ZeroDivisionError"


def failing(*_: Any, **__: Any) -> Any:
    raise ZeroDivisionError("put in by a test")


def screen_of(feed: CarFeed) -> DriveScreen:
    return DriveScreen(feed, Units(us=True), voice=Voice(lambda name: None))


def drive_on(drive: Drive, lines: Lines, until_t: float) -> None:
    """As `coach drive --plain` does it."""
    drive.source.start()
    while drive.state != "driving":
        lines.take(drive, drive.step(1.0))
    lines.before_the_wheels_turn(drive)
    while drive.source.now() < until_t:
        lines.take(drive, drive.step(1.0))


def test_in_plain_lines_the_drive_goes_on_behind_a_sentence_a_page_and_a_summary_that_fail(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(SENTENCES, car.EngineStarted, failing)
    monkeypatch.setattr("coach.words.before._plan", failing)
    monkeypatch.setattr("coach.words.before._codes_after", failing)
    drive, source = session(tmp_path / "d.journal", make_car("small"), "spark_engine_off_leak")
    lines = Lines(us=False)
    source.car.key_on()
    drive_on(drive, lines, 20.0)
    source.driver.follow(Cue("idle"))
    while source.now() < 60.0:
        lines.take(drive, drive.step(1.0))
    lines.take(drive, drive.finish("done"))
    lines.summary(drive)
    told = capsys.readouterr().out.splitlines()
    faults = [line for line in told if FAULT in line]
    assert len(faults) == 3, told  # the page before the drive, the engine's start, the summary
    assert sum("put in by a test" in line for line in told) == 3
    reader = open_journal(tmp_path / "d.journal")
    assert list(reader.arrivals())[-1].t > 55.0
    assert not reader.report.cut_short


def test_a_fault_in_the_core_itself_ends_the_drive_in_order_with_one_line_and_everything_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    feed = CarFeed(tmp_path)
    ended: list[Ended] = []

    def post(what: object) -> None:
        if isinstance(what, Ready):
            monkeypatch.setitem(SPECIAL, "speed_kmh", failing)
            pump.go()
        elif isinstance(what, Ended):
            ended.append(what)

    pump = Pump(feed, Units(), post)
    pump.run()
    assert ended[0].problem.startswith("a fault of this program, ZeroDivisionError")
    assert "\n" not in ended[0].problem
    reader = open_journal(feed.journal)
    assert list(reader.arrivals())
    assert not reader.report.cut_short


@pytest.mark.asyncio
async def test_on_the_screen_a_sentence_that_fails_is_one_line_and_the_drive_is_recorded_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(SENTENCES, car.EngineStarted, failing)
    feed = CarFeed(tmp_path)
    screen = screen_of(feed)
    said: list[str] = []
    take = screen._spoke
    monkeypatch.setattr(screen, "_spoke", lambda spoke: (said.extend(line.text for line in spoke.lines), take(spoke)))
    async with CoachApp(screen).run_test(size=(120, 40)) as pilot:
        feed.hold = at(90.0)
        await until(pilot, lambda: screen.stage == "before")
        await pilot.press("enter")
        await until(pilot, lambda: screen.moment is not None and screen.moment.t >= 90.0)
        assert sum(text.startswith(FAULT) for text in said) == 1
        assert len(said) > 2
    assert list(open_journal(feed.journal).arrivals())[-1].t > 80.0


@pytest.mark.asyncio
@pytest.mark.parametrize(
    "broken", ["coach.screen.page.Ruler.draw", "coach.screen.drive.DrivePage._show_view", "coach.screen.moment.view"]
)
async def test_a_part_of_the_page_that_fails_is_one_line_and_the_rest_goes_on(
    tmp_path: Path, recorded: Path, monkeypatch: pytest.MonkeyPatch, broken: str
) -> None:
    monkeypatch.setattr(broken, failing)
    screen = screen_of(StillFeed(tmp_path, recorded, 600.0))
    app = CoachApp(screen)
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await until(pilot, lambda: screen.stage == "before")
        await pilot.press("enter")
        await until(pilot, lambda: "fault of this program" in " ".join(text_of(app).split()))
        assert text_of(app).count("put in by a test") <= 1
        assert "Traceback" not in text_of(app)
        if broken.endswith("_show_view"):
            await until(pilot, lambda: "Drive on as you like." in text_of(app))
        await pilot.press("e")
        assert screen.stage == "key_off"
        await pilot.press("f")
        await until(pilot, lambda: screen.stage == "ended")


def test_what_nobody_caught_ends_the_screen_with_one_line(
    recorded: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(ReviewScreen, "on_mount", failing)
    CoachApp(ReviewScreen(recorded)).run(headless=True)
    told = capsys.readouterr().err
    assert told.startswith("coach: a fault of this program, ZeroDivisionError")
    assert "Traceback" not in told and "\x1b" not in told
