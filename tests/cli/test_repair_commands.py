"""A repair on the command line: a job, a read-out before, the clear, a verdict, the report. The car is simulated.

The rule used is the federal baseline as the shipped rule has it (40 CFR 85.2222), read in its source.
"""

import json
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from coach.cli import main
from coach.library import shipped
from tests.cli.test_live_commands import LONGEST_S, coach

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are POSIX")


@pytest.fixture
def port() -> Iterator[str]:
    """A small simulated car, key on, engine off: its sensor's heater just replaced, P0135 still stored."""
    mended = ("--fault", "open_sensor_heater", "--mended")
    with subprocess.Popen(
        coach("simulate", "--car", "small", "--delay-ms", "1", *mended), stdout=subprocess.PIPE, text=True
    ) as served:
        assert served.stdout is not None
        yield served.stdout.readline().split()[-1]
        served.send_signal(signal.SIGINT)


def test_a_repair_from_the_job_to_the_report(port: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    jobs = ["--jobs", str(tmp_path)]
    assert main(["job", "new", "--code", "p0135", "--part", "front sensor", *jobs]) == 0
    job_id = capsys.readouterr().out.split(":")[0]
    rules = ["--rules", "us-federal", "--model-year", "2012", "--fuel-type", "petrol"]
    ran = subprocess.run(
        coach("check", "--port", port, "--json", *rules, *jobs), capture_output=True, text=True, timeout=LONGEST_S
    )
    found = json.loads(ran.stdout)
    assert ran.returncode == 1, ran.stderr
    assert found["inspection"]["schema"] == "coach.verdict"
    assert found["inspection"]["outcome"] == "not_ready"
    assert found["codes"]["stored"]["certain"] == ["P0135"]
    diesel = subprocess.run(
        coach("check", "--port", port, "--fuel-type", "diesel"), capture_output=True, text=True, timeout=LONGEST_S
    )
    assert "The car says petrol, you say diesel: the car's word holds" in diesel.stderr
    for typed, code, said in (
        ("no\n", 1, "nothing was sent"),
        ("clear\n", 0, "Permanent, and rightly still there: P0135"),
    ):
        ran = subprocess.run(
            coach("clear", "--port", port, *jobs), input=typed, capture_output=True, text=True, timeout=LONGEST_S
        )
        assert ran.returncode == code, ran.stdout + ran.stderr
        assert said in ran.stdout
    ran = subprocess.run(
        coach("check", "--port", port, *rules, *jobs), capture_output=True, text=True, timeout=LONGEST_S
    )
    assert ran.stdout.startswith("United States federal baseline (40 CFR 85.2222, 85.2207): not ready. The reasons")
    assert main(["job", "show", "--json", *jobs]) == 1  # its monitor has not run since the clear
    shown = json.loads(capsys.readouterr().out)
    assert shown["schema"] == "coach.job"
    assert [(one["kind"], one["state"]) for one in shown["files"]] == [
        ("before", "whole"),  # coach check
        ("before", "whole"),  # coach clear that was left
        ("before", "whole"),
        ("clear", "whole"),
        ("between", "whole"),
    ]
    assert shown["files"][0]["brought"]["codes"]["stored"] == ["P0135"]
    assert shown["files"][3]["brought"]["clear"] == "proved"
    assert (shown["told"]["model_year"], shown["inspection"]["rule"]["id"]) == (2012, "us-federal")  # as told to check
    assert main(["job", "list", *jobs]) == 0
    assert job_id in capsys.readouterr().out
    assert main(["report", job_id, *jobs]) == 0
    report = capsys.readouterr().out
    assert "P0135" in report and "SIMULATED" in report and "Confirm with your local programme" in report
    assert main(["job", "sign-off", *jobs]) == 1  # not confirmed
    assert main(["job", "sign-off", "--anyway", *jobs]) == 0


def test_a_job_that_is_gone_before_the_word_is_typed_keeps_the_command_back(port: str, tmp_path: Path) -> None:
    jobs = ["--jobs", str(tmp_path)]
    assert main(["job", "new", "--code", "p0135", *jobs]) == 0
    with subprocess.Popen(
        coach("clear", "--port", port, *jobs),
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as clearing:
        assert clearing.stdout is not None
        for line in clearing.stdout:
            if line.startswith("To clear, type the word"):
                break
        shutil.rmtree(tmp_path / "jobs")
        _, said = clearing.communicate("clear\n", timeout=LONGEST_S)
    assert clearing.returncode == 2
    assert "nothing was sent; the car's memory is as it was" in said
    assert "Traceback" not in said


def test_rules_are_listed_and_shown_with_their_source(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rules", "list"]) == 0
    assert capsys.readouterr().out.count("\n") >= 30
    assert main(["rules", "list", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["schema"] == "coach.rules"
    assert main(["rules", "show", "us-co", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["rule"]["outdated"].startswith("amended in 2017")
    assert main(["rules", "show", "us-federal"]) == 0
    assert "40 CFR 85.2222" in capsys.readouterr().out


def test_rules_are_held_against_their_own_cases(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rules", "check"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) == 46 and all(line.endswith("all as the rule says") for line in lines)
    shipped_one = (shipped("profiles") / "inspection/us-il.toml").read_text(encoding="utf-8")
    own = tmp_path / "own.toml"
    own.write_text(shipped_one.replace("under_age = 4", "under_age = 5"), encoding="utf-8")
    assert main(["rules", "check", str(own), "us-ny"]) == 1
    said = capsys.readouterr().out
    assert "four years old: the case says refused, the rule exempt; told as not inspected there" in said
    assert "us-ny: 7 worked cases, all as the rule says" in said
    assert main(["rules", "check", "--json", str(own)]) == 1
    document = json.loads(capsys.readouterr().out)
    assert (document["schema"], document["rules"][0]["right"]) == ("coach.rules.check", False)
    own.write_text(shipped_one.replace("under_age", "under_agee"), encoding="utf-8")
    assert main(["rules", "check", str(own), "us-ny", "us-feral"]) == 2
    told = capsys.readouterr()
    assert "nearest known key is 'under_age'" in told.err and "no rule 'us-feral'" in told.err
    assert "us-ny: 7 worked cases" in told.out


def test_what_the_car_does_not_tell_is_taken_by_the_users_word(capsys: pytest.CaptureFixture[str]) -> None:
    journal = str(shipped("replays") / "small_car_morning_drive.journal.gz")
    last_year = str(datetime.now().year - 1)
    missouri = ["report", journal, "--json", "--rules", "us-mo", "--model-year", last_year]

    def verdict(*more: str) -> dict[str, Any]:
        assert main([*missouri, *more]) == 0
        found: dict[str, Any] = json.loads(capsys.readouterr().out)["verdicts"][0]
        return found

    told = verdict("--odometer-mi", "9000", "--inspected", "no")  # new, first title, below 40,000 miles
    assert (told["outcome"], told["exempt"]["id"]) == ("exempt", "not_inspected")
    assert told["odometer_km"] == pytest.approx(14484.1, abs=0.1)
    assert verdict("--odometer-mi", "45000")["exempt"] is None
    assert verdict("--weight-lb", "9000")["outcome"] == "exempt"
    assert verdict("--kind", "plug-in")["exempt"]["sure"] == "memory"
    assert main([*missouri, "--odometer-mi", "-1"]) == 2
    assert "--odometer-mi -1: between 0 and" in capsys.readouterr().err


def test_a_verdict_takes_a_retest_and_the_lamp_by_the_users_word(capsys: pytest.CaptureFixture[str]) -> None:
    journal = str(shipped("replays") / "small_car_morning_drive.journal.gz")  # its leak test is open at the end
    federal = ["report", journal, "--json", "--rules", "us-federal", "--model-year", "2012"]

    def verdict(*more: str) -> dict[str, Any]:
        assert main([*federal, *more]) == 0
        found: dict[str, Any] = json.loads(capsys.readouterr().out)["verdicts"][0]
        return found

    assert verdict()["outcome"] == "ready"  # 40 CFR 85.2222(c)(2): one may be incomplete
    retest = verdict("--failed-with", "p0442")
    assert retest["outcome"] == "cannot_say"  # the federal text and EPA guidance of 2001 contradict each other
    assert "retest_contradictory" in {r["id"] for r in retest["readings"][0]["reasons"]}
    assert verdict("--lamp", "no")["outcome"] == "not_ready"  # 85.2222(d)(4)


@pytest.mark.parametrize(
    "arguments",
    [
        ["rules", "show", "us-feral"],
        ["job", "new", "--code", "P1135", "--monitor", "P1135=heater"],
        ["job", "new", "--code", "P1135", "--monitor", "heater"],
        ["job", "new", "--odometer", "-5"],
        ["job", "change", "--part", "x"],
        ["job", "new", "--code", "P0Z35"],
        ["job", "show", "nothing"],
        ["job", "sign-off"],
        ["report", "nothing"],
    ],
)
def test_what_is_not_there_gets_one_line_and_exit_code_2(
    arguments: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    own = [] if arguments[0] == "rules" else ["--jobs", str(tmp_path)]
    assert main([*arguments, *own]) == 2
    said = capsys.readouterr().err
    assert said.startswith("coach: ") and "Traceback" not in said


def test_a_report_on_one_recording(capsys: pytest.CaptureFixture[str]) -> None:
    journal = str(shipped("replays") / "small_car_morning_drive.journal.gz")
    assert main(["report", journal]) == 0
    assert "SIMULATED" in capsys.readouterr().out
    assert main(["report", journal, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["schema"] == "coach.report"
