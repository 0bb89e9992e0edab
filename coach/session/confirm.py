"""Draws from a job's files what was seen since the repair: the evidence for confirmation, forecast and report.

Every file is folded anew; nothing is remembered but what came in.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from coach.car.arrivals import Answer, Request
from coach.car.car import Car
from coach.car.denominator import Denominator
from coach.car.happenings import CodeAppeared, CycleBegan, EngineStopped, GeneralDenominatorMet, Happening
from coach.car.readout import EcuReadout, read_ecu
from coach.inspection.cleared import EcuCleared, cleared_ecus, whole
from coach.inspection.confirm import Appeared, Confirmation, CycleDriven, Evidence, Similar, confirm
from coach.inspection.findings import Found, findings_of
from coach.j1979.test_results import TestResult
from coach.j1979.vehicle_info import PAIR_MONITORS, InUse
from coach.jobs.records import Entry
from coach.jobs.store import Job
from coach.journal.reader import open_journal
from coach.journal.records import Header

WHILE_PARKED = ("evaporative_system",)  # the engine-off leak test begins hours after the key was turned off (S27, S28)


@dataclass(slots=True)
class Driven:
    """What was driven in one file, over all its driving cycles; the car's own totals begin afresh with each.

    `ran_t`: when the engine was last heard running, seconds; none when never.
    `missed`: the longest cycle surely lacked the regulated pattern; none when that cannot be told.
    """

    running_s: float = 0.0
    distance_km: float = 0.0
    longest_s: float = 0.0
    missed: bool | None = None
    ran_t: float | None = None
    _last: tuple[float, float, bool | None] = (0.0, 0.0, None)

    def see(self, totals: Denominator) -> None:
        """The car's totals after one arrival: when they fall, a cycle is over."""
        if totals.running_s < self._last[0]:
            self._add()
        if totals.running_s != self._last[0]:
            self._last = (totals.running_s, totals.distance_km, totals.missed())

    def end(self, totals: Denominator) -> None:
        """The file is over."""
        self.see(totals)
        self._add()

    def _add(self) -> None:
        running_s, distance_km, missed = self._last
        self.running_s += running_s
        self.distance_km += distance_km
        if running_s > self.longest_s:
            self.longest_s, self.missed = running_s, missed
        self._last = (0.0, 0.0, None)


@dataclass(slots=True)
class Seen:
    """One file of the job, folded to its end. `started`: the monitors at its first readiness.

    `codes_at_start`: every code reported before the engine was first heard running.
    """

    entry: Entry
    path: Path
    header: Header
    car: Car
    happened: tuple[Happening, ...]
    started: Mapping[str, str | None]
    codes_at_start: frozenset[str]
    confirmed_clear: frozenset[str]
    similar: bool | None
    end_t: float
    driven: Driven

    @property
    def pattern_met(self) -> bool | None:
        """Whether a drive of the regulated pattern is in this file; none when it cannot be told."""
        if any(isinstance(happening, GeneralDenominatorMet) for happening in self.happened):
            return True
        return False if self.driven.missed else None

    def units_of(self) -> tuple[EcuReadout, ...]:
        """Every control unit's own data."""
        return tuple(read_ecu(ecu, self.car.can is not False) for _, ecu in sorted(self.car.ecus.items()))


@dataclass(slots=True)
class JobSeen:
    """A whole job as its files tell it. `latest` is none before anything was read."""

    job: Job
    files: tuple[Seen, ...]
    unread: tuple[str, ...] = ()
    before: Seen | None = None
    latest: Seen | None = None
    cleared: tuple[EcuCleared, ...] = ()
    evidence: Evidence | None = None
    drives: tuple[Seen, ...] = ()
    in_use: InUse | None = None
    confirmations: tuple[Confirmation, ...] = ()
    job_ran: Mapping[str, tuple[int, int]] = field(default_factory=dict)


def look_at(job: Job) -> JobSeen:
    """Fold every file of the job and judge its repaired codes."""
    files, unread = [], []
    frozen: Mapping[str, float] = {}
    for entry, path in job.files():
        try:
            seen = fold(entry, path, frozen)
        except ValueError as error:
            unread.append(str(error))
            continue
        files.append(seen)
        frozen = _frame_of(seen, job.record.codes) or frozen
    found = JobSeen(job, tuple(files), tuple(unread))
    if files:
        _fill(found)
    return found


