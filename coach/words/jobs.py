"""Words about a job: its list and page, the next drive.

Tables of sentences; nothing is decided here.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from msgspec import to_builtins

from coach import __version__
from coach.inspection.before import FUEL_HIGH_PCT, FUEL_LOW_PCT
from coach.inspection.confirm import LOST_IDS
from coach.j1979.dtc import is_code
from coach.jobs.records import SignOff
from coach.jobs.store import Job
from coach.session.clean_cycles import counted
from coach.session.confirm import JobSeen
from coach.session.next_drive import NextDrive, job_steps, next_drive
from coach.session.seen import Seen
from coach.visible import one_line
from coach.words.clean_cycles import counted_lines
from coach.words.clearing import OWN, RELEARN
from coach.words.confirmation import (
    CONFIRMED,
    confirmation_data,
    confirmation_page,
    forecast_evidence,
    missing_words,
)
from coach.words.doubts import codes_told, lamp_told
from coach.words.ledger import file_data, lost_line, state_words, user_data, user_lines
from coach.words.names import MONITOR_NAMES
from coach.words.next_step import ABOUT_CODES, step_lines, step_words, steps_data
from coach.words.paragraphs import wrapped
from coach.words.reasons import SURE
from coach.words.units import Units, listed, span, when_words

KINDS = {"before": "read-out before", "clear": "clear", "drive": "drive", "between": "read-out"}
ASIDE = {
    "another_car": "of another car, by its VIN; set aside, it counts for nothing here",
    "unproved": "it tells no VIN and no calibration, so nobody knows of which car it is; it counts for nothing"
    " until you say that it is of this one",
    "changed": "a control unit tells another calibration than before; it counts for nothing until you say why",
    "two_vins": "two VINs are told in it; it counts for nothing",
    "simulated": "of a simulated car among recordings of a real one; set aside, it counts for nothing here",
}
RESET = "by then the memory was cleared by something that is not recorded here: what was driven before does not count"


# ---------------------------------------------------------------- a job


def jobs_page(jobs: tuple[Job, ...], damaged: int = 0) -> str:
    """All jobs, one a line. `damaged`: how many more there are whose record cannot be read."""
    if not jobs and damaged:
        return f"No job that can be read; {damaged} cannot."
    if not jobs:
        return "No job yet. coach job new --code P0420 --part 'catalyst' opens one."
    return "\n".join(
        f"{one_line(job.record.id):<26} {'open' if job.is_open else 'signed off':<11} "
        f"{', '.join(job.record.codes) or 'no code'}; {one_line(job.record.part) or 'no part named'}; "
        + files_words(len(job.record.entries))
        for job in jobs
    )


def no_codes(typed: str) -> str:
    """What is wrong with the codes of a repair, typed with spaces between; empty when nothing is."""
    if not typed.strip():
        return "A code such as P0135, then enter; escape leaves it."
    wrong = next((code for code in typed.upper().split() if not is_code(code)), None)
    return f"{wrong} is not a trouble code such as P0420." if wrong is not None else ""


def job_line(job: Job) -> str:
    """One job in one line, as somebody remembers it: the code, the part, since when."""
    record = job.record
    what = ", ".join(part for part in (", ".join(record.codes), one_line(record.part)) if part) or "no code named"
    if record.signed_off is not None:
        return f"{what}: signed off {one_line(record.signed_off.when[:10])}"
    return f"{what}: open since {one_line(record.opened[:10])}, {files_words(len(record.entries))}"


def files_words(count: int) -> str:
    """How many files."""
    return "1 file" if count == 1 else f"{count} files"


def job_heading(seen: JobSeen) -> str:
    """Whether the repair is confirmed, and the first thing that is missing; the page has the rest."""
    lines = [job_line(seen.job)]
    for one in seen.confirmations:
        more = f", and {len(one.missing) - 1} more" if len(one.missing) > 1 else ""
        missing = f" Missing: {missing_words(one.missing[0])}{more}." if one.missing else ""
        lines.append(f"{one.code}: {CONFIRMED[one.outcome]}.{missing}")
    steps = [step for step in job_steps(seen) if step.id in ABOUT_CODES] if seen.job.is_open else []
    lines += [f"Next: {step_words(steps[0], Units())}"] if steps else []
    if not seen.files:
        lines.append("Nothing has been recorded for it yet: a drive or coach check on the command line begins it.")
    return "\n".join(lines)


def job_page(seen: JobSeen, units: Units, inspection: Sequence[str] = ()) -> str:
    """One job, what matters first: what was repaired, whether that is confirmed, the car as last read, what is next.

    `inspection`: lines on what the rule of the job would say.
    """
    record = seen.job.record
    lines = [f"Job {one_line(record.id)}, opened {when_words(record.opened)}", *_what(seen, units)]
    if any(one.header.source == "simulated" for one in seen.files):
        lines.insert(1, "SIMULATED: this is no real car.")
    if record.signed_off is not None:
        lines += ["", *_signed_off(record.signed_off)]
    for one in seen.confirmations:
        lines += ["", confirmation_page(one, units)]
    if seen.latest is not None:
        later = "; a later recording cannot be read" if later_unread(seen) else ""
        lines += ["", f"As last read, {when_words(seen.latest.read_at)}{later}", *_as_read(seen.latest)]
    if inspection:
        lines += ["", *inspection]
    if record.signed_off is None:
        lines += _ahead(seen, units)
    lines += ["", "Files", *(f"  {line}" for line in _files(seen))]
    return "\n".join(lines)


def _ahead(seen: JobSeen, units: Units) -> list[str]:
    """What comes next; nothing to drive for where nothing is left."""
    back = [one.code for one in seen.confirmations if one.outcome == "came_back"]
    if back:
        return ["", f"Next: repair {listed(back)}. Driving for monitors is of no use before that."]
    stands = _codes_ask(seen, units)
    if stands and all_done(seen):
        return ["", "Next", *stands]
    if only_recordings_lack(seen):
        return ["", "Next: bring back the recordings that are lost, or clear and drive anew: nothing else is missing."]
    if all_done(seen):
        return ["", "Next: nothing is left to drive for. coach job sign-off closes the job."]
    ahead = next_drive(seen)
    codes = ["", "What the codes ask for", *stands] if stands else []
    return (
        [*codes, "", "The next drive: coach drive guides through it", *next_drive_lines(ahead)]
        if ahead is not None
        else codes
    )


def _codes_ask(seen: JobSeen, units: Units) -> list[str]:
    """What codes and test results ask for next, and how far the way without a clear has come."""
    steps = [step for step in job_steps(seen) if step.id in ABOUT_CODES]
    lines = [*step_lines(steps, units)]
    if any(step.id in ("mend", "clean_cycles") for step in steps):
        lines += counted_lines(counted(seen))
    return [line for text in lines for line in wrapped(text).splitlines()]


def unconfirmed_lines(seen: JobSeen) -> Iterator[str]:
    """Why the repair of a job is not confirmed, everything that is missing one a line."""
    codes = seen.job.record.codes
    if not codes:
        yield "No code was named for this job, so that no repair can be confirmed."
    elif not seen.confirmations:
        yield f"{listed(list(codes))}: nothing was read yet, so that no repair can be confirmed."
    for one in seen.confirmations:
        if one.outcome != "confirmed":
            yield f"{one.code}: {CONFIRMED[one.outcome]}."
            yield from (f"  still open: {missing_words(missing)}" for missing in one.missing)


def later_unread(seen: JobSeen) -> bool:
    """Whether a recording after the one last read cannot be read: what it said would be newer."""
    names = [entry.file for entry in seen.job.record.entries]
    last = names.index(seen.latest.entry.file) if seen.latest is not None else -1
    lost = (*seen.doubtful, *(one.entry.file for one in seen.ledger if one.lost))
    return any(names.index(name) > last for name in lost)


def all_done(seen: JobSeen) -> bool:
    """Every repaired code is confirmed, every monitor the car has was complete when last read, and no fault stands."""
    return {one.outcome for one in seen.confirmations} == {"confirmed"} and seen.conclude().standing == "complete"


def only_recordings_lack(seen: JobSeen) -> bool:
    """The repair would be confirmed, were it not for recordings that are evidence no more."""
    missing = {missing.id for one in seen.confirmations for missing in one.missing}
    states = {one.outcome for one in seen.confirmations}
    return bool(missing) and missing <= set(LOST_IDS.values()) and states <= {"confirmed", "cannot_say"}


def next_drive_lines(ahead: NextDrive) -> Iterator[str]:
    """What to look at before it, and what it may complete."""
    if ahead.after_clear:
        yield from wrapped(f"The key after the clear: {ahead.after_clear} {OWN}").splitlines()
    if ahead.fuel_pct is None:
        yield "  fuel: not told by the car; 30 to 70 % is right"
    else:
        right = FUEL_LOW_PCT <= ahead.fuel_pct <= FUEL_HIGH_PCT
        yield f"  fuel: {ahead.fuel_pct:.0f} % when last read" + ("" if right else "; 30 to 70 % is right")
    if ahead.cold_from is not None and ahead.soak_s is not None:
        yield (
            f"  a start is cold from {ahead.cold_from:%Y-%m-%d %H:%M} on, {span(ahead.soak_s)} after the engine last"
            " ran, if nobody starts it before"
        )
    if ahead.relearn:
        yield f"  {RELEARN}"
    if ahead.forecasts:
        yield "  chance that a drive of the regulated pattern completes it (in brackets: nine times in ten within)"
    for one in ahead.forecasts:
        chance = f"{one.chance * 100:.0f} in 100 ({one.low * 100:.0f} to {one.high * 100:.0f})"
        yield f"    {MONITOR_NAMES[one.monitor]:<22} {chance}, from {listed(forecast_evidence(one))}"


def _what(seen: JobSeen, units: Units) -> Iterator[str]:
    record = seen.job.record
    yield f"Repaired: {', '.join(record.codes) or 'no code named'}; {one_line(record.part) or 'no part named'}"
    if record.note:
        yield f"Note: {one_line(record.note)}"
    if record.odometer_km is not None:
        yield f"Odometer: {units.distance(record.odometer_km)}"
    yield from user_lines(record)


def _files(seen: JobSeen) -> Iterator[str]:
    before: Mapping[str, str | None] = {}
    states = {one.entry.file: one for one in seen.ledger}
    for one in seen.files:
        label = " SIMULATED" if one.header.source == "simulated" else ""
        kind = "clear, unproved" if one.entry.kind == "clear" and not one.confirmed_clear else KINDS[one.entry.kind]
        what = f"{when_words(one.entry.when)}  {kind:<16} {one_line(one.entry.file)}"
        state = state_words(states[one.entry.file])
        yield f"{what}, {span(one.end_t)}{label}{_bad(one)}" + (f", {state}" if state else "")
        ends = one.car.monitor_states()
        turned = [
            m for m, now in ends.items() if now == "complete" and "incomplete" in (before.get(m), one.started.get(m))
        ]
        if turned:
            yield f"{'':<18}became complete: {_names(turned)}"
        before = ends
    yield from (f"not readable: {one_line(why)}" for why in seen.unread)
    yield from (f"{one_line(one.seen.entry.file)}: {ASIDE[one.why]}" for one in seen.aside)
    if seen.reset_in is not None:
        yield f"{one_line(seen.reset_in.entry.file)}: {RESET}"
    yield from map(one_line, lost_lines(seen))
    if not states:
        yield "none yet"


def lost_lines(seen: JobSeen) -> Iterator[str]:
    """Files that are not there or not as they were kept, where nothing else on the page says so."""
    read = {one.entry.file for one in seen.files}
    for one in seen.ledger:
        told = one.entry.file in read or any(one.entry.file in why for why in seen.unread)
        if one.state == "empty" or (one.lost and not told):
            yield lost_line(one)


def _bad(one: Seen) -> str:
    lines = "1 line" if one.bad_lines == 1 else f"{one.bad_lines} lines"
    return f", {lines} not readable" if one.bad_lines else ""


def _names(monitors: Iterable[str]) -> str:
    return listed([MONITOR_NAMES[monitor] for monitor in monitors])


def _as_read(seen: Seen) -> Iterator[str]:
    """Monitors, MIL and codes of one file's end, uncertain ones said so."""
    states = seen.car.monitor_states()
    for word, state in (("complete", "complete"), ("incomplete", "incomplete"), ("uncertain", None)):
        found = [m for m, told in states.items() if told == state]
        if found:
            yield f"  {word:<11} {_names(found)}"
    told = seen.car.conclude()
    yield f"  {'MIL':<11} {lamp_told(told.mil)}"
    yield from (f"  {kind:<11} {codes_told(found)}" for kind, found in told.codes.items())


