"""The one thread that owns a drive: it steps it, posts moments, and does what it is asked between two steps.

It never touches a widget. Everything it posts is frozen.
"""

import queue
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, replace

from coach.car.arrivals import LinkChange
from coach.car.happenings import Happening
from coach.drive.core import Core
from coach.screen.feed import Feed
from coach.screen.moment import NO_VIEW, Moment, Trailing, moment_of
from coach.screen.telling import may_tell, told_so_far
from coach.words.announce import Announcer, Said
from coach.words.before import after_lines, before_lines
from coach.words.faults import Guard, where
from coach.words.readout import ReadOut, readout_page
from coach.words.shown import Board
from coach.words.units import Units

NO_PAGE = "This page cannot be put into words; what was read is recorded."
TAKE_EVERY_S = 0.5  # real seconds between two looks for what fell due, when nothing happened
POST_EVERY_S = 0.2  # real seconds: five pictures a second are enough for an eye that glances


@dataclass(frozen=True, slots=True)
class Spoke:
    """Lines that were said just now."""

    lines: tuple[Said, ...]


@dataclass(frozen=True, slots=True)
class Ready:
    """The read-out is complete: what is to be read before the wheels turn, and what the user may tell."""

    lines: tuple[str, ...]
    asks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Page:
    """The read-out as a page."""

    text: str


@dataclass(frozen=True, slots=True)
class Ended:
    """The drive is over. `reached`: the target; `doubtful`: only what cannot be told stands against it; `problem`: what
    went wrong, else empty.

    `unrecorded`: why the journal could not be written to its end, empty when it was.
    """

    lines: tuple[str, ...]
    path: str
    reached: bool
    problem: str
    unrecorded: str = ""
    doubtful: bool = False


Post = Callable[[Moment | Spoke | Ready | Page | Ended], None]


