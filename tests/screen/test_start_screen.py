"""The start and the jobs: whatever is missing, the next step stands there and leads somewhere."""

import gzip
from datetime import datetime
from pathlib import Path

import pytest
from textual.widgets import OptionList

from coach.jobs.store import Job, JobStore
from coach.journal.records import Context, Header
from coach.journal.writer import JournalWriter
from coach.library import shipped
from coach.screen.app import CoachApp
from coach.screen.chosen import Chosen
from coach.screen.drive import DriveScreen
from coach.screen.found import no_address, recording_words
from coach.screen.job import JobScreen
from coach.screen.keys import AskScreen, ReadScreen
from coach.screen.review import ReviewScreen
from coach.screen.start import StartScreen
from coach.session.for_job import for_job
from coach.session.live import Wanted
from tests.screen.cars import text_of, until


def start(tmp_path: Path, *ports: tuple[str, str]) -> StartScreen:
    return StartScreen(Chosen(folder=tmp_path), lambda: ports)


@pytest.mark.asyncio
async def test_without_adapter_and_without_recording_each_has_a_next_step(tmp_path: Path) -> None:
    app = CoachApp(start(tmp_path))
    async with app.run_test(size=(80, 30)) as pilot:
        await pilot.pause()
        text = text_of(app)
        assert "r looks again, a takes an address" in text
        assert "j opens one" in text
        assert "o opens a file" in text
        assert "simulated car" in text


@pytest.mark.asyncio
async def test_a_folder_that_cannot_be_used_is_one_line_with_a_next_step(tmp_path: Path) -> None:
    taken = tmp_path / "taken"
    taken.write_text("a file stands where the folder should", encoding="utf-8")
    app = CoachApp(start(taken))
    async with app.run_test(size=(80, 30)) as pilot:
        await pilot.pause()
        assert "cannot be used: File exists. r looks again." in " ".join(text_of(app).split())
        taken.unlink()
        await pilot.press("r")
        assert "No adapter found" in text_of(app)


@pytest.mark.asyncio
async def test_a_drive_broken_off_before_its_first_line_keeps_nobody_from_the_start(tmp_path: Path) -> None:
    (tmp_path / "drives").mkdir()
    (tmp_path / "drives" / "drive-2026-11-25-0640.journal").touch()
    app = CoachApp(start(tmp_path, ("/dev/rfcomm0", "Bluetooth serial")))
    async with app.run_test(size=(80, 30)) as pilot:
        await pilot.pause()
        assert "/dev/rfcomm0   Bluetooth serial" in text_of(app)
        assert "going on with" not in text_of(app)


@pytest.mark.asyncio
async def test_units_profile_and_pace_are_chosen_by_one_key_each_and_kept(tmp_path: Path) -> None:
    app = CoachApp(start(tmp_path, ("/dev/rfcomm0", "Bluetooth serial")))
    async with app.run_test(size=(80, 30)) as pilot:
        await pilot.press("u", "p", "x")
        text = text_of(app)
        assert "miles and Fahrenheit" in text
        assert "as the car itself says" not in text
        assert "60 times real time" in text
        assert "/dev/rfcomm0   Bluetooth serial" in text
        assert app.chosen.us


@pytest.mark.asyncio
async def test_a_recording_is_opened_from_the_start_and_escape_leads_back(recorded: Path, tmp_path: Path) -> None:
    drives = tmp_path / "drives"
    drives.mkdir()
    (drives / "simulated-2026-11-25-0640.journal").write_bytes(recorded.read_bytes())
    app = CoachApp(start(tmp_path))
    async with app.run_test(size=(80, 30)) as pilot:
        await pilot.pause()
        assert "2026-11-25, 06:40, simulated" in text_of(app)
        await pilot.press("end", "up", "up", "up", "enter")
        await until(pilot, lambda: isinstance(app.screen, ReviewScreen))
        screen = app.screen
        assert isinstance(screen, ReviewScreen)
        await until(pilot, lambda: screen.scrub is not None)
        await pilot.press("escape")
        assert isinstance(app.screen, StartScreen)


def test_a_journal_of_somebody_s_own_keeps_its_name() -> None:
    assert recording_words(Path("drive-2026-11-25-0640-2.journal.gz")) == "2026-11-25, 06:40, number 2"
    assert recording_words(Path("my trip.journal")) == "my trip.journal"


# ---------------------------------------------------------------- a repair


