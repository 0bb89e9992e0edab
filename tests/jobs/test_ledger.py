"""The ledger of a job: each file by its seal, what became of it since, and what is still known when it is gone.

The recordings are written here byte by byte, after SAE J1979; car and VIN are invented.
"""

import os
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import msgspec
import pytest

from coach.car.arrivals import Answer, Arrival, Request
from coach.jobs.errors import JobDamaged, JobError
from coach.jobs.records import VERSION, Brought, Entry
from coach.jobs.store import Job, JobStore
from coach.journal.records import Context, Header
from coach.journal.writer import JournalWriter
from coach.session.ledger import keep_ledger
from tests.recordings import ask

WHEN = datetime(2026, 11, 19, 18, 0, tzinfo=UTC)
VIN = "ZZZSM0000S0000001"
HERE = Path(__file__).parent


@pytest.fixture
def job(tmp_path: Path) -> Job:
    return JobStore(tmp_path).new(WHEN, ("P0135",))


def record(path: Path, arrivals: list[Arrival], last_line: bool = True) -> Path:
    """A journal with or without its last line."""
    journal = JournalWriter(path, Header(1, "live", "test", WHEN.isoformat(), None, None, True), Context())
    for arrival in arrivals:
        journal.write(arrival)
    if last_line:
        journal.close("done")
    else:
        journal._shut()
    return path


READ = [
    *ask(1.0, 1, "0101", ("7E8", "410181076500"), ("7E9", "410100040000")),
    *ask(2.0, 2, "0902", ("7E8", f"490201{VIN.encode().hex()}")),
    *ask(3.0, 3, "03", ("7E8", "43010135"), ("7E9", "4300")),
    *ask(4.0, 4, "07", ("7E8", "47010420"), ("7E9", "4700")),
]


def state(job: Job, number: int = 0) -> str:
    return job.ledger()[number].state


def entry(job: Job) -> Entry:
    return job.again().record.entries[0]


def kept(job: Job, arrivals: list[Arrival] = READ) -> Path:
    """A file of the job, closed and sealed."""
    path = record(job.new_file("before", WHEN), arrivals)
    job.seal(path, WHEN)
    return path


def test_a_sealed_file_is_whole_and_what_it_brought_is_known_without_it(job: Job) -> None:
    path = kept(job)
    assert state(job) == "whole"
    seal = entry(job).sealed
    assert seal is not None and seal.whole and seal.size_bytes == path.stat().st_size
    path.unlink()
    assert state(job) == "missing"
    assert entry(job).sealed == seal
    assert seal.brought == Brought(
        ("7E8", "7E9"),
        {"stored": {"P0135": 3.05}, "pending": {"P0420": 4.05}},
        "none",
        ("misfire", "fuel_system", "comprehensive_component", "catalyst", "evaporative_system", "oxygen_sensor",
         "oxygen_sensor_heater"),
    )  # fmt: skip


def test_no_vin_stands_in_the_record_of_a_job(job: Job) -> None:
    path = kept(job)
    assert VIN.encode().hex() in path.read_text().lower()
    told = (job.folder / "job.json").read_text()
    assert VIN not in told and VIN.encode().hex() not in told.lower()


@pytest.mark.parametrize(
    ("change", "becomes"),
    [
        (lambda path: path.write_bytes(path.read_bytes().replace(b"43010135", b"43010136")), "changed"),
        (lambda path: path.write_bytes(path.read_bytes()[:-40]), "changed"),
        (lambda path: path.write_bytes(path.read_bytes() + b"\n"), "changed"),
        (lambda path: path.write_bytes(b""), "changed"),
        (Path.unlink, "missing"),
        (lambda path: (path.unlink(), path.mkdir()), "missing"),
        (lambda path: (path.unlink(), os.mkfifo(path)), "missing"),
        (Path.touch, "whole"),
    ],
)
def test_whatever_changes_a_sealed_file_is_seen(job: Job, change: Callable[[Path], object], becomes: str) -> None:
    change(kept(job))
    assert state(job) == becomes


