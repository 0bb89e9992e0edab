"""Jobs on disk: what was repaired and which files belong to it, with two programs at work and disks as they are."""

import subprocess
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from coach.cli import main
from coach.jobs import record_file, store
from coach.jobs.errors import CannotKeep, JobBusy, JobDamaged, JobError, NoSuchJob, SeveralOpen
from coach.jobs.lock import Locked
from coach.jobs.records import SignOff
from coach.jobs.store import JobStore

WHEN = datetime(2026, 11, 19, 18, 0, tzinfo=UTC)


@pytest.fixture
def jobs(tmp_path: Path) -> Iterator[JobStore]:
    yield JobStore(tmp_path)


def test_a_job_keeps_what_was_repaired_and_is_found_again(jobs: JobStore) -> None:
    job = jobs.new(WHEN, ("p0135",), "front oxygen sensor", "connector cleaned too", 88_412.0)
    assert job.record.id == "2026-11-19-p0135"
    found = jobs.named("2026-11-19-p0135").record
    assert (found.codes, found.part, found.odometer_km) == (("P0135",), "front oxygen sensor", 88_412.0)
    assert jobs.open_job() is not None
    assert jobs.new(WHEN, ("P0135",)).record.id == "2026-11-19-p0135-2"


def test_files_belong_to_the_job_in_order(jobs: JobStore) -> None:
    job = jobs.new(WHEN, ("P0135",))
    before = job.new_file("before", WHEN)
    drive = job.new_file("drive", WHEN)
    before.write_text("{}")
    assert [entry.kind for entry, _ in job.files()] == ["before"]
    assert [one.entry.file for one in job.ledger()] == [before.name, drive.name]
    assert drive.name == "002-drive-2026-11-19-1800.journal"


def test_two_open_jobs_have_to_be_named_and_a_signed_off_one_is_open_no_more(jobs: JobStore) -> None:
    first, second = jobs.new(WHEN), jobs.new(WHEN)
    with pytest.raises(SeveralOpen, match=second.record.id):
        jobs.open_job()
    first.sign_off(SignOff("2026-11-22T10:00:00", "confirmed", "us-il", "ready"))
    found = jobs.open_job()
    assert found is not None
    assert found.record.id == second.record.id


def test_mistakes_are_named(jobs: JobStore) -> None:
    with pytest.raises(JobError, match="P04"):
        jobs.new(WHEN, ("P04",))
    jobs.new(WHEN)
    with pytest.raises(NoSuchJob, match="2026-11-19"):
        jobs.named("yesterday")


WRITE_FIVE = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from coach.jobs.store import JobStore
job = JobStore(Path(sys.argv[1])).named(sys.argv[2])
for _ in range(5):
    job.new_file("drive", datetime(2026, 11, 20, tzinfo=UTC)).write_text(sys.argv[3])
