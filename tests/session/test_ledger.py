"""What a job's ledger says of its evidence: which files are lost, since when that matters, what they held.

The recordings are written byte by byte, after SAE J1979; the car is invented.
"""

from pathlib import Path

import pytest

from coach.inspection.confirm import Appeared, Lost
from coach.jobs.store import Job, JobStore
from coach.session.ledger import keep_ledger, lost_since
from tests.inspection.story import THURSDAY
from tests.inspection.test_evidence import CLEAN, FAULT, RESET, add, said


@pytest.fixture
def job(tmp_path: Path) -> Job:
    """A read-out, the clear, a drive in which the code came and went, a read-out; all of them closed and sealed."""
    made = JobStore(tmp_path).new(THURSDAY, ("P0135",))
    add(made, "before", said(FAULT))
    add(made, "clear", said({"04": "44"}, RESET))
    add(made, "drive", said(CLEAN, {"03": "43010135"}, {"07": "47010420"}))
    add(made, "between", said(CLEAN))
    keep_ledger(made)
    return made


def paths(job: Job) -> list[Path]:
    return [one.path for one in job.ledger()]


def test_nothing_is_lost_while_every_file_is_as_it_was_kept(job: Job) -> None:
    assert [one.state for one in job.ledger()] == ["whole"] * 4
    assert lost_since(job.ledger()) == ()


def test_only_what_is_lost_since_the_clear_matters(job: Job) -> None:
    before, clear, drive, between = paths(job)
    before.unlink()
    between.write_bytes(between.read_bytes() + b"\n")
    drive.write_bytes(b"")
    named = [(one.file, one.why) for one in lost_since(job.ledger(), clear.name)]
    assert named == [(drive.name, "changed"), (between.name, "changed")]
    assert [one.file for one in lost_since(job.ledger())] == [before.name, drive.name, between.name]
    assert [one.file for one in lost_since(job.ledger(), without=[drive.name])] == [before.name, between.name]


def test_a_lost_file_still_tells_the_codes_that_were_new_in_it(job: Job) -> None:
    drive = paths(job)[2]
    drive.unlink()
    when = job.record.entries[2].when
    stored, pending = Appeared("P0135", "stored", when, 5.05), Appeared("P0420", "pending", when, 6.05)
    assert lost_since(job.ledger()) == (Lost(drive.name, "missing", (stored, pending)),)
    assert lost_since(job.ledger(), known={"P0135"}) == (Lost(drive.name, "missing", (pending,)),)


def test_a_file_that_was_never_sealed_is_lost_too_and_tells_nothing(job: Job) -> None:
    add(job, "drive", said(CLEAN)).unlink()
    assert [(one.why, one.appeared) for one in lost_since(job.ledger())] == [("missing", ())]


def test_a_name_under_which_nothing_was_ever_written_is_not_lost(job: Job) -> None:
    job.nothing_written(job.new_file("drive", THURSDAY))
    assert lost_since(job.ledger()) == ()
