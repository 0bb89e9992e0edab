"""Whether a repair is confirmed: the code's own monitor has run since, no code of it stands, its results are inside.

confirmed   nothing is missing
not_yet     something is missing that driving or reading can bring; `missing` names it
came_back   the code is stored or pending again since the clear
cannot_say  nobody knows the code's monitor, or only what cannot be told is missing

The bit of a continuous monitor always reads complete and confirms nothing: there a finished driving cycle of the
regulated pattern without a pending code after it is asked for; for misfire and fuel also near the freeze frame, and
for a test that needs a start or a drive of its own (`own_tests`), such as a thermostat's, one that could run it.
The car's own word goes further than all of this: a permanent code that it erased itself was tested and passed.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

from coach.car.near import NearClock
from coach.inspection.codes import Assignment, assignment
from coach.inspection.findings import Findings, Found
from coach.inspection.own_tests import NEEDS, NOTHING, Shown, could_run
from coach.j1979.monitors import CONTINUOUS
from coach.j1979.readiness import Ignition
from coach.j1979.similar import SIMILAR_FOR, frame_of
from coach.j1979.test_results import TestResult

Outcome = Literal["confirmed", "not_yet", "came_back", "cannot_say"]

UNKNOWABLE = frozenset(
    {
        "similar_unknown",
        "pattern_unknown",
        "stored_unknown",
        "pending_unknown",
        "permanent_unknown",
        "monitor_unknown",
        "monitor_unsupported",
        "partner_unknown",
        "partner_unsupported",
        "leak_size_unknown",
        "assignment_unread",
        "code_not_in_table",
        "recording_missing",
        "recording_changed",
        "recording_unreadable",
    }
)
"""What is missing because nothing told it; alone it makes "cannot say"."""

PARTNER = {
    "monitor_unknown": "partner_unknown",
    "monitor_unsupported": "partner_unsupported",
    "monitor_incomplete": "partner_incomplete",
    "monitor_not_reset": "partner_not_reset",
}
"""What is missing of a code's own monitor, said of the monitor in whose test alone the part is worked."""


@dataclass(frozen=True, slots=True)
class CycleDriven:
    """One driving cycle since the clear; `began` is its wall clock. None is unknown.

    `pattern_met`: the general denominator. `finished`: the engine was stopped, or a new cycle proved.
    `pending_after`: the pending codes as last read after its end; none when nobody asked. `similar`: see `Similar`.
    `shown`: what it shows of starts and drives that single tests need; nothing where nobody watched. `near_s`: seconds
    near the freeze frame; `ran`: monitors that told they ran in it, none where the car tells no such.
    """

    began: str | None
    pattern_met: bool | None
    finished: bool
    pending_after: Found | None
    similar: bool | None = None
    shown: Shown = NOTHING
    near_s: float = 0.0
    ran: frozenset[str] | None = None


@dataclass(frozen=True, slots=True)
class Appeared:
    """A code that appeared since the clear: kind stored or pending, the recording's wall clock, seconds in it."""

    code: str
    kind: str
    began: str | None
    t: float


LostWhy = Literal["missing", "changed", "unreadable"]
LOST_IDS: dict[LostWhy, str] = {
    "missing": "recording_missing",
    "changed": "recording_changed",
    "unreadable": "recording_unreadable",
}
"""By what became of a recording: the id of what is missing then."""


@dataclass(frozen=True, slots=True)
class Lost:
    """A recording since the repair that is evidence no more. `appeared`: what it is still known to have held."""

    file: str
    why: LostWhy
    appeared: tuple[Appeared, ...] = ()


@dataclass(frozen=True, slots=True)
class Evidence:
    """All that was seen since the repair. `findings` is the latest read-out.

    `cleared`: every ECU's memory was cleared after the repair. `tests` none where the car offers none.
    `ran`: monitors seen to go from incomplete to complete, or whose in-use numerator rose, since the repair.
    `tests_ever`: results read at any time: what was offered once has to be read again. `doubtful`: recordings since the
    repair that cannot be read, or not whole. `lost`: those of which the job's ledger says that they are evidence no
    more. `similar_to`: the code whose freeze frame the cycles' `similar` is about. `counted`: the part of `ran` whose
    in-use numerator rose. `erased`: codes whose permanent copy the car has erased.
    """

    findings: Findings
    cleared: bool
    tests: tuple[TestResult, ...] | None = None
    cycles: tuple[CycleDriven, ...] = ()
    appeared: tuple[Appeared, ...] = ()
    frozen_by: str | None = None
    frozen: Mapping[str, float] = field(default_factory=dict)
    ran: frozenset[str] = frozenset()
    tests_ever: tuple[TestResult, ...] = ()
    doubtful: tuple[str, ...] = ()
    similar_to: str | None = None
    counted: frozenset[str] = frozenset()
    erased: frozenset[str] = frozenset()
    lost: tuple[Lost, ...] = ()

    @property
    def everything_appeared(self) -> tuple[Appeared, ...]:
        """Codes seen since the repair, in recordings that are there and in lost ones."""
        return (*self.appeared, *(one for lost in self.lost for one in lost.appeared))


