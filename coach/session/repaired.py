"""Which monitors have to confirm the repair: those of the job's codes, by the table or by the user's own choice."""

from typing import Any

from coach.car.car import Car
from coach.inspection.codes import monitors_of
from coach.inspection.findings import findings_of
from coach.jobs.store import Job


def repaired_monitors(job: Job, car: Car) -> dict[str, Any]:
    """{"repaired": {code: monitor}}, for what a drive knows at its beginning; a monitor nobody knows is none."""
    found = monitors_of(job.record.codes, findings_of(car).ignition, job.record.chosen)
    return {"repaired": {code: found.get(code) for code in job.record.codes}} if job.record.codes else {}
