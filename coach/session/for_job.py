"""A drive that belongs to a job: its journal is reserved there, and what the job knows goes along."""

from dataclasses import replace

from coach.car.known import beside
from coach.jobs.store import Job
from coach.session.aside import known_of
from coach.session.live import Wanted
from coach.session.repaired import repaired_monitors


def for_job(wanted: Wanted, job: Job) -> Wanted:
    """The same wishes, for a drive of this job. CannotKeep when it has no room for another file."""
    job.check_room()
    known = known_of(job)  # the job's files are read once
    return replace(
        wanted,
        new_file=lambda began: job.new_file("drive", began),
        earlier=tuple(path for _entry, path in job.files()),
        repaired=lambda car: repaired_monitors(job, car),
        other_job=lambda car: job.record.id if beside(known, car.signs) == "another" else "",
        car_known=known,
    )