@dataclass(frozen=True, slots=True)
class Missing:
    """One thing that is missing: its id, the codes it is about, the monitor where it is not the code's own, and the
    names of the files it is about."""

    id: str
    codes: tuple[str, ...] = ()
    monitor: str | None = None
    files: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Confirmation:
    """What can be said of one repaired code. `since`: its first return; `frozen`: the freeze frame it left.

    `doubtful`: recordings that are missing, changed, or cannot be read to the end.
    """

    code: str
    assigned: Assignment | None
    outcome: Outcome
    missing: tuple[Missing, ...] = ()
    tests: tuple[TestResult, ...] = ()
    since: Appeared | None = None
    frozen: Mapping[str, float] = field(default_factory=dict)
    doubtful: tuple[str, ...] = ()


def confirm(code: str, evidence: Evidence, chosen: str | None = None) -> Confirmation:
    """Judge one repaired code. `chosen`: the monitor the user names for a code that is not in the table."""
    found = evidence.findings
    assigned = assignment(code, found.ignition, chosen)
    since = next((one for one in evidence.everything_appeared if one.code == code), None)
    here = code in found.stored.present or code in found.pending.present
    tests = _tests_of(assigned, evidence.tests) if assigned is not None else ()
    if here and (evidence.cleared or since is not None):
        frozen = evidence.frozen if evidence.frozen_by == code else {}
        return Confirmation(code, assigned, "came_back", (), tests, since, frozen)
    if assigned is None:
        return Confirmation(code, None, "cannot_say", (Missing("code_not_in_table"), *_not_there(evidence)), (), since)
    missing = tuple(_missing(assigned, evidence, tests, since)) or tuple(_not_read(assigned, evidence, tests))
    outcome: Outcome = "confirmed"
    if missing:
        outcome = "cannot_say" if all(one.id in UNKNOWABLE for one in missing) else "not_yet"
    doubtful = tuple(file for one in _not_there(evidence) for file in one.files)
    return Confirmation(code, assigned, outcome, missing, tests, since, doubtful=doubtful)


def _missing(
    assigned: Assignment, evidence: Evidence, tests: tuple[TestResult, ...], since: Appeared | None
) -> Iterator[Missing]:
    yield from _codes(assigned, evidence.findings)
    yield from _not_there(evidence)
    if since is not None:
        yield Missing("appeared_meanwhile", (since.code,))
    if assigned.monitor not in CONTINUOUS:
        yield from _ran(assigned.monitor, evidence)
    if assigned.unread and assigned.code not in evidence.erased:
        yield Missing("assignment_unread", (assigned.code,))
    if assigned.code not in evidence.erased:  # else the car has driven and passed it: 40 CFR 86.010-18(b)(3)(iii)
        yield from _driven(assigned, evidence, tests)
    if any(test.passed is False for test in tests):
        yield Missing("test_outside")
    elif tests and _complete(assigned, evidence) and all(test.passed is None for test in tests):
        yield Missing("no_test_result")


def _driven(assigned: Assignment, evidence: Evidence, tests: tuple[TestResult, ...]) -> Iterator[Missing]:
    """What the drives since the repair do not show: the pattern, and the code's own test."""
    if assigned.monitor in CONTINUOUS or assigned.circuit:
        yield from _cycle(assigned, _near_its_own(assigned, evidence), evidence.findings.ignition)
    if assigned.partner is not None:
        yield from (Missing(PARTNER[one.id], (), assigned.partner) for one in _ran(assigned.partner, evidence))
    if assigned.own_result and assigned.monitor not in evidence.counted and not any(test.passed for test in tests):
        yield Missing("leak_size_unknown")


def _not_there(evidence: Evidence) -> Iterator[Missing]:
    """Recordings since the repair in which the code may have come and gone, for all that can still be told."""
    named = {one.file: one.why for one in evidence.lost}
    why: dict[str, LostWhy] = {**dict.fromkeys(evidence.doubtful, "unreadable"), **named}
    for kind, name in LOST_IDS.items():
        files = tuple(file for file, told in why.items() if told == kind)
        if files:
            yield Missing(name, files=files)


def _not_read(assigned: Assignment, evidence: Evidence, tests: tuple[TestResult, ...]) -> Iterator[Missing]:
    """What this car measured once and told nobody since the repair; said last, when all the rest is there."""
    if not tests and any(test.passed is not None for test in _tests_of(assigned, evidence.tests_ever)):
        yield Missing("test_not_read")


def _complete(assigned: Assignment, evidence: Evidence) -> bool:
    """Whether a result has to be there: a monitor that has not run has none, and that is said already."""
    return assigned.monitor not in CONTINUOUS and evidence.findings.monitors.get(assigned.monitor) == "complete"


def _codes(assigned: Assignment, findings: Findings) -> Iterator[Missing]:
    for kind in ("stored", "pending", "permanent"):
        found: Found = getattr(findings, kind)
        if assigned.code in found.present:
            yield Missing(f"{kind}_stands", (assigned.code,))
        others = tuple(c for c in found.present if c != assigned.code and same_monitor(c, assigned, findings.ignition))
        if others:
            yield Missing("other_code", others)
        if found.certain is None and (kind != "permanent" or found.offered):
            yield Missing(f"{kind}_unknown")


