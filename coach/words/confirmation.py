"""Words about a repair: whether it is confirmed, what is missing, and what may be expected of the next drives.

Tables of sentences; nothing is decided here.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from coach.inspection.confirm import Confirmation, Missing
from coach.inspection.forecast import Forecast
from coach.j1979.signals import SIGNALS
from coach.words.names import MONITOR_NAMES
from coach.words.readout import result_words
from coach.words.units import Units, clock, listed, pattern_words, when_words

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
    "test_not_read": "its test result was not read since the repair: read the car again, with the key on",
    "no_test_result": "its test result still reads empty: read the car again, with the key on",
}
"""What is missing for a confirmation."""


def confirmation_page(one: Confirmation, units: Units) -> str:
    """One repaired code as text."""
    lines = [f"{one.code}: {outcome_words(one)}.", *_doubtful(one)]
    if one.assigned is not None:
        by = "by your own choice: the code is in no table" if one.assigned.chosen else one.assigned.source
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


def outcome_words(one: Confirmation) -> str:
    """The outcome in short; what rests on files that cannot all be read says so."""
    by = " by the files that can be read" if one.outcome == "confirmed" and one.doubtful else ""
    return f"{CONFIRMED[one.outcome]}{by}"


def _doubtful(one: Confirmation) -> Iterator[str]:
    if not one.doubtful:
        return
    what = f"{listed(list(one.doubtful))} cannot be read to the end"
    had = f"had {one.code} come and gone in it, this would not be confirmed"
    yield f"  {what}; {had}" if one.outcome == "confirmed" else f"  {what}; what it held is not counted"


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
        "not_whole": list(one.doubtful),
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
