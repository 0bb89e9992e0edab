"""Joins a source of arrivals, the core and a journal: the only place where they meet.

Nothing here asks which kind of source it has.
"""

from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from coach import __version__
from coach.car.arrivals import Arrival
from coach.car.happenings import Happening
from coach.car.known import Known
from coach.drive.core import Core, make_core
from coach.drive.profile import Profile, ProfileError, parse_profile
from coach.drive.quantity import told_number
from coach.inspection.codes import all_the_time, code_monitors
from coach.journal.errors import NotAJournal
from coach.journal.reader import ReadReport, open_journal
from coach.journal.records import Context, Footer, Header
from coach.library import profile_text
from coach.moments import is_moment
from coach.ordinary import is_ordinary
from coach.session.bounded import check_happenings
from coach.session.trace import Trace

if TYPE_CHECKING:
    from coach.importer.imported import Imported
    from coach.importer.imported import Report as ImportReport

DEFAULT_PROFILE = "spark_engine_off_leak"
"""Taken, and said, when neither the journal nor the user names one: the commonest technology, our judgement."""


@dataclass(frozen=True, slots=True)
class Reviewed:
    """A recording judged from end to end: what it held, what the core made of it, and the core at its end."""

    header: Header
    context: Context | None
    report: ReadReport
    profile: Profile
    profile_assumed: bool
    core: Core
    happenings: tuple[Happening, ...]
    arrivals: int
    end_t: float
    import_report: "ImportReport | None" = None
    """What an import on the way met, where the recording is another program's."""


def core_for(context: Context | None, header: Header, profile: Profile) -> Core:
    """A fresh core with everything the result may depend on: all of it stands in the journal."""
    core = make_core(profile, can=header.can)
    core.wanted.monitors_of_codes = code_monitors(profile.ignition)
    core.wanted.all_the_time = all_the_time(profile.ignition)
    core.car.known = Known(year_now=header.year)
    if context is None:
        return core
    core.wanted.target = tuple(context.target) if context.target is not None else None
    core.wanted.speed_max_kmh = told_number((context.limits or {}).get("speed_max_kmh"))
    core.learn(context.known or {})
    return core


def profile_of(context: Context | None) -> tuple[Profile, bool]:
    """The profile the journal carries in full; else, or where that cannot be used, the default, and true."""
    if context is not None and context.profile is not None:
        with suppress(ProfileError):
            return parse_profile(context.profile["text"], recorded=True), False
    return parse_profile(profile_text(DEFAULT_PROFILE), f"{DEFAULT_PROFILE}.toml"), True


def profile_mistake(context: Context | None) -> str:
    """Why the profile in the journal cannot be used; empty where it can, or none is there."""
    if context is None or context.profile is None:
        return ""
    try:
        parse_profile(context.profile["text"])
    except ProfileError as error:
        return error.mistakes[0]
    return ""


def run(core: Core, arrivals: Iterable[Arrival], name: object = "") -> tuple[list[Happening], int]:
    """Feed every arrival; the happenings in order and how many arrivals there were. NoDrive, by name, for too many."""
    happenings: list[Happening] = []
    count = 0
    feed = core.feed
    for arrival in arrivals:
        count += 1
        out = feed(arrival)
        if out:
            happenings.extend(out)
            check_happenings(len(happenings), name)
    return happenings, count


class Recording(Protocol):
    """An opened recording: what it is, what it depends on, what it met, and its arrivals, once."""

    header: Header
    context: Context | None
    report: ReadReport

    def arrivals(self) -> Iterator[Arrival]:
        """Every arrival in order."""


@dataclass(slots=True)
class ImportedRecording:
    """A recording of another program, reviewed as it is, as if it had been imported first."""

    imported: "Imported"
    header: Header
    context: Context | None
    report: ReadReport

    def arrivals(self) -> Iterator[Arrival]:
        """Every arrival in it."""
        yield from self.imported.arrivals()


def imported_header(imported: "Imported") -> Header:
    """The header a journal of this recording gets; without a wall clock where its date cannot be right."""
    began = imported.began if imported.began is not None and is_moment(imported.began) else None
    return Header(1, "imported", __version__, began, None, imported.protocol, imported.can)


def open_recording(path: Path, protocol: str | None = None, mapping: Mapping[str, str] | None = None) -> Recording:
    """A journal, or whatever can be imported. JournalError or ImportProblem, one line each, for anything else."""
    try:
        return open_journal(path)
    except NotAJournal:
        from coach.importer.imported import kind_of, open_import  # a tenth of a second that no journal needs

        if not is_ordinary(path) or kind_of(path) == "journal":
            raise
    imported = open_import(path, mapping, protocol)
    return ImportedRecording(imported, imported_header(imported), None, ReadReport(footer=Footer(imported.kind)))


def review(
    path: Path,
    profile: Profile | None = None,
    protocol: str | None = None,
    mapping: Mapping[str, str] | None = None,
    trace: Trace | None = None,
) -> Reviewed:
    """Judge a recording. `profile` judges it anew under another profile than its own; `protocol` of a transcript.

    `mapping`: what the columns of a table are, as for the import; `trace` is filled with the lines of its readings.

    Raises JournalError, ImportProblem where it is neither a journal nor anything that can be imported, or NoDrive.
    """
    reader = open_recording(path, protocol, mapping)
    own, assumed = (profile, False) if profile is not None else profile_of(reader.context)
    if assumed and (mistake := profile_mistake(reader.context)):
        reader.report.context_mistakes += (mistake,)
    core = core_for(reader.context, reader.header, own)
    arrivals = reader.arrivals()
    happenings, count = run(core, arrivals if trace is None else trace.watch(arrivals, core), path)
    end = core.now
    footer = reader.report.footer
    if footer is not None and footer.t_end is not None:
        end = max(end, footer.t_end)
    happenings.extend(core.finish(end, answered=not reader.report.cut_short))
    told = reader.imported.report if isinstance(reader, ImportedRecording) else None
    return Reviewed(
        reader.header, reader.context, reader.report, own, assumed, core, tuple(happenings), count, core.now, told
    )