"""


def test_two_programs_on_one_job_lose_nothing(jobs: JobStore, tmp_path: Path) -> None:
    job = jobs.new(WHEN, ("P0135",))
    command = [sys.executable, "-c", WRITE_FIVE, str(tmp_path), job.record.id]
    both = [subprocess.Popen([*command, name]) for name in ("one", "two")]
    assert [program.wait(timeout=20) for program in both] == [0, 0]
    files = [path.read_text() for _, path in job.again().files("drive")]
    assert (files.count("one"), files.count("two")) == (5, 5)
    assert [p.name for p in job.folder.iterdir() if ".part" in p.name or ".probe" in p.name] == []


def test_a_job_somebody_else_is_writing_is_busy_not_damaged(jobs: JobStore) -> None:
    job = jobs.new(WHEN)
    with Locked(job.folder), pytest.raises(JobBusy), Locked(job.folder, wait_s=0.0):
        pass


def test_a_damaged_record_is_said_and_the_other_jobs_are_still_listed(jobs: JobStore) -> None:
    broken, whole = jobs.new(WHEN, ("P0135",)), jobs.new(WHEN)
    (broken.folder / "job.json").write_bytes(b'{"job": 1, "id"')
    found, damaged = jobs.all()
    assert [job.record.id for job in found] == [whole.record.id]
    assert "journals beside it are whole" in str(damaged[0])
    with pytest.raises(JobDamaged):
        jobs.named(broken.record.id)


def test_a_full_disk_is_said_before_anything_begins(jobs: JobStore, monkeypatch: pytest.MonkeyPatch) -> None:
    job = jobs.new(WHEN)
    monkeypatch.setattr(store.shutil, "disk_usage", lambda _folder: type("Usage", (), {"free": 3 << 20})())
    with pytest.raises(CannotKeep, match="3 MB free"):
        job.new_file("drive", WHEN)
    assert job.again().record.entries == ()


def test_a_folder_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(CannotKeep):
        JobStore(tmp_path / "file").new(WHEN)


def test_a_record_that_cannot_be_written_leaves_the_old_one(jobs: JobStore, monkeypatch: pytest.MonkeyPatch) -> None:
    job = jobs.new(WHEN, part="sensor")

    def full(_descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(record_file.os, "fsync", full)
    with pytest.raises(CannotKeep, match="the old record stands"):
        job.sign_off(SignOff("2026-11-22", "confirmed"))
    assert job.again().is_open


def test_what_is_known_later_is_added_and_a_makers_own_code_takes_the_monitor_the_user_names(jobs: JobStore) -> None:
    job = jobs.new(WHEN, ("P1135",), "front sensor", chosen={"p1135": "oxygen sensor heater"})
    assert job.again().record.chosen == {"P1135": "oxygen_sensor_heater"}
    job.repaired(("P0420",), note="second visit")
    record = job.again().record
    assert (record.codes, record.part, record.note) == (("P1135", "P0420"), "front sensor", "second visit")


@pytest.mark.parametrize(
    ("chosen", "said"),
    [
        ({"P1135": "oxygen_heater"}, "the nearest is oxygen_sensor_heater"),
        ({"P1136": "catalyst"}, "P1136 is no code of this job"),
        ({"P0420": "evaporative_system"}, "its monitor is known, catalyst"),
    ],
)
def test_a_choice_that_cannot_be_is_refused_with_the_reason(jobs: JobStore, chosen: dict[str, str], said: str) -> None:
    job = jobs.new(WHEN, ("P1135", "P0420"))
    with pytest.raises(JobError, match=said):
        job.repaired(chosen=chosen)
    assert job.again().record.chosen == {}


def test_a_job_is_signed_off_once(jobs: JobStore) -> None:
    job = jobs.new(WHEN)
    job.sign_off(SignOff("2026-11-22T10:00:00", ""))
    with pytest.raises(JobError, match="signed off already"):
        job.sign_off(SignOff("2026-11-23T10:00:00", ""))


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ('"P0135"', '"P0Z35"'),
        ('"001-before-2026-11-19-1800.journal"', '"../../elsewhere.journal"'),
        ('"chosen": {}', '"chosen": {"P1135": "heater"}'),
        ('"when": "2026', '"when": "yesterday'),
    ],
)
def test_a_record_edited_by_hand_names_what_is_wrong_and_is_not_believed(
    jobs: JobStore, right: str, wrong: str
) -> None:
    job = jobs.new(WHEN, ("P0135",))
    job.new_file("before", WHEN)
    path = job.folder / "job.json"
    text = path.read_text()
    assert right in text
    path.write_text(text.replace(right, wrong))
    with pytest.raises(JobDamaged, match=r"job\.json: "):
        jobs.named(job.record.id)
    assert [str(path) in str(problem) for problem in jobs.all()[1]] == [True]


def test_words_that_are_no_text_get_one_line_and_leave_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    jobs = ["--jobs", str(tmp_path)]
    note = b"sensor \xff".decode(errors="surrogateescape")  # as the shell hands over what is not UTF-8
    assert main(["job", "new", "--code", "P0135", "--note", note, *jobs]) == 2
    assert not (tmp_path / "jobs").exists()
    assert main(["job", "new", "--code", "P0135", *jobs]) == 0
    for command in (["job", "change", "--part", note], ["job", "sign-off", "--note", note]):
        assert main([*command, *jobs]) == 2
    said = capsys.readouterr().err.splitlines()
    assert len(said) == 3
    assert all("not UTF-8 behind 'sensor '" in line for line in said)
    assert JobStore(tmp_path).open_job() is not None


def test_a_job_that_cannot_be_written_leaves_no_folder(jobs: JobStore, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_folder: Path, _record: object) -> None:
        raise CannotKeep("the disk is full")

    monkeypatch.setattr(store, "write_record", full)
    with pytest.raises(CannotKeep):
        jobs.new(WHEN)
    assert [path.name for path in jobs.folder.iterdir()] == [".lock"]
