"""The page of a report, of a drive or a whole job: what a technician files or hands over.

Facts first, then what they mean, then where they come from; nothing is decided here. The VIN is masked unless asked
for, wherever it stands. The same as data: `report_data.py`; how it is written: `coach/report/`.
"""

from collections.abc import Iterable, Iterator

from coach import __version__
from coach.car.car import Car
from coach.inspection.cleared import EcuCleared
from coach.session.confirm import JobSeen
from coach.session.filed import FiledDrive, FileReport, JobReport, Judged, job_forecasts
from coach.session.next_drive import job_steps
from coach.session.seen import Seen
from coach.visible import one_line
from coach.words.confirmation import confirmation_page, forecast_words, outcome_words
from coach.words.jobs import ASIDE, KINDS, RESET, later_unread, lost_lines, signed_words
from coach.words.ledger import said_words, told_words
from coach.words.names import MONITOR_NAMES
from coach.words.next_step import ABOUT_CODES, step_lines
from coach.words.paper import Block, Facts, Lines, Page, Section, Table, over_texts
from coach.words.readout import masked
from coach.words.report_drive import (
    FROM,
    SIMULATED,
    drive_blocks,
    ended_lines,
    first_monitors,
    needed_section,
    section_of,
    trouble_lines,
    waits_lines,
)
from coach.words.report_parts import (
    At,
    car_section,
    codes_section,
    codes_words,
    hidden_vins,
    in_use_section,
    job_tests_section,
    mil_words,
    moments_of,
    monitors_section,
    monitors_words,
    problems_lines,
    tests_section,
    verdict_section,
    verdict_words,
)
from coach.words.report_plots import buckets_each
from coach.words.review import CAUTION
from coach.words.units import Units, at_least, clock, span, zoned_words
from coach.words.verdicts import CONFIRM

NO_RULE = "not judged: no inspection rule was named for this report"
PATTERN = {True: "met", False: "not met", None: "cannot be told"}


def page_of(report: JobReport | FileReport, units: Units) -> Page:
    """The page of a report, with all that came from outside made harmless to read."""
    page = _job_page(report, units) if isinstance(report, JobReport) else _file_page(report, units)
    hidden = () if report.show_vin else hidden_vins(report)

    def clean(text: str) -> str:
        for vin in hidden:
            text = text.replace(vin, masked(vin))
        return one_line(text)

    return over_texts(page, clean)


def _sections(found: Iterable[Section | None]) -> tuple[Section, ...]:
    return tuple(section for section in found if section is not None and section.blocks)


# ---------------------------------------------------------------- a job


def _job_page(report: JobReport, units: Units) -> Page:
    seen = report.seen
    latest = seen.latest.car if seen.latest is not None else None
    moments = tuple(moments_of(seen))
    most = buckets_each(len(report.drives))
    drives = [section_of(one, most, report.show_vin, units) for one in report.drives.values()]
    sections = _sections(
        (
            car_section(latest, report.show_vin, units),
            Section("The repair", tuple(_repair(seen, units))),
            *(verdict_section(judged, _read_at(seen)) for judged in report.verdicts),
            Section("Is the repair confirmed", tuple(_confirmed(seen, units))),
            monitors_section(moments) if moments else None,
            codes_section(moments, units) if moments else None,
            job_tests_section(seen),
            in_use_section(moments),
            Section("The next drive, and what must wait", tuple(_next(report, units))),
            Section("Drives", (_drives(report, units),)) if seen.drives else None,
            *drives,
            Section("Cautions", (Lines(tuple(_job_cautions(report))),)),
            Section("Where this page comes from", tuple(_job_origin(report))),
        )
    )
    simulated = any(one.header.source == "simulated" for one in seen.files)
    short = Facts(tuple(_job_short(report, latest)))
    title = f"Report on job {seen.job.record.id}"
    return Page(title, SIMULATED if simulated else "", zoned_words(report.made), short, sections, CONFIRM)


