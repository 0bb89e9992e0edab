"""A job on the command line: what the user tells once, what became of its files, its end. Nothing is asked of a car.

The recordings are written byte by byte, after SAE J1979; cars and VINs are invented.
"""

import json
import sys
from pathlib import Path
from typing import Any

import pytest

from coach.cli import main
from coach.jobs.store import Job, JobStore
from coach.library import shipped
from coach.session.ledger import keep_ledger
from tests.inspection.story import THURSDAY
from tests.inspection.test_evidence import CLEAN, FAULT, PASSED, RESET, add, said, vin
from tests.inspection.test_two_words import PROVED

Out = pytest.CaptureFixture[str]


@pytest.fixture
def job(tmp_path: Path) -> Job:
    """P0135 read out and cleared, on a car whose VIN proves 2003."""
    made = JobStore(tmp_path).new(THURSDAY, ("P0135",), "front oxygen sensor")
    add(made, "before", said(FAULT, vin(PROVED)))
    add(made, "clear", said(vin(PROVED), {"04": "44"}, {**RESET, "0A": "4A010135"}))
    return made


@pytest.fixture
def done(job: Job) -> Job:
    """The same, confirmed by a read-out after it."""
    add(job, "between", said(CLEAN, {"0641": PASSED}, vin(PROVED)))
    return job


def coach(job: Job, *arguments: str) -> int:
    return main([*arguments, "--jobs", str(job.folder.parent.parent)])


def shown(job: Job, capsys: Out, *arguments: str) -> dict[str, Any]:
    capsys.readouterr()
    coach(job, *(arguments or ("job", "show")), "--json")
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


def test_what_is_told_once_judges_the_job_and_its_report_from_then_on(done: Job, capsys: Out) -> None:
    assert shown(done, capsys)["inspection"] is None
    assert coach(done, "job", "change", "--rules", "us-federal", "--fuel-type", "petrol") == 0
    found = shown(done, capsys)
    assert found["told"]["rule"] == "us-federal"
    assert (found["inspection"]["outcome"], found["inspection"]["model_year"]) == ("ready", 2003)
    assert shown(done, capsys, "report", done.record.id)["verdicts"][0]["rule"]["id"] == "us-federal"
    assert coach(done, "job", "show") == 0
    page = capsys.readouterr().out
    assert "By your word: petrol and judged by us-federal" in page
    assert "United States federal baseline (40 CFR 85.2222, 85.2207): ready." in page
    assert coach(done, "job", "sign-off") == 0
    assert "confirmed, ready by us-federal" in capsys.readouterr().out


def test_whether_a_place_inspects_the_car_is_told_once_too(done: Job, capsys: Out) -> None:
    oregon = ("job", "change", "--rules", "us-or", "--fuel-type", "petrol")
    assert coach(done, *oregon, "--inspected", "no", "--kind", "plug-in") == 0  # 20 years and older: out in Medford
    found = shown(done, capsys)
    assert (found["told"]["inspected"], found["told"]["kind"]) == (False, "plug_in")
    assert (found["inspection"]["outcome"], found["inspection"]["exempt"]["id"]) == ("exempt", "not_inspected")
    coach(done, "job", "show")
    assert "Oregon does not inspect it: a car 21 years old or older is not inspected" in " ".join(
        capsys.readouterr().out.split()
    )
    assert coach(done, "job", "change", "--inspected", "yes", "--odometer", "90000") == 0
    capsys.readouterr()
    assert coach(done, "job", "show") == 0
    assert "By your word: petrol, plug-in hybrid, inspected there and judged by us-or" in capsys.readouterr().out
    found = shown(done, capsys)["inspection"]
    assert (found["outcome"], found["odometer_km"], found["kind"]) == ("ready", 90000.0, "plug_in")
    assert coach(done, "job", "sign-off") == 0
    assert "confirmed, ready by us-or" in capsys.readouterr().out


def test_a_year_the_vin_contradicts_is_told_beside_it_and_holds_only_against_the_car(job: Job, capsys: Out) -> None:
    report = ("report", job.record.id, "--rules", "us-federal", "--model-year", "2000")
    told = shown(job, capsys, *report)["verdicts"][0]["vehicle"]
    assert (told["model_year"], told["model_year_by"]) == (2003, "car")
    assert (told["car_says"]["model_year"], told["user_says"]["model_year"]) == (2003, 2000)
    assert coach(job, *report) == 0
    assert "The car's VIN says 2003, you say 2000" in " ".join(capsys.readouterr().out.split())
    told = shown(job, capsys, *report, "--against-the-car")["verdicts"][0]["vehicle"]
    assert (told["model_year"], told["model_year_by"]) == (2000, "user")


def test_without_a_rule_a_job_still_tells_what_its_car_says_otherwise(job: Job, capsys: Out) -> None:
    coach(job, "job", "change", "--model-year", "2000", "--fuel-type", "diesel")
    coach(job, "job", "show")
    page = capsys.readouterr().out
    assert "By your word: model year 2000 and diesel" in page
    assert "The car's VIN says 2003, you say 2000" in page and "The car says petrol, you say diesel" in page


def test_a_report_keeps_nothing_and_a_word_on_its_command_line_goes_before_the_jobs(job: Job, capsys: Out) -> None:
    coach(job, "job", "change", "--rules", "us-federal", "--model-year", "2000", "--against-the-car")
    kept = job.again().record
    other = shown(job, capsys, "report", job.record.id, "--rules", "us-il", "--model-year", "2001")["verdicts"][0]
    assert (other["rule"]["id"], other["model_year"]) == (
        "us-il",
        2003,
    )  # a new word; that the car is wrong is not in it
    own = shown(job, capsys, "report", job.record.id)["verdicts"][0]
    assert (own["rule"]["id"], own["model_year"]) == ("us-federal", 2000)
    assert job.again().record == kept


