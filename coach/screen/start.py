"""The start: the car on a port, a repair, a simulated car, a recording. Whatever is missing, the next step is there."""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual.widgets import OptionList

from coach.library import shipped
from coach.screen.chosen import Chosen
from coach.screen.drive_ways import DriveWaysScreen
from coach.screen.found import (
    found_ports,
    no_address,
    no_file,
    only_open,
    profiles,
    recent_jobs,
    recording_words,
    recordings,
)
from coach.screen.keys import AskScreen, Keys, key
from coach.screen.plain import Plain
from coach.session.places import data_folder, kept_drives

if TYPE_CHECKING:
    from coach.jobs.store import Job
    from coach.screen.feed import Feed

SIMULATED_PACES = (1, 10, 30, 60)
NO_PORT = "No adapter found. Plug it in or pair it; r looks again, a takes an address."
NO_JOB = "No job yet; j opens one: the read-outs, clear and drives of one repair."
JOBS = 4  # the newest; our judgement: more than a household repairs at once
NO_RECORDING = "No drive has been recorded yet; o opens a file."


class StartScreen(DriveWaysScreen):
    """What is there to do."""

    area = "start"
    heading = "A calm drive back to readiness. Where do the answers come from?"
    BINDINGS: ClassVar[Keys] = [
        key("p", "profile", "profile", "Another profile; the first is what the car itself says."),
        key("u", "units", "units", "Kilometres and Celsius, or miles and Fahrenheit."),
        key("x", "pace", "pace", "How many times real time the simulated car is driven."),
        key("o", "open", "open", "Open a recording by its name."),
        key("a", "address", "address", "An adapter by its address: a Wi-Fi adapter, or a port that is not listed."),
        key("j", "job", "job", "Open a job for a repair: drives, clear and confirmation then belong together."),
        key("r", "again", "refresh", "Look for adapters, repairs and recordings again."),
    ]

    def __init__(
        self, chosen: Chosen | None = None, ports: Callable[[], tuple[tuple[str, str], ...]] | None = None
    ) -> None:
        super().__init__(chosen or Chosen(), ports or found_ports)
        self._filled = False
        self._profiles: tuple[tuple[str | None, str], ...] = (None, "as the car itself says"), *profiles()

    def on_mount(self) -> None:
        """Look for what there is, behind the first picture: ports and cars take a moment to load."""
        self._hint()
        self.query_one(OptionList).focus()
        self.call_after_refresh(self.action_again)

    # ------------------------------------------------------------ what there is

    def action_again(self) -> None:
        """Look again."""
        self.look_again()
        self._hint()
        self._filled = True

    def on_screen_resume(self) -> None:
        """Back from somewhere: there may be more by now."""
        if self._filled:
            self.call_after_refresh(self.action_again)

    def fill(self) -> None:
        """The car, the repairs, the simulated cars, the recordings."""
        try:
            data_folder(self.chosen.folder)
        except OSError as error:
            self.head("Where drives and jobs are kept")
            self.offer(f"{error.filename} cannot be used: {error.strerror}. r looks again.", self.action_again)
            return
        jobs, damaged = recent_jobs(self.chosen.folder)
        self._offer_cars(only_open(jobs))
        self._offer_jobs(jobs, damaged)
        self._offer_simulated()
        self._offer_recordings()

    def _offer_cars(self, job: "Job | None") -> None:
        self.head(f"The car{f', for the job {job.record.id}' if job is not None else ''}, through the adapter on")
        kept = kept_drives(data_folder(self.chosen.folder))
        self.offer_ports(kept if job is None else (path for _, path in job.files("drive")), NO_PORT)

    def job_to_drive_for(self) -> "Job | None":
        """The job that is open, none when there is none or several: then one is chosen below."""
        return only_open(recent_jobs(self.chosen.folder)[0])

    def _offer_jobs(self, jobs: tuple["Job", ...], damaged: tuple[str, ...]) -> None:
        from coach.words.jobs import job_line

        self.head("A repair: what is confirmed and what is missing")
        for job in jobs[:JOBS]:
            self.offer(job_line(job), lambda job=job: self._to_job(job))  # type: ignore[misc]
        for why in damaged:
            self.offer(why, self.action_again)
        if not jobs:
            self.offer(NO_JOB, self.action_job)

    def _to_job(self, job: "Job") -> None:
        from coach.screen.job import JobScreen

        self.app.push_screen(JobScreen(job, self.chosen, self.ports))

    def _offer_simulated(self) -> None:
        from coach.simulator.cars import CARS

        self.head("A simulated car, to see how it goes")
        for name, described in CARS.items():
            self.offer(described, lambda name=name: self.drive(self._simulated(name)))  # type: ignore[misc]

    def _simulated(self, car: str) -> "Feed":
        from coach.screen.feed import simulated_feed

        return simulated_feed(car, self.wanted(""), float(self.chosen.pace))

    def _offer_recordings(self) -> None:
        self.head("A recording, to look at again")
        own = recordings(data_folder(self.chosen.folder))
        if not own:
            self.offer(NO_RECORDING, self.action_open)
        for path in [*own, *sorted(shipped("replays").glob("*.journal*"))]:
            self.offer(recording_words(path), lambda path=path: self.app.go_to_review(str(path)))  # type: ignore[misc,attr-defined]

    def _hint(self) -> None:
        units = "miles and Fahrenheit" if self.chosen.us else "kilometres and Celsius"
        name = next(words for profile, words in self._profiles if profile == self.chosen.profile)
        self.query_one("#hint", Plain).put(
            f"Profile: {name}. Units: {units}. The simulated car goes {self.chosen.pace} times real time."
        )

    # ------------------------------------------------------------ keys

    def action_profile(self) -> None:
        """The next profile."""
        ids = [profile for profile, _ in self._profiles]
        self._choose(profile=ids[(ids.index(self.chosen.profile) + 1) % len(ids)])

    def action_units(self) -> None:
        """The other units."""
        self._choose(us=not self.chosen.us)

    def action_pace(self) -> None:
        """The next pace."""
        paces = SIMULATED_PACES
        at = paces.index(self.chosen.pace) if self.chosen.pace in paces else 0
        self._choose(pace=paces[(at + 1) % len(paces)])

    def _choose(self, **made: object) -> None:
        self.chosen = replace(self.chosen, **made)  # type: ignore[arg-type]
        self.app.chosen = self.chosen  # type: ignore[attr-defined]
        self._hint()

    def action_address(self) -> None:
        """Ask for an address."""
        question = "Which adapter? socket://192.168.0.10:35000, or a port such as /dev/rfcomm0, then enter."
        self.app.push_screen(
            AskScreen(question, no_address), lambda named: self.drive_on(named.strip()) if named else None
        )

    def action_job(self) -> None:
        """Ask for the code, open the job."""
        from coach.words.jobs import no_codes

        question = "Which code was repaired? P0135, several with a space between, then enter."
        self.app.push_screen(AskScreen(question, no_codes), self._new_job)

    def _new_job(self, codes: str | None) -> None:
        from coach.jobs.store import JobStore

        if codes is None:
            return
        try:
            job = JobStore(data_folder(self.chosen.folder)).new(
                datetime.now().astimezone(), tuple(codes.upper().split())
            )
        except (ValueError, OSError) as error:
            self.note(str(error))
            return
        self._to_job(job)

    def action_open(self) -> None:
        """Ask for a file."""
        question = "Which file? A journal or a table, then enter."
        self.app.push_screen(AskScreen(question, no_file), self._open)

    def _open(self, named: str | None) -> None:
        if named:
            self.app.go_to_review(str(Path(named).expanduser()))  # type: ignore[attr-defined]

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Nothing lies behind the start: quitting has its own key."""
        return action != "back"
