"""`coach clear`: the only command that may end in service 04, behind a saved read-out and a typed word."""

import argparse
import sys
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import Any, Literal

from coach.car.identity import Signs
from coach.cli.exits import COULD_NOT_TELL, DONE, NOT_READY
from coach.cli.terminal import ask, say
from coach.jobs.errors import JobError

CODES = {"cleared": DONE, "left": NOT_READY, "refused": NOT_READY, "not_cleared": NOT_READY}


def run(arguments: argparse.Namespace) -> int:
    """Read, save, warn, ask, clear, verify. Exit 0 cleared, 1 not, 3 could not tell, 4 no connection."""
    from coach.adapter.errors import AdapterError
    from coach.cli.common import folder_of, job_of, the_port
    from coach.inspection.cleared import Loss
    from coach.journal.errors import JournalError
    from coach.session.clear import Wanted, clear
    from coach.session.places import data_folder
    from coach.words.clearing import cleared_page, loss_page

    def confirm(loss: Loss) -> str:
        print(loss_page(loss), flush=True)
        if paths.of_another_car(loss.signs):
            say(f"This is not the car of job {paths.job_id}, by its VIN: this clear will count for nothing there.")
        try:
            return ask("> ")
        except EOFError:
            return ""

    paths = Paths(job_of(arguments), data_folder(folder_of(arguments)))
    paths.check_room()
    wanted = Wanted(the_port(arguments.port), paths, arguments.baud, arguments.protocol)
    try:
        done = clear(wanted, confirm, lambda text: say(f"  {text}", aside=True))
    except (ValueError, OSError, AdapterError, KeyboardInterrupt) as error:
        if isinstance(error, JournalError):
            paths.not_begun()
        print("coach: nothing was sent; the car's memory is as it was", file=sys.stderr)
        raise
    finally:
        paths.seal()
    print(cleared_page(done, paths.relearn))
    return CODES.get(done.state, COULD_NOT_TELL)


class Paths:
    """Names of the journals: in the job, or beside the drives when no job is open."""

    def __init__(self, job: Any, folder: Path) -> None:
        self._job = job
        self._drives = folder / "drives"
        self._open: Path | None = None

    def check_room(self) -> None:
        """CannotKeep before the car is asked, not after, when nothing can be saved."""
        from coach.jobs.store import check_room

        if self._job is None:
            self._drives.mkdir(parents=True, exist_ok=True)
        check_room(self._job.folder if self._job is not None else self._drives)

    @property
    def job_id(self) -> str:
        """The job's id, empty without one."""
        return str(self._job.record.id) if self._job is not None else ""

    def of_another_car(self, signs: Signs) -> bool:
        """Whether the job is of another car than the one that told these signs."""
        from coach.car.known import beside
        from coach.session.folding import known_of

        return self._job is not None and beside(known_of(self._job), signs) == "another"

    @property
    def relearn(self) -> bool:
        """Whether the job's work was on the throttle or the battery."""
        from coach.inspection.before import wants_relearn

        record = self._job.record if self._job is not None else None
        return record is not None and wants_relearn(f"{record.part} {record.note}", record.codes)

    def not_begun(self) -> None:
        """A journal could not be written: when nothing came to be of the one named last, nothing is missing."""
        if self._open is not None and not self._open.exists():
            with suppress(JobError):  # the job itself may be gone
                self._job.nothing_written(self._open)

    def seal(self) -> None:
        """The journal named last was closed."""
        from coach.session.for_job import sealed

        path, self._open = self._open, None
        if path is not None:
            sealed(self._job, path)

    def __call__(self, kind: Literal["before", "clear"]) -> Path:
        """A path for a new journal of this kind."""
        now = datetime.now().astimezone()
        self.seal()
        if self._job is not None:
            path: Path = self._job.new_file(kind, now)
            self._open = path
            return path
        for number in range(1, 1000):
            path = self._drives / f"{kind}-{now:%Y-%m-%d-%H%M}-{number}.journal"
            if not path.exists():
                return path
        raise OSError(f"{self._drives}: too many files begun in this minute")
