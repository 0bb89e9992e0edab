"""What a report's page says, from a simulated repair and from the shipped replays; every form is set from this page."""

import re
import shutil
from dataclasses import replace
from hashlib import sha256
from pathlib import Path

import pytest

from coach.car.arrivals import Answer, Request
from coach.car.happenings import AnswerUnusable, CodeAppeared, CodesCleared, NoteMade
from coach.drive.happenings import PhaseDriven
from coach.jobs.records import SignOff
from coach.jobs.store import JobStore
from coach.journal.records import Context, Header
from coach.journal.writer import JournalWriter
from coach.library import profile_text, shipped
from coach.report.text import text
from coach.session.filed import FileReport, JobReport, file_drive, file_job
from coach.session.review import review
from coach.visible import one_line
from coach.words.paper import Figure, Lines, Page, Table, over_texts
from coach.words.phases import driven_times
from coach.words.report import page_of
from coach.words.report_data import report_document
from coach.words.report_drive import MOST_LISTED, NOT_KNOWN, listed_happenings
from coach.words.review import page as review_page
from coach.words.review_data import document
from coach.words.units import Units
from tests.inspection.story import THURSDAY
from tests.recordings import SCHEDULES, ask
from tests.report.conftest import MADE, Filed

VIN = "ZZZSM0000S0000001"
REPLAYS = sorted(shipped("replays").glob("*.journal.gz"))


def rows_of(page: Page, caption: str) -> dict[str, tuple[str, ...]]:
    """The rows of the first table of that caption, by their first cell."""
    tables = (b for s in page.sections for b in s.blocks if isinstance(b, Table) and b.caption.startswith(caption))
    return {str(row[0]): tuple(str(cell) for cell in row[1:]) for row in next(tables).rows}


def figures(page: Page) -> list[Figure]:
    return [block for section in page.sections for block in section.blocks if isinstance(block, Figure)]


def test_a_job_shows_before_after_and_now_and_what_it_comes_to(filed: Filed) -> None:
    short = dict(filed.page.short.rows)
    assert short["repair of P0135"] == "confirmed"
    assert short["inspection"].startswith("not ready under Illinois")
    assert "(rule read in its source)" in short["inspection"]
    assert filed.page.label.startswith("SIMULATED")
    monitors = rows_of(filed.page, "Monitors")
    assert monitors["catalyst"] == ("complete", "incomplete", "complete")
    assert monitors["evaporative system"] == ("complete", "incomplete", "incomplete")
    codes = rows_of(filed.page, "MIL and")
    assert codes["stored"] == ("P0135", "none", "none")
    assert codes["permanent"] == ("P0135", "P0135", "none")  # a clear leaves it, the car erases it after its drive
    assert rows_of(filed.page, "The clear") == {"7E8": ("yes", "cleared"), "7E9": ("yes", "cleared")}


def test_a_job_shows_rule_margins_counters_freeze_frame_forecast_and_where_it_comes_from(filed: Filed) -> None:
    page = text(filed.page)
    assert "Source: http://ilga.gov/" in page
    assert "12 %" in page and "0.26 to 2.4 A" in page
    assert "775 of 862" in page
    assert "Freeze frame of P0135, by 7E8" in page
    assert "83 in 100 on the next drive" in page
    assert "Parked for the engine-off leak test, 6 h" in page
    assert page.endswith("Confirm with your local programme: rules change, and the inspector decides.")
    for _, path in filed.job.files():
        assert sha256(path.read_bytes()).hexdigest() in page
    assert sha256(profile_text("spark_engine_off_leak").encode()).hexdigest() in page


def test_what_was_driven_before_the_last_key_off_is_not_forgotten(filed: Filed) -> None:
    phases = rows_of(filed.page, "Phases")
    assert phases["Warm-up drive"][0].startswith("driven, at 9:1")
    assert phases["Highway cruise for the catalyst"][0].startswith("held for 4 min")
    assert phases["Acceleration to a short cruise"] == ("not driven",)
    assert "The drive met the regulated pattern" in text(filed.page)
    warm_up = next(strip for strip in figures(filed.page)[0].strips if strip.name == "Warm-up drive")
    assert warm_up.done_t is not None


def test_the_review_of_such_a_drive_tells_the_same(filed: Filed) -> None:
    page = review_page(review(filed.job.files("drive")[0][1]), Units(), full=False)
    assert re.search(r"Warm-up drive +driven, at 9:1", page)
    assert re.search(r"regulated pattern +met$", page, re.MULTILINE)
    assert "driving cycles" not in page  # the look with the key on at its end is none of its own
    data = document(review(filed.job.files("drive")[0][1]))
    whole = data["all_driving_cycles"]
    assert (whole["count"], whole["count_at_most"], data["phases"]["warm_up_drive"]["driven"]) == (1, 1, False)
    assert data["general_denominator"]["met"] is True
    assert data["general_denominator"]["distance_km"] == whole["distance_km"] > 10
    assert whole["phases"]["warm_up_drive"]["driven_t"] == pytest.approx(9.3 * 60, abs=6)
    assert whole["phases"]["highway_cruise"]["held_s"] > 240
    assert len(whole["warm_up_cycle_t"]) == len(whole["general_denominator_met_t"]) == 1


