"""`coach report` as a user runs it: forms by the name, one line for what is wrong, whole or not at all."""

import errno
import io
import json
import os
import sys
from pathlib import Path

import pytest

from coach.cli import main
from coach.library import shipped
from coach.report.errors import CannotFile
from coach.report.files import is_ours, put
from tests.importer.captures import asked_for
from tests.report.conftest import Filed

REPLAY = str(shipped("replays") / "misfire_comes_back.journal.gz")
STARTS = {".html": b"<!DOCTYPE html>", ".md": b"<!-- drive", ".json": b"{", ".pdf": b"%PDF-", ".txt": b"Report on"}


@pytest.mark.parametrize("ending", list(STARTS))
def test_the_name_tells_the_form_and_a_report_of_ours_is_replaced(ending: str, filed: Filed, tmp_path: Path) -> None:
    out = tmp_path / f"report{ending.upper()}"
    what = [filed.job.record.id, "--jobs", str(filed.jobs)] if ending == ".html" else [REPLAY]
    for _ in range(2):
        assert main(["report", *what, "-o", str(out), "--rules", "us-il", "--model-year", "2012"]) == 0
    assert out.read_bytes().startswith(STARTS[ending])
    assert is_ours(out)
    assert [path.name for path in tmp_path.iterdir()] == [out.name]


@pytest.mark.parametrize(
    ("out", "said"),
    [
        ("report.docx", "ends in .html, .md, .json, .pdf or .txt"),
        ("report", "ends in .html, .md, .json, .pdf or .txt"),
        ("nowhere/report.html", "no such folder"),
        ("folder.html", "a folder"),
        ("letter.txt", "--overwrite"),
        ("drive.json", "the report is made from it"),
    ],
)
def test_a_place_that_is_wrong_gets_one_line_and_nothing_changes(
    out: str, said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "folder.html").mkdir()
    (tmp_path / "letter.txt").write_text("Dear aunt")
    drive = tmp_path / "drive.json"
    drive.write_bytes(Path(REPLAY).read_bytes())
    before = {path: path.read_bytes() for path in tmp_path.iterdir() if path.is_file()}
    assert (
        main(["report", str(drive), "-o", str(tmp_path / out), *(["--overwrite"] if out == "drive.json" else [])]) == 2
    )
    told = capsys.readouterr()
    assert said in told.err and told.err.count("\n") == 1 and told.out == ""
    assert {path: path.read_bytes() for path in tmp_path.iterdir() if path.is_file()} == before


def test_another_file_is_replaced_only_when_it_is_said(tmp_path: Path) -> None:
    out = tmp_path / "letter.md"
    out.write_text("Dear aunt")
    out.chmod(0o640)
    assert main(["report", REPLAY, "-o", str(out), "--overwrite"]) == 0
    assert "P0301" in out.read_text(encoding="utf-8")
    assert out.stat().st_mode & 0o777 == 0o640


def test_a_job_s_own_files_are_never_written_over(filed: Filed, capsys: pytest.CaptureFixture[str]) -> None:
    record = filed.job.folder / "job.json"
    before = record.read_bytes()
    arguments = ["report", filed.job.record.id, "--jobs", str(filed.jobs), "-o", str(record), "--overwrite"]
    assert main(arguments) == 2
    assert "made from it" in capsys.readouterr().err
    assert record.read_bytes() == before


def test_a_full_disk_leaves_the_old_report_and_no_rest(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    out = tmp_path / "report.html"
    out.write_bytes(b"the old one")

    def full(_number: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(CannotFile, match="the disk is full; nothing was changed"):
        put(out, b"the new one")
    assert out.read_bytes() == b"the old one"
    assert list(tmp_path.iterdir()) == [out]


def test_a_link_stays_a_link(tmp_path: Path) -> None:
    real, link = tmp_path / "real.html", tmp_path / "link.html"
    real.write_bytes(b"old")
    link.symlink_to(real)
    put(link, b"new")
    assert link.is_symlink() and real.read_bytes() == b"new"


def test_without_the_library_a_pdf_is_refused_in_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(sys.modules, "typst", None)
    assert main(["report", REPLAY, "-o", str(tmp_path / "report.pdf")]) == 2
    told = capsys.readouterr().err
    assert f"pip install '{asked_for('pdf')}'" in told and told.count("\n") == 1
    assert not list(tmp_path.iterdir())


def test_what_cannot_be_reported_on_is_said(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    note = tmp_path / "note.journal"
    note.write_text("nothing of a drive")
    for what in ("nowhere.journal", str(note)):
        assert main(["report", what, "--jobs", str(tmp_path), "-o", str(tmp_path / "out.html")]) == 2
        assert capsys.readouterr().err.count("\n") == 1
    assert not (tmp_path / "out.html").exists()


def test_standard_input_and_output_serve_too(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(Path(REPLAY).read_bytes())))
    assert main(["report", "-", "-o", "-"]) == 0
    assert "Report on standard input" in capsys.readouterr().out
    assert main(["report", REPLAY, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["of"] == "drive"
    assert main(["report", REPLAY, "--json", "-o", str(tmp_path / "x.html")]) == 2
