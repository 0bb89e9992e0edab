"""What a rule lets go stays listed as open, and MIL and codes stand in every ending: page, review, report, job, data.

The recordings are written here byte by byte after SAE J1979; the car and the rule are invented.
"""

from pathlib import Path

import pytest

from coach.car.arrivals import Arrival
from coach.jobs.store import JobStore
from coach.journal.records import Context, Header
from coach.journal.writer import JournalWriter
from coach.report.text import text
from coach.session.confirm import look_at
from coach.session.filed import FileReport, file_drive
from coach.session.review import review
from coach.words.jobs import job_heading, job_page
from coach.words.report import page_of
from coach.words.review import page
from coach.words.review_data import document
from coach.words.units import Units
from tests.inspection.story import THURSDAY
from tests.recordings import ask

LET_GO = "evaporative system: left open, the rule lets it go"
RULE = {"id": "of-the-test", "name": "A rule of the test", "refuses": []}
NO_LEAK_TEST = "410100076504"


def written(path: Path, arrivals: list[Arrival], context: Context) -> Path:
    header = Header(1, "live", "test", THURSDAY.isoformat(), "an adapter", "ISO 15765-4", True)
    with JournalWriter(path, header, context, overwrite=True) as journal:
        for arrival in arrivals:
            journal.write(arrival)
    return path


def said(ready: str, stored: str = "4300", pending: str = "4700", permanent: str = "4A00") -> list[Arrival]:
    answers = {"0101": ready, "03": stored, "07": pending, "0A": permanent}
    return [a for n, (text, raw) in enumerate(answers.items(), 1) for a in ask(float(n), n, text, ("7E8", raw))]


def test_what_the_rule_lets_go_is_open_in_the_review_the_report_and_the_data(tmp_path: Path) -> None:
    context = Context(target=["catalyst", "oxygen_sensor"], known={"rule": RULE})
    path = written(tmp_path / "drive.journal", said(NO_LEAK_TEST), context)
    reviewed = review(path)
    assert f"  {LET_GO}" in page(reviewed, Units(), full=False)
    report = page_of(FileReport(file_drive(path), THURSDAY.isoformat()), Units())
    assert LET_GO in " ".join(text(report).split())
    target = document(reviewed)["target"]
    assert target == {
        "monitors": ["catalyst", "oxygen_sensor"],
        "clean_cycles": False,
        "rule": "of-the-test",
        "reached": True,
        "against": [],
        "left_open": ["evaporative_system"],
    }


@pytest.mark.parametrize(
    ("codes", "step", "words"),
    [
        ({"stored": "43010128"}, "ages_out", "P0128: stored with the MIL off."),
        ({"pending": "47010301"}, "second_drive", "P0301: pending, seen once. A second drive confirms or drops it"),
        ({"permanent": "4A010420"}, "wait_for_permanent", "P0420: permanent alone."),
    ],
)
def test_a_review_a_report_and_a_job_end_with_what_the_codes_ask_for(
    tmp_path: Path, codes: dict[str, str], step: str, words: str
) -> None:
    arrivals = said("410100076500", **codes)
    path = written(tmp_path / "drive.journal", arrivals, Context())
    reviewed = review(path)
    assert words in page(reviewed, Units(), full=False).partition("\nNext\n")[2]
    assert document(reviewed)["next_steps"][0]["id"] == step
    assert not document(reviewed)["target"]["reached"]
    report = page_of(FileReport(file_drive(path), THURSDAY.isoformat()), Units())
    assert words in " ".join(text(report).split())
    job = JobStore(tmp_path).new(THURSDAY, ("P0442",), "filler cap")
    written(job.new_file("drive", THURSDAY), arrivals, Context())
    seen = look_at(job)
    assert f"Next: {words}" in job_heading(seen)
    assert words in " ".join(job_page(seen, Units()).split())
