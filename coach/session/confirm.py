"""Draws from a job's files what was seen since the repair: the evidence for confirmation, forecast and report.

Every file is folded anew; nothing is remembered but what came in.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from coach.car.conclusion import Conclusion
from coach.car.happenings import CodeAppeared, CycleBegan, EngineStopped
from coach.car.ran import RanWatch
from coach.car.readout import units_of
from coach.car.record import Record
from coach.inspection.cleared import EcuCleared, cleared_ecus
from coach.inspection.codes import assignment
from coach.inspection.confirm import (
    Appeared,
    Confirmation,
    CycleDriven,
    Evidence,
    confirm,
    erased_by_the_car,
)
from coach.inspection.findings import Found, findings_of
from coach.j1979.similar import SIMILAR_FOR
from coach.j1979.test_results import TestResult
from coach.j1979.vehicle_info import PAIR_MONITORS, InUse
from coach.jobs.ledger import Ledgered
from coach.jobs.store import Job
from coach.session.aside import Aside, fell_within, set_aside
from coach.session.folding import Folding
from coach.session.ledger import lost_since
from coach.session.seen import Seen

WHILE_PARKED = ("evaporative_system",)
"""The engine-off leak test begins hours after the key was turned off (S27, S28 of the profiles' sources)."""


@dataclass(slots=True)
class JobSeen:
    """A whole job as its files tell it. `latest` is none before anything was read.

    `unread`: why a file cannot be read. `unjudged`: why a drive that was read cannot be told as a drive. `doubtful`:
    names of files since the clear that cannot be read, or not whole: had the code come and gone in one, nothing would
    tell. `aside`: files that are not evidence. `reset_in`: the file by which the memory was cleared once more, by
    something else than this program. `record`: the car over all its files. `ledger`: what became of every file.
    """

    job: Job
    files: tuple[Seen, ...]
    unread: tuple[str, ...] = ()
    unjudged: tuple[str, ...] = ()
    doubtful: tuple[str, ...] = ()
    aside: tuple[Aside, ...] = ()
    reset_in: Seen | None = None
    record: Record = field(default_factory=Record)
    ledger: tuple[Ledgered, ...] = ()
    before: Seen | None = None
    latest: Seen | None = None
    cleared: tuple[EcuCleared, ...] = ()
    evidence: Evidence | None = None
    drives: tuple[Seen, ...] = ()
    in_use: InUse | None = None
    confirmations: tuple[Confirmation, ...] = ()
    job_ran: Mapping[str, tuple[int, int]] = field(default_factory=dict)

    def conclude(self) -> Conclusion:
        """What may be said of the job's car now."""
        return self.latest.car.conclude() if self.latest is not None else self.record.conclude()


def look_at(job: Job) -> JobSeen:
    """Fold every file of the job, one record of its car, and judge its repaired codes."""
    folding = Folding(job)
    framed_by, frozen = "", dict[str, float]()  # filled as soon as a file tells it, for those behind
    read: list[Seen] = []
    for seen in folding.seen(frozen):
        read.append(seen)
        if seen.own and (frame := _frame_of(seen, job.record.codes)) is not None:
            framed_by = frame[0]
            frozen.clear()
            frozen.update(frame[1])
    files, aside = set_aside(read)
    unread = folding.unread
    found = JobSeen(job, files, tuple(unread.values()), aside=aside, record=folding.record, ledger=folding.ledger)
    if files:
        _fill(found, tuple(unread), framed_by)
    return found


def _frame_of(seen: Seen, codes: tuple[str, ...]) -> tuple[str, Mapping[str, float]] | None:
    """A freeze frame a repaired code left, for the codes that have to be driven near theirs."""
    for unit in units_of(seen.car):
        known = assignment(unit.frozen_by) if unit.frozen_by in codes and unit.frozen_by is not None else None
        if known is not None and known.monitor in SIMILAR_FOR:
            return known.code, unit.frozen
    return None


def _fill(found: JobSeen, unread: tuple[str, ...], framed_by: str) -> None:
    files, record = found.files, found.job.record
    found.before = next((seen for seen in files if seen.entry.kind == "before"), None)
    found.latest = next((seen for seen in reversed(files) if seen.asked_findings), files[-1])
    proved = _last_proved(files)
    sent = [number for number, seen in enumerate(files) if seen.cleared == "sent"]
    if sent:
        found.cleared = _cleared(files, sent[-1])
    since = files[proved:] if proved is not None else tuple(seen for seen in files if seen is not found.before)
    fresh = _since_reset(found, since)
    clear = found.record.car.clear.finding()
    first = files[proved] if proved is not None else None
    found.doubtful = _doubtful(found, unread, first)
    known = frozenset() if clear.state == "proved" else _known_before(found)
    found.drives = tuple(seen for seen in since if seen.entry.kind == "drive")
    found.in_use = next(
        (u.in_use for seen in reversed(files) for u in units_of(seen.car) if u.in_use is not None), None
    )
    found.job_ran = _job_ran(files, found.drives)
    counted = [seen for seen in found.drives if seen in fresh and not (seen is found.reset_in and fell_within(seen))]
    found.evidence = Evidence(
        findings=findings_of(found.latest.car),
        cleared=clear.state == "proved",
        tests=_tests(fresh),
        tests_ever=_tests(files) or (),
        cycles=tuple(_cycle(seen, files[files.index(seen) + 1 :]) for seen in counted),
        appeared=_appeared(known, since),
        frozen_by=next((u.frozen_by for u in units_of(found.latest.car) if u.frozen_by), None),
        frozen=next((u.frozen for u in units_of(found.latest.car) if u.frozen_by), {}),
        ran=_ran(since, found.latest) | _risen(found.before, found.latest),
        counted=_risen(found.before, found.latest),
        erased=_erased(files, found.latest),
        doubtful=found.doubtful,
        lost=lost_since(found.ledger, first.entry.file if first is not None else None, known, _no_evidence(found)),
        similar_to=framed_by or None,
    )
    found.confirmations = tuple(confirm(code, found.evidence, record.chosen.get(code)) for code in record.codes)


def _cleared(files: tuple[Seen, ...], number: int) -> tuple[EcuCleared, ...]:
    """What the clear in this file did to every unit that spoke in the read-out just before it."""
    clear = files[number]
    before = next((seen for seen in reversed(files[:number]) if seen.entry.kind == "before"), clear)
    return cleared_ecus(before.car, clear.car, clear.confirmed_clear)


def _since_reset(found: JobSeen, since: tuple[Seen, ...]) -> tuple[Seen, ...]:
    """The files since the memory was last cleared, by whatever: what came before proves nothing any more."""
    fresh = since
    for number, seen in enumerate(since):
        if seen.cleared:
            fresh = since[number:]
            found.reset_in = seen if seen.cleared == "trace" else None
    return fresh


def _last_proved(files: tuple[Seen, ...]) -> int | None:
    """The file of the last clear that every unit has shown; one that nobody has shown draws no line."""
    cleared, proved = None, None
    for number, seen in enumerate(files):
        if seen.cleared:
            cleared = number
        if seen.clear_state == "proved" and cleared is not None:
            proved = cleared
    return proved


def _no_evidence(found: JobSeen) -> frozenset[str]:
    """Files that would be no evidence if they were there: of another car, or simulated."""
    return frozenset(one.seen.entry.file for one in found.aside if one.why in ("another_car", "simulated"))


def _doubtful(found: JobSeen, unread: tuple[str, ...], clear: Seen | None) -> tuple[str, ...]:
    """Files since the clear that cannot be read or have lines that cannot, and those that may be of this car and are no
    evidence: had the code come back in one of them, nothing would tell."""
    names, codes = [entry.file for entry in found.job.record.entries], set(found.job.record.codes)
    first = names.index(clear.entry.file) if clear is not None else 0
    lost = {seen.entry.file for seen in found.files if seen.bad_lines} | set(unread)
    for seen in (one.seen for one in found.aside if one.why != "simulated"):
        told = {h.code for h in seen.happened if isinstance(h, CodeAppeared)}
        if seen.held_another or (seen.identity in ("unproved", "changed") and told & codes):
            lost.add(seen.entry.file)
    return tuple(name for name in names[first:] if name in lost)


def _tests(since: tuple[Seen, ...]) -> tuple[TestResult, ...] | None:
    """The latest results of each control unit's tests; none where the car never gave any."""
    latest: dict[tuple[str, int, int], TestResult] = {}
    for seen in since:
        for unit in units_of(seen.car):
            latest.update({(unit.address, test.mid, test.tid): test for test in unit.tests})
    return tuple(latest.values()) or None


def _cycle(seen: Seen, later: tuple[Seen, ...]) -> CycleDriven:
    """The drive of one file, and the pending codes as read after its end."""
    stopped_t = max((h.t for h in seen.happened if isinstance(h, EngineStopped)), default=None)
    finished = stopped_t is not None and (seen.car.cycle.running is False or _began_after(seen, stopped_t))
    finished = finished or any(one.car.cycle.running is False for one in later)
    pending = _pending_after(seen, later)
    near = (seen.similar, seen.shown, seen.near_s)
    return CycleDriven(seen.header.began, seen.pattern_met, finished, pending, *near, _ran_in(seen))


def _ran_in(seen: Seen) -> frozenset[str] | None:
    """The monitors that told they ran in this file; none where the car tells no such thing."""
    watch = RanWatch()
    for happening in seen.happened:
        watch.happened(happening)
    return watch.ran if watch.told or watch.ran else None


def _began_after(seen: Seen, stopped_t: float) -> bool:
    return any(isinstance(happening, CycleBegan) and happening.t >= stopped_t for happening in seen.happened)


def _pending_after(seen: Seen, later: tuple[Seen, ...]) -> Found | None:
    """From this file when every unit told after the engine was last heard running, else from the next that told any."""
    ran_t = seen.driven.ran_t
    told = [ecu.codes["pending"].t for ecu in seen.car.ecus.values() if "pending" in ecu.codes]
    if ran_t is not None and told and min(told) > ran_t:
        return findings_of(seen.car).pending
    return next((f.pending for f in (findings_of(one.car) for one in later) if f.pending.clean is not None), None)


def _known_before(found: JobSeen) -> frozenset[str]:
    """Without a clear: the codes that were there already, by the read-out before or by the first file's beginning."""
    return (found.before or found.files[0]).codes_at_start


def _appeared(known: frozenset[str], since: tuple[Seen, ...]) -> tuple[Appeared, ...]:
    """Codes that appeared since the repair and were not known from before."""
    return tuple(
        Appeared(happening.code, happening.kind, seen.header.began, happening.t)
        for seen in since
        for happening in seen.happened
        if isinstance(happening, CodeAppeared) and happening.kind != "permanent" and happening.code not in known
    )


def _ran(since: tuple[Seen, ...], latest: Seen) -> frozenset[str]:
    """Monitors seen incomplete since the repair and complete now."""
    now = latest.car.monitor_states()
    opened = {m for seen in since for m, state in seen.started.items() if state == "incomplete"}
    return frozenset(m for m in opened if now.get(m) == "complete")


def _risen(before: Seen | None, latest: Seen) -> frozenset[str]:
    """Monitors whose in-use numerator rose since the read-out before."""
    risen: set[str] = set()
    for old in units_of(before.car) if before is not None else ():
        for new in units_of(latest.car):
            if old.address == new.address and old.in_use is not None and new.in_use is not None:
                pairs = {n: (ran, old.in_use.pairs.get(n)) for n, (ran, _) in new.in_use.pairs.items()}
                risen |= {PAIR_MONITORS[n] for n, (ran, first) in pairs.items() if first is not None and ran > first[0]}
    return frozenset(risen)


def _erased(files: tuple[Seen, ...], latest: Seen) -> frozenset[str]:
    """Permanent codes the car has erased since an earlier file, where its calibrations are known to be the same.

    It erases none before its test ran in a drive of the pattern: what is gone with nothing driven went another way.
    """
    signs = latest.car.signs
    unsure = bool(signs.excused) or not any(sign in ("calid", "cvn") for _, sign in signs.told)
    earlier = {
        code
        for number, seen in enumerate(files[: files.index(latest)])
        if _driven_between(files[number:], latest)
        for code in seen.car.conclude().codes["permanent"].sure
    }
    return erased_by_the_car(earlier, findings_of(latest.car).permanent, unsure)


PATTERN_RISES = (("run_time_min", 10.0), ("distance_km", 3.0), ("warm_ups", 1.0))
"""What a drive of the pattern adds to the counters since a clear: 600 s with the engine running, of which 300 s at
40 km/h make 3.3 km (40 CFR 86.010-18(d)(4)(ii)); counted in whole ones. A warm-up is enough: our judgement, a car
that counts nothing else is seldom."""


def _driven_between(files: tuple[Seen, ...], latest: Seen) -> bool:
    """Whether anything tells of a drive as long as the pattern's, from the first of these files to the latest."""
    if sum(seen.driven.running_s for seen in files) >= PATTERN_RISES[0][1] * 60:
        return True
    reset = any(seen.cleared for seen in files[1:])
    first, now = findings_of(files[0].car), findings_of(latest.car)
    for counter, least in PATTERN_RISES:
        before, after = 0.0 if reset else getattr(first, counter), getattr(now, counter)
        if before is not None and after is not None and after - before >= least:
            return True
    return False


def _job_ran(files: tuple[Seen, ...], drives: tuple[Seen, ...]) -> dict[str, tuple[int, int]]:
    """Of the drives of the pattern that began with a monitor incomplete: in how many it became complete.

    A test that runs while the car stands shows in the file after the drive; before that file it is not counted.
    """
    counted: dict[str, tuple[int, int]] = {}
    for seen in drives:
        if not seen.pattern_met:
            continue
        ends, later = seen.car.monitor_states(), files[files.index(seen) + 1 :][:1]
        after = later[0].started if later else {}
        for monitor, state in seen.started.items():
            told = {ends.get(monitor), after.get(monitor)} - {None}
            parked = monitor in WHILE_PARKED and not later and "complete" not in told
            if state == "incomplete" and told and not parked:
                ran, of = counted.get(monitor, (0, 0))
                counted[monitor] = (ran + ("complete" in told), of + 1)
    return counted