def same_monitor(code: str, assigned: Assignment, ignition: Ignition | None) -> bool:
    """Whether the code is of the same monitor; for components only the code itself counts, they are too many."""
    known = assignment(code, ignition)
    return known is not None and known.monitor == assigned.monitor and assigned.monitor != "comprehensive_component"


def _ran(monitor: str, evidence: Evidence) -> Iterator[Missing]:
    """Complete, and since the clear: without a clear the bit may date from before the repair."""
    state = evidence.findings.monitors.get(monitor)
    if state is None:
        yield Missing("monitor_unknown")
    elif state == "unsupported":
        yield Missing("monitor_unsupported")
    elif state == "incomplete":
        yield Missing("monitor_incomplete")
    elif not evidence.cleared and monitor not in evidence.ran:
        yield Missing("monitor_not_reset")


def _near_its_own(assigned: Assignment, evidence: Evidence) -> tuple[CycleDriven, ...]:
    """The cycles; near another system's freeze frame says nothing of this one."""
    frame = evidence.similar_to
    if frame is None or same_monitor(frame, assigned, evidence.findings.ignition):
        return evidence.cycles
    return tuple(replace(cycle, similar=None) for cycle in evidence.cycles)


def _cycle(assigned: Assignment, cycles: tuple[CycleDriven, ...], ignition: Ignition | None) -> Iterator[Missing]:
    """The driving cycle that comes nearest decides what is missing."""
    tried = [tuple(_cycle_lacks(assigned, cycle, ignition)) for cycle in cycles]
    yield from min(tried, key=len) if tried else _no_cycle(assigned)


def _no_cycle(assigned: Assignment) -> Iterator[Missing]:
    yield Missing("no_cycle")
    if assigned.own is not None:
        yield Missing(NEEDS[assigned.own])


def _cycle_lacks(assigned: Assignment, cycle: CycleDriven, ignition: Ignition | None) -> Iterator[Missing]:
    monitor = assigned.monitor
    if not cycle.pattern_met:
        yield Missing("pattern_unknown" if cycle.pattern_met is None else "pattern_not_met")
    if not cycle.finished:
        yield Missing("cycle_not_finished")
    elif cycle.pending_after is None or cycle.pending_after.clean is None:
        yield Missing("pending_not_read")
    elif any(_of(code, monitor, ignition) for code in cycle.pending_after.present):
        yield Missing("pending_after_cycle", cycle.pending_after.present)
    if monitor in SIMILAR_FOR and not cycle.similar:
        yield Missing("similar_unknown" if cycle.similar is None else "not_similar")
    if assigned.own is not None and not could_run(assigned.own, cycle.shown):
        yield Missing(NEEDS[assigned.own])


def _of(code: str, monitor: str, ignition: Ignition | None) -> bool:
    """A pending code this monitor may have set; one that is in no table may be anybody's."""
    known = assignment(code, ignition)
    return known is None or known.monitor == monitor


def _tests_of(assigned: Assignment, tests: tuple[TestResult, ...] | None) -> tuple[TestResult, ...]:
    """The results that measure the repaired part; where no test is named for it, all of its monitor's.

    Another part's result confirms nothing: one bank not the other, a large leak not a small one. Outside its limits it
    counts all the same. A value that is its own limits is a constant and no test.
    """
    told = tuple(test for test in tests or () if not test.constant)
    of_monitor = tuple(test for test in told if test.monitor == assigned.monitor)
    own = tuple(test for test in told if test.mid in assigned.mids) if assigned.mids else of_monitor
    return own or tuple(test for test in of_monitor if test.passed is False)


def erased_by_the_car(before: Iterable[str], now: Found, reprogrammed: bool) -> frozenset[str]:
    """Permanent codes of an earlier read-out that the car has erased since: it tested them and they passed.

    Only the car itself erases them, after its test ran and passed in a drive of the pattern: 40 CFR
    86.010-18(b)(3)(iii). `reprogrammed`: another calibration since then, which erases them too; then nothing is proved.
    """
    if reprogrammed or now.certain is None:
        return frozenset()
    return frozenset(before) - frozenset(now.present)


class Similar:
    """Watches a drive for the conditions of a freeze frame: engine speed, load, warm or not."""

    def __init__(self, frozen: Mapping[str, float]) -> None:
        self.clock = NearClock(frame_of(frozen))

    @property
    def seen(self) -> bool | None:
        """Whether it came near; none while there is no frame to be near to."""
        return None if self.clock.frame is None else self.clock.ever

    def see(self, rpm: float | None, load_pct: float | None, coolant_c: float | None, t: float = 0.0) -> None:
        """Values of one moment, at `t` seconds; none where not heard."""
        self.clock.step(t, rpm, load_pct, coolant_c)

    def result(self) -> bool | None:
        """Whether the drive came near; none when nothing could tell."""
        return self.seen if self.clock.told else None