def test_a_rule_of_ones_own_that_is_gone_is_said_and_the_job_is_still_shown(
    job: Job, tmp_path: Path, capsys: Out, monkeypatch: pytest.MonkeyPatch
) -> None:
    own = tmp_path / "own.toml"
    own.write_text((shipped("profiles") / "inspection" / "us-federal.toml").read_text())
    monkeypatch.chdir(tmp_path)
    assert coach(job, "job", "change", "--rules", "own.toml") == 0
    assert job.again().record.rule == str(own)
    own.unlink()
    assert coach(job, "job", "show") == 1  # its monitor has not run
    told = capsys.readouterr()
    assert "P0135: not yet confirmed." in told.out
    assert told.err.count("\n") == 1 and "judged by a rule that cannot be used" in told.err
    assert coach(job, "report", job.record.id) == 2
    assert "name another with --rules" in capsys.readouterr().err


def test_what_the_user_says_of_units_and_files_is_kept_and_shown(job: Job, capsys: Out) -> None:
    keep_ledger(job)
    name = job.record.entries[1].file
    assert coach(job, "job", "change", "--unit", "7e8=replaced", "--same-car", name) == 0
    coach(job, "job", "show")
    page = capsys.readouterr().out
    assert "control unit 7E8 was replaced" in page and f"{name} is of the same car" in page
    told = [(one["what"], one["name"], one["value"]) for one in shown(job, capsys)["said"]]
    assert told == [("unit", "7E8", "replaced"), ("same_car", name, None)]
    assert told == [tuple(list(one.values())[1:]) for one in shown(job, capsys, "report", job.record.id)["job"]["said"]]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--unit", "7E8"], "write it as ADDRESS=WHAT"),
        (["--unit", "7E6=replaced"], "none that answered in this job; there are 7E8"),
        (["--unit", "7E8=painted"], "one of taken_out, replaced, reprogrammed"),
        (["--same-car", "drive.journal"], "no file of this job"),
        (["--model-year", "1899"], "--model-year 1899"),
        (["--rules", "us-feral"], "no rule 'us-feral'"),
        (["--unit", "7E8=replaced", "--code", "P04"], "'P04' is not a trouble code"),
    ],
)
def test_what_cannot_be_said_gets_one_line_and_changes_nothing(
    job: Job, capsys: Out, arguments: list[str], words: str
) -> None:
    keep_ledger(job)
    before = job.again().record
    assert coach(job, "job", "change", "--note", "x", *arguments) == 2
    told = capsys.readouterr().err
    assert words in told and told.count("\n") == 1
    assert job.again().record == before


# ---------------------------------------------------------------- the end of a job


def test_a_repair_that_is_not_confirmed_is_closed_only_when_that_is_wanted(job: Job, capsys: Out) -> None:
    assert coach(job, "job", "sign-off") == 1
    told = capsys.readouterr()
    assert "P0135: not yet confirmed." in told.out and "its monitor has not run since" in told.out
    assert "--anyway" in told.err
    assert job.again().is_open
    assert coach(job, "job", "sign-off", "--anyway") == 0
    record = job.again().record
    assert record.signed_off is not None and record.signed_off.anyway
    coach(job, "job", "show", job.record.id)
    assert "all the same, by the user's own wish" in capsys.readouterr().out


def test_a_confirmed_repair_is_closed_without_asking(done: Job) -> None:
    assert coach(done, "job", "sign-off") == 0
    record = done.again().record
    assert record.signed_off is not None and not record.signed_off.anyway


@pytest.mark.parametrize(("typed", "code"), [("yes", 0), ("no", 1), ("", 1), (None, 1)])
def test_at_a_terminal_it_is_asked(job: Job, monkeypatch: pytest.MonkeyPatch, typed: str | None, code: int) -> None:
    def answer(_question: str) -> str:
        if typed is None:
            raise EOFError
        return typed

    monkeypatch.setattr(sys.stdin, "isatty", lambda: True)
    monkeypatch.setattr("builtins.input", answer)
    assert coach(job, "job", "sign-off") == code
    assert job.again().is_open is (code == 1)


@pytest.mark.parametrize("codes", [(), ("P0135",)])
def test_a_job_of_which_nothing_can_be_said_says_why(tmp_path: Path, capsys: Out, codes: tuple[str, ...]) -> None:
    job = JobStore(tmp_path).new(THURSDAY, codes)
    assert coach(job, "job", "sign-off") == 1
    assert "no repair can be confirmed" in capsys.readouterr().out
    assert job.again().is_open


# ---------------------------------------------------------------- its files


def test_every_file_that_is_not_whole_is_shown_with_what_became_of_it(done: Job, capsys: Out) -> None:
    keep_ledger(done)
    before, clear, between = (one.path for one in done.ledger())
    before.unlink()
    between.write_bytes(between.read_bytes() + b"\n")
    done.nothing_written(done.new_file("drive", THURSDAY))
    states = {one["file"]: one["state"] for one in shown(done, capsys)["files"]}
    assert [*states.values()] == ["missing", "whole", "changed", "empty"]
    coach(done, "job", "show")
    page = capsys.readouterr().out
    assert f"{before.name}: not in the folder any more; it held P0135 stored" in page
    assert "changed since it was kept" in page and "begun, nothing written" in page
    assert coach(done, "report", done.record.id) == 0
    paper = " ".join(capsys.readouterr().out.split())
    assert f"{before.name}: not in the folder any more" in paper
    assert f"{clear.name}: " not in paper
    assert "2 of 3 files of this job missing, changed or not readable" in paper
