"""A file of a job that is gone, changed or not readable is evidence that is missing: what rests on it is not confirmed.

The recordings are written byte by byte, after SAE J1979; the car is invented. The repaired code is P0135.
"""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from coach.cli import main
from coach.jobs.store import Job, JobStore
from coach.session.ledger import keep_ledger
from tests.inspection.story import THURSDAY
from tests.inspection.test_evidence import CLEAN, FAULT, OWN, PASSED, RESET, add, said, vin

Out = pytest.CaptureFixture[str]
CAME = {**RESET, "07": "47010135"}


def begun(tmp_path: Path, cleared: bool) -> Job:
    """P0135 read out, and cleared or not."""
    job = JobStore(tmp_path).new(THURSDAY, ("P0135",))
    add(job, "before", said(FAULT, vin(OWN)))
    if cleared:
        add(job, "clear", said(vin(OWN), {"04": "44"}, {**RESET, "0A": "4A010135"}))
    return job


def confirmed(job: Job) -> None:
    """A read-out that confirms the repair."""
    add(job, "between", said(CLEAN, {"0641": PASSED}, vin(OWN)))
    keep_ledger(job)


def shown(job: Job, capsys: Out) -> tuple[int, dict[str, Any]]:
    """The exit code of `coach job show`, and its first confirmation."""
    capsys.readouterr()
    code = main(["job", "show", "--json", "--jobs", str(job.folder.parent.parent)])
    return code, json.loads(capsys.readouterr().out)["confirmations"][0]


def missing(one: dict[str, Any]) -> list[str]:
    return [m["id"] for m in one["missing"]]


@pytest.mark.parametrize(
    ("harm", "named"),
    [
        (Path.unlink, "recording_missing"),
        (lambda path: path.write_bytes(path.read_bytes().replace(b"4700", b"4701")), "recording_changed"),
        (lambda path: path.write_bytes(b""), "recording_changed"),
    ],
)
def test_without_a_drive_since_the_clear_nothing_is_confirmed(
    tmp_path: Path, capsys: Out, harm: Callable[[Path], object], named: str
) -> None:
    job = begun(tmp_path, cleared=True)
    drive = add(job, "drive", said(RESET, vin(OWN)))
    confirmed(job)
    assert shown(job, capsys)[0] == 0
    harm(drive)
    code, one = shown(job, capsys)
    assert (code, one["outcome"], missing(one)) == (3, "cannot_say", [named])
    assert one["missing"][0]["files"] == one["not_whole"] == [drive.name]
    sign_off = ["job", "sign-off", "--jobs", str(tmp_path)]
    assert main(sign_off) == 1
    assert drive.name in capsys.readouterr().out
    assert main(["report", job.record.id, "--jobs", str(tmp_path)]) == 0
    assert "cannot be said" in capsys.readouterr().out


def test_a_code_that_came_in_a_file_that_is_deleted_has_come(tmp_path: Path, capsys: Out) -> None:
    job = begun(tmp_path, cleared=True)
    drive = add(job, "drive", said(CAME, vin(OWN)))
    confirmed(job)
    before = shown(job, capsys)
    drive.unlink()
    after = shown(job, capsys)
    assert (before[0], after[0]) == (1, 1)
    assert (before[1]["outcome"], after[1]["outcome"]) == ("not_yet", "not_yet")
    assert missing(after[1]) == ["recording_missing", "appeared_meanwhile"]
    assert before[1]["since"]["kind"] == after[1]["since"]["kind"] == "pending"


def test_what_was_there_before_the_repair_is_no_news_in_a_lost_file(tmp_path: Path, capsys: Out) -> None:
    job = begun(tmp_path, cleared=False)
    drive = add(job, "drive", said({**FAULT, "0101": "410181076565"}, vin(OWN)))
    confirmed(job)
    drive.unlink()
    _code, one = shown(job, capsys)
    assert "appeared_meanwhile" not in missing(one) and "recording_missing" in missing(one)


def test_a_clear_that_is_lost_clears_nothing(tmp_path: Path, capsys: Out) -> None:
    job = begun(tmp_path, cleared=True)
    confirmed(job)
    assert shown(job, capsys)[0] == 0
    job.files("clear")[0][1].unlink()
    code, one = shown(job, capsys)
    assert (code, "monitor_not_reset" in missing(one), "recording_missing" in missing(one)) == (1, True, True)


def test_what_is_lost_from_before_the_clear_and_what_never_was_change_nothing(tmp_path: Path, capsys: Out) -> None:
    job = begun(tmp_path, cleared=True)
    job.nothing_written(job.new_file("drive", THURSDAY))
    confirmed(job)
    job.files("before")[0][1].unlink()
    assert shown(job, capsys)[0] == 0


def test_after_a_new_clear_a_lost_file_does_not_stand_in_the_way(tmp_path: Path, capsys: Out) -> None:
    job = begun(tmp_path, cleared=True)
    add(job, "drive", said(CAME, vin(OWN))).unlink()
    add(job, "before", said({**CLEAN, "0A": "4A010135"}, vin(OWN)))
    add(job, "clear", said(vin(OWN), {"04": "44"}, {**RESET, "0A": "4A010135"}))
    confirmed(job)
    assert shown(job, capsys)[0] == 0