def test_a_name_that_was_reserved_and_never_written_to_is_no_missing_evidence(job: Job) -> None:
    first, second = job.new_file("before", WHEN), job.new_file("drive", WHEN)
    job.nothing_written(first)
    assert [(one.state, one.lost) for one in job.ledger()] == [("empty", False), ("missing", True)]
    record(second, READ)
    job.seal(second, WHEN)
    assert state(job, 1) == "whole"


def test_what_is_no_journal_is_unreadable_and_cannot_be_sealed(job: Job) -> None:
    path = job.new_file("before", WHEN)
    path.write_bytes(b"no journal")
    keep_ledger(job)
    assert (state(job), job.ledger()[0].lost) == ("unreadable", True)
    assert path.name in job.ledger()[0].why


def aged(path: Path, hours: float) -> None:
    then = (datetime.now(UTC) - timedelta(hours=hours)).timestamp()
    os.utime(path, (then, then))


@pytest.mark.parametrize(
    ("last_line", "hours", "becomes"), [(True, 0, "whole"), (False, 0, "unsealed"), (False, 7, "cut_short")]
)
def test_the_next_command_seals_what_is_over_and_leaves_what_may_be_gone_on_with(
    job: Job, last_line: bool, hours: float, becomes: str
) -> None:
    aged(record(job.new_file("drive", WHEN), READ, last_line), hours)
    assert state(job) == "unsealed"
    keep_ledger(job)
    assert state(job) == becomes
    assert not job.ledger()[0].lost


def test_a_file_that_is_gone_on_with_is_sealed_anew_at_its_end(job: Job) -> None:
    path = record(job.new_file("drive", WHEN), READ, last_line=False)
    job.seal(path, WHEN)
    assert state(job) == "cut_short"
    job.unseal(path)
    more = ask(9.0, 9, "07", ("7E8", "47010171"))
    journal = JournalWriter.behind(path, READ)
    for arrival in more:
        journal.write(arrival)
    journal.close("done")
    assert state(job) == "unsealed"
    job.seal(path, WHEN)
    assert state(job) == "whole"
    seal = entry(job).sealed
    assert seal is not None and seal.brought.codes["pending"] == {"P0420": 4.05, "P0171": 9.05}


def test_a_changed_file_is_not_gone_on_with(job: Job) -> None:
    path = record(job.new_file("drive", WHEN), READ, last_line=False)
    job.seal(path, WHEN)
    path.write_bytes(path.read_bytes().replace(b"47010420", b"4700"))
    with pytest.raises(JobError, match="changed since it was recorded"):
        job.unseal(path)
    assert state(job) == "changed"


def test_a_folder_that_cannot_be_written_is_left_as_it_is_without_a_word(job: Job) -> None:
    record(job.new_file("drive", WHEN), READ)
    (job.folder / ".lock").unlink()
    (job.folder / ".lock").mkdir()  # no file to lock on can be opened there
    before = (job.folder / "job.json").read_bytes()
    keep_ledger(job)
    assert ((job.folder / "job.json").read_bytes(), state(job)) == (before, "unsealed")


# how service 04 is confirmed (44) and refused (7F 04 with a reason; 78 is none): SAE J1979 from memory
@pytest.mark.parametrize(
    ("answers", "clear"),
    [
        ((("7E8", "44"), ("7E9", "44")), "proved"),
        ((("7E8", "44"),), "unproved"),
        ((("7E8", "44"), ("7E9", "7F0422")), "unproved"),
        ((("7E8", "7F0478"),), "unproved"),
        ((), "unproved"),
        ((("7E8", "7F0422"), ("7E9", "7F0422")), "refused"),
    ],
)
def test_a_clear_is_known_by_what_was_sent_who_confirmed_and_what_was_read_after_it(
    job: Job, answers: tuple[tuple[str, str], ...], clear: str
) -> None:
    reset = ask(6.0, 6, "0101", ("7E8", "410100076565"), ("7E9", "410100040000"))
    after = [*reset, *ask(7.0, 7, "03", ("7E8", "4300"), ("7E9", "4300"))]
    kept(job, [*READ, *ask(5.0, 5, "04", *answers), *(after if clear == "proved" else ())])
    seal = entry(job).sealed
    assert seal is not None and seal.brought.clear == clear


