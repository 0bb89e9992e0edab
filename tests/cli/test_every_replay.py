"""Every shipped replay under every shipped profile, in every form and both units: told to its end, nothing left open.

The replays are the product's own simulated drives; the profiles are those in `profiles/`.
"""

import json
from itertools import cycle, product
from pathlib import Path

import pytest

from coach.cli import main
from coach.library import profile_paths, shipped
from coach.report.html import html
from coach.report.markdown import markdown
from coach.report.text import text
from coach.session.filed import FiledDrive, FileReport, file_drive
from coach.visible import json_text
from coach.words.report import page_of
from coach.words.report_data import report_document
from coach.words.review import page
from coach.words.review_data import document
from coach.words.units import Units

REPLAYS = sorted(shipped("replays").glob("*.journal.gz"))
PROFILES: list[str | None] = [None, *(path.stem for path in profile_paths())]
EACH = list(product(REPLAYS, PROFILES))


def test_there_are_replays_and_profiles_to_walk_through() -> None:
    assert len(REPLAYS) >= 3 and len(PROFILES) >= 5


@pytest.mark.parametrize(("path", "profile"), EACH, ids=[f"{path.name.split('.')[0]}-{name}" for path, name in EACH])
def test_a_replay_is_told_in_every_form(path: Path, profile: str | None) -> None:
    filed = file_drive(path, profile)
    for us, full in product((False, True), (False, True)):
        told = page(filed.reviewed, Units(us), full)
        assert "What happened" in told and "None" not in told and "unknown speed" not in told
    assert json.loads(json_text(document(filed.reviewed)))["happenings"]
    check_report(filed)


def check_report(filed: FiledDrive) -> None:
    """A report in every form that is made without a library of its own; the forms are compared elsewhere."""
    report = FileReport(filed, "2026-11-21T09:00+01:00")
    for us in (False, True):
        made = page_of(report, Units(us))
        for form in (text, markdown, html):
            assert filed.reviewed.profile.name in form(made)
    assert json.loads(json_text(report_document(report)))["drive"]


def test_the_commands_write_every_form(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One replay each: what they write is what was walked through above."""
    for form, path in zip(("txt", "md", "html", "json"), cycle(REPLAYS), strict=False):
        out = tmp_path / f"{path.name}.{form}"
        assert main(["report", str(path), "-o", str(out)]) == 0
        assert out.stat().st_size > 1000
    assert main(["review", str(REPLAYS[0]), "--full", "--us"]) == 0
    assert "fault" not in capsys.readouterr().err
