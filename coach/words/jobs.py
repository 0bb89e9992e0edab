"""Words about a job: its list and page, before and after a clear, the checks before a drive, and the confirmation.

Tables of sentences; nothing is decided here.
"""

from collections.abc import Callable, Iterator, Mapping
from typing import TYPE_CHECKING, Any

from coach import __version__
from coach.inspection.before import FUEL_HIGH_PCT, FUEL_LOW_PCT, Check
from coach.inspection.cleared import WORD, Hurdle, Loss
from coach.inspection.confirm import Confirmation, Missing
from coach.inspection.forecast import Forecast
from coach.j1979.signals import SIGNALS
from coach.jobs.store import Job
from coach.session.confirm import JobSeen
from coach.session.next_drive import NextDrive, next_drive
from coach.words.names import MONITOR_NAMES
from coach.words.readout import result_words
from coach.words.units import Units, clock, listed, pattern_words, span, when_words
from coach.words.verdicts import wrapped

if TYPE_CHECKING:  # the clear brings the adapter with it, which words about a job do not need
    from coach.session.clear import Cleared

KINDS = {"before": "read-out before", "clear": "clear", "drive": "drive", "between": "read-out"}
CONFIRMED = {
    "confirmed": "confirmed",
    "not_yet": "not yet confirmed",
    "came_back": "the fault came back",
    "cannot_say": "cannot be said",
}
MISSING: dict[str, str] = {
    "code_not_in_table": "which monitor watches for this code is in no table; coach job change --monitor names one",
    "stored_stands": "{codes} is still stored from before: three clean driving cycles put it out, or a clear does",
    "pending_stands": "{codes} is pending",
    "permanent_stands": "the permanent copy of {codes} stands: the car erases it itself, after the monitor has run and"
    " passed in a drive of the regulated pattern and the key was off",
    "other_code": "{codes}, of the same monitor, stands",
    "stored_unknown": "the stored codes were not told by every control unit: read the car again",
    "pending_unknown": "the pending codes were not told by every control unit: read the car again",
    "permanent_unknown": "the permanent codes were not told by every control unit: read the car again",
    "appeared_meanwhile": "{codes} appeared once since the repair and went again",
    "monitor_unknown": "whether its monitor has run was not told",
    "monitor_unsupported": "the car has no such monitor",
    "monitor_incomplete": "its monitor has not run since the memory was last cleared",
    "monitor_not_reset": "its monitor reads complete, but may have run before the repair: nothing was cleared",
    "no_cycle": "no drive since the repair: one of the regulated pattern is needed ({pattern})",
    "pattern_not_met": "the drive did not have the regulated pattern ({pattern})",
    "pattern_unknown": "whether the drive had the regulated pattern was not recorded",
    "cycle_not_finished": "the drive was not seen to end: key off, key on, read again",
    "pending_not_read": "the pending codes were not read after the drive: read the car again",
    "pending_after_cycle": "{codes} was pending after the drive",
    "not_similar": "no drive came near the engine speed and load of the freeze frame",
    "similar_unknown": "whether a drive came near the freeze frame's engine speed and load cannot be told",
    "test_outside": "its test result is outside the limits",
    "no_test_result": "its test result still reads empty: read the car again, with the key on",
}
"""What is missing for a confirmation."""


# ---------------------------------------------------------------- confirmation


def confirmation_page(one: Confirmation, units: Units) -> str:
    """One repaired code as text."""
    lines = [f"{one.code}: {CONFIRMED[one.outcome]}."]
    if one.assigned is not None:
        by = "by your own choice: the code is in no table" if one.assigned.chosen else one.assigned.source
        lines.append(f"  its monitor: {MONITOR_NAMES[one.assigned.monitor]} ({by})")
    if one.since is not None:
        when = f", in the recording of {when_words(one.since.began)}" if one.since.began else ""
        lines.append(f"  seen again as {one.since.kind} at {clock(one.since.t)}{when}")
    if one.frozen:
        lines.append(f"  its freeze frame: {frame_words(one.frozen, units)}")
    lines += [f"  missing: {missing_words(missing, units)}" for missing in one.missing]
    lines += [f"  measured: {result_words(test)}" for test in one.tests if test.passed is not None]
    if one.outcome == "confirmed":
        lines.append(
            "  its monitor ran since the repair and no code of it stands; the MIL being off alone says nothing"
        )
    return "\n".join(lines)


