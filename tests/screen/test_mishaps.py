"""What goes wrong at the screen: left in the middle, keys pressed twice, files gone, nothing heard. No fault is shown
as a traceback, and no old word stands beside a new one."""

from pathlib import Path

import pytest

from coach.cli.screens import told
from coach.screen.app import CoachApp
from coach.screen.chosen import Chosen
from coach.screen.drive import DriveScreen
from coach.screen.found import recordings
from coach.screen.keys import AskScreen, ReadScreen
from coach.screen.page import DrivePage
from coach.screen.pump import Ended
from coach.screen.review import ReviewScreen
from coach.screen.speech import Voice
from coach.screen.stages import alone_text, ended_text
from coach.screen.start import StartScreen
from coach.words.units import Units
from tests.screen.album import shown
from tests.screen.cars import CarFeed, StillFeed, at, text_of, until


def screen_of(feed: CarFeed, us: bool = True) -> DriveScreen:
    return DriveScreen(feed, Units(us=us), voice=Voice(lambda name: None))


@pytest.mark.asyncio
async def test_a_drive_left_while_it_connects_leads_back_to_the_start_it_was_begun_from(tmp_path: Path) -> None:
    start = StartScreen(Chosen(folder=tmp_path), lambda: ())
    app = CoachApp(start)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        screen = screen_of(CarFeed(tmp_path))
        screen.pump.feed.hold = lambda drive: True  # type: ignore[attr-defined]
        await app.push_screen(screen)
        await pilot.press("escape", "escape")
        await until(pilot, lambda: screen.pump.wait(0.0) and app.screen is not screen)
        assert app.screen is start
        assert "A simulated car" in text_of(app)


@pytest.mark.asyncio
async def test_a_list_of_ways_that_was_left_is_not_filled_any_more(tmp_path: Path) -> None:
    start = StartScreen(Chosen(folder=tmp_path), lambda: ())
    async with CoachApp(start).run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await pilot.app.switch_screen(StartScreen(Chosen(folder=tmp_path), lambda: ()))
        start.look_again()


@pytest.mark.asyncio
async def test_the_summary_of_a_recording_that_is_gone_is_one_line_and_of_one_that_is_there_one_page(
    tmp_path: Path, recorded: Path
) -> None:
    path = tmp_path / "drive.journal"
    path.write_bytes(recorded.read_bytes())
    screen = ReviewScreen(path)
    app = CoachApp(screen)
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await until(pilot, lambda: screen.scrub is not None)
        await pilot.press("r", "r")
        await until(pilot, lambda: isinstance(app.screen, ReadScreen) and not screen._judging)
        await pilot.press("escape")
        assert app.screen is screen
        path.unlink()
        await pilot.press("r")
        await until(pilot, lambda: "no such file" in text_of(app))
        assert app.screen is screen


@pytest.mark.asyncio
async def test_keys_that_come_faster_than_words_are_shown_leave_only_the_last_word(recorded: Path) -> None:
    screen = ReviewScreen(recorded)
    app = CoachApp(screen)
    async with app.run_test(size=(60, 20), notifications=True) as pilot:
        await until(pilot, lambda: screen.scrub is not None)
        assert "no link" not in text_of(app)  # a recording has none
        for _ in range(3):
            screen.action_pace(1)
        await until(pilot, lambda: "10 times" in text_of(app))
        assert text_of(app).count("times") == 1
        screen.playing = True
        for _ in range(3):
            screen.action_pace(-1)
        await until(pilot, lambda: "As fast as it was." in text_of(app))
        assert "1 times" not in text_of(app)


@pytest.mark.asyncio
async def test_a_link_that_is_away_is_said_at_once_and_never_that_the_car_answers(
    tmp_path: Path, recorded: Path
) -> None:
    screen = screen_of(StillFeed(tmp_path, recorded, 600.0, away_s=2.0))
    app = CoachApp(screen)
    async with app.run_test(size=(80, 24)) as pilot:
        await until(pilot, lambda: screen.stage == "before")
        await pilot.press("enter")
        await until(pilot, lambda: screen.moment is not None and screen.stage == "driving")
        assert "no data for 2 s (no link), drive on as you like" in text_of(app)
        assert "the car answers" not in text_of(app)


