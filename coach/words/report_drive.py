"""The parts of a report that speak of one drive: what it was, plots, phases, what happened, what is still needed."""

from collections.abc import Iterable, Iterator
from typing import Any

from msgspec.structs import replace

from coach.car import happenings as car
from coach.car.happenings import AnswerUnusable, Happening
from coach.drive import happenings as drive
from coach.inspection.next_step import steps_of
from coach.session.filed import FiledDrive
from coach.words.announce import PRIORITY
from coach.words.names import MONITOR_NAMES
from coach.words.next_step import ABOUT_CODES, step_lines
from coach.words.paper import Block, Facts, Lines, Section, Table
from coach.words.phases import phase_rows
from coach.words.report_plots import figure
from coach.words.review import matters, not_today_words, pattern_lines, plan_lines, recording_lines
from coach.words.sentences import AFTER_ENDS, ENDS, sentence
from coach.words.standing import open_beside
from coach.words.units import Units, at_least, clock, span, zoned_words

SIMULATED = "SIMULATED: this is no real car."
FROM = {
    "recording": "as the recording has it",
    "named": "named for this report",
    "assumed": "taken because none was named",
}
MOST_ALIKE = 6  # our judgement: what happened more often is told by its first, its last, and a count
MOST_LISTED = 80  # our judgement: two printed pages
MOST_MARKED = 24  # our judgement: more numbers cannot be told apart above a plot
MARKED = (
    *(drive.CoachingEnded, car.CodeAppeared, car.MilChanged, car.CodesCleared, drive.PhaseDriven, car.CycleBegan),
    *(car.DataLost, car.GeneralDenominatorMet, car.WarmUpCycleCompleted, car.NoteMade, drive.RepeatCounted),
)
"""What is marked in the plots, and a monitor that became complete; the list beneath has the rest too."""
NOT_KNOWN = "The recording does not say for certain which monitors are complete: all that may be open are planned for."
RAW = frozenset({"unparsed", "not_asked", "wrong_echo", "malformed"})
"""Why an answer was not used, where its bytes are quoted; they may hold the VIN."""

Row = tuple[Happening, int]
"""A happening, and how many more like it stand for it; 0 for itself alone."""


def drive_blocks(filed: FiledDrive, most: int, show_vin: bool, units: Units) -> tuple[Block, ...]:
    """What one drive was: facts, plots, phases, driving cycle, and what happened."""
    found = filed.reviewed
    names = found.profile.names()
    rows = listed_happenings(happenings_of(filed, show_vin))
    numbers = _numbered([h for h, more in rows if not more])
    marks = tuple((h.t, numbers[id(h)]) for h, more in rows if not more and id(h) in numbers)
    told = tuple((str(numbers.get(id(h), "")), clock(h.t), _words(h, more, units, names)) for h, more in rows)
    blocks: list[Block] = [Facts(tuple(_facts(filed, units))), figure(filed, marks, most, units)]
    blocks.append(Table("Phases", ("phase", "what was driven"), phase_rows(found)))
    blocks.append(Lines(plain(pattern_lines(found, units))))
    if told:
        blocks.append(Table("What happened", ("mark", "time", "what"), told, marked=True))
    left = sum(matters(h) for h in found.happenings) - sum(more or 1 for _, more in rows)
    folded = sum(not matters(h) for h in found.happenings)
    counts = [f"Left out here, of less weight: {left} more."] if left else []
    counts += [f"Summed up under the phases: {folded} smaller happenings."] if folded else []
    return (*blocks, *([Lines(tuple(counts))] if counts else []))


def plain(lines: Iterable[str]) -> tuple[str, ...]:
    """Lines of a page in columns as sentences."""
    return tuple(" ".join(line.split()) for line in lines)


def _facts(filed: FiledDrive, units: Units) -> Iterator[tuple[str, str]]:
    found = filed.reviewed
    totals = found.core.car.denominator
    yield "began", zoned_words(found.header.began)
    yield "lasted", span(found.end_t)
    if totals.whole_distance_km > 0:
        yield "distance", at_least(units.distance(totals.whole_distance_km), totals.whole_at_least)
    yield "profile", f"{found.profile.name}, {FROM[filed.profile.came_from]}"
    yield "recorded by", _recorder(filed)


def _recorder(filed: FiledDrive) -> str:
    header = filed.reviewed.header
    through = [part for part in (header.adapter, header.protocol) if part]
    how = {"imported": "imported by program", "simulated": "simulated, program", "live": "program"}[header.source]
    return ", ".join([f"{how} {header.program}", *through])


# ---------------------------------------------------------------- what happened


def happenings_of(filed: FiledDrive, show_vin: bool) -> tuple[Happening, ...]:
    """What happened; bytes that may hold the VIN are not quoted while it is masked."""
    if show_vin:
        return filed.reviewed.happenings
    return tuple(_unquoted(h) for h in filed.reviewed.happenings)