def missing_words(missing: Missing, units: Units | None = None) -> str:
    """One missing thing."""
    codes = listed(list(missing.codes)) if missing.codes else ""
    return MISSING[missing.id].format(codes=codes, pattern=pattern_words(units or Units()))


def frame_words(frozen: Mapping[str, float], units: Units) -> str:
    """The values of a freeze frame that a driver can aim at."""
    told = []
    for signal, value in frozen.items():
        if signal in SIGNALS and signal in ("rpm", "load_pct", "speed_kmh", "coolant_c"):
            shown = {"speed_kmh": units.speed, "coolant_c": units.temperature}.get(signal)
            told.append(f"{SIGNALS[signal].name} {shown(value) if shown else f'{value:.0f} {SIGNALS[signal].unit}'}")
    return listed(told)


def confirmation_data(one: Confirmation) -> dict[str, Any]:
    """One repaired code as data."""
    return {
        "code": one.code,
        "monitor": one.assigned.monitor if one.assigned is not None else None,
        "monitor_source": one.assigned.source or None if one.assigned is not None else None,
        "monitor_chosen_by_user": one.assigned.chosen if one.assigned is not None else None,
        "outcome": one.outcome,
        "missing": [{"id": m.id, "codes": list(m.codes), "words": missing_words(m)} for m in one.missing],
        "since": None
        if one.since is None
        else {"kind": one.since.kind, "recording_began": one.since.began, "t": one.since.t},
        "freeze_frame": dict(one.frozen),
        "test_results": [
            {
                "test_id": f"{test.mid:02X} {test.tid:02X}",
                "value": test.value,
                "low": test.low,
                "high": test.high,
                "unit": test.unit,
                "passed": test.passed,
                "share_of_limit_used": test.share_of_limit_used,
            }
            for test in one.tests
        ],
    }


# ---------------------------------------------------------------- forecast


def forecast_words(one: Forecast) -> str:
    """A chance with its interval and its evidence, never the number alone."""
    seen = []
    if one.car_drives:
        seen.append(f"the car's counters, {one.car_ran} runs in {one.car_drives} drives")
    if one.job_drives:
        seen.append(f"this job, {one.job_ran} in {one.job_drives}")
    return (
        f"{MONITOR_NAMES[one.monitor]}: about {one.chance * 100:.0f} in 100 on the next drive of the regulated pattern"
        f" ({one.low * 100:.0f} to {one.high * 100:.0f}, nine times in ten), from {listed(seen)}"
    )


# ---------------------------------------------------------------- before and after a clear

HURDLES = {
    "engine_running": "the engine runs: stop it and turn the key to on",
    "engine_unknown": "the car does not tell its engine speed, so nobody knows that the engine is off",
    "moving": "the car moves",
    "speed_unknown": "the car does not tell its speed, so nobody knows that it stands",
    "battery_low": "the battery is low: charge it first, a control unit may fail while it writes",
}


def hurdle_words(one: Hurdle) -> str:
    """Why nothing is sent."""
    if one.id == "battery_low":
        return f"{HURDLES[one.id]} ({one.value:.1f} V, at least {one.limit:.1f} V)"
    return HURDLES[one.id]


def loss_page(loss: Loss) -> str:
    """What a clear takes, what it leaves, and the other way; shown before the word is asked for."""
    lost = listed([MONITOR_NAMES[m] for m in loss.lost_monitors]) if loss.lost_monitors else "none is complete now"
    lines = ["Clearing takes away", f"  readiness: {lost}"]
    lines.append(f"  codes stored: {', '.join(loss.stored) or 'none'}; pending: {', '.join(loss.pending) or 'none'}")
    if loss.frozen_by:
        lines.append(f"  the freeze frame of {', '.join(loss.frozen_by)}: it is kept in the read-out just saved")
    if loss.has_tests:
        lines.append("  the test results: they are kept in the read-out too")
    lines += ["It leaves", f"  permanent codes: {', '.join(loss.permanent) or 'none'}; only the car erases them, after"]
    lines.append("    their monitor has run and passed in a drive of the regulated pattern")
    if loss.has_counters:
        lines.append("  the in-use counters")
    lines += [
        "The other way",
        "  Three driving cycles without the fault put the MIL out too, and keep readiness.",
        "  After a clear every monitor has to run again: a drive of about three quarters of an hour and often a night.",
        f"  If it has to be cleared: fuel at 30 to 70 %{_now(loss.fuel_pct)}, clear, park it overnight, then drive.",
        *wrapped(f"The key after it: {loss.after_clear or AFTER_CLEAR} {OWN}").splitlines(),
    ]
    if loss.voltage_v is None:
        lines.append("  The battery's voltage is not told by this car: be sure that it is charged.")
    return "\n".join([*lines, "", f"To clear, type the word {WORD}. Anything else leaves all as it is."])


