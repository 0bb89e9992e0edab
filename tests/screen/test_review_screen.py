"""A recording on the screen: labelled, played, stepped through, and never without a way on."""

from pathlib import Path
from typing import Any

import pytest
from textual.pilot import Pilot

from coach.screen.app import CoachApp
from coach.screen.chosen import Chosen
from coach.screen.keys import AskScreen
from coach.screen.plots import Plots
from coach.screen.review import ReviewScreen, seconds_of
from coach.screen.start import StartScreen
from coach.screen.timeline import Timeline, breaks, completed, stretches
from tests.recordings import SCHEDULES
from tests.screen.cars import text_of, until


async def opened(pilot: Pilot[Any], screen: ReviewScreen) -> None:
    await until(pilot, lambda: screen.scrub is not None)


@pytest.mark.asyncio
async def test_a_recording_is_always_labelled_as_one(recorded: Path) -> None:
    screen = ReviewScreen(recorded)
    app = CoachApp(screen)
    async with app.run_test(size=(60, 20)) as pilot:
        await opened(pilot, screen)
        for size in ((60, 20), (80, 24), (200, 60)):
            await pilot.resize_terminal(*size)
            for key in ("n", "end", "t", "t"):
                await pilot.press(key)
                assert "recording, simulated" in text_of(app)


@pytest.mark.asyncio
async def test_steps_go_from_happening_to_happening_and_back(recorded: Path) -> None:
    screen = ReviewScreen(recorded)
    app = CoachApp(screen)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(pilot, screen)
        places = []
        for _ in range(4):
            await pilot.press("n")
            places.append(screen.place_t)
        assert places == sorted(set(places))
        await pilot.press("p")
        assert screen.place_t == places[-2]
        await pilot.press("right")
        assert screen.place_t == places[-2] + 10
        await pilot.press("shift+left", "home")
        assert screen.place_t == 0.0


@pytest.mark.asyncio
async def test_a_jump_shows_the_drive_as_it_was_then(recorded: Path) -> None:
    screen = ReviewScreen(recorded)
    app = CoachApp(screen)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(pilot, screen)
        await pilot.press("g")
        await until(pilot, lambda: isinstance(app.screen, AskScreen))
        await pilot.press(*"nonsense", "enter")
        assert "Write minutes and seconds" in text_of(app)
        await pilot.press(*["backspace"] * 8, *"2:00", "enter")
        await until(pilot, lambda: screen.place_t == 120.0)
        assert "Drive gently until the engine is warm." in text_of(app)
        assert "2:00 of" in text_of(app)


@pytest.mark.asyncio
async def test_it_plays_at_a_pace_and_pauses(recorded: Path) -> None:
    screen = ReviewScreen(recorded)
    async with CoachApp(screen).run_test(size=(80, 24)) as pilot:
        await opened(pilot, screen)
        await pilot.press("full_stop", "full_stop", "space")
        await until(pilot, lambda: screen.place_t > 1.0)
        await pilot.press("space")
        assert not screen.playing


@pytest.mark.asyncio
async def test_a_click_on_the_timeline_jumps(recorded: Path) -> None:
    screen = ReviewScreen(recorded)
    async with CoachApp(screen).run_test(size=(80, 24)) as pilot:
        await opened(pilot, screen)
        await pilot.click(Timeline, offset=(45, 1))
        assert screen.scrub is not None
        assert 0.4 * screen.scrub.end_t < screen.place_t < 0.6 * screen.scrub.end_t


@pytest.mark.asyncio
async def test_the_plots_are_there_at_one_key(recorded: Path) -> None:
    screen = ReviewScreen(recorded)
    app = CoachApp(screen)
    async with app.run_test(size=(120, 40)) as pilot:
        await opened(pilot, screen)
        await pilot.press("t")
        assert screen.query_one(Plots).display
        text = text_of(app)
        for name in ("speed, mph", "coolant", "engine speed", "accelerator"):
            assert name in text


@pytest.mark.asyncio
async def test_what_is_no_recording_says_so_and_leads_back(tmp_path: Path) -> None:
    screen = ReviewScreen(tmp_path / "gone.journal")
    app = CoachApp(screen, chosen=Chosen(folder=tmp_path))
    async with app.run_test(size=(80, 24)) as pilot:
        await until(pilot, lambda: "no such file" in text_of(app))
        await pilot.press("escape")
        await until(pilot, lambda: isinstance(app.screen, StartScreen))


@pytest.mark.asyncio
async def test_a_table_is_reviewed_too(tmp_path: Path) -> None:
    screen = ReviewScreen(SCHEDULES / "udds.csv")
    app = CoachApp(screen)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(pilot, screen)
        assert "imported recording" in text_of(app)


def test_the_timeline_shows_holds_breaks_and_what_was_completed(recorded: Path) -> None:
    from coach.session.review import review

    happenings = review(recorded).happenings
    assert all(began <= ended for began, ended in stretches(happenings))
    assert len(stretches(happenings)) >= 3
    assert breaks(happenings)
    assert [shape for _, shape in completed(happenings)].count("●") >= 3


@pytest.mark.parametrize(
    ("text", "seconds"),
    [("12:30", 750.0), ("1:02:00", 3720.0), ("45", 45.0), ("x", None), ("1:2:3:4", None), ("", None)],
)
def test_times_are_read_as_a_stopwatch_shows_them(text: str, seconds: float | None) -> None:
    assert seconds_of(text) == seconds
