"""One repair: whether it is confirmed, what is missing, and the ways on: a drive, its recordings, the whole page."""

from collections.abc import Callable
from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.message import Message
from textual.widgets import OptionList

from coach.jobs.store import Job
from coach.screen.drive_ways import DriveWaysScreen
from coach.screen.keys import Keys, ReadScreen, key
from coach.screen.plain import Plain
from coach.session.confirm import JobSeen, look_at
from coach.session.ledger import keep_ledger
from coach.words.jobs import KINDS, job_heading, job_line, job_page
from coach.words.units import Units

if TYPE_CHECKING:
    from coach.screen.chosen import Chosen

NO_PORT = "No adapter found. Plug it in or pair it; r looks again."
ELSEWHERE = "On the command line: coach check and coach clear for this job, coach report {id}, coach job sign-off {id}."


class JobScreen(DriveWaysScreen):
    """A job; its files are looked through in a thread."""

    area = "job"
    heading = "Looking through the files of the job."
    BINDINGS: ClassVar[Keys] = [
        key("r", "again", "refresh", "Look for adapters and files again."),
        key("s", "page", "summary", "The whole job as a page: files, what is confirmed, what is missing."),
    ]

    class Looked(Message):
        """The files were looked through, or cannot be."""

        def __init__(self, seen: JobSeen | None, problem: str) -> None:
            super().__init__()
            self.seen, self.problem = seen, problem

    def __init__(self, job: Job, chosen: "Chosen", ports: Callable[[], tuple[tuple[str, str], ...]]) -> None:
        super().__init__(chosen, ports)
        self.job = job
        self.seen: JobSeen | None = None

    def on_mount(self) -> None:
        """Look through the files."""
        self.query_one("#hint", Plain).put(ELSEWHERE.format(id=self.job.record.id))
        self.query_one(OptionList).focus()

    def on_screen_resume(self) -> None:
        """At first, and back from a drive: there may be more by now."""
        self.action_again()

    def action_again(self) -> None:
        """Look again."""
        self.run_worker(self._look, thread=True, group="look", name="the job")

    def _look(self) -> None:
        try:
            keep_ledger(self.job.again())
            found = look_at(self.job)
        except (ValueError, OSError) as error:
            self.post_message(self.Looked(None, str(error)))
            return
        self.post_message(self.Looked(found, ""))

    @on(Looked)
    def _looked(self, looked: Looked) -> None:
        self.seen = looked.seen or self.seen
        words = job_heading(looked.seen) if looked.seen is not None else f"{job_line(self.job)}\n{looked.problem}"
        self.query_one("#heading", Plain).put(words)
        self.look_again()

    # ------------------------------------------------------------ what there is

    def fill(self) -> None:
        """The page, a drive, the recordings."""
        self.head("What is confirmed and what is missing")
        self.offer("The whole job as a page", self.action_page)
        if self.job.is_open:
            self.head("Go on with a drive for it, through the adapter on")
            self.offer_ports((path for _, path in self.job.files("drive")), NO_PORT)
        self.head("A recording of this job")
        recorded = self.job.files()
        if not recorded:
            self.offer("Nothing has been recorded for it yet; r looks again.", self.action_again)
        for entry, path in reversed(recorded):
            when = entry.when[:16].replace("T", ", ")
            self.offer(f"{KINDS[entry.kind]}, {when}", lambda path=path: self.app.go_to_review(str(path)))  # type: ignore[misc,attr-defined]

    def job_to_drive_for(self) -> Job:
        """This one."""
        return self.job

    # ------------------------------------------------------------ keys

    def action_page(self) -> None:
        """The job as a page."""
        if self.seen is not None:
            self.app.push_screen(ReadScreen(job_page(self.seen, Units(self.chosen.us))))
