"""The drive on the screen, with the simulated car in-process behind it: every step with the keyboard alone."""

import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from textual.pilot import Pilot
from textual.widgets import ContentSwitcher

from coach.drive.happenings import CoachingEnded
from coach.journal.reader import open_journal
from coach.library import shipped
from coach.screen.app import CoachApp
from coach.screen.drive import STAGES, DriveScreen
from coach.screen.page import DrivePage, Number, Strip
from coach.screen.speech import Voice
from coach.screen.start import StartScreen
from coach.session.review import review
from coach.words.units import Units
from tests.screen.cars import CarFeed, StillFeed, at, text_of, until

SIZES = [(60, 20), (80, 24), (120, 40), (200, 60)]


def screen_of(feed: CarFeed, **asked: Any) -> DriveScreen:
    return DriveScreen(feed, Units(us=True), voice=Voice(lambda name: None), **asked)


async def driving(pilot: Pilot[Any], screen: DriveScreen) -> None:
    """Past the page before the drive."""
    await until(pilot, lambda: screen.stage == "before")
    await pilot.press("enter")
    await until(pilot, lambda: screen.moment is not None)


@pytest.mark.asyncio
async def test_before_the_wheels_turn_the_cautions_stand_there_and_one_key_goes_on(tmp_path: Path) -> None:
    feed = CarFeed(tmp_path)
    screen = screen_of(feed)
    app = CoachApp(screen)
    async with app.run_test(size=(120, 50)) as pilot:
        feed.hold = at(0.0)
        await until(pilot, lambda: screen.stage == "before")
        text = text_of(app)
        assert "one drives, one reads" in text
        assert "The plan, about" in text
        assert "simulated" in text
        await pilot.press("enter")
        await until(pilot, lambda: feed.calls == ["go"])
        assert screen.query_one(ContentSwitcher).current == "page"


@pytest.mark.asyncio
async def test_at_every_size_and_after_every_resize_the_instruction_the_number_and_the_label_are_there(
    tmp_path: Path,
    recorded: Path,
) -> None:
    feed = StillFeed(tmp_path, recorded, 120.0)
    screen = screen_of(feed)
    app = CoachApp(screen)
    async with app.run_test(size=(200, 60)) as pilot:
        await driving(pilot, screen)
        for size in [*SIZES, SIZES[2]]:
            await pilot.resize_terminal(*size)
            text = text_of(app)
            assert "Drive gently until the engine is warm." in text
            assert "◇ simulated, scripted" in text
            assert "to go" in text
            assert "█" in text
            assert "quit" in text
            assert screen.query_one(Strip).display is (size[1] >= 34)


@pytest.mark.asyncio
async def test_not_on_this_road_brings_the_next_phase_and_undo_brings_it_back(tmp_path: Path, recorded: Path) -> None:
    feed = StillFeed(tmp_path, recorded, 600.0)
    screen = screen_of(feed)
    async with CoachApp(screen).run_test(size=(80, 24)) as pilot:
        await driving(pilot, screen)
        assert screen.moment is not None
        first = screen.moment.phase
        await pilot.press("n")
        await until(pilot, lambda: screen.moment is not None and screen.moment.phase != first)
        assert screen.moment.skipped == (first,)
        await pilot.press("z")
        await until(pilot, lambda: screen.moment is not None and screen.moment.skipped == ())


@pytest.mark.asyncio
async def test_a_speed_limit_is_never_exceeded_by_what_is_asked(tmp_path: Path, recorded: Path) -> None:
    feed = StillFeed(tmp_path, recorded, 600.0)
    screen = screen_of(feed)
    app = CoachApp(screen)
    async with app.run_test(size=(80, 24)) as pilot:
        await driving(pilot, screen)
        for _ in range(5):
            await pilot.press("s")
        await until(pilot, lambda: screen.moment is not None and 0 < (screen.moment.limit_kmh or 0) < 60)
        assert "above the speed limit you set" in text_of(app)