@pytest.mark.parametrize(
    ("ended", "code", "out", "err"),
    [
        (Ended(("Driven: 4 min.",), "a.journal", False, ""), 1, "The journal: a.journal\nDriven: 4 min.\n", ""),
        (Ended(("Driven: 4 min.",), "a.journal", True, ""), 0, "The journal: a.journal\nDriven: 4 min.\n", ""),
        (
            Ended(("Driven: 4 min.",), "a.journal", True, "", "a.journal: the disk is full"),
            0,
            "The journal: a.journal, not to the end of the drive:\n  a.journal: the disk is full\nDriven: 4 min.\n",
            "",
        ),
        (Ended((), "", False, ""), 3, "", ""),  # no car was ever heard: that is not "not ready"
        (Ended((), "", False, "drives No space left on device"), 3, "", "coach: drives No space left on device\n"),
    ],
)
def test_once_the_screen_is_gone_the_terminal_says_what_came_of_it(
    ended: Ended, code: int, out: str, err: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert told(ended) == code
    assert capsys.readouterr() == (out, err)


def test_everything_is_written_only_where_it_is() -> None:
    assert "Everything is written: a.journal" in ended_text(("Driven: 4 min.",), "a.journal", "")
    for problem, unrecorded in (("", "the disk is full"), ("Input/output error", "")):
        text = ended_text(("Driven: 4 min.",), "a.journal", problem, unrecorded)
        assert "Written as far as it went: a.journal" in text
        assert (problem or unrecorded) in text
        assert "Everything" not in text


def test_a_folder_is_no_recording(tmp_path: Path) -> None:
    (tmp_path / "drives" / "odd.journal").mkdir(parents=True)
    assert recordings(tmp_path) == []


@pytest.mark.asyncio
async def test_a_new_word_takes_the_place_of_the_old_one_and_the_limit_stands_there_by_its_number(
    tmp_path: Path, recorded: Path
) -> None:
    screen = screen_of(StillFeed(tmp_path, recorded, 600.0))
    app = CoachApp(screen)
    async with app.run_test(size=(60, 20), notifications=True) as pilot:
        await until(pilot, lambda: screen.stage == "before")
        await pilot.press("enter")
        await until(pilot, lambda: screen.moment is not None and screen.stage == "driving")
        await pilot.press("s", "s", "s")
        await until(pilot, lambda: screen.moment is not None and screen.moment.limit == "55 mph")
        text = " ".join(text_of(app).split())
        assert "No phase above 55 mph" in text
        assert "75 mph" not in text
        assert "65 mph" not in text
        assert "limit 55 mph" in text


@pytest.mark.asyncio
async def test_a_question_still_stands_there_after_a_wrong_answer(tmp_path: Path) -> None:
    app = CoachApp(StartScreen(Chosen(folder=tmp_path), lambda: ()))
    async with app.run_test(size=(80, 24)) as pilot:
        await app.push_screen(AskScreen("How many hours?", lambda text: "Digits only."))
        await pilot.press("x", "enter")
        assert "Digits only." in text_of(app)
        assert "How many hours?" in text_of(app)


@pytest.mark.asyncio
async def test_what_is_longer_than_the_screen_has_a_key_that_leads_on_and_help_of_its_own(tmp_path: Path) -> None:
    feed = CarFeed(tmp_path)
    feed.hold = at(0.0)
    screen = screen_of(feed)
    app = CoachApp(screen)
    async with app.run_test(size=(60, 20)) as pilot:
        await until(pilot, lambda: screen.stage == "before")
        assert "Press enter when you are ready" not in text_of(app)
        assert "space more" in text_of(app)
        await pilot.press("space", "space", "space")
        assert "Press enter when you are ready" in text_of(app)
        await pilot.press("r")
        await until(pilot, lambda: "MIL (the check-engine lamp)" in text_of(app))
        await pilot.press("space")
        assert "MIL (the check-engine lamp)" not in text_of(app)
        await pilot.press("question_mark")
        assert "Further down the page" in text_of(app)


@pytest.mark.asyncio
async def test_an_end_taken_back_before_the_drive_leads_to_the_page_before_the_drive(tmp_path: Path) -> None:
    feed = CarFeed(tmp_path)
    feed.hold = at(0.0)
    screen = screen_of(feed)
    app = CoachApp(screen)
    async with app.run_test(size=(120, 50)) as pilot:
        await until(pilot, lambda: screen.stage == "before")
        await pilot.press("e", "escape")
        assert screen.stage == "before"
        assert "Press enter when you are ready to go." in text_of(app)
        await pilot.press("enter")
        await until(pilot, lambda: feed.calls == ["go"])


@pytest.mark.asyncio
async def test_an_end_taken_back_with_the_key_off_lets_the_drive_go_on(tmp_path: Path) -> None:
    feed = CarFeed(tmp_path)
    feed.hold = at(30.0)
    screen = screen_of(feed)
    async with CoachApp(screen).run_test(size=(80, 24)) as pilot:
        await until(pilot, lambda: screen.stage == "before")
        await pilot.press("enter", "e", "enter", "escape")
        await until(pilot, lambda: feed.calls == ["go", "key_off", "go"])
        assert screen.stage == "driving"


@pytest.mark.asyncio
async def test_no_morning_is_offered_where_no_night_can_be_made_to_pass(tmp_path: Path) -> None:
    """A simulated adapter on a port: simulated by its name, and yet a car on the line."""
    feed = CarFeed(tmp_path)
    feed.label = ""
    screen = screen_of(feed)
    app = CoachApp(screen)
    async with app.run_test(size=(80, 24)) as pilot:
        feed.hold = at(0.0)
        await until(pilot, lambda: screen.stage == "before")
        await pilot.press("e", "f")
        await until(pilot, lambda: screen.stage == "ended")
        assert "◇ simulated" in text_of(app)
        assert "m morning" not in text_of(app)


@pytest.mark.asyncio
async def test_when_all_was_put_aside_the_page_says_how_it_comes_back(tmp_path: Path, recorded: Path) -> None:
    screen = screen_of(StillFeed(tmp_path, recorded, 120.0))
    app = CoachApp(screen)
    async with app.run_test(size=(60, 20)) as pilot:
        await until(pilot, lambda: screen.stage == "before")
        await pilot.press("enter")
        await until(pilot, lambda: screen.moment is not None and screen.moment.phase == "warm_up_drive")
        await pilot.press("n")
        await until(pilot, lambda: screen.moment is not None and screen.moment.phase is None)
        text = " ".join(text_of(app).split())
        assert "Keep driving easily, then park it." in text
        assert "z brings back what was put aside" in text
        assert "set aside: not on this road" in text
        assert "asked for long enough" not in text
        assert "not-here" not in text  # there is nothing to put aside
        await pilot.press("z")
        await until(pilot, lambda: screen.moment is not None and screen.moment.phase == "warm_up_drive")


@pytest.mark.asyncio
@pytest.mark.parametrize("size", [(60, 20), (80, 24)])
async def test_a_stop_is_said_once_with_its_code_and_in_its_shape(
    tmp_path: Path, recorded: Path, size: tuple[int, int]
) -> None:
    async with shown("stop", tmp_path, recorded, size) as (app, pilot):
        page = app.screen.query_one(DrivePage)
        assert page.moment is not None
        said = page.moment.said
        assert said is None or said.level == "stop"
        text = " ".join(text_of(app).split())
        assert text.count("Ease off and stop") == 1
        assert "■ A misfire code appeared (P0301)." in text
        await pilot.pause()


def test_alone_with_a_voice_that_is_not_heard_nobody_is_told_that_lines_are_spoken() -> None:
    assert "The lines are spoken." in alone_text(True, "")
    assert "are spoken" not in alone_text(True, "Nothing can be heard: espeak-ng ended at once.")
    assert "nothing can be heard" in alone_text(False, "")


KEYS = ("n", "z", "s", "r", "g", "p", "a", "v", "b", "f", "o", "m", "l", "question_mark", "ctrl+p", "enter", "e")


@pytest.mark.asyncio
async def test_every_key_twice_and_quickly_at_every_stage_ends_in_a_written_drive(tmp_path: Path) -> None:
    feed = CarFeed(tmp_path)
    screen = screen_of(feed)
    app = CoachApp(screen)
    async with app.run_test(size=(60, 20), notifications=True) as pilot:
        feed.hold = at(30.0)
        for _round in range(3):
            for key in KEYS:
                await pilot.press(key, key)
                while app.screen is not screen and screen.is_attached:
                    await pilot.press("escape")
            if screen.stage in ("waiting", "before"):
                await until(pilot, lambda: screen.stage != "waiting")
        feed.hold = lambda drive: False
        screen.pump.finish("the test is over")
        await until(pilot, lambda: screen.pump.wait(0.0))
    assert feed.journal.exists()
    assert feed.calls[-1] == "close"
