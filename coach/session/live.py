"""Puts a drive together: the adapter's source, a journal in the user's folder, and a broken-off drive to go on with."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from msgspec import to_builtins
from msgspec.structs import replace

from coach import __version__
from coach.adapter.source import LiveSource
from coach.car.arrivals import Arrival, Damaged, LinkChange, Request
from coach.car.car import Car
from coach.car.known import Known, beside
from coach.drive.profile import Profile, parse_profile
from coach.jobs.store import check_room
from coach.journal.errors import JournalError
from coach.journal.reader import open_journal
from coach.journal.records import Context, Header
from coach.journal.tail import has_last_line, is_packed
from coach.journal.writer import JournalWriter
from coach.library import profile_text
from coach.session.drive import Beginning, Drive, Recorder
from coach.session.places import GO_ON_WITHIN_S, data_folder, new_journal
from coach.session.remembered import LastDrive, known_since_any, newest
from coach.session.review import DEFAULT_PROFILE

CLOCK_WRONG_S = 4 * GO_ON_WITHIN_S  # our judgement: beyond it the wall clocks of then and now do not agree


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the user asked for on the command line or on the screen."""

    port: str
    baud: int | None = None
    protocol: str | None = None
    profile_id: str | None = None
    target: Callable[[Car], tuple[str, ...] | None] = lambda _car: None
    speed_max_kmh: float | None = None
    us: bool = False
    folder: Path | None = None
    known: Mapping[str, Any] | None = None
    new_file: Callable[[datetime], Path] | None = None
    """Names the journal in an open job; none: beside the other drives."""
    closed: Callable[[Path], None] = lambda _path: None
    """What to do when the journal was closed: `coach.session.for_job`."""
    reopened: Callable[[Path], None] = lambda _path: None
    """What to do before a journal is gone on with; an error keeps it from being touched."""
    never_written: Callable[[Path], None] = lambda _path: None
    """What to do when a journal was named and could not be begun."""
    earlier: tuple[Path, ...] = ()
    """The job's journals, oldest first: what they prove of the time since they ended is known."""
    repaired: Callable[[Car], Mapping[str, Any]] = lambda _car: {}
    """The monitors that have to confirm the repair: `coach.session.repaired`."""
    rule: Callable[[Car], Mapping[str, Any] | None] = lambda _car: None
    """What the named inspection rule refuses beside monitors: `coach.session.rules`; none where none was named."""
    clean_cycles: bool = False
    """The drive is for a driving cycle without the fault, until the car puts the MIL out."""
    other_job: Callable[[Car], str] = lambda _car: ""
    """The id of the job when this is not its car: `coach.session.aside`."""
    car_known: Known = field(default_factory=Known)
    """What the job's files told of its car."""


@dataclass(slots=True)
class Kept:
    """Where the journal of a drive stands; none before it began."""

    path: Path | None = None


class Closing:
    """A journal of a drive, after whose end something else is to be done with it."""

    def __init__(self, journal: JournalWriter, wanted: Wanted) -> None:
        self._journal = journal
        self._wanted = wanted

    def write(self, arrival: Arrival) -> None:
        """One arrival."""
        self._journal.write(arrival)

    def close(self, reason: str) -> None:
        """The last line, and what comes behind it, even where the line could not be written."""
        try:
            self._journal.close(reason)
        finally:
            self._wanted.closed(self._journal.path)


def a_profile(profile_id: str) -> tuple[str, Profile]:
    """A profile's full text and the profile."""
    text = profile_text(profile_id)
    return text, parse_profile(text, profile_id)