# ---------------------------------------------------------------- the record's versions


def old(tmp_path: Path) -> Job:
    """A job by the first version of the format, as it was kept."""
    folder = tmp_path / "jobs" / "2026-11-19-p1135"
    folder.mkdir(parents=True)
    (folder / "job.json").write_bytes((HERE / "version_1.json").read_bytes())
    return JobStore(tmp_path).named(folder.name)


def test_a_record_of_version_1_is_read_as_it_was_meant_and_written_anew_when_it_changes(tmp_path: Path) -> None:
    job = old(tmp_path)
    assert job.record.job == VERSION == 2
    assert job.record.codes == ("P1135", "P0420") and job.record.chosen == {"P1135": "oxygen_sensor_heater"}
    assert [entry.kind for entry in job.record.entries] == ["before", "clear", "drive", "between"]
    assert {one.state for one in job.ledger()} == {"missing"}
    assert job.record.signed_off is not None and job.record.signed_off.incomplete == ("evaporative_system",)
    path = record(job.folder / job.record.entries[0].file, READ)
    keep_ledger(job)
    told = msgspec.json.decode((job.folder / "job.json").read_bytes())
    assert (told["job"], told["entries"][0]["sealed"]["whole"], path.name) == (2, True, told["entries"][0]["file"])


def test_looking_at_a_record_of_version_1_does_not_write_it(tmp_path: Path) -> None:
    job = old(tmp_path)
    keep_ledger(job)
    assert (job.folder / "job.json").read_bytes() == (HERE / "version_1.json").read_bytes()


@pytest.mark.parametrize(
    ("written", "said"),
    [
        (b'{"job": 3, "id": "x", "opened": "x"}', "use a newer program"),
        (b'{"job": 0, "id": "x", "opened": "x"}', "which no program has written"),
        (b'{"job": "two", "id": "x", "opened": "x"}', "no record of a job"),
        (b"[1]", "no record of a job"),
        (b'{"job": 2, "id": "x", "opened": "x", "note": ' + b"[" * 100_000, "no record of a job"),
    ],
)
def test_a_record_no_program_wrote_gets_one_line(job: Job, written: bytes, said: str) -> None:
    (job.folder / "job.json").write_bytes(written)
    with pytest.raises(JobDamaged, match=said) as raised:
        job.again()
    assert "\n" not in str(raised.value)


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ('"sha256": "', '"sha256": "../'),
        ('"P0135": 3.05', '"P0Z35": 3.05'),
        ('"what": "unit"', '"what": "colour"'),
        ('"name": "7E9"', '"name": "\\u001b[31m"'),
        ('"value": "replaced"', '"value": "painted"'),
        ('"fuel": "diesel"', '"fuel": "wood"'),
    ],
)
def test_a_seal_or_a_word_edited_by_hand_is_named_and_not_believed(job: Job, right: str, wrong: str) -> None:
    kept(job)
    job.say(WHEN, {"7E9": "replaced"})
    job.told(fuel="diesel")
    path = job.folder / "job.json"
    text = path.read_text()
    assert right in text
    path.write_text(text.replace(right, wrong))
    with pytest.raises(JobDamaged, match=r"job\.json: "):
        job.again()


def test_a_request_alone_tells_no_unit(job: Job) -> None:
    kept(job, [Request(1.0, 1, "0101"), Answer(1.1, 1, "7E8", bytes.fromhex("410100076500"))])
    seal = entry(job).sealed
    assert seal is not None and (seal.brought.units, seal.brought.codes) == (("7E8",), {})