def signed_words(done: SignOff) -> Iterator[str]:
    """The end of a job: what was said, by which rule, of what date and how sure, and what was open then."""
    yield from map(one_line, _signed_words(done))


def _signed_words(done: SignOff) -> Iterator[str]:
    by = f", {done.verdict} by {done.rule}" if done.rule else ""
    anyway = ", all the same, by the user's own wish" if done.anyway else ""
    yield f"{when_words(done.when)}: {done.outcome or 'no code was named'}{by}{anyway}. {done.note}".rstrip()
    if done.read_at:
        yield f"by what the car said on {when_words(done.read_at)}"
    if done.rule:
        yield f"the rule as it was then: {SURE[done.rule_sure or 'memory']}; {done.rule_dates}"
        yield f"what it says of a retest: coach rules show {done.rule}"
    if done.incomplete is not None:
        yield f"incomplete then: {_names(done.incomplete) if done.incomplete else 'none'}"


def _signed_off(done: SignOff) -> Iterator[str]:
    first, *rest = signed_words(done)
    yield f"Signed off {first}"
    yield from (f"  {line}" for line in rest)


def job_document(seen: JobSeen, inspection: Mapping[str, Any] | None = None) -> dict[str, Any]:
    """One job as data. No VIN stands in it. `inspection`: the verdict under the rule of the job, as data."""
    record = seen.job.record
    return {
        "schema": "coach.job",
        "version": 2,
        "program": __version__,
        "id": record.id,
        "opened": record.opened,
        "codes": list(record.codes),
        "part": record.part,
        "note": record.note,
        "odometer_km": record.odometer_km,
        **user_data(record),
        "files": [file_data(one) for one in seen.ledger],
        "not_readable": list(seen.unread),
        "set_aside": [{"file": one.seen.entry.file, "why": one.why} for one in seen.aside],
        "cleared_again_in": seen.reset_in.entry.file if seen.reset_in is not None else None,
        "verdict": seen.conclude().standing,
        "concluded": to_builtins(seen.conclude()),
        "confirmations": [confirmation_data(one) for one in seen.confirmations],
        "inspection": inspection,
        "next_steps": steps_data(job_steps(seen)) if record.signed_off is None else [],
        "clean_cycles": counted(seen),
        "next_drive": _next_data(next_drive(seen)) if record.signed_off is None else None,
        "signed_off": None
        if record.signed_off is None
        else {name: getattr(record.signed_off, name) for name in record.signed_off.__struct_fields__},
    }


def _next_data(ahead: NextDrive | None) -> dict[str, Any] | None:
    if ahead is None:
        return None
    return {
        "fuel_pct": ahead.fuel_pct,
        "cold_from": None if ahead.cold_from is None else ahead.cold_from.isoformat(timespec="seconds"),
        "idle_relearn": ahead.relearn,
        "forecasts": [{name: getattr(one, name) for name in one.__dataclass_fields__} for one in ahead.forecasts],
    }


def jobs_document(jobs: tuple[Job, ...], damaged: tuple[str, ...]) -> dict[str, Any]:
    """All jobs as data."""
    rows = [
        {
            "id": job.record.id,
            "opened": job.record.opened,
            "open": job.is_open,
            "codes": list(job.record.codes),
            "part": job.record.part,
            "files": len(job.record.entries),
        }
        for job in jobs
    ]
    return {"schema": "coach.jobs", "version": 1, "program": __version__, "jobs": rows, "damaged": list(damaged)}
