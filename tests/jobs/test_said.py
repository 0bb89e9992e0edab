"""What the user said of a job once: kept in time order, checked, and not asked again."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from coach.jobs.errors import JobError
from coach.jobs.records import Said
from coach.jobs.store import Job, JobStore

WHEN = datetime(2026, 11, 19, 18, 0, tzinfo=UTC)


@pytest.fixture
def job(tmp_path: Path) -> Job:
    return JobStore(tmp_path).new(WHEN, ("P0135",))


def test_what_became_of_a_unit_is_kept_in_time_order_and_the_last_word_holds(job: Job) -> None:
    job.say(WHEN, {"7e9": "replaced", "7E8": "reprogrammed"})
    job.say(WHEN + timedelta(days=1), {"7E9": "taken_out"})
    record = job.again().record
    assert record.said[0] == Said("2026-11-19T18:00:00+00:00", "unit", "7E9", "replaced")
    assert [one.value for one in record.said] == ["replaced", "reprogrammed", "taken_out"]
    assert record.units_said == {"7E9": "taken_out", "7E8": "reprogrammed"}


def test_a_file_is_of_the_same_car_by_the_users_word(job: Job) -> None:
    path = job.new_file("drive", WHEN)
    job.say(WHEN, same_car=[str(path)])
    assert job.again().record.same_car == {path.name}


@pytest.mark.parametrize(
    ("units", "files", "said"),
    [
        ({"7E9": "painted"}, [], "one of taken_out, replaced, reprogrammed"),
        ({"engine": "replaced"}, [], "no address of a control unit"),
        ({}, ["001-drive.journal"], "no file of this job; its files are none yet"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_kept(
    job: Job, units: dict[str, str], files: list[str], said: str
) -> None:
    with pytest.raises(JobError, match=said):
        job.say(WHEN, units, files)
    assert job.again().record.said == ()


def test_what_a_verdict_has_to_know_is_told_once_and_replaced_by_what_is_told_later(job: Job) -> None:
    job.told(rule="us-il", model_year=2012, fuel="gasoline", gvwr_lb=4500.0, kind="hybrid", inspected=False)
    job.told(model_year=2013, inspected=True)
    record = job.again().record
    assert (record.rule, record.model_year, record.fuel, record.gvwr_lb) == ("us-il", 2013, "gasoline", 4500.0)
    assert (record.kind, record.inspected) == ("hybrid", True)


def test_that_the_car_is_wrong_belongs_to_the_word_it_was_said_with(job: Job) -> None:
    job.told(model_year=2000, against_the_car=True)
    job.told(model_year=2000)
    assert job.record.against_the_car
    job.told(rule="us-il")
    assert job.record.against_the_car
    job.told(model_year=2003)
    assert not job.record.against_the_car
