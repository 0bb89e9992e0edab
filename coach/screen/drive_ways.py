"""Ways that lead to a drive on the car: what the start and a job have in common."""

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from coach.screen.chosen import Chosen
from coach.screen.found import left_unfinished
from coach.screen.ways import WaysScreen

if TYPE_CHECKING:
    from coach.jobs.store import Job
    from coach.screen.feed import Feed
    from coach.session.live import Wanted


class DriveWaysScreen(WaysScreen):
    """A list of ways with the ports among them. `chosen` are the settings, `ports` gives name and description."""

    def __init__(self, chosen: Chosen, ports: Callable[[], tuple[tuple[str, str], ...]]) -> None:
        super().__init__()
        self.chosen = chosen
        self.ports = ports

    def job_to_drive_for(self) -> "Job | None":
        """The job a drive belongs to; none: it stands by itself."""
        return None

    def offer_ports(self, drives: Iterable[Path], no_port: str) -> None:
        """A drive on each port, and first to go on with the newest of `drives` if it was broken off."""
        ports = self.ports()
        if not ports:
            self.offer(no_port, self.action_again)
            return
        first, broken = ports[0][0], left_unfinished(drives)
        if broken is not None:
            self.offer(f"{first}, going on with {broken.stem}", lambda: self.drive_on(first, broken))
        for name, described in ports:
            self.offer(f"{name}   {described}".rstrip(), lambda name=name: self.drive_on(name))  # type: ignore[misc]

    def action_again(self) -> None:
        """Look again."""
        self.look_again()

    def wanted(self, port: str) -> "Wanted":
        """What the settings ask of a drive on this port."""
        from coach.session.live import Wanted

        chosen = self.chosen
        return Wanted(port, profile_id=chosen.profile, us=chosen.us, folder=chosen.folder)

    def drive_on(self, port: str, broken: Path | None = None) -> None:
        """A drive on the car, for its job if there is one; `broken` is gone on with."""
        from coach.screen.feed import go_on_feed, live_feed
        from coach.session.for_job import for_job

        job, wanted = self.job_to_drive_for(), self.wanted(port)
        try:
            wanted = for_job(wanted, job) if job is not None else wanted
            self.drive(live_feed(wanted) if broken is None else go_on_feed(broken, wanted))
        except ValueError as error:
            self.note(str(error))

    def drive(self, feed: "Feed") -> None:
        """To the drive."""
        from coach.screen.drive import DriveScreen
        from coach.words.units import Units

        self.app.push_screen(DriveScreen(feed, Units(self.chosen.us)))