def fold(entry: Entry, path: Path, frozen: Mapping[str, float]) -> Seen:
    """One journal from end to end. `frozen`: the freeze frame to look for. JournalError when it is none."""
    reader = open_journal(path)
    car, out, similar, driven = Car(), list[Happening](), Similar(frozen), Driven()
    car.can = reader.header.can
    started: dict[str, str | None] = {}
    confirmed: set[str] = set()
    known: frozenset[str] = frozenset()
    for arrival in reader.arrivals():
        car.expire(arrival.t, out)
        heard = car.fold(arrival, out)
        driven.see(car.denominator)
        if "rpm" in heard and car.cycle.running:
            known = known if driven.ran_t is not None else _codes_of(out)
            driven.ran_t = arrival.t
        if "rpm" in heard or "load_pct" in heard:
            values = car.fresh
            similar.see(values("rpm", 6.0), values("load_pct", 6.0), car.values.get("coolant_c"))
        if isinstance(arrival, Answer) and arrival.payload == b"\x44":
            confirmed.add(arrival.ecu)
        if not started and isinstance(arrival, Request):  # by then every unit has answered the one before
            started = _told(car)
    car.end(out)
    started = started or _told(car)
    driven.end(car.denominator)
    known = known if driven.ran_t is not None else _codes_of(out)
    near, told = similar.result(), frozenset(confirmed)
    return Seen(entry, path, reader.header, car, tuple(out), started, known, told, near, car.now, driven)


def _codes_of(out: list[Happening]) -> frozenset[str]:
    return frozenset(h.code for h in out if isinstance(h, CodeAppeared) and h.kind != "permanent")


def _told(car: Car) -> dict[str, str | None]:
    """The monitors, empty before any control unit told its readiness."""
    return dict(car.monitor_states()) if any(ecu.readiness is not None for ecu in car.ecus.values()) else {}


def _frame_of(seen: Seen, codes: tuple[str, ...]) -> Mapping[str, float] | None:
    return next((unit.frozen for unit in seen.units_of() if unit.frozen_by in codes), None)


def _fill(found: JobSeen) -> None:
    files = found.files
    found.before = next((seen for seen in files if seen.entry.kind == "before"), None)
    found.latest = next((seen for seen in reversed(files) if seen.started), files[-1])
    clears = [number for number, seen in enumerate(files) if seen.confirmed_clear]
    first = clears[-1] if clears else 0
    if clears:
        earlier = found.before.car if found.before is not None else files[first].car
        found.cleared = cleared_ecus(earlier, files[first].car, files[first].confirmed_clear)
    since = files[first:] if clears else tuple(seen for seen in files if seen is not found.before)
    found.drives = tuple(seen for seen in since if seen.entry.kind == "drive")
    found.in_use = next((u.in_use for seen in reversed(files) for u in seen.units_of() if u.in_use is not None), None)
    found.job_ran = _job_ran(files, found.drives)
    found.evidence = Evidence(
        findings=findings_of(found.latest.car),
        cleared=bool(whole(found.cleared)),
        tests=_tests(since),
        cycles=tuple(_cycle(seen, files[files.index(seen) + 1 :]) for seen in found.drives),
        appeared=_appeared(frozenset() if clears else _known_before(found), since),
        frozen_by=next((u.frozen_by for u in found.latest.units_of() if u.frozen_by), None),
        frozen=next((u.frozen for u in found.latest.units_of() if u.frozen_by), {}),
        ran=_ran(found.before, since, found.latest),
    )
    record = found.job.record
    found.confirmations = tuple(confirm(code, found.evidence, record.chosen.get(code)) for code in record.codes)


def _tests(since: tuple[Seen, ...]) -> tuple[TestResult, ...] | None:
    """The latest results of each control unit's tests; none where the car never gave any."""
    latest: dict[tuple[str, int, int], TestResult] = {}
    for seen in since:
        for unit in seen.units_of():
            latest.update({(unit.address, test.mid, test.tid): test for test in unit.tests})
    return tuple(latest.values()) or None


def _cycle(seen: Seen, later: tuple[Seen, ...]) -> CycleDriven:
    """The drive of one file, and the pending codes as read after its end."""
    stopped_t = max((h.t for h in seen.happened if isinstance(h, EngineStopped)), default=None)
    finished = stopped_t is not None and (seen.car.cycle.running is False or _began_after(seen, stopped_t))
    finished = finished or any(one.car.cycle.running is False for one in later)
    pending = _pending_after(seen, later)
    return CycleDriven(seen.header.began, seen.pattern_met, finished, pending, seen.similar)


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


def _ran(before: Seen | None, since: tuple[Seen, ...], latest: Seen) -> frozenset[str]:
    """Monitors seen incomplete since the repair and complete now, or whose in-use numerator rose."""
    now = latest.car.monitor_states()
    opened = {m for seen in since for m, state in seen.started.items() if state == "incomplete"}
    risen = set()
    for old in before.units_of() if before is not None else ():
        for new in latest.units_of():
            if old.address == new.address and old.in_use is not None and new.in_use is not None:
                risen |= {PAIR_MONITORS[n] for n, (ran, _) in new.in_use.pairs.items() if ran > old.in_use.pairs[n][0]}
    return frozenset({m for m in opened if now.get(m) == "complete"} | risen)


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
