"""What a report is about: one recording or a whole job, every drive judged once with the lines of its readings.

It gathers and decides nothing.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path
from typing import Literal

from coach.drive.profile import parse_profile
from coach.inspection.forecast import Forecast, forecasts
from coach.inspection.two_words import TwoWords
from coach.inspection.verdict import Verdict
from coach.jobs.ledger import fingerprint
from coach.jobs.store import Job
from coach.library import profile_text
from coach.session.confirm import JobSeen, look_at
from coach.session.review import DEFAULT_PROFILE, Reviewed, review
from coach.session.trace import Trace

ProfileFrom = Literal["recording", "named", "assumed"]
Judged = tuple[Verdict, TwoWords]
"""A verdict, and what car and user say of model year and fuel."""


@dataclass(frozen=True, slots=True)
class ProfileUsed:
    """By which profile a drive was judged: id, name, where it comes from, and the SHA-256 of its text."""

    id: str
    name: str
    came_from: ProfileFrom
    sha256: str


@dataclass(frozen=True, slots=True)
class FiledDrive:
    """One recording, judged. `name` is what the user calls its file, `sha256` the file's own."""

    path: Path
    name: str
    reviewed: Reviewed
    trace: Trace
    profile: ProfileUsed
    sha256: str


@dataclass(frozen=True, slots=True)
class FileReport:
    """A report on one recording. `made`: wall clock; `protocol`, `verdicts` as they were asked for."""

    drive: FiledDrive
    made: str
    verdicts: tuple[Judged, ...] = ()
    show_vin: bool = False

    @property
    def in_us_units(self) -> bool:
        """The user of the recording chose miles and Fahrenheit."""
        return _us(self.drive)


@dataclass(frozen=True, slots=True)
class JobReport:
    """A report on a job. `drives`: its drives by the name of their file; `hashes`: SHA-256 of every file."""

    seen: JobSeen
    made: str
    verdicts: tuple[Judged, ...] = ()
    drives: Mapping[str, FiledDrive] = field(default_factory=dict)
    hashes: Mapping[str, str] = field(default_factory=dict)
    show_vin: bool = False

    @property
    def in_us_units(self) -> bool:
        """The user of its drives chose miles and Fahrenheit."""
        return any(_us(drive) for drive in self.drives.values())


def _us(drive: FiledDrive) -> bool:
    context = drive.reviewed.context
    return context is not None and context.units == "us"


def file_drive(
    path: Path,
    profile_id: str | None = None,
    protocol: str | None = None,
    name: str = "",
    mapping: Mapping[str, str] | None = None,
) -> FiledDrive:
    """Judge one recording. `profile_id` instead of the recording's own; the rest, and the errors, are `review`'s."""
    trace, text = Trace(), profile_text(profile_id) if profile_id is not None else None
    profile = parse_profile(text, str(profile_id)) if text is not None else None
    reviewed = review(path, profile, protocol, mapping, trace)
    carried = reviewed.context.profile if reviewed.context is not None else None
    came_from: ProfileFrom = "named"
    if text is None and carried is not None and not reviewed.profile_assumed:
        came_from, text = "recording", carried["text"]
    elif text is None:
        came_from, text = "assumed", profile_text(DEFAULT_PROFILE)
    used = reviewed.profile
    known = ProfileUsed(used.id, used.name, came_from, sha256(text.encode()).hexdigest())
    return FiledDrive(path, name or path.name, reviewed, trace, known, fingerprint(path))


def file_job(job: Job, profile_id: str | None = None) -> tuple[JobSeen, dict[str, FiledDrive], dict[str, str]]:
    """Look at a job, judge each of its drives, and take the SHA-256 of every file, so that they are told to belong.

    ValueError for a profile that cannot be read; a drive that cannot be judged is named in `unjudged`.
    """
    if profile_id is not None:
        parse_profile(profile_text(profile_id), profile_id)
    seen = look_at(job)
    drives, hashes = dict[str, FiledDrive](), dict[str, str]()
    for one in seen.files:
        try:
            hashes[one.entry.file] = fingerprint(one.path)
            if any(one is drive for drive in seen.drives):
                drives[one.entry.file] = file_drive(one.path, profile_id)
        except (ValueError, OSError) as error:  # it was read a moment ago: the rest of the job is told all the same
            seen.unjudged = (*seen.unjudged, str(error))
    return seen, drives, hashes


def job_forecasts(seen: JobSeen) -> dict[str, Forecast | None]:
    """A forecast for every monitor still incomplete."""
    if seen.evidence is None:
        return {}
    return forecasts(seen.evidence.findings.in_state("incomplete", continuous=False), seen.in_use, seen.job_ran)