AFTER_CLEAR = "Some cars want it left on, some off for half a minute."
OWN = "The car's own procedure comes first."


def _now(fuel_pct: float | None) -> str:
    return "" if fuel_pct is None else f" (now {fuel_pct:.0f} %)"


ENDS = {
    "refused": "Nothing was sent.",
    "left": "Left as it was; nothing was sent.",
    "cleared": "Cleared, and every control unit shows it.",
    "not_cleared": "Not cleared everywhere.",
    "cannot_say": "Whether it was cleared everywhere cannot be said: read the car again.",
}


def cleared_page(done: "Cleared", relearn: bool = False) -> str:
    """How it ended, control unit by control unit. `relearn`: the work was on the throttle or the battery."""
    lines = [ENDS[done.state]]
    lines += [f"  {hurdle_words(one)}" for one in done.hurdles]
    for ecu in done.ecus:
        told = "confirmed it" if ecu.confirmed else "did not confirm it"
        reset = {
            True: "readiness is reset",
            False: f"readiness is not reset ({', '.join(ecu.kept)})",
            None: "has no monitor that could show a reset" if not ecu.shows else "readiness was not told",
        }[ecu.reset]
        gone = {True: "no stored code", False: "a stored code is still there", None: "stored codes were not told"}
        lines.append(f"  {ecu.address} {told}: {reset}, {gone[ecu.codes_gone]}.")
    lines += [f"  {address} refused ({code})." for address, code in done.refusal]
    if done.permanent:
        codes = ", ".join(done.permanent)
        lines.append(f"  Permanent, and rightly still there: {codes}. The car erases it once its monitor has passed.")
    if done.state in ("cleared", "cannot_say") and done.loss is not None:
        lines += wrapped(f"The key now: {done.loss.after_clear or AFTER_CLEAR} {OWN}").splitlines()
        lines += [f"  {RELEARN}"] if relearn else []
    if done.before_path is not None:
        lines.append(f"  The read-out before is kept: {done.before_path}")
    if done.clear_path is not None:
        lines.append(f"  The clear is recorded: {done.clear_path}")
    return "\n".join(lines)


# ---------------------------------------------------------------- before the drive

CHECKS = {
    "battery_rest_v": "battery at rest, key on",
    "charging_v": "charging voltage",
    "fuel_pct": "fuel level",
    "fuel_for_leak_test_pct": "fuel level for the leak test",
    "start_coolant_c": "coolant for a cold start",
    "start_coolant_over_air_c": "coolant above the air outside",
    "stored_codes": "stored codes",
    "pending_codes": "pending codes",
    "coolant_level": "coolant level, filled and bled",
    "leaks_and_filler_cap": "hoses and exhaust tight, filler cap seated",
    "loads_off": "A/C, lights and heaters off unless a step asks for them",
    "road_worthy": "tyres, brakes, lights in order",
    "idle_relearn": "the idle relearn the maker asks for after throttle or battery work",
}
RELEARN = "After work on the throttle or the battery makers ask for an idle relearn: do it before the drive (S68)."
STATES = {
    "in_order": "in order",
    "not_in_order": "not in order",
    "not_measurable": "not told by the car",
    "ask": "look yourself",
}


def checks_page(checks: tuple[Check, ...], units: Units) -> str:
    """The checks before a drive, one a line, each with its figures and their source."""
    return "\n".join(f"  {STATES[one.state]:<20} {CHECKS[one.id]}{_figures(one, units)}" for one in checks)


