"""One repair: whether it is confirmed, what is missing, and the ways on: a drive, its recordings, the whole page."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.content import Content
from textual.message import Message
from textual.widgets import OptionList, Static

from coach.jobs.store import Job
from coach.screen.found import left_unfinished
from coach.screen.keys import Keys, ReadScreen, key
from coach.screen.ways import WaysScreen
from coach.session.confirm import JobSeen, look_at
from coach.words.jobs import KINDS, job_heading, job_line, job_page
from coach.words.units import Units

if TYPE_CHECKING:
    from coach.screen.chosen import Chosen
    from coach.screen.feed import Feed
    from coach.session.live import Wanted

NO_PORT = "No adapter found. Plug it in or pair it; r looks again."
ELSEWHERE = "On the command line: coach check and coach clear for this job, coach report {id}, coach job sign-off {id}."


class JobScreen(WaysScreen):
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
        super().__init__()
        self.job = job
        self.seen: JobSeen | None = None
        self._chosen, self._ports = chosen, ports

    def on_mount(self) -> None:
        """Look through the files."""
        self.query_one("#hint", Static).update(Content(ELSEWHERE.format(id=self.job.record.id)))
        self.query_one(OptionList).focus()

    def on_screen_resume(self) -> None:
        """At first, and back from a drive: there may be more by now."""
        self.action_again()

    def action_again(self) -> None:
        """Look again."""
        self.run_worker(self._look, thread=True, group="look", name="the job")

    def _look(self) -> None:
        try:
            found = look_at(self.job.again())
        except (ValueError, OSError) as error:
            self.post_message(self.Looked(None, str(error)))
            return
        self.post_message(self.Looked(found, ""))

    @on(Looked)
    def _looked(self, looked: Looked) -> None:
        self.seen = looked.seen or self.seen
        words = job_heading(looked.seen) if looked.seen is not None else f"{job_line(self.job)}\n{looked.problem}"
        self.query_one("#heading", Static).update(Content(words))
        self.look_again()

    # ------------------------------------------------------------ what there is

    def fill(self) -> None:
        """The page, a drive, the recordings."""
        self.head("What is confirmed and what is missing")
        self.offer("The whole job as a page", self.action_page)
        if self.job.is_open:
            self._offer_drive()
        self.head("A recording of this job")
        recorded = self.job.files()
        if not recorded:
            self.offer("Nothing has been recorded for it yet; r looks again.", self.action_again)
        for entry, path in reversed(recorded):
            when = entry.when[:16].replace("T", ", ")
            self.offer(f"{KINDS[entry.kind]}, {when}", lambda path=path: self.app.go_to_review(str(path)))  # type: ignore[misc,attr-defined]

    def _offer_drive(self) -> None:
        self.head("Go on with a drive for it, through the adapter on")
        ports = self._ports()
        if not ports:
            self.offer(NO_PORT, self.action_again)
            return
        broken = left_unfinished(path for _, path in self.job.files("drive"))
        if broken is not None:
            text = f"{ports[0][0]}, going on with {broken.stem}"
            self.offer(text, lambda: self._drive_on(ports[0][0], broken))
        for name, described in ports:
            self.offer(f"{name}   {described}".rstrip(), lambda name=name: self._drive_on(name))  # type: ignore[misc]

    def _wanted(self, port: str) -> "Wanted":
        from coach.session.live import Wanted

        chosen = self._chosen
        return Wanted(port, profile_id=chosen.profile, us=chosen.us, folder=chosen.folder)

    def _drive_on(self, port: str, broken: Path | None = None) -> None:
        from coach.screen.feed import go_on_feed, live_feed
        from coach.session.for_job import for_job

        try:
            wanted = for_job(self._wanted(port), self.job)
            self._drive(live_feed(wanted) if broken is None else go_on_feed(broken, wanted))
        except ValueError as error:
            self.note(str(error))

    def _drive(self, feed: "Feed") -> None:
        from coach.screen.drive import DriveScreen

        self.app.push_screen(DriveScreen(feed, Units(self._chosen.us)))

    # ------------------------------------------------------------ keys

    def action_page(self) -> None:
        """The job as a page."""
        if self.seen is not None:
            self.app.push_screen(ReadScreen(job_page(self.seen, Units(self._chosen.us))))