def begin(
    wanted: Wanted,
    progress: Callable[[str], None],
    *,
    source: LiveSource | None = None,
    label: str = "live",
    began: datetime | None = None,
) -> tuple[Drive, Kept]:
    """A drive that is not started yet: `drive.source.start()` starts it. OSError when its folder cannot be written."""
    now = began or datetime.now(UTC).astimezone()
    folder = data_folder(wanted.folder)
    (folder / "drives").mkdir(parents=True, exist_ok=True)
    check_room(folder / "drives")
    kept = Kept()
    ends = _ends(wanted, folder) if label == "live" else ()

    def record(header: Header, context: Context) -> Recorder:
        kept.path = path = wanted.new_file(now) if wanted.new_file is not None else new_journal(folder, now, label)
        try:
            journal = JournalWriter(path, header, context, overwrite=wanted.new_file is not None)
        except JournalError:
            if not path.exists():
                wanted.never_written(path)
            raise
        return Closing(journal, wanted)

    def remembered(car: Car) -> Mapping[str, Any]:
        since = known_since_any(ends, car, datetime.now(UTC).astimezone())
        known = {**since, **wanted.repaired(car), **_of_car(car)}
        if wanted.clean_cycles:
            known["clean_cycles"] = {**known.get("clean_cycles", {}), "chosen": True}
        return known

    def _of_car(car: Car) -> Mapping[str, Any]:
        """Another car is not judged beside the job's."""
        another = beside(wanted.car_known, car.signs) == "another"
        return {"car": to_builtins(replace(Known() if another else wanted.car_known, year_now=now.year))}

    beginning = Beginning(
        label="simulated" if label == "simulated" else "live",
        program=__version__,
        began=now.isoformat(timespec="seconds"),
        profile_text=a_profile,
        record=record,
        profile_id=wanted.profile_id,
        default_profile_id=DEFAULT_PROFILE,
        target=wanted.target,
        rule=wanted.rule,
        speed_max_kmh=wanted.speed_max_kmh,
        us=wanted.us,
        known=wanted.known or {},
        remembered=remembered,
        other_job=wanted.other_job,
    )
    live = source or LiveSource(wanted.port, baud=wanted.baud, protocol=wanted.protocol, progress=progress)
    return Drive(live, beginning), kept


def _ends(wanted: Wanted, folder: Path) -> tuple[LastDrive | None, ...]:
    """The ends of the last journals, of the job and of the drives beside it."""
    names = ("drive-*.journal*", "before-*.journal", "clear-*.journal")
    beside = [path for name in names for path in (folder / "drives").glob(name)]
    return newest(wanted.earlier), newest(sorted(beside, key=lambda path: path.stat().st_mtime))


def cut_short(path: Path) -> bool:
    """Whether a journal has no last line; one that cannot be read at all, or is packed, is nothing to go on with."""
    try:
        open_journal(path).close()
        return not is_packed(path) and not has_last_line(path)
    except (JournalError, OSError):
        return False


@dataclass(slots=True)
class Written:
    """The arrivals of a journal, read anew each time: a long drive is not held in memory.

    A torn last line is one of them: what is written behind it makes it a line in the middle.
    """

    path: Path

    def __iter__(self) -> Iterator[Arrival]:
        reader, last_t = open_journal(self.path), 0.0
        for arrival in reader.arrivals():
            last_t = arrival.t
            yield arrival
        if reader.report.torn_last_line:
            yield Damaged(last_t, reader.report.lines)

    def end(self) -> tuple[float, int]:
        """The time of the last arrival, seconds, and the highest number of a request."""
        last_t, last_id = 0.0, 0
        for arrival in self:
            last_t = max(last_t, arrival.t)
            last_id = max(last_id, arrival.id) if isinstance(arrival, Request) else last_id
        return last_t, last_id


def go_on(path: Path, wanted: Wanted, progress: Callable[[str], None]) -> tuple[Drive, Kept]:
    """Go on with a drive that was broken off: what came in is fed again, what comes in is written behind it."""
    reader, held = open_journal(path), Written(path)
    reader.close()
    header, context = reader.header, reader.context or Context()
    last_t, last_id = held.end()
    source = LiveSource(
        wanted.port,
        baud=wanted.baud,
        protocol=wanted.protocol,
        progress=progress,
        start_s=_start_s(header, last_t),
        first_id=last_id + 1,
    )
    text, profile = _own_profile(path, context)
    beginning = Beginning(
        label="live",
        program=__version__,
        began=header.began,
        profile_text=lambda _id: (text, profile),
        record=lambda _header, _context: Closing(JournalWriter.behind(path, held), wanted),
        profile_id=profile.id,
        other_job=wanted.other_job,
    )
    wanted.reopened(path)
    drive = Drive(source, beginning)
    drive.resume(header, context, profile, held, LinkChange(last_t, "lost", "the program was stopped"))
    return drive, Kept(path)


def _start_s(header: Header, last_t: float) -> float:
    """Seconds since the journal began. Where the wall clocks cannot be right, as long a silence as there may be."""
    now = datetime.now(UTC)
    began = datetime.fromisoformat(header.began) if header.began else now
    elapsed_s = (now - began.astimezone(UTC)).total_seconds()
    if header.began and elapsed_s > last_t + CLOCK_WRONG_S:
        return last_t + GO_ON_WITHIN_S
    return max(last_t, elapsed_s)


def _own_profile(path: Path, context: Context) -> tuple[str, Profile]:
    if context.profile is not None:
        text = context.profile["text"]
        return text, parse_profile(text, f"{path}: the profile in it", recorded=True)
    return a_profile(DEFAULT_PROFILE)