@pytest.mark.asyncio
async def test_alone_there_is_no_text_while_the_wheels_turn(tmp_path: Path, recorded: Path) -> None:
    feed = StillFeed(tmp_path, recorded, 120.0, label="")
    screen = screen_of(feed, alone=True)
    app = CoachApp(screen)
    async with app.run_test(size=(80, 24)) as pilot:
        await driving(pilot, screen)
        await until(pilot, lambda: screen.query_one(DrivePage).unread)
        assert not any(character.isalnum() for character in text_of(app))
        assert "━" in text_of(app)
        assert text_of(app).rstrip().endswith("\n  ?")  # the one mark that leads to the list of keys
        await pilot.press("question_mark")
        assert "Driving alone" in text_of(app)
        await pilot.press("escape", "a")
        await until(pilot, lambda: "alone" in text_of(app))


@pytest.mark.asyncio
async def test_alone_a_word_beside_the_page_waits_until_the_car_stands(tmp_path: Path, recorded: Path) -> None:
    screen = screen_of(StillFeed(tmp_path, recorded, 120.0, label=""), alone=True)
    app = CoachApp(screen)
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await driving(pilot, screen)
        await until(pilot, lambda: screen.query_one(DrivePage).unread)
        await pilot.press("b")
        await until(pilot, lambda: screen._notes)
        assert not any(character.isalnum() for character in text_of(app))
        assert screen.moment is not None
        screen._take(replace(screen.moment, speed_kmh=0.0))
        await until(pilot, lambda: "A bell with what matters." in text_of(app))


@pytest.mark.asyncio
async def test_before_a_drive_alone_the_page_says_what_will_be_seen_and_heard(tmp_path: Path) -> None:
    feed = CarFeed(tmp_path)
    screen = screen_of(feed, alone=True)
    app = CoachApp(screen)
    async with app.run_test(size=(120, 50)) as pilot:
        feed.hold = at(0.0)
        await until(pilot, lambda: screen.stage == "before")
        text = text_of(app)
        assert "? lists the keys at any time" in text
        assert "take somebody along who reads" in text


@pytest.mark.asyncio
async def test_silence_is_said_by_the_screen_itself(tmp_path: Path, recorded: Path) -> None:
    feed = StillFeed(tmp_path, recorded, 120.0)
    screen = screen_of(feed)
    app = CoachApp(screen)
    async with app.run_test(size=(80, 24)) as pilot:
        await driving(pilot, screen)
        page = screen.query_one(DrivePage)
        screen.pump.finish("test")
        await until(pilot, lambda: screen.ended is not None)
        page._came_s -= 30.0
        page._look_at_clock()
        await pilot.pause()
        number = page.query_one(Number).gauge
        assert number is not None and number.value is None


@pytest.mark.asyncio
async def test_the_guided_end_reads_once_more_and_writes_everything(tmp_path: Path) -> None:
    feed = CarFeed(tmp_path)
    screen = screen_of(feed)
    app = CoachApp(screen)
    async with app.run_test(size=(80, 24)) as pilot:
        feed.hold = at(120.0)
        await driving(pilot, screen)
        await until(pilot, lambda: feed.source.held)
        await pilot.press("e")
        assert "turn the key off" in text_of(app)
        await pilot.press("escape")
        assert screen.stage == "driving"
        await pilot.press("e", "enter", "enter")
        feed.hold = lambda drive: False
        await until(pilot, lambda: screen.stage == "ended")
        assert feed.calls == ["go", "key_off", "key_on", "close"]
        assert "Everything is written" in text_of(app)
        reader = open_journal(feed.journal)
        list(reader.arrivals())
        assert reader.report.footer is not None
        assert reader.report.footer.reason == "done"
        await pilot.press("enter")
        await pilot.pause()
        assert isinstance(app.screen, StartScreen)


@pytest.mark.asyncio
@pytest.mark.parametrize("leave", ["q", "ctrl+c"])
async def test_quit_works_at_any_time_and_loses_nothing(tmp_path: Path, leave: str) -> None:
    feed = CarFeed(tmp_path)
    screen = screen_of(feed)
    app = CoachApp(screen)
    async with app.run_test(size=(80, 24)) as pilot:
        feed.hold = at(60.0)
        await driving(pilot, screen)
        await until(pilot, lambda: feed.source.held)
        await pilot.press(leave)
        await until(pilot, lambda: not app.is_running or app._exit)
    reader = open_journal(feed.journal)
    assert len(list(reader.arrivals())) == reader.report.arrivals
    assert reader.report.footer is not None
    assert reader.report.footer_disagrees is None


