"""The way without a clear over a job: how many driving cycles without the fault its recordings hold."""

from typing import Any

from coach.car.car import Car
from coach.inspection.clean_cycles import clean_counts
from coach.jobs.store import Job
from coach.session.confirm import JobSeen, look_at


def counted(seen: JobSeen) -> dict[str, int]:
    """Whole cycles without the fault in a row, for each code that is stored by the latest read-out."""
    if seen.evidence is None:
        return {}
    return clean_counts(seen.evidence.findings.stored.present, seen.evidence, seen.job.record.chosen)


def clean_known(job: Job, car: Car) -> dict[str, Any]:
    """{"clean_cycles": {"counted": …}}, for what a drive knows at its beginning; nothing with the MIL surely off."""
    if car.mil_on() is False:
        return {}
    found = counted(look_at(job))
    return {"clean_cycles": {"counted": found}} if found else {}
