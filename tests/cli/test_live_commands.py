"""The live commands as a user runs them: against a simulated car on a pseudo-terminal, killed, and gone on with.

The cars are invented; what is checked is that every answer is marked simulated, exit codes, and that nothing is lost.
"""

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from datetime import datetime
from itertools import pairwise
from pathlib import Path

import pytest

from coach.cli import main
from coach.journal.reader import open_journal
from coach.session.review import review

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are POSIX")
LONGEST_S = 60.0


def coach(*arguments: str) -> list[str]:
    return [sys.executable, "-m", "coach.cli", *arguments]


@pytest.fixture
def port() -> Iterator[str]:
    """A small simulated car with the engine idling."""
    with subprocess.Popen(
        coach("simulate", "--car", "small", "--idle", "--delay-ms", "2", "--pace", "5"),
        stdout=subprocess.PIPE,
        text=True,
    ) as served:
        assert served.stdout is not None
        yield served.stdout.readline().split()[-1]
        served.send_signal(signal.SIGINT)


def test_check_reads_the_simulated_car_and_says_that_it_is_one(port: str) -> None:
    ran = subprocess.run(coach("check", "--port", port, "--json"), capture_output=True, text=True, timeout=LONGEST_S)
    assert ran.returncode == 1  # codes just cleared: not ready
    found = json.loads(ran.stdout)
    assert (found["schema"], found["source"], found["verdict"]) == ("coach.check", "simulated", "incomplete")
    assert sorted(found["control_units"]) == ["7E8", "7E9"]
    assert found["codes"]["stored"] == {"certain": [], "said": []}
    vin = found["control_units"]["7E8"]["vin"]
    assert vin.startswith("*************") and len(vin) == 17


def test_a_check_has_an_exit_code_of_its_own_for_a_car_that_is_not_inspected_there(port: str) -> None:
    this_year = str(datetime.now().year)
    for rules, code, said in (
        (("us-il", "--model-year", this_year), 5, "Illinois (35 Ill. Adm. Code 276.209): not inspected there."),
        (("us-nj", "--model-year", "2012"), 1, "not ready by every known reading."),
    ):
        arguments = coach("check", "--port", port, "--rules", *rules)
        ran = subprocess.run(arguments, capture_output=True, text=True, timeout=LONGEST_S)
        assert ran.returncode == code, ran.stdout
        assert said in ran.stdout.splitlines()[0]


def test_a_killed_drive_is_gone_on_with_and_loses_nothing(port: str, tmp_path: Path) -> None:
    arguments = coach("drive", "--plain", "--port", port, "--jobs", str(tmp_path))
    with subprocess.Popen(
        [*arguments, "--new", "--profile", "spark_engine_off_leak"], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
    ) as killed:
        journal = _wait_for(tmp_path, killed)
        size = journal.stat().st_size
        while journal.stat().st_size < size + 2_000 and killed.poll() is None:
            time.sleep(0.05)
        os.kill(killed.pid, signal.SIGKILL)
    # the journal of a simulated adapter is named like any other drive, so that it can be gone on with
    first, size = list(open_journal(journal).arrivals()), journal.stat().st_size
    with subprocess.Popen([*arguments, "--go-on"], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL) as again:
        while journal.stat().st_size < size + 5_000 and again.poll() is None:
            time.sleep(0.05)
        again.send_signal(signal.SIGINT)
        assert again.wait(LONGEST_S) in (1, 3)  # not ready, or not yet proved that it is the same car
    reader = open_journal(journal)
    whole = list(reader.arrivals())
    assert whole[: len(first)] == first
    assert len(whole) > len(first) + 30
    assert not reader.report.cut_short and reader.report.footer_disagrees is None
    assert all(earlier.t <= later.t for earlier, later in pairwise(whole))
    assert review(journal).core.out_of_order == 0


def _wait_for(folder: Path, process: "subprocess.Popen[bytes]") -> Path:
    """The drive's journal, once there is one."""
    end = time.monotonic() + LONGEST_S
    while time.monotonic() < end and process.poll() is None:
        found = list(folder.glob("drives/*.journal"))
        if found:
            return found[0]
        time.sleep(0.05)
    raise AssertionError("no journal was begun")


def test_a_port_that_is_not_there_is_no_connection(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "--port", "/dev/nothing-here"]) == 4
    assert "There is no port" in capsys.readouterr().err


@pytest.mark.parametrize(
    "arguments",
    [
        ["demo", "--pace", "0"],
        ["simulate", "--car", "smal"],
        ["simulate", "--drop", "2"],
        ["simulate", "--drive-schedule", "gone.csv"],
        ["drive", "--port", "/dev/nothing-here", "--target", "catalist"],
        ["drive", "--port", "/dev/nothing-here", "--target", "clean-cycles", "--target", "catalyst"],
        ["drive", "--port", "/dev/nothing-here", "--target", "clean-cycles", "--rules", "us-federal"],
        ["drive", "--port", "/dev/nothing-here", "--fuel", "700"],
        ["drive", "--port", "/dev/nothing-here", "--speed-limit", "nan"],
        ["drive", "--port", "socket://127.0.0.1"],
        ["drive", "--port", "/dev/nothing-here", "--go-on", "--parked-hours", "3"],
    ],
)
def test_wrong_arguments_get_one_clear_line_and_exit_code_2(
    arguments: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(arguments) == 2
    said = capsys.readouterr().err
    assert said.startswith("coach: ") and "Traceback" not in said


def test_the_demo_brings_the_car_to_complete_through_the_night(tmp_path: Path) -> None:
    ran = subprocess.run(
        coach("demo", "--plain", "--pace", "240", "--jobs", str(tmp_path)), capture_output=True, text=True, timeout=170
    )
    assert ran.returncode == 0, ran.stdout + ran.stderr
    assert "paused at" in ran.stdout  # a hold was broken
    assert "cannot count on this drive: time parked" in ran.stdout  # a gate was refused
    assert "SIMULATED" in ran.stdout.splitlines()[0] and "SIMULATED" in ran.stdout.splitlines()[-1]
    journals = sorted(tmp_path.glob("drives/simulated-*.journal"))
    assert len(journals) == 3
    last = review(journals[-1])
    assert last.header.source == "simulated"
    assert "incomplete" not in last.core.monitor_states().values()
