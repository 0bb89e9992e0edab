"""Words about a repair: whether it is confirmed, what is missing, and what may be expected of the next drives.

Tables of sentences; nothing is decided here.
"""

from collections.abc import Mapping
from typing import Any

from coach.inspection import own_tests as own
from coach.inspection.codes import Assignment
from coach.inspection.confirm import Confirmation, Missing
from coach.inspection.forecast import Forecast
from coach.j1979.signals import SIGNALS
from coach.words.margins import result_data, result_words
from coach.words.names import MONITOR_NAMES
from coach.words.units import Units, clock, listed, pattern_words, span, when_words

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
    "similar_unknown": "whether a drive came near the freeze frame's engine speed and load cannot be told; the car"
    " settles it when it erases its permanent copy of the code, which it does after its own test has passed",
    "needs_warm_up": "its own test runs while a cold engine warms up: drive once from cold ({cold} or less,"
    " {freezing} or warmer outside) until the coolant has {warmed}",
    "needs_cold_start": "its own test runs at a cold start: begin a drive with the coolant at {cold} or less, no more"
    " than {apart} above the intake air",
    "needs_cold_soak": "its own test compares the sensors of a cold engine: begin a drive after {soak} with the engine"
    " off",
    "needs_warm_idle": "its own test runs at a warm idle: stand {idle} with the foot off, the coolant at {idle_warm} or"
    " more",
    "needs_boost_pull": "its own test runs under full load: {pull} at {pull_rpm:.0f} rpm or more and high load, where"
    " road and law allow it",
    "needs_fuel_used": "its own test watches the fuel gauge over a good part of a tank, and no drive shows that it ran;"
    " the car shows it by erasing its permanent copy of the code",
    "partner_unknown": "whether the {monitor} monitor has run was not told: only its test works this part",
    "partner_unsupported": "the car has no {monitor} monitor: only its test would work this part",
    "partner_incomplete": "the {monitor} monitor has not run since the memory was last cleared: only its test works"
    " this part",
    "partner_not_reset": "the {monitor} monitor reads complete, but may have run before the repair: only its test works"
    " this part",
    "leak_size_unknown": "which size of leak was tested is not told: the monitor's bit may stand for the test of a"
    " larger one; a result of its own test, the leak test's counter or the erased permanent code would settle it",
    "assignment_unread": "what {codes} stands for, or which monitor watches for it, is known from memory alone: look it"
    " up in the car's service information; coach job change --monitor names the monitor",
    "test_outside": "its test result is outside the limits",
    "test_not_read": "its test result was not read since the repair: read the car again, with the key on",
    "no_test_result": "its test result still reads empty: read the car again, with the key on",
    "recording_missing": "a recording is not in the job's folder any more ({files}): whether the code came in it is not"
    " known. Put it back, or clear and drive anew",
    "recording_changed": "a recording has been changed since it was kept ({files}) and is no evidence any more. Put the"
    " unchanged one back, or clear and drive anew",
    "recording_unreadable": "a recording cannot be read to the end ({files}): whether the code came in it is not known."
    " Put a whole one back, or clear and drive anew",
}
"""What is missing for a confirmation."""

TITLES = {
    "list": "",
    "maker": "; what the code stands for, by makers' service information",
    "page": "; what the code stands for, by a public page",
    "memory": "; what the code stands for, from memory",
}
"""Where the title of a code was read, said where it is not the common list."""


def confirmation_page(one: Confirmation, units: Units) -> str:
    """One repaired code as text."""
    lines = [f"{one.code}: {outcome_words(one)}."]
    if one.assigned is not None:
        by = "by your own choice: the code is in no table" if one.assigned.chosen else _source(one.assigned)
        lines.append(f"  its monitor: {MONITOR_NAMES[one.assigned.monitor]} ({by})")
    if one.since is not None:
        when = f", in the recording of {when_words(one.since.began)}" if one.since.began else ""
        lines.append(f"  seen again as {one.since.kind} at {clock(one.since.t)}{when}")
    if one.frozen:
        lines.append(f"  its freeze frame: {frame_words(one.frozen, units)}")
    lines += [f"  still open: {missing_words(missing, units)}" for missing in one.missing]
    lines += [f"  measured: {result_words(test)}" for test in one.tests if test.passed is not None]
    if one.outcome == "confirmed":
        lines.append(
            "  its monitor ran since the repair and no code of it stands; the MIL being off alone says nothing"
        )
    return "\n".join(lines)


def _source(assigned: Assignment) -> str:
    return f"{assigned.source}{TITLES[assigned.title]}"


def outcome_words(one: Confirmation) -> str:
    """The outcome in short."""
    return CONFIRMED[one.outcome]


def missing_words(missing: Missing, units: Units | None = None) -> str:
    """One missing thing."""
    codes = listed(list(missing.codes)) if missing.codes else ""
    monitor = MONITOR_NAMES[missing.monitor] if missing.monitor is not None else ""
    files = listed(list(missing.files)) if missing.files else ""
    return MISSING[missing.id].format(codes=codes, files=files, monitor=monitor, **_limits(units or Units()))


def _limits(units: Units) -> dict[str, Any]:
    """The limits that the sentences name, in the user's units."""
    return {
        "pattern": pattern_words(units),
        "cold": units.temperature(own.COLD_C),
        "freezing": units.temperature(own.FREEZING_C),
        "warmed": units.temperature(own.WARMED_C),
        "apart": units.degrees(own.APART_C),
        "idle_warm": units.temperature(own.IDLE_WARM_C),
        "idle": span(own.IDLE_S),
        "soak": span(own.SOAK_S),
        "pull": span(own.PULL_S),
        "pull_rpm": own.PULL_RPM,
    }


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
        "monitor_source": _source(one.assigned) or None if one.assigned is not None else None,
        "monitor_chosen_by_user": one.assigned.chosen if one.assigned is not None else None,
        "own_test": one.assigned.own if one.assigned is not None else None,
        "own_test_source": one.assigned.own_from or None if one.assigned is not None else None,
        "outcome": one.outcome,
        "missing": [
            {"id": m.id, "codes": list(m.codes), "files": list(m.files), "words": missing_words(m)} for m in one.missing
        ],
        "since": None
        if one.since is None
        else {"kind": one.since.kind, "recording_began": one.since.began, "t": one.since.t},
        "freeze_frame": dict(one.frozen),
        "not_whole": list(one.doubtful),
        "test_results": [
            {
                "test_id": f"{test.mid:02X} {test.tid:02X}",
                "value": test.value,
                "low": test.low,
                "high": test.high,
                "unit": test.unit,
                "passed": test.passed,
                **result_data(test),
            }
            for test in one.tests
        ],
    }


# ---------------------------------------------------------------- forecast


def forecast_words(one: Forecast) -> str:
    """A chance with its interval and its evidence, never the number alone."""
    return (
        f"{MONITOR_NAMES[one.monitor]}: about {one.chance * 100:.0f} in 100 on the next drive of the regulated pattern"
        f" ({one.low * 100:.0f} to {one.high * 100:.0f}, nine times in ten), from {listed(forecast_evidence(one))}"
    )


def forecast_evidence(one: Forecast) -> list[str]:
    """What a forecast rests on."""
    seen = []
    if one.car_drives:
        seen.append(f"the car's counters, {one.car_ran} runs in {one.car_drives} drives")
    if one.job_drives:
        seen.append(f"this job, {one.job_ran} in {one.job_drives}")
    return seen
