"""A drive of a job that is killed, shown, and gone on with: its file is sealed when nobody writes to it any more."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from coach.cli import main
from tests.cli.test_live_commands import LONGEST_S, coach, port

__all__ = ["port"]
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are POSIX")


def drive(port: str, tmp_path: Path, *more: str) -> "subprocess.Popen[bytes]":
    command = coach("drive", "--plain", "--port", port, "--jobs", str(tmp_path), *more)
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)


def grown(tmp_path: Path, by_bytes: int, process: "subprocess.Popen[bytes]") -> None:
    """Until the job's newest file is that much longer."""
    end, size = time.monotonic() + LONGEST_S, None
    while time.monotonic() < end and process.poll() is None:
        found = sorted(tmp_path.glob("jobs/*/*.journal"))
        size = found[-1].stat().st_size if found and size is None else size
        if size is not None and found[-1].stat().st_size > size + by_bytes:
            return
        time.sleep(0.05)
    raise AssertionError("nothing was recorded")


def the_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> dict[str, Any]:
    capsys.readouterr()
    main(["job", "show", "--json", "--jobs", str(tmp_path)])
    (found,) = json.loads(capsys.readouterr().out)["files"]
    return dict(found)


def test_a_killed_drive_stays_open_until_it_is_ended(
    port: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["job", "new", "--code", "P0420", "--jobs", str(tmp_path)]) == 0
    with drive(port, tmp_path) as killed:
        grown(tmp_path, 3_000, killed)
        assert the_file(tmp_path, capsys)["state"] == "unsealed"  # it is being written
        os.kill(killed.pid, signal.SIGKILL)
    assert the_file(tmp_path, capsys)["state"] == "unsealed"  # it may be gone on with
    with drive(port, tmp_path, "--go-on") as again:
        grown(tmp_path, 3_000, again)
        again.send_signal(signal.SIGINT)
        assert again.wait(LONGEST_S) in (1, 3)  # not ready, or not yet proved that it is the same car
    sealed = the_file(tmp_path, capsys)
    assert sealed["state"] == "whole"
    assert sealed["brought"]["control_units"] == ["7E8", "7E9"]
    (path,) = tmp_path.glob("jobs/*/*.journal")
    path.write_bytes(path.read_bytes()[:-100])
    assert the_file(tmp_path, capsys)["state"] == "changed"
    path.unlink()
    assert the_file(tmp_path, capsys)["state"] == "missing"
