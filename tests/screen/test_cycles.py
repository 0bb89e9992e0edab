"""The way without a clear on the screen: one key, only where a code stands, and the recording has the choice."""

from pathlib import Path

import pytest

from coach.car.arrivals import Choice
from coach.journal.reader import open_journal
from coach.library import shipped
from coach.screen.app import CoachApp
from coach.screen.drive import DriveScreen
from coach.screen.keys import active
from coach.screen.speech import Voice
from coach.words.units import Units
from tests.screen.cars import StillFeed, text_of, until
from tests.screen.with_code import with_code

MORNING = shipped("replays") / "small_car_morning_drive.journal.gz"


def screen_of(feed: StillFeed) -> DriveScreen:
    return DriveScreen(feed, Units(us=True), voice=Voice(lambda name: None))


def chosen(screen: DriveScreen) -> bool | None:
    """Whether the page says that the drive is for a cycle without the fault."""
    return screen.moment.clean if screen.moment is not None else None


@pytest.mark.asyncio
async def test_one_key_chooses_a_cycle_without_the_fault_and_the_same_key_the_monitors_again(tmp_path: Path) -> None:
    feed = StillFeed(tmp_path, with_code(MORNING, tmp_path), 45.0)
    screen = screen_of(feed)
    app = CoachApp(screen)
    async with app.run_test(size=(100, 60)) as pilot:
        await until(pilot, lambda: screen.stage == "before" and chosen(screen) is False)
        assert "MIL on; P0128 stored." in text_of(app)
        await pilot.press("c")
        await until(pilot, lambda: chosen(screen) is True and "This is driving cycle 1 of 3" in text_of(app))
        assert "It saves: readiness is kept" in text_of(app)
        await pilot.press("c")
        await until(pilot, lambda: chosen(screen) is False and "This is driving cycle" not in text_of(app))
        await pilot.press("c")
        await until(pilot, lambda: chosen(screen) is True)
        await pilot.press("enter")
        await until(pilot, lambda: "cycle 1 of 3" in text_of(app))
        screen.pump.finish("done")
        await until(pilot, lambda: screen.ended is not None)
    told = [a.choice for a in open_journal(feed.journal).arrivals() if isinstance(a, Choice)]
    assert told == [{"target": "clean_cycles"}, {"target": "monitors"}, {"target": "clean_cycles"}]
    assert screen.ended is not None
    assert not screen.ended.reached


@pytest.mark.asyncio
async def test_where_no_code_stands_the_key_is_not_there_and_no_row_names_any(tmp_path: Path) -> None:
    screen = screen_of(StillFeed(tmp_path, MORNING, 700.0))
    app = CoachApp(screen)
    async with app.run_test(size=(80, 24)) as pilot:
        await until(pilot, lambda: screen.stage == "before" and screen.moment is not None)
        await pilot.press("enter")
        await until(pilot, lambda: screen.stage == "driving")
        assert "clean" not in [binding.action for binding in active(screen)]
        assert "MIL, codes" not in text_of(app)
        screen.pump.finish("done")
        await until(pilot, lambda: screen.ended is not None)
