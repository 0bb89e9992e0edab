"""What of a job's files is evidence for its repair: every file has to be of this car, read, and since the last clear.

The recordings are written here byte by byte, after SAE J1979; car and VINs are invented. The repaired code is P0135.
"""

from collections.abc import Iterable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from coach.car.arrivals import Arrival
from coach.car.identity import Signs
from coach.car.known import beside
from coach.cli import main
from coach.inspection.confirm import Confirmation
from coach.jobs.records import Kind
from coach.jobs.store import Job, JobStore
from coach.journal.records import Context, Header
from coach.journal.writer import JournalWriter
from coach.session.confirm import JobSeen, look_at
from coach.session.filed import JobReport
from coach.session.folding import known_of
from coach.session.for_job import for_job
from coach.session.live import Wanted
from coach.session.review import core_for
from coach.words.before import before_lines
from coach.words.jobs import job_page
from coach.words.report import page_of
from coach.words.units import Units
from tests.inspection.story import THURSDAY
from tests.recordings import a_profile, ask

OPEN, DONE = "410100076565", "410100076500"
STORED = "410181076500"
PASSED = "4641810E05B401040960"  # the heater's current: 1.46 A between 0.26 A and 2.4 A
OWN, OTHER = "ZZZSM0000S0000001", "ZZZSM0000S0000002"
CLEAN = {"0101": DONE, "03": "4300", "07": "4700", "0A": "4A00"}
RESET = {**CLEAN, "0101": OPEN}
FAULT = {"0101": STORED, "03": "43010135", "07": "4700", "0A": "4A010135", "0641": PASSED}


def vin(number: str) -> dict[str, str]:
    """The answer that tells it."""
    return {"0902": f"490201{number.encode().hex()}"}


def since_clear(warm_ups: int, km: int) -> dict[str, str]:
    """Both counters."""
    return {"0130": f"4130{warm_ups:02X}", "0131": f"4131{km:04X}"}


def said(*told: dict[str, str]) -> list[Arrival]:
    """Questions with what one control unit answers, a second apart."""
    pairs = [pair for one in told for pair in one.items()]
    return [a for number, (text, raw) in enumerate(pairs, 1) for a in ask(float(number), number, text, ("7E8", raw))]


def add(job: Job, kind: Kind, arrivals: Iterable[Arrival], source: Any = "live") -> Path:
    """A recording into the job, an hour after the one before."""
    began = THURSDAY + timedelta(hours=len(job.record.entries))
    path = job.new_file(kind, began)
    header = Header(1, source, "test", began.isoformat(), "an adapter", "ISO 15765-4", True)
    with JournalWriter(path, header, Context(), overwrite=True) as journal:
        for arrival in arrivals:
            journal.write(arrival)
    return path


@pytest.fixture
def job(tmp_path: Path) -> Job:
    """P0135 read out and cleared."""
    made = JobStore(tmp_path).new(THURSDAY, ("P0135",), "front oxygen sensor")
    add(made, "before", said(FAULT, vin(OWN), since_clear(90, 4000)))
    add(made, "clear", said(vin(OWN), {"04": "44"}, {**RESET, "0A": "4A010135"}, since_clear(0, 0)))
    return made


def told(job: Job) -> tuple[JobSeen, Confirmation]:
    seen = look_at(job)
    return seen, seen.confirmations[0]


def lacks(job: Job) -> list[str]:
    return [one.id for one in told(job)[1].missing]


def test_read_again_complete_clean_and_inside_its_limits_it_is_confirmed(job: Job) -> None:
    assert "monitor_incomplete" in lacks(job)
    add(job, "between", said(CLEAN, {"0641": PASSED}, vin(OWN), since_clear(1, 40)))
    assert told(job)[1].outcome == "confirmed"


def test_a_result_that_was_measured_before_and_never_read_again_is_missed(job: Job) -> None:
    add(job, "between", said(CLEAN, vin(OWN)))
    assert (told(job)[1].outcome, lacks(job)) == ("not_yet", ["test_not_read"])


def test_permanent_codes_told_once_and_not_any_more_are_unknown_and_not_gone(job: Job) -> None:
    silent = {text: raw for text, raw in CLEAN.items() if text != "0A"}
    add(job, "between", said(silent, {"0641": PASSED}, vin(OWN)))
    assert (told(job)[1].outcome, lacks(job)) == ("cannot_say", ["permanent_unknown"])


def test_another_cars_recording_counts_for_nothing_and_is_named(job: Job) -> None:
    path = add(job, "between", said(CLEAN, {"0641": PASSED}, vin(OTHER)))
    seen, one = told(job)
    assert [(aside.seen.path, aside.why) for aside in seen.aside] == [(path, "another_car")]
    assert one.outcome == "not_yet"
    assert f"{path.name}: of another car, by its VIN" in job_page(seen, Units())
    page = page_of(JobReport(seen, THURSDAY.isoformat()), Units())
    assert dict(page.short.rows)["set aside"] == "1 of 3 files of this job; why stands under Cautions"
    assert beside(known_of(job), Signs(told={("7E8", "vin"): (OTHER,)})) == "another"
    assert beside(known_of(job), Signs(told={("7E8", "vin"): (OWN,)})) == "same"
    assert beside(known_of(job), Signs()) == "unproved"