@pytest.mark.asyncio
async def test_a_job_is_opened_by_its_code_and_every_way_on_it_leads_somewhere(tmp_path: Path) -> None:
    app = CoachApp(start(tmp_path))
    async with app.run_test(size=(80, 30)) as pilot:
        await pilot.press("j")
        await until(pilot, lambda: isinstance(app.screen, AskScreen))
        await pilot.press(*"p01", "enter")
        assert "P01 is not a trouble code" in text_of(app)
        await pilot.press(*"35", "enter")
        await until(pilot, lambda: isinstance(app.screen, JobScreen) and app.screen.seen is not None)
        text = text_of(app)
        assert "P0135: cannot be said." in text or "P0135: not yet confirmed." in text or "Nothing has been" in text
        assert "r looks again" in text
        await pilot.press("s")
        await until(pilot, lambda: isinstance(app.screen, ReadScreen))
        assert "Repaired: P0135" in text_of(app)
        await pilot.press("escape", "escape")
        await until(pilot, lambda: isinstance(app.screen, StartScreen) and "P0135: open since" in text_of(app))
    assert JobStore(tmp_path).open_job() is not None


@pytest.mark.asyncio
async def test_a_job_says_what_is_confirmed_and_shows_its_recordings(tmp_path: Path) -> None:
    job = JobStore(tmp_path).new(datetime(2026, 11, 25, 6, 40).astimezone(), ("P0135",), "front sensor")
    shown = shipped("replays") / "misfire_comes_back.journal.gz"
    path = job.new_file("drive", datetime(2026, 11, 25, 6, 40))
    path.write_bytes(gzip.decompress(shown.read_bytes()))
    screen = JobScreen(job, Chosen(folder=tmp_path), lambda: ())
    app = CoachApp(screen, chosen=Chosen(folder=tmp_path))
    async with app.run_test(size=(80, 24)) as pilot:
        await until(pilot, lambda: screen.seen is not None)
        text = text_of(app)
        assert "P0135, front sensor: open since 2026-11-25, 1 file" in text
        assert "Missing:" in text
        assert "drive, 2026-11-25, 06:40" in text
        await pilot.press("end", "enter")
        await until(pilot, lambda: isinstance(app.screen, ReviewScreen))


@pytest.mark.asyncio
async def test_with_one_job_open_a_drive_belongs_to_it_as_on_the_command_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = JobStore(tmp_path).new(datetime(2026, 11, 25, 6, 40).astimezone(), ("P0135",))
    belongs: list[Wanted] = []

    def noted(wanted: Wanted, job: Job) -> Wanted:
        belongs.append(for_job(wanted, job))
        return belongs[-1]

    monkeypatch.setattr("coach.session.for_job.for_job", noted)
    app = CoachApp(start(tmp_path, (str(tmp_path / "no-port"), "")))
    async with app.run_test(size=(80, 30)) as pilot:
        await pilot.pause()
        assert f"for the job {job.record.id}" in text_of(app)
        await pilot.press("home", "enter")
        await until(pilot, lambda: isinstance(app.screen, DriveScreen))
        await pilot.press("q")
    assert belongs[0].new_file is not None
    path = belongs[0].new_file(datetime(2026, 11, 26, 6, 40))
    assert path.parent == job.folder
    assert [entry.kind for entry in job.again().record.entries] == ["drive"]


def test_an_address_is_a_port_or_a_socket_with_its_number() -> None:
    assert no_address("/dev/rfcomm0") == ""
    assert no_address("socket://192.0.2.7:35000") == ""
    assert "socket://ADDRESS:PORT" in no_address("socket://192.0.2.7")
    assert no_address(" ")


@pytest.mark.asyncio
@pytest.mark.parametrize("from_the_job", [False, True])
async def test_a_drive_of_a_job_that_is_gone_on_with_belongs_to_it_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, from_the_job: bool
) -> None:
    job = JobStore(tmp_path).new(datetime(2026, 11, 25, 6, 40).astimezone(), ("P0135",))
    path = job.new_file("drive", datetime(2026, 11, 25, 6, 40))
    JournalWriter(path, Header(1, "live", "test", None, None, None, True), Context(), overwrite=True).close("done")
    path.write_bytes(b"".join(path.read_bytes().splitlines(keepends=True)[:-1]))  # it has no last line
    belongs: list[Wanted] = []

    def noted(wanted: Wanted, job: Job) -> Wanted:
        belongs.append(for_job(wanted, job))
        raise ValueError("enough is known")

    monkeypatch.setattr("coach.session.for_job.for_job", noted)
    ports = (("/dev/rfcomm0", "Bluetooth serial"),)
    screen = JobScreen(job.again(), Chosen(folder=tmp_path), lambda: ports) if from_the_job else start(tmp_path, *ports)
    app = CoachApp(screen)
    async with app.run_test(size=(100, 30)) as pilot:
        await until(pilot, lambda: "going on with" in text_of(app))
        ways = app.screen.query_one(OptionList)
        ways.focus()
        ways.highlighted = next(i for i, way in enumerate(ways.options) if "going on with" in str(way.prompt))
        await pilot.press("enter")
        await until(pilot, lambda: bool(belongs))
    assert len(belongs) == 1