def _job_short(report: JobReport, latest: Car | None) -> Iterator[tuple[str, str]]:
    record = report.seen.job.record
    for one in report.seen.confirmations:
        yield f"repair of {one.code}", outcome_words(one)
    if not report.seen.confirmations:
        codes = ", ".join(record.codes)
        none = "no code was named, so nothing can be confirmed"
        yield "repair", f"{codes}: cannot be said, nothing was read yet" if codes else none
    ledger = report.seen.ledger
    lost = sum(one.lost for one in ledger)
    every = f"{sum(one.state != 'empty' for one in ledger)} files of this job"
    if lost:
        yield "not readable", f"{lost} of {every} missing, changed or not readable; why stands under Cautions"
    if report.seen.aside:
        yield "set aside", f"{len(report.seen.aside)} of {every}; why stands under Cautions"
    for filed in [*report.drives.values()][-1:]:
        yield from (("the last drive", line) for line in ended_lines(filed))
    if (read := _read_at(report.seen)) and latest is not None:
        later = "; a later recording cannot be read" if later_unread(report.seen) else ""
        yield "last read", f"{zoned_words(read)}{later}"
    yield from _car_short(report.verdicts, latest)
    if record.signed_off is not None:
        yield "signed off", next(signed_words(record.signed_off))


def _read_at(seen: JobSeen) -> str:
    return seen.latest.read_at if seen.latest is not None else ""


def _car_short(verdicts: tuple[Judged, ...], car: Car | None) -> Iterator[tuple[str, str]]:
    yield from (("inspection", verdict_words(judged)) for judged in verdicts)
    if not verdicts:
        yield "inspection", NO_RULE
    if car is None:
        yield "the car", "nothing was read yet"
        return
    yield "monitors", monitors_words(car)
    yield "MIL", mil_words(car)
    kinds = ("stored", "pending", "permanent")
    yield "codes", "; ".join(f"{kind}: {codes_words(car, kind)}" for kind in kinds)


def _repair(seen: JobSeen, units: Units) -> Iterator[Block]:
    record = seen.job.record
    rows = [("codes", ", ".join(record.codes) or "none named"), ("part", record.part or "none named")]
    if record.note:
        rows.append(("note", record.note))
    if record.odometer_km is not None:
        rows.append(("odometer, by the user", units.distance(record.odometer_km)))
    rows += [("by the user's word", words) for words in (*told_words(record), *map(said_words, record.said))]
    rows.append(("job opened", zoned_words(record.opened)))
    yield Facts(tuple(rows))
    if record.signed_off is not None:
        first, *rest = signed_words(record.signed_off)
        yield Lines((f"Signed off {first}", *rest))
    if seen.cleared:
        told = tuple((ecu.address, "yes" if ecu.confirmed else "no", _cleared(ecu)) for ecu in seen.cleared)
        yield Table("The clear", ("control unit", "confirmed it", "what was read after it"), told)
    yield Lines((CLEARS[seen.record.car.clear.state],))


CLEARS = {
    "none": "No clear is recorded in this job.",
    "unproved": "A clear was sent, and not every control unit has shown what it did: nothing is known to be since it.",
    "refused": "A clear was sent, and every control unit refused it.",
    "proved": "Every control unit has shown the last clear.",
}


def _cleared(ecu: EcuCleared) -> str:
    kept = f" ({', '.join(MONITOR_NAMES[m] for m in ecu.kept)} still complete)" if ecu.kept else ""
    return {True: "cleared", False: "not cleared", None: "not known to be cleared"}[ecu.done] + kept


def _confirmed(seen: JobSeen, units: Units) -> Iterator[Block]:
    for one in seen.confirmations:
        yield Lines(tuple(line.strip() for line in confirmation_page(one, units).splitlines()))


def _next(report: JobReport, units: Units) -> Iterator[Block]:
    seen = report.seen
    if seen.evidence is None or seen.latest is None:
        return
    open_ones = seen.evidence.findings.in_state("incomplete", continuous=False)
    lines = [] if open_ones else ["No monitor is known to be incomplete."]
    if any(state is None for state in seen.latest.car.monitor_states().values()):
        lines = [*lines, "Some monitors are uncertain: read the car again."]
    lines += [f"incomplete now: {MONITOR_NAMES[monitor]}" for monitor in open_ones]
    lines += step_lines((step for step in job_steps(seen) if step.id in ABOUT_CODES), units)
    if report.drives:
        last = list(report.drives.values())[-1]
        lines += waits_lines(last, frozenset(open_ones), units)
    lines += [forecast_words(one) for one in job_forecasts(seen).values() if one is not None]
    yield Lines(tuple(lines))