def test_what_was_driven_before_a_clear_does_not_count() -> None:
    happened = (PhaseDriven(100.0, "a", 60.0, 1, ()), CodesCleared(200.0, "7E8", "service_04_confirmed", None, None))
    assert driven_times(happened) == {}
    assert driven_times((*happened, PhaseDriven(300.0, "a", 60.0, 2, ()))) == {"a": 300.0}


def test_the_vin_is_masked_everywhere_unless_asked_for(filed: Filed) -> None:
    assert VIN not in text(filed.page)
    assert "*************0001" in text(filed.page)
    assert VIN not in str(report_document(filed.report))
    assert VIN in text(page_of(replace(filed.report, show_vin=True), Units()))
    assert VIN in str(report_document(replace(filed.report, show_vin=True)))


def test_a_vin_that_cannot_be_read_is_not_quoted_either(tmp_path: Path) -> None:
    broken = b"ZZZSM0000S000000?"
    path = tmp_path / "drive.journal"
    with JournalWriter(path, Header(1, "live", "test", can=True), Context()) as journal:
        journal.write(Request(0.0, 1, "0902"))
        journal.write(Answer(0.1, 1, "7E8", b"\x49\x02\x01" + broken))
        journal.write(Request(1.0, 2, "010D"))
        journal.write(Answer(1.1, 2, "7E8", b"\x49\x02\x01" + broken))  # nobody asked for it here
    report = FileReport(file_drive(path), MADE)
    for told in (text(page_of(report, Units())), str(report_document(report))):
        assert broken[:12].decode() not in told
        assert broken[:12].hex().upper() not in told.upper()
    told = text(page_of(replace(report, show_vin=True), Units()))
    assert broken.decode() in told and broken.hex().upper() in told


def test_a_text_from_outside_cannot_steer_the_page() -> None:
    # the controls of the Unicode bidirectional algorithm, UAX 9 section 2; joiners are letters' own and stay
    controls = [*range(0x202A, 0x202F), *range(0x2066, 0x206A), *range(0x09), *range(0x0E, 0x1C), 0x7F, 0xFEFF]
    for number in controls:
        assert one_line(f"a{chr(number)}b") == f"a[U+{number:04X}]b"
    assert one_line("line\r\n\tnext\x0b\x85") == "line next [U+0085]"
    assert one_line("می\u200cروم") == "می\u200cروم"
    assert one_line("\udc80") == "[U+DC80]"


def test_no_text_on_the_page_has_a_control_in_it(filed: Filed) -> None:
    texts: list[str] = []
    over_texts(filed.page, lambda one: texts.append(one) or one)  # type: ignore[func-returns-value]
    assert len(texts) > 200
    assert not [one for one in texts if re.search("[\x00-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", one)]


@pytest.mark.parametrize("path", REPLAYS, ids=lambda path: path.name.split(".")[0])
def test_every_replay_has_a_report_with_plots(path: Path) -> None:
    page = page_of(FileReport(file_drive(path), MADE), Units(us=True))
    plots = figures(page)
    assert len(plots) == 1
    assert plots[0].panels[0].unit == "mph"
    assert plots[0].marks
    assert all(0 <= t <= plots[0].end_t for t, _ in plots[0].marks)
    assert sha256(path.read_bytes()).hexdigest() in text(page)


def test_a_code_that_came_back_is_on_the_page_with_its_freeze_frame_or_its_moment() -> None:
    path = next(path for path in REPLAYS if path.name.startswith("misfire"))
    page = page_of(FileReport(file_drive(path), MADE), Units())
    assert "P0301" in dict(page.short.rows)["codes"]
    assert dict(page.short.rows)["the drive"].startswith("Coaching ended at 3:2")
    assert "Repair it before driving on." in dict(page.short.rows)["the drive"]
    assert "misfire" in rows_of(page, "Codes reported")["P0301"]
    listed = rows_of(page, "What happened")
    assert any("P0301, pending" in str(row) for row in listed.values())


def test_a_read_out_without_a_drive_says_that_there_is_nothing_to_plot(filed: Filed) -> None:
    page = page_of(FileReport(file_drive(filed.job.files("between")[0][1]), MADE), Units())
    assert "complete" in rows_of(page, "Monitors")["catalyst"]
    assert len(figures(page)) <= 1


def test_what_is_needed_says_when_it_is_not_known_what_is_complete(tmp_path: Path) -> None:
    table = tmp_path / "drive.csv"
    table.write_text("Time (s),Vehicle speed (km/h)\n" + "".join(f"{second},40\n" for second in range(30)))
    assert NOT_KNOWN in text(page_of(FileReport(file_drive(table), MADE), Units())).replace("\n    ", " ")