def test_a_drive_in_another_cars_job_is_told_before_the_wheels_turn(job: Job) -> None:
    def page(number: str) -> str:
        core = core_for(None, Header(1, "live", "test", None, None, None, True), a_profile())
        for arrival in said(RESET, vin(number)):
            core.feed(arrival)
        return "\n".join(before_lines(core, Units(), "", for_job(Wanted(""), job).other_job(core.car)))

    assert f"This is not the car of job {job.record.id}" in page(OTHER)
    assert "not the car" not in page(OWN)


def test_a_clear_of_another_car_is_no_clear_of_this_one(tmp_path: Path) -> None:
    job = JobStore(tmp_path).new(THURSDAY, ("P0135",))
    add(job, "before", said(FAULT, vin(OWN)))
    add(job, "clear", said(vin(OTHER), {"04": "44"}, RESET))
    add(job, "between", said(CLEAN, {"0641": PASSED}, vin(OWN)))
    assert lacks(job) == ["monitor_not_reset"]


def test_a_simulated_car_proves_nothing_of_a_real_one(job: Job) -> None:
    add(job, "between", said(CLEAN, {"0641": PASSED}, vin(OWN)), "simulated")
    seen, one = told(job)
    assert ([aside.why for aside in seen.aside], one.outcome) == (["simulated"], "not_yet")


def test_a_file_that_cannot_be_read_takes_the_confirmation_away(
    job: Job, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    drive = add(job, "drive", said(RESET, vin(OWN)))
    add(job, "between", said(CLEAN, {"0641": PASSED}, vin(OWN)))
    show = ["job", "show", "--jobs", str(tmp_path)]
    assert told(job)[1].outcome == "confirmed"
    whole = drive.read_bytes()
    for damaged in (b"no journal", b"\n".join((*whole.split(b"\n")[:4], b"{damaged", *whole.split(b"\n")[5:]))):
        drive.write_bytes(damaged)
        capsys.readouterr()
        assert main(show) == 3
        page = capsys.readouterr().out
        assert "P0135: cannot be said." in page
        assert f"a recording cannot be read to the end ({drive.name})" in page
        assert "Next: bring back the recordings that are lost, or clear and drive anew" in page


def test_what_cannot_be_read_from_before_the_clear_changes_nothing(job: Job) -> None:
    job.files("before")[0][1].write_bytes(b"no journal")
    add(job, "between", said(CLEAN, {"0641": PASSED}, vin(OWN)))
    seen, one = told(job)
    assert (len(seen.unread), one.outcome, one.doubtful) == (1, "confirmed", ())


def test_a_newest_recording_that_cannot_be_read_is_said_where_the_car_is_as_last_read(job: Job) -> None:
    add(job, "between", said(CLEAN, {"0641": PASSED}, vin(OWN)))
    add(job, "between", []).write_bytes(b"no journal")
    page = job_page(told(job)[0], Units())
    assert "As last read, 2026-11-19 20:00; a later recording cannot be read" in page
    assert "Next: bring back the recordings that are lost, or clear and drive anew: nothing else is missing." in page
    assert "nothing is left" not in page


def test_after_a_clear_by_something_else_what_was_measured_before_it_does_not_count(job: Job) -> None:
    add(job, "between", said(CLEAN, {"0641": PASSED}, vin(OWN), since_clear(2, 80)))
    assert told(job)[1].outcome == "confirmed"
    last = add(job, "between", said(CLEAN, vin(OWN), since_clear(1, 30)))
    seen, _ = told(job)
    assert seen.reset_in is not None and seen.reset_in.path == last
    assert lacks(job) == ["test_not_read"]
    assert "the memory was cleared by something that is not recorded here" in job_page(seen, Units())


def test_within_a_recording_a_result_from_before_a_clear_is_not_kept(job: Job) -> None:
    before = said(CLEAN, {"0641": PASSED}, vin(OWN), since_clear(3, 90))
    add(job, "between", [*before, *later(said(since_clear(0, 2), CLEAN))])
    assert lacks(job) == ["test_not_read"]


def later(arrivals: list[Arrival]) -> list[Arrival]:
    """The same half an hour on, under numbers of their own."""
    moved: list[Arrival] = []
    for one in arrivals:
        fields: dict[str, Any] = {name: getattr(one, name) for name in one.__struct_fields__}
        number = "id" if "id" in fields else "request_id"
        moved.append(type(one)(**{**fields, "t": fields["t"] + 1800.0, number: fields[number] + 100}))
    return moved


def test_the_job_page_begins_with_the_finding_and_ends_with_the_files(job: Job) -> None:
    add(job, "between", said(CLEAN, {"0641": PASSED}, vin(OWN)))
    page = job_page(told(job)[0], Units())
    add(job, "clear", said(RESET, vin(OWN)))
    assert "clear, unproved  004-clear" in job_page(told(job)[0], Units())
    order = ("Repaired: P0135", "P0135: confirmed.", "As last read, 2026-11-19 20:00", "Next: nothing is left", "Files")
    places = [page.index(words) for words in order]
    assert places == sorted(places)
    assert "The next drive" not in page