def _drives(report: JobReport, units: Units) -> Table:
    rows = tuple((_began(one), *_driven(one, units)) for one in report.seen.drives)
    return Table("All drives since the repair", ("began", "engine running", "distance", "regulated pattern"), rows)


def _began(one: Seen) -> str:
    return zoned_words(one.header.began or one.entry.when)


def _driven(one: Seen, units: Units) -> tuple[str, str, str]:
    found = one.driven
    least = found.at_least
    ran, far = at_least(span(found.running_s), least), at_least(units.distance(found.distance_km), least)
    return ran, far, PATTERN[one.pattern_met]


def _job_cautions(report: JobReport) -> Iterator[str]:
    seen = report.seen
    yield from (f"not readable: {why}" for why in seen.unread)
    yield from (f"its drive cannot be told: {why}" for why in seen.unjudged)
    yield from (f"{one.seen.entry.file}: {ASIDE[one.why]}" for one in seen.aside)
    if seen.reset_in is not None:
        yield f"{seen.reset_in.entry.file}: {RESET}"
    yield from lost_lines(seen)
    for name, filed in report.drives.items():
        yield from (f"{name}: {line}" for line in trouble_lines(filed))
    if seen.latest is not None:
        yield from problems_lines(seen.latest.car, report.show_vin)
    yield from _cautions([*report.drives.values()][-1:])


def _cautions(drives: list[FiledDrive]) -> Iterator[str]:
    """What holds for every page, and for whoever drives by this profile again."""
    yield CAUTION
    yield from (caution for one in drives for caution in one.reviewed.profile.cautions)


def _job_origin(report: JobReport) -> Iterator[Block]:
    yield Facts((("made by", f"Drive-cycle coach {__version__}"), ("made", zoned_words(report.made))))
    yield from _profiles(tuple(report.drives.values()))
    rows = tuple(
        (one.entry.file, KINDS[one.entry.kind], one.header.program, report.hashes.get(one.entry.file, "not taken"))
        for one in report.seen.files
    )
    if rows:
        yield Table("Files and their SHA-256", ("file", "what", "program", "SHA-256"), rows, plain=True)


def _profiles(drives: tuple[FiledDrive, ...]) -> Iterator[Block]:
    rows = tuple((one.name, f"{one.profile.id} ({FROM[one.profile.came_from]})", one.profile.sha256) for one in drives)
    if rows:
        yield Table("Profiles, with the SHA-256 of their text", ("drive", "profile", "SHA-256"), rows, plain=True)


# ---------------------------------------------------------------- a recording


def _file_page(report: FileReport, units: Units) -> Page:
    filed = report.drive
    car, header = filed.reviewed.core.car, filed.reviewed.header
    moments = (At("now", "at the end", car),)
    cautions = (*trouble_lines(filed), *problems_lines(car, report.show_vin), *_cautions([filed]))
    origin = Facts(
        (
            ("made by", f"Drive-cycle coach {__version__}"),
            ("made", zoned_words(report.made)),
            ("recorded by program", header.program),
        )
    )
    files = Table("The file and its SHA-256", ("file", "SHA-256"), ((filed.name, filed.sha256),), plain=True)
    sections = _sections(
        (
            car_section(car, report.show_vin, units),
            *(verdict_section(judged) for judged in report.verdicts),
            monitors_section(moments, first_monitors(filed.reviewed.happenings)),
            codes_section(moments, units),
            tests_section(car, clock),
            in_use_section(moments),
            needed_section(filed, units),
            Section("The drive", drive_blocks(filed, buckets_each(1), report.show_vin, units)),
            Section("Cautions", (Lines(cautions),)),
            Section("Where this page comes from", (origin, *_profiles((filed,)), files)),
        )
    )
    label = SIMULATED if header.source == "simulated" else ""
    ended = tuple(("the drive", line) for line in ended_lines(filed))
    short = Facts((*ended, *_car_short(report.verdicts, car)))
    return Page(f"Report on {filed.name}", label, zoned_words(report.made), short, sections, CONFIRM)