def test_a_file_of_the_job_that_cannot_be_read_is_said_at_the_top(filed: Filed, tmp_path: Path) -> None:
    folder = tmp_path / "job"
    shutil.copytree(filed.job.folder, folder)
    last = sorted(folder.glob("*.journal"))[-1]
    last.write_text("nothing of a car")
    seen, drives, hashes = file_job(JobStore(tmp_path).named(str(folder)))
    page = page_of(JobReport(seen, MADE, (), drives, hashes), Units())
    assert dict(page.short.rows)["not readable"].startswith("1 of 5 files")
    assert last.name in text(page)


def test_a_job_in_which_nothing_was_read_has_its_page(tmp_path: Path) -> None:
    for codes, said in (((), "no code was named, so nothing can"), (("P0420",), "P0420: cannot be said, nothing was")):
        report = JobReport(file_job(JobStore(tmp_path).new(THURSDAY, codes))[0], MADE)
        page = page_of(report, Units())
        assert dict(page.short.rows)["repair"].startswith(said)
        assert dict(page.short.rows)["the car"] == "nothing was read yet"
        assert report_document(report)["now"] is None


def test_what_was_never_asked_is_not_told_and_never_none() -> None:
    page = page_of(FileReport(file_drive(SCHEDULES / "udds.csv"), MADE), Units())
    short = dict(page.short.rows)
    assert (short["MIL"], short["monitors"]) == ("not told", "the car did not tell its readiness")
    assert short["codes"] == "stored: not told; pending: not told; permanent: not told"
    told = text(page)
    assert "stored codes: not told" in told
    assert "which monitors are complete cannot be said" in told
    assert len(figures(page)) == 1


def test_what_happens_very_often_is_summed_up_with_its_count() -> None:
    often = [AnswerUnusable(float(t), "7E8", "01 0D", "garbled", "") for t in range(500)]
    notes = [NoteMade(600.0 + t, f"note {t}") for t in range(200)]
    told = CodeAppeared(700.0, "7E8", "pending", "P0301")
    rows = listed_happenings([*often, *notes, told])
    assert (told, 0) in rows
    assert (often[0], 0) in rows and (often[1], 498) in rows and (often[-1], 0) in rows
    assert len(rows) <= MOST_LISTED
    assert [h.t for h, _ in rows] == sorted(h.t for h, _ in rows)
    varied = [CodeAppeared(float(t), "7E8", "stored", f"P{t:04d}") for t in range(300)]
    assert len(listed_happenings([*varied, told])) == MOST_LISTED


def test_a_job_says_when_the_car_was_last_read_and_the_verdict_rests_on_that(filed: Filed) -> None:
    assert dict(filed.page.short.rows)["last read"].startswith("2026-11-20 08:00")
    page = text(filed.page)
    assert "by what the car said on 2026-11-20 08:00 (UTC+00:00)." in " ".join(page.split())
    tables = [block for section in filed.page.sections for block in section.blocks if isinstance(block, Table)]
    assert next(t.head for t in tables if t.caption == "Monitors")[1:] == (
        "before the clear",
        "after the clear",
        "last read",
    )
    assert "What the monitors measured, read at 2026-11-20 08:00" in [t.caption for t in tables]


def test_results_read_before_their_monitor_ran_are_not_said_to_be_missing_now(tmp_path: Path) -> None:
    """A recording that asked service 06 at its start only; bytes after SAE J1979."""
    path, empty = tmp_path / "drive.journal", "464181" + "0E" + "0000" * 3
    header = Header(1, "live", "test", "2026-11-20T06:40:00+00:00", "an adapter", "ISO 15765-4", True)
    told = [
        *ask(1.0, 1, "0101", ("7E8", "410100076565")),
        *ask(21.0, 2, "0641", ("7E8", empty)),
        *ask(95.0, 3, "0101", ("7E8", "410100076525")),
    ]
    with JournalWriter(path, header, Context()) as journal:
        for arrival in told:
            journal.write(arrival)
    page = page_of(FileReport(file_drive(path), MADE), Units())
    tests = next(section for section in page.sections if section.title == "Test results")
    table, words = tests.blocks
    assert isinstance(table, Table) and isinstance(words, Lines)
    assert table.caption == "What the monitors measured, read at 0:21"
    assert table.rows[0][2] == "empty when it was read" and table.rows[0][-1] == "complete later"
    assert "read before that" in words.items[-1]


def test_a_job_that_was_signed_off_says_by_which_rule_and_how_sure_it_was(filed: Filed, tmp_path: Path) -> None:
    folder = tmp_path / "job"
    shutil.copytree(filed.job.folder, folder)
    job = JobStore(tmp_path).named(str(folder))
    job.sign_off(
        SignOff(
            "2026-11-21T10:00:00+00:00",
            "P0135 confirmed",
            "us-il",
            "not ready",
            "",
            "undated",
            "found",
            ("catalyst",),
            "2026-11-20T08:00:00+00:00",
        )
    )
    seen, drives, hashes = file_job(job)
    page = page_of(JobReport(seen, MADE, (), drives, hashes), Units())
    assert dict(page.short.rows)["signed off"] == "2026-11-21 10:00: P0135 confirmed, not ready by us-il."
    words = text(page)
    for told in (
        "by what the car said on 2026-11-20 08:00",
        "read in its source; undated",
        "incomplete then: catalyst",
    ):
        assert told in words
