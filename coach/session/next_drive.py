"""What a job says of the next drive: the tank as last read, when a start would be cold, what may complete, a relearn.

Everything is drawn from the job's files; nothing is asked of a car.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta

from coach.car.car import Car
from coach.drive.profile import parse_profile
from coach.inspection.before import wants_relearn
from coach.inspection.forecast import Forecast, forecasts
from coach.inspection.next_step import NextStep, next_steps
from coach.library import profile_text
from coach.session.confirm import JobSeen
from coach.session.questions import proposed_profile
from coach.session.seen import Seen


@dataclass(frozen=True, slots=True)
class NextDrive:
    """`fuel_pct` as last read. `cold_from`: earliest wall clock at which a start would be cold, after `soak_s`.

    `after_clear`: the profile's words, where a clear was the last thing done. `forecasts`: of the monitors still
    incomplete that there is evidence for. None is unknown.
    """

    fuel_pct: float | None
    cold_from: datetime | None
    soak_s: float | None
    relearn: bool
    after_clear: str
    forecasts: tuple[Forecast, ...]


def next_drive(seen: JobSeen) -> NextDrive | None:
    """None before anything was read."""
    if seen.latest is None or seen.evidence is None:
        return None
    soak_s, words = _profile_says(seen.latest.car)
    ran = _last_ran(seen.files)
    record = seen.job.record
    cold = ran + timedelta(seconds=soak_s) if ran is not None and soak_s is not None else None
    open_ones = seen.evidence.findings.in_state("incomplete", continuous=False)
    told = forecasts(open_ones, seen.in_use, seen.job_ran).values()
    return NextDrive(
        next((f for one in reversed(seen.files) if (f := one.car.values.get("fuel_level_pct")) is not None), None),
        cold,
        soak_s,
        wants_relearn(f"{record.part} {record.note}", record.codes),
        words if seen.files[-1].entry.kind == "clear" and seen.files[-1].confirmed_clear else "",
        tuple(one for one in told if one is not None),
    )


def job_steps(seen: JobSeen) -> tuple[NextStep, ...]:
    """What comes next for the car of a job, by its latest read-out; nothing before anything was read."""
    evidence = seen.evidence
    if evidence is None:
        return ()
    return next_steps(evidence.findings, evidence.tests or (), seen.job.record.codes)


def after_clear_words(car: Car) -> str:
    """What the profile this car's own words point to says of the key right after a clear; empty when none does."""
    return _profile_says(car)[1]


def _profile_says(car: Car) -> tuple[float | None, str]:
    """The longest soak any of its gates wants or is better with, in seconds, and its words on the key after a clear."""
    proposed, _why = proposed_profile(car)
    if proposed is None:
        return None, ""
    profile = parse_profile(profile_text(proposed), proposed)
    windows = [window for form in profile.phase.values() for window in (form.gates, form.better)]
    soaks = [window.soak_min.value for window in windows if window.soak_min is not None]
    return max(soaks, default=None), profile.after_clear.words if profile.after_clear is not None else ""


def _last_ran(files: tuple[Seen, ...]) -> datetime | None:
    """When the engine was last heard running, by the wall clock; none when no file heard it, or has no wall clock."""
    for one in reversed(files):
        if one.driven.ran_t is not None and one.header.began is not None:
            return datetime.fromisoformat(one.header.began) + timedelta(seconds=one.driven.ran_t)
    return None