@pytest.mark.asyncio
async def test_an_end_with_a_fault_says_what_to_do_next(tmp_path: Path) -> None:
    feed = CarFeed(tmp_path)

    def refuse() -> None:
        raise OSError(28, "No space left on device", "drives")

    feed.open = refuse  # type: ignore[method-assign]
    screen = screen_of(feed)
    app = CoachApp(screen)
    async with app.run_test(size=(80, 24)) as pilot:
        await until(pilot, lambda: screen.stage == "ended")
        assert "No space left on device" in text_of(app)
        assert "Press enter for the start" in text_of(app)


@pytest.mark.asyncio
async def test_the_read_out_scrolls_as_a_page(tmp_path: Path, recorded: Path) -> None:
    feed = StillFeed(tmp_path, recorded, 120.0)
    screen = screen_of(feed)
    app = CoachApp(screen)
    async with app.run_test(size=(80, 24)) as pilot:
        await driving(pilot, screen)
        await pilot.press("r")
        await until(pilot, lambda: app.screen is not screen)
        assert "Control units" in text_of(app)
        await pilot.press("escape")
        assert app.screen is screen


@pytest.mark.asyncio
async def test_every_key_is_listed_and_the_help_and_the_palette_are_made_of_them(
    tmp_path: Path, recorded: Path
) -> None:
    feed = StillFeed(tmp_path, recorded, 120.0)
    screen = screen_of(feed)
    app = CoachApp(screen)
    async with app.run_test(size=(80, 24)) as pilot:
        await driving(pilot, screen)
        line = text_of(app)
        for word in ("not-here", "limit", "read-out", "alone", "voice", "bell", "end", "help", "light", "quit"):
            assert word in line
        await pilot.press("question_mark")
        await pilot.pause()
        assert "Not on this road: the next useful phase instead." in text_of(app)
        await pilot.press("escape", "ctrl+p")
        await until(pilot, lambda: "drive: not-here" in text_of(app))


def test_every_key_of_the_drive_has_its_stages_a_label_and_a_sentence() -> None:
    for binding in DriveScreen.BINDINGS:
        assert binding.action in STAGES  # type: ignore[union-attr]
        assert " " not in binding.description  # type: ignore[union-attr]
        assert binding.tooltip.endswith(".")  # type: ignore[union-attr]


@pytest.mark.asyncio
async def test_both_looks_show_the_same_words(tmp_path: Path, recorded: Path) -> None:
    feed = StillFeed(tmp_path, recorded, 120.0)
    screen = screen_of(feed)
    app = CoachApp(screen, look="light")
    async with app.run_test(size=(80, 24)) as pilot:
        await driving(pilot, screen)
        light = text_of(app)
        assert app.current_theme.name == "light"
        await pilot.press("l")
        assert app.current_theme.name == "dark"
        assert "● complete" in light
        assert text_of(app).split("◇")[0] == light.split("◇")[0]


@pytest.mark.asyncio
async def test_without_colour_everything_is_grey_and_all_is_there(
    tmp_path: Path, recorded: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    feed = StillFeed(tmp_path, recorded, 120.0)
    screen = screen_of(feed)
    app = CoachApp(screen)
    async with app.run_test(size=(80, 24)) as pilot:
        await driving(pilot, screen)
        assert app.no_color
        text = text_of(app)
        for shape in ("▼", "━", "●", "○", "◇"):
            assert shape in text


def test_the_command_line_imports_no_screen() -> None:
    code = "import sys, coach.cli, coach.cli.demo; assert 'textual' not in sys.modules"
    subprocess.run([sys.executable, "-c", code], check=True)


@pytest.mark.asyncio
async def test_when_coaching_ends_the_page_says_only_to_ease_off_and_stop(tmp_path: Path) -> None:
    """The shipped drive in which a misfire code comes back, two seconds after it did."""
    path = shipped("replays") / "misfire_comes_back.journal.gz"
    ended = next(h for h in review(path).happenings if isinstance(h, CoachingEnded))
    screen = screen_of(StillFeed(tmp_path, path, ended.t + 2.0))
    app = CoachApp(screen)
    async with app.run_test(size=(80, 24)) as pilot:
        await driving(pilot, screen)
        text = text_of(app)
        assert "Ease off and stop where it is safe." in text
        assert "min left" not in text
        assert "▼" not in text