def _unquoted(h: Happening) -> Happening:
    if isinstance(h, AnswerUnusable) and (h.why in RAW or (h.asked or "").startswith("09")):
        return replace(h, detail="not quoted here")
    return h


def first_monitors(happenings: Iterable[Happening]) -> dict[str, str]:
    """Each monitor as the recording first told it."""
    first: dict[str, str] = {}
    for h in happenings:
        if isinstance(h, car.MonitorChanged) and h.monitor not in first:
            first[h.monitor] = h.before or h.after or "uncertain"
    return first


def listed_happenings(happenings: Iterable[Happening]) -> tuple[Row, ...]:
    """What is listed, in order: what is repeated often as first, count and last; no more than fit two pages."""
    alike: dict[tuple[Any, ...], list[Happening]] = {}
    for h in happenings:
        if matters(h):
            alike.setdefault(_kind(h), []).append(h)
    rows: list[Row] = []
    for group in alike.values():
        if len(group) <= MOST_ALIKE:
            rows += [(h, 0) for h in group]
        else:
            rows += [(group[0], 0), (group[1], len(group) - 2), (group[-1], 0)]
    rows.sort(key=lambda row: (_weight(row[0]), row[0].t))
    return tuple(sorted(rows[:MOST_LISTED], key=lambda row: row[0].t))


def _kind(h: Happening) -> tuple[Any, ...]:
    names = ("phase", "monitor", "code", "kind", "ecu", "asked", "why", "state", "what", "after")
    return (type(h).__name__, *(getattr(h, name, None) for name in names))


def _weight(h: Happening) -> int:
    return PRIORITY.get(type(h).__name__, len(PRIORITY))


def _words(h: Happening, more: int, units: Units, names: dict[str, str]) -> str:
    return sentence(h, units, names) + (f" And the like {more - 1} more times from here." if more > 1 else "")


def _numbered(happenings: list[Happening]) -> dict[int, int]:
    """A number for each that is marked in the plots, in order of time; by identity, since two may be equal."""
    marked = [h for h in happenings if (isinstance(h, MARKED) and not goes_off(h)) or completed(h)]
    kept = {id(h) for h in sorted(marked, key=_weight)[:MOST_MARKED]}
    return {id(h): number for number, h in enumerate((h for h in marked if id(h) in kept), start=1)}


def completed(h: Happening) -> bool:
    """A monitor went from incomplete to complete."""
    return isinstance(h, car.MonitorChanged) and h.before is not None and h.after == "complete"


def goes_off(h: Happening) -> bool:
    """The MIL is told to be off: no news of this drive."""
    return isinstance(h, car.MilChanged) and h.after is not True


# ---------------------------------------------------------------- what is still needed


def needed_section(filed: FiledDrive, units: Units) -> Section:
    """What the recording leaves to drive, and what must wait and why."""
    core = filed.reviewed.core
    plan = core.plan()
    unknown = (NOT_KNOWN,) if plan.unknown else ()
    steps = steps_of(core.car, core.wanted.repaired_codes)
    codes = step_lines((step for step in steps if step.id in ABOUT_CODES), units)
    lines = (
        *ended_lines(filed),
        *codes,
        *unknown,
        *plain(plan_lines(plan, core, units, filed.reviewed.profile.names())),
    )
    return Section("Still needed, and what must wait", (Lines(lines or ("Nothing.",)),))


def ended_lines(filed: FiledDrive) -> tuple[str, ...]:
    """Why coaching ended on this drive, and what comes before any driving."""
    return tuple(
        f"Coaching ended at {clock(h.t)}: {ENDS.get(h.reason, h.reason)}. {AFTER_ENDS.get(h.reason, '')}".rstrip()
        for h in filed.reviewed.happenings
        if isinstance(h, drive.CoachingEnded)
    )


def waits_lines(filed: FiledDrive, still_open: frozenset[str], units: Units) -> Iterator[str]:
    """At the end of this drive: why monitors that are open to this day had to wait."""
    plan, names = filed.reviewed.core.plan(), filed.reviewed.profile.names()
    yield from ended_lines(filed)
    for planned in plan.park:
        wanted = [MONITOR_NAMES[m] for m in planned.monitors if m in still_open]
        if wanted:
            yield f"{' and '.join(wanted)}: after a drive, {names[planned.phase]}, {span(planned.expected_s)}"
    for found in plan.not_today:
        if found.monitor in still_open:
            yield f"not on the last drive: {not_today_words(found, units)}"
    for monitor, why in open_beside(filed.reviewed.core).items():
        if monitor in still_open:
            yield f"{MONITOR_NAMES[monitor]}: {why}"


def trouble_lines(filed: FiledDrive) -> tuple[str, ...]:
    """What was wrong with the recording."""
    return tuple(recording_lines(filed.reviewed))


def section_of(filed: FiledDrive, most: int, show_vin: bool, units: Units) -> Section:
    """One drive of a job."""
    title = f"Drive of {zoned_words(filed.reviewed.header.began)}"
    return Section(title, drive_blocks(filed, most, show_vin, units), level=3)