def _figures(one: Check, units: Units) -> str:
    if one.codes:
        return f": {', '.join(one.codes)}"
    form: dict[str, Callable[[float], str]] = {
        "_over_air_c": units.degrees,
        "_c": units.temperature,
        "_pct": lambda value: f"{value:.0f} %",
        "_v": lambda value: f"{value:.1f} V",
    }
    show = next((f for ending, f in form.items() if one.id.endswith(ending)), None)
    if show is None:
        return f" ({one.source})"
    ends = [f"at least {show(one.low)}" if one.low is not None else "", f"at most {show(one.high)}" if one.high else ""]
    wanted = " and ".join(end for end in ends if end)
    seen = f" {show(one.value)}," if one.value is not None else ""
    return f":{seen} wanted {wanted} ({one.source})"


# ---------------------------------------------------------------- a job


def jobs_page(jobs: tuple[Job, ...]) -> str:
    """All jobs, one a line."""
    if not jobs:
        return "No job yet. coach job new --code P0420 --part 'catalyst' opens one."
    return "\n".join(
        f"{job.record.id:<26} {'open' if job.is_open else 'signed off':<11} "
        f"{', '.join(job.record.codes) or 'no code'}; {job.record.part or 'no part named'}; "
        f"{len(job.record.entries)} files"
        for job in jobs
    )


def job_page(seen: JobSeen, units: Units) -> str:
    """One job: what was repaired, its files, what is confirmed, what the next drive may bring."""
    record = seen.job.record
    lines = [f"Job {record.id}, opened {when_words(record.opened)}", *_what(seen, units), "", "Files"]
    lines += [f"  {line}" for line in _files(seen)]
    for one in seen.confirmations:
        lines += ["", confirmation_page(one, units)]
    back = [one.code for one in seen.confirmations if one.outcome == "came_back"]
    ahead = next_drive(seen) if record.signed_off is None and not back else None
    if back and record.signed_off is None:
        lines += ["", f"Next: repair {listed(back)}. Driving for monitors is of no use before that."]
    if ahead is not None:
        lines += ["", "The next drive", *next_drive_lines(ahead)]
    if record.signed_off is not None:
        done = record.signed_off
        by = f", {done.verdict} by {done.rule}" if done.rule else ""
        lines += ["", f"Signed off {when_words(done.when)}: {done.outcome}{by}. {done.note}".rstrip()]
    return "\n".join(lines)


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
    for one in ahead.forecasts:
        yield from wrapped(forecast_words(one)).splitlines()


def _what(seen: JobSeen, units: Units) -> Iterator[str]:
    record = seen.job.record
    yield f"Repaired: {', '.join(record.codes) or 'no code named'}; {record.part or 'no part named'}"
    if record.note:
        yield f"Note: {record.note}"
    if record.odometer_km is not None:
        yield f"Odometer: {units.distance(record.odometer_km)}"


def _files(seen: JobSeen) -> Iterator[str]:
    for one in seen.files:
        label = " SIMULATED" if one.header.source == "simulated" else ""
        yield f"{when_words(one.entry.when)}  {KINDS[one.entry.kind]:<16} {one.entry.file}, {span(one.end_t)}{label}"
    yield from (f"not readable: {why}" for why in seen.unread)
    yield from (f"begun, nothing written: {entry.file}" for entry in seen.job.missing())
    if not seen.files:
        yield "none yet"


def job_document(seen: JobSeen) -> dict[str, Any]:
    """One job as data. No VIN stands in it."""
    record = seen.job.record
    return {
        "schema": "coach.job",
        "version": 1,
        "program": __version__,
        "id": record.id,
        "opened": record.opened,
        "codes": list(record.codes),
        "part": record.part,
        "note": record.note,
        "odometer_km": record.odometer_km,
        "files": [{"kind": e.kind, "file": e.file, "when": e.when, "note": e.note} for e in record.entries],
        "not_readable": list(seen.unread),
        "confirmations": [confirmation_data(one) for one in seen.confirmations],
        "signed_off": None
        if record.signed_off is None
        else {name: getattr(record.signed_off, name) for name in record.signed_off.__struct_fields__},
    }
