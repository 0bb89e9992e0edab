"""What the car does not tell is told by one key, only at a stop, and stands in the recording like all that came in."""

from dataclasses import replace
from pathlib import Path

import pytest

from coach.car.arrivals import Choice
from coach.journal.reader import open_journal
from coach.library import shipped
from coach.screen.app import CoachApp
from coach.screen.drive import DriveScreen
from coach.screen.keys import AskScreen
from coach.screen.speech import Voice
from coach.screen.telling import may_tell, wrong
from coach.session.review import review
from coach.words.coaching import view
from coach.words.units import Units
from tests.screen.cars import CarFeed, StillFeed, text_of, until

NO_FUEL_LEVEL = "estate"
"""The simulated car on an old protocol, which does not tell how full its tank is."""


def screen_of(feed: CarFeed) -> DriveScreen:
    return DriveScreen(feed, Units(us=True), voice=Voice(lambda name: None))


@pytest.mark.asyncio
async def test_the_fuel_level_by_the_gauge_changes_the_page_and_a_replay_says_the_same(tmp_path: Path) -> None:
    feed = CarFeed(tmp_path, car=NO_FUEL_LEVEL)
    screen = screen_of(feed)
    app = CoachApp(screen)
    async with app.run_test(size=(120, 50)) as pilot:
        await until(pilot, lambda: screen.stage == "before" and screen.moment is not None and screen.moment.asks)
        assert "Fuel: not told by this car" in text_of(app)
        await pilot.press("g")
        await until(pilot, lambda: isinstance(app.screen, AskScreen))
        await pilot.press(*"101", "enter")
        assert "A whole number from 0 to 100" in text_of(app)
        await pilot.press("backspace", "backspace", "backspace", *"91", "enter")
        await until(pilot, lambda: app.screen is screen and "Fuel: 91 %." in text_of(app))
        assert "fuel level 91 %" in text_of(app)
        screen.pump.finish("done")
        await until(pilot, lambda: screen.ended is not None)
    told = [a.choice for a in open_journal(feed.journal).arrivals() if isinstance(a, Choice)]
    assert told == [{"answer": {"fuel_level_pct": 91.0}}]
    live = feed.drive.core
    assert live is not None
    assert view(review(feed.journal).core, Units(us=True)).not_today == view(live, Units(us=True)).not_today


@pytest.mark.asyncio
async def test_escape_leaves_it_and_nothing_is_told(tmp_path: Path) -> None:
    feed = CarFeed(tmp_path, car=NO_FUEL_LEVEL)
    screen = screen_of(feed)
    app = CoachApp(screen)
    async with app.run_test(size=(80, 24)) as pilot:
        await until(pilot, lambda: screen.stage == "before" and screen.moment is not None and screen.moment.asks)
        await pilot.press("g")
        await until(pilot, lambda: isinstance(app.screen, AskScreen))
        await pilot.press("9", "escape")
        assert app.screen is screen
        screen.pump.finish("done")
        await until(pilot, lambda: screen.ended is not None)
    assert not [a for a in open_journal(feed.journal).arrivals() if isinstance(a, Choice)]


@pytest.mark.asyncio
async def test_nothing_is_asked_while_the_wheels_turn(tmp_path: Path) -> None:
    feed = CarFeed(tmp_path, car=NO_FUEL_LEVEL)
    screen = screen_of(feed)
    app = CoachApp(screen)
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        feed.hold = lambda drive: drive.core is not None and (drive.core.car.values.get("speed_kmh") or 0) > 20
        await until(pilot, lambda: screen.stage == "before")
        await pilot.press("enter")
        await until(pilot, lambda: screen.moment is not None and (screen.moment.speed_kmh or 0) > 20)
        await pilot.press("g")
        await until(pilot, lambda: "Only while the car stands." in text_of(app))
        assert app.screen is screen


@pytest.mark.asyncio
async def test_a_question_goes_away_when_the_car_drives_off(tmp_path: Path) -> None:
    feed = CarFeed(tmp_path, car=NO_FUEL_LEVEL)
    screen = screen_of(feed)
    app = CoachApp(screen)
    async with app.run_test(size=(80, 24)) as pilot:
        await until(pilot, lambda: screen.stage == "before" and screen.moment is not None and screen.moment.asks)
        feed.hold = lambda drive: True
        await pilot.press("enter", "g")
        await until(pilot, lambda: isinstance(app.screen, AskScreen))
        assert screen.moment is not None
        screen._take(replace(screen.moment, speed_kmh=12.0))
        await until(pilot, lambda: app.screen is screen)
    assert screen._asking is None


@pytest.mark.asyncio
async def test_what_the_car_tells_itself_is_not_asked_for(tmp_path: Path, recorded: Path) -> None:
    screen = screen_of(StillFeed(tmp_path, recorded, 120.0))
    app = CoachApp(screen)
    async with app.run_test(size=(80, 24)) as pilot:
        await until(pilot, lambda: screen.moment is not None and screen.moment.seen is not None)
        assert "fuel" not in screen.moment.asks  # type: ignore[union-attr]
        await pilot.press("g")
        assert app.screen is screen


def test_the_hours_it_stood_are_taken_unless_the_record_proves_them() -> None:
    core = review(shipped("replays") / "misfire_comes_back.journal.gz").core.copy()
    core.facts.soak_s = core.facts.soak_proof = None
    assert "parked" in may_tell(core)
    core.feed(Choice(core.now, {"answer": {"soak_s": 7200.0}}))
    assert core.facts.soak_s == 7200.0
    core.feed(Choice(core.now, {"answer": {"soak_s": 36000.0}}))
    assert core.facts.soak_s == 36000.0
    core.facts.soak_proof = "the last recording"
    assert "parked" not in may_tell(core)
    core.feed(Choice(core.now, {"answer": {"soak_s": 0.0}}))
    assert core.facts.soak_s == 36000.0


@pytest.mark.parametrize(
    ("name", "text", "good"),
    [("fuel", "60", True), ("fuel", "0", True), ("fuel", "101", False), ("fuel", "-1", False), ("fuel", "", False)],
)
def test_only_whole_numbers_within_reason_are_taken(name: str, text: str, good: bool) -> None:
    assert (wrong(name, text) == "") is good