class Pump:
    """Runs a feed to its end. `reader` is the clock of whoever reads the lines, in seconds."""

    def __init__(self, feed: Feed, units: Units, post: Post, reader: Callable[[], float] = time.monotonic) -> None:
        self.feed = feed
        self.parting = False
        self._units = units
        self._post = post
        self._reader = reader
        self._asked: queue.SimpleQueue[Callable[[], None]] = queue.SimpleQueue()
        self._reason = ""
        self._told: object = None
        self._open = False
        self._last_look = False
        self._key_on = False
        self._announcer: Announcer | None = None
        self._board = Board()
        self._trailing = Trailing(units)
        self._posted_s = -1e9
        self._took_s = -1e9
        self._over = threading.Event()
        self._guard = Guard()

    # ------------------------------------------------------------ from other threads

    def choose(self, made: dict[str, object]) -> None:
        """A choice of the user."""
        self._asked.put(lambda: self.feed.drive.choose(made))

    def go(self) -> None:
        """The cautions were read: the wheels may turn."""
        self._asked.put(self._go)

    def key_off(self) -> None:
        """The key is off."""
        self._asked.put(self.feed.key_off)

    def read_again(self) -> None:
        """The key is on again: the last look, after which the drive ends by itself."""
        self._asked.put(lambda: setattr(self, "_last_look", True))

    def read_out(self) -> None:
        """Ask for the read-out as a page."""
        self._asked.put(self._page)

    def finish(self, reason: str) -> None:
        """End the drive; `Ended` follows. Nothing is lost."""
        self._asked.put(lambda: setattr(self, "_reason", self._reason or reason))

    def wait(self, timeout_s: float) -> bool:
        """Wait until the drive is written; false when it took longer."""
        return self._over.wait(timeout_s)

    @property
    def label(self) -> str:
        """What the drive is, shown always; empty for a car on the line. A simulated adapter says so by its name."""
        header = getattr(getattr(self.feed, "drive", None), "header", None)
        simulated = header is not None and header.source == "simulated"
        return self.feed.label or ("simulated" if simulated else "")

    # ------------------------------------------------------------ the thread

    def run(self) -> None:
        """Until it is finished; the journal is closed whatever happens."""
        problem = ""
        try:
            self.feed.open()
            while not self._reason:
                self._once_around()
        except (OSError, ValueError) as error:
            problem = f"{getattr(error, 'filename', None) or ''} {getattr(error, 'strerror', None) or error}".strip()
        except Exception as error:  # whatever it is, what came in is written
            problem = f"a fault of this program, {where(error)}"
        finally:
            ended = self._end(problem)
            self._over.set()
            self._post(ended)

    def _once_around(self) -> None:
        happened = self.feed.step()
        while not self._asked.empty():
            self._asked.get_nowait()()
        core = self.feed.drive.core
        lines = self._say(core, happened) if core is not None else []
        if core is not None:
            self._trailing.take(core)
        if core is not None and not self._open and self.feed.drive.state == "driving":
            self._before(core)
        if self._last_look and not self.parting:
            self._look_once_more()
        elif self.parting and not self.feed.drive.reading:
            self._reason = self._reason or "done"
        if lines or time.monotonic() - self._posted_s >= POST_EVERY_S:
            self._posted_s = time.monotonic()
            self._post(self.moment())

    def _before(self, core: Core) -> None:
        """The page before the drive, and again when the user has told or chosen something."""
        told = told_so_far(core)
        if told != self._told:
            self._told, drive = told, self.feed.drive
            job, lines = drive.not_the_car_of(), list[str]()
            self._guard.make(lambda: lines.extend(before_lines(core, self._units, drive.profile_why, job)), None)
            self._post(Ready((*lines, *self._guard.news()), may_tell(core)))

    def _say(self, core: Core, happened: tuple[Happening, ...]) -> list[Said]:
        if not self._open:
            return []  # nothing is said before the page before the drive was read
        if self._announcer is None:
            self._announcer = Announcer(core, self._units)
        if not happened and time.monotonic() - self._took_s < TAKE_EVERY_S:
            return []
        self._took_s = time.monotonic()
        lines = self._announcer.take(happened)
        lines += [Said(core.now, "notice", words, "fault") for words in self._guard.news()]
        self._board.put([said for said in lines if said.cue != "codes"], self._reader())  # the page has a row for them
        if lines:
            self._post(Spoke(tuple(lines)))
        return lines

    def moment(self) -> Moment:
        """The drive as it stands."""
        drive = self.feed.drive
        stage = "parting" if self.parting else drive.state
        link = drive.link
        core, now = drive.core, drive.source.now()
        base = Moment(stage, now, seen=NO_VIEW if core is not None else None)
        if core is not None:
            base = self._guard.make(lambda: moment_of(core, self._units, stage, now), base)
        return replace(
            base,
            link=link.state,
            why=self._why(link),
            pace=self.feed.pace,
            label=self.label,
            said=self._board.shown(self._reader()),
            trail=self._trailing.kept,
        )

    def _why(self, link: LinkChange) -> str:
        """Why there is no car yet, and what is being tried meanwhile."""
        trying = self.feed.progress.text if self.feed.drive.core is None and link.state == "lost" else ""
        return "\n\n".join(part for part in (link.why, trying) if part)

    def _go(self) -> None:
        self._open = True
        self.feed.go()

    def _look_once_more(self) -> None:
        """Key on, then, once the car answers, the findings again."""
        if not self._key_on and self.feed.may_read():
            self.feed.key_on()
            self._key_on = True
        if self._key_on and self.feed.drive.link.state == "up":
            self.feed.drive.read_again()
            self.parting = True

    def _page(self) -> None:
        drive = self.feed.drive
        if drive.core is None or drive.header is None:
            return
        label = "simulated" if drive.header.source == "simulated" else "live"
        car = drive.core.car.copy()
        volts = car.values.get("adapter_v")
        found = ReadOut(car, label, drive.header.adapter or "", drive.header.protocol or "", drive.header.began, volts)
        text = self._guard.make(lambda: readout_page(found, self._units, show_vin=False), "")
        self._post(Page(text or "\n".join([NO_PAGE, *self._guard.news()])))

    def _end(self, problem: str) -> Ended:
        drive = getattr(self.feed, "drive", None)
        lines: tuple[str, ...] = ()
        reached, doubtful, unrecorded = False, False, ""
        try:
            if drive is not None:
                drive.finish(self._reason or "stopped")
                unrecorded = drive.unrecorded
                if drive.core is not None:
                    now = drive.core.standing()
                    reached, doubtful = now.reached, now.doubtful
                    lines = tuple(after_lines(drive.core, self._units))
        except OSError as error:
            problem = problem or f"{error.filename or ''} {error.strerror or error}".strip()
        except Exception as error:  # the journal is closed; only words are missing
            problem = problem or f"a fault of this program, {where(error)}"
        finally:
            self.feed.close()
        path = self.feed.path() if drive is not None else None
        return Ended(lines, str(path) if path is not None else "", reached, problem, unrecorded, doubtful)
