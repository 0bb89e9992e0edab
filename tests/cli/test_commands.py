"""The commands as a newcomer runs them, with right and wrong arguments; no traceback reaches a user."""

import json
import os
import subprocess
import sys
import sysconfig
import venv
from pathlib import Path

import pytest

from coach.car import happenings as car
from coach.cli import main
from coach.drive import happenings as drive
from coach.drive.gates import MEASURES
from coach.j1979.monitors import MONITORS
from coach.words.names import GATE_KINDS, GATE_NAMES, MONITOR_NAMES
from coach.words.sentences import SENTENCES
from tests.recordings import SCHEDULES

ROOT = Path(__file__).parent.parent.parent


@pytest.fixture
def journal(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    out = tmp_path / "udds.journal.gz"
    assert main(["import", str(SCHEDULES / "udds.csv"), "-o", str(out), "--profile", "spark_running_leak"]) == 0
    assert capsys.readouterr().out.strip() == str(out)
    return out


def test_a_table_goes_in_and_the_review_comes_out(journal: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["review", str(journal)]) == 0
    text = capsys.readouterr().out
    assert "regulated pattern     met" in text
    assert "the recording holds no readiness" in text


def test_the_review_as_data_has_one_shape(journal: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["review", str(journal), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert list(found)[:2] == ["schema", "version"]
    assert found["schema"] == "coach.review"
    assert list(found["monitors"]) == list(MONITORS)
    assert set(found["monitors"].values()) == {None}
    assert found["general_denominator"]["met"] is True
    assert found["mil_on"] is None
    assert found["codes"]["stored"] == {"certain": None, "said": []}


@pytest.mark.parametrize(
    "arguments",
    [
        ["review", "gone"],
        ["review", str(SCHEDULES / "FASTSIM_NOTICE.txt")],
        ["import", "gone.csv", "-o", "out"],
        ["import", str(SCHEDULES / "udds.csv"), "-o", "out", "--profile", "nothing"],
        ["import", str(SCHEDULES / "udds.csv"), "-o", "/nowhere/out"],
        ["import", str(SCHEDULES / "udds.csv"), "-o", "."],
        ["import", str(SCHEDULES / "udds.csv"), "-o", "out", "--column", "speed"],
        ["profiles", "show", "nothing"],
        ["profiles", "check", "gone.toml"],
        ["profiles", "check", str(SCHEDULES / "udds.csv")],
    ],
)
def test_a_bad_input_gets_words_and_exit_code_2(
    arguments: list[str], capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(arguments) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.startswith("coach: ")
    assert "Traceback" not in told.err
    assert list(tmp_path.iterdir()) == []


def test_profiles_are_listed_explained_and_checked(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["profiles", "list"]) == 0
    assert "light_diesel" in capsys.readouterr().out
    assert main(["profiles", "show", "hybrid"]) == 0
    assert "found; S32" in capsys.readouterr().out
    assert main(["profiles", "check", str(ROOT / "profiles" / "hybrid.toml")]) == 0


def test_every_happening_gate_and_monitor_has_words() -> None:
    kinds = {
        kind
        for module in (car, drive)
        for kind in vars(module).values()
        if isinstance(kind, type) and issubclass(kind, car.Happening)
    } - {car.Happening, car.CarHappening, drive.DriveHappening}
    assert kinds == set(SENTENCES)
    assert set(MEASURES) <= set(GATE_NAMES)
    assert set(GATE_NAMES) == set(GATE_KINDS)
    assert tuple(MONITOR_NAMES) == MONITORS


def test_review_imports_neither_the_screen_nor_the_adapter_library(journal: Path) -> None:
    code = (
        "import sys; from coach.cli import main; main(['review', sys.argv[1]]);"
        "assert not {'textual', 'obd', 'serial'} & set(sys.modules), 'too much imported'"
    )
    done = subprocess.run([sys.executable, "-c", code, str(journal)], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def test_a_reader_that_has_enough_is_no_error(journal: Path) -> None:
    done = subprocess.run(
        f"{sys.executable} -m coach.cli review --json {journal} | head -1",
        shell=True,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stdout == "{\n"
    assert done.stderr == ""


def test_the_wheel_carries_profiles_and_replays(tmp_path: Path) -> None:
    """The environment is fresh for the product; what the product needs is borrowed from this one, to save a minute."""
    pip = [sys.executable, "-m", "pip", "--disable-pip-version-check"]
    built = ["--quiet", "--no-deps", "--no-build-isolation", "--wheel-dir", str(tmp_path), str(ROOT)]
    subprocess.run([*pip, "wheel", *built], check=True)
    (wheel,) = tmp_path.glob("*.whl")
    venv.create(tmp_path / "fresh", with_pip=False)
    python = tmp_path / "fresh" / "bin" / "python"
    subprocess.run([*pip, "--python", str(python), "install", "--quiet", "--no-deps", str(wheel)], check=True)
    (packages,) = (tmp_path / "fresh").glob("lib/python*/site-packages")
    (packages / "borrowed.pth").write_text(sysconfig.get_path("purelib") + "\n")
    listed = subprocess.run(
        [python, "-m", "coach.cli", "profiles", "list"], capture_output=True, text=True, check=True, cwd=tmp_path
    )
    assert len(listed.stdout.splitlines()) == 4
    where = subprocess.run(
        [python, "-c", "from coach.library import shipped; print(shipped('profiles'), shipped('replays').is_dir())"],
        capture_output=True,
        text=True,
        check=True,
        cwd=tmp_path,
    )
    assert "site-packages" in where.stdout
    assert where.stdout.strip().endswith("True")


def test_a_terminal_of_few_letters_gets_the_rest_as_question_marks() -> None:
    recording = str(ROOT / "replays" / "small_car_morning_drive.journal.gz")
    ran = subprocess.run(
        [sys.executable, "-m", "coach.cli", "review", recording],
        capture_output=True,
        env={**os.environ, "PYTHONIOENCODING": "ascii"},
        check=False,
    )
    assert ran.returncode == 0, ran.stderr
    assert b"18 ?C" in ran.stdout
