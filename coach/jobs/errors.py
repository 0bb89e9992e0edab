"""What can be wrong with jobs, each with what happened and what to do.

JobError
├── NoSuchJob     no job of that name, or none is open
├── SeveralOpen   more than one job is open and none was named
├── JobBusy       another program holds the job
├── JobDamaged    its record cannot be read; the journals beside it are untouched
└── CannotKeep    the folder cannot be written, or the disk is full
"""


class JobError(ValueError):
    """Root; each message is one line."""


class NoSuchJob(JobError):
    """There is no such job."""


class SeveralOpen(JobError):
    """More than one job is open."""


class JobBusy(JobError):
    """Another program is writing to the job."""


class JobDamaged(JobError):
    """The job's record cannot be read."""


class CannotKeep(JobError):
    """Nothing can be kept where the user wanted it."""
