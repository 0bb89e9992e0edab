"""One file of a job, folded to its end: the car as it was then, what was driven, what its beginning and end told."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Literal

from coach.car.arrivals import Answer, Arrival, Choice, Request
from coach.car.car import Car
from coach.car.concluding import FOREIGN
from coach.car.conclusion import ClearState, Identity
from coach.car.driven import pattern_met
from coach.car.happenings import (
    ClearSent,
    CodeAppeared,
    CodesCleared,
    Happening,
    MilChanged,
    MonitorChanged,
)
from coach.car.record import Record
from coach.inspection.confirm import Similar
from coach.inspection.own_tests import NOTHING, OwnTestWatch, Shown
from coach.jobs.records import Entry
from coach.journal.reader import open_journal
from coach.journal.records import Header
from coach.session.bounded import check_happenings


@dataclass(slots=True)
class Driven:
    """What was driven in one file, over all its driving cycles; the car's own totals begin afresh with each.

    `at_least`: something was not seen, so both are lower bounds. `met`: the regulated pattern was driven in one of the
    cycles; false when all surely lacked it, none when that cannot be told. `ran_t`: when the engine was last heard
    running, seconds; none when never.
    """

    running_s: float = 0.0
    distance_km: float = 0.0
    at_least: bool = False
    met: bool | None = None
    ran_t: float | None = None

    def end(self, car: Car) -> None:
        """The file is over."""
        totals = car.denominator
        self.running_s, self.distance_km = totals.whole_running_s, totals.whole_distance_km
        self.at_least = totals.whole_at_least
        met = {pattern_met(cycle.pattern) for cycle in car.cycles()}
        self.met = True if True in met else (False if met == {False} else None)


@dataclass(slots=True)
class Seen:
    """One file of the job, folded to its end. `started`: the monitors at its first readiness.

    `codes_at_start`: every code reported before the engine was first heard running. `bad_lines`: lines in the middle
    of the file that cannot be read. `identity`: whose words they are, beside what the files before it told.
    `cleared`: the memory was cleared in it; by a command that was sent, or by a trace. `clear_state`: of the last
    clear, in this file or before it, at its end. `shown`: what it shows of starts and drives that single
    tests need. `near_s`: seconds near the freeze frame.
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
    bad_lines: int = 0
    identity: Identity = "first"
    cleared: Literal["", "sent", "trace"] = ""
    clear_state: ClearState = "none"
    shown: Shown = NOTHING
    near_s: float = 0.0

    @property
    def own(self) -> bool:
        """Whether it is evidence: of the car the files before it are of, as far as anybody can tell."""
        return self.identity not in FOREIGN

    @property
    def held_another(self) -> bool:
        """Whether it holds words of the job's car and then of another: what the first one said last is lost."""
        spoke = any(isinstance(h, MonitorChanged | MilChanged) for h in self.happened)
        return not self.own and spoke

    @property
    def asked_findings(self) -> bool:
        """Whether readiness was asked for, so that a silence is one; or a clear was sent."""
        return "01 01" in self.car.asked_all or bool(self.car.asked_alone) or bool(self.started) or bool(self.cleared)

    @property
    def pattern_met(self) -> bool | None:
        """Whether a drive of the regulated pattern is in this file; none when it cannot be told."""
        return self.driven.met

    @property
    def read_at(self) -> str:
        """The wall clock at which readiness was last told, ISO 8601; the file's beginning where nobody told any."""
        t = max((ecu.readiness_t for ecu in self.car.ecus.values() if ecu.readiness is not None), default=0.0)
        return self.moment(t)

    def moment(self, t: float) -> str:
        """The wall clock at a second of this file, ISO 8601."""
        began = datetime.fromisoformat(self.header.began or self.entry.when)
        return (began + timedelta(seconds=t)).isoformat(timespec="seconds")


def fold(
    entry: Entry,
    path: Path,
    frozen: Mapping[str, float],
    record: Record | None = None,
    same_car: bool = False,
) -> Seen:
    """One journal from end to end. `frozen`: the freeze frame to look for; `record`: of the car, it goes on with this.
    `same_car`: the user says that it is of this car.

    JournalError when it is none, NoDrive when more happens in it than in any drive.
    """
    reader = open_journal(path)
    record = record if record is not None else Record()
    car = record.begin(entry.file, reader.header.can, reader.header.year, same_car)
    out, similar, driven = list[Happening](), Similar(frozen), Driven()
    early: Car | None = None
    own = OwnTestWatch(_number((reader.context.known or {}).get("soak_s")) if reader.context is not None else None)
    confirmed: set[str] = set()
    known: frozenset[str] = frozenset()
    for arrival in reader.arrivals():
        heard = record.take(arrival, out)
        check_happenings(len(out), path)
        if "rpm" in heard and car.cycle.running:
            known = known if driven.ran_t is not None else _codes_of(out)
            driven.ran_t = arrival.t
        if "rpm" in heard or "load_pct" in heard:
            values = car.fresh
            similar.see(values("rpm", 6.0), values("load_pct", 6.0), car.values.get("coolant_c"), arrival.t)
        _watch(own, arrival, heard, car)
        if isinstance(arrival, Answer) and arrival.payload == b"\x44":
            confirmed.add(arrival.ecu)
        if early is None and isinstance(arrival, Request) and any(e.readiness is not None for e in car.ecus.values()):
            early = car.copy()  # by then every unit has answered the one before
    out += record.finish()
    started = _told(early, car)
    driven.end(car)
    known = known if driven.ran_t is not None else _codes_of(out)
    near, told = similar.result(), frozenset(confirmed)
    bad = reader.report.bad_count
    found = car.conclude()
    at = (car.now, driven, bad, found.identity, _cleared_in(out), found.clear.state, own.shown(), similar.clock.held_s)
    return Seen(entry, path, reader.header, car, tuple(out), started, known, told, near, *at)


def _cleared_in(out: list[Happening]) -> Literal["", "sent", "trace"]:
    if any(isinstance(h, ClearSent) for h in out) or any(isinstance(h, CodesCleared) and h.sent for h in out):
        return "sent"
    return "trace" if any(isinstance(h, CodesCleared) for h in out) else ""


WATCHED = frozenset({"rpm", "speed_kmh", "load_pct", "coolant_c"})
"""Signals after which it is looked at again what single tests need."""


def _watch(own: OwnTestWatch, arrival: Arrival, heard: Collection[str], car: Car) -> None:
    """What this arrival shows of starts and drives that single tests need."""
    if not WATCHED.isdisjoint(heard):
        own.see(arrival.t, car.engine_runs(), car.denominator.idle_s, car.fresh)
    if isinstance(arrival, Choice):
        own.stood(_number(_told_soak(arrival)))


def _told_soak(arrival: Choice) -> object:
    """How long the car stood, in {"answer": {"soak_s": 36000}}."""
    answer = arrival.choice.get("answer")
    return answer.get("soak_s") if isinstance(answer, Mapping) else None


def _number(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None


def _codes_of(out: list[Happening]) -> frozenset[str]:
    return frozenset(h.code for h in out if isinstance(h, CodeAppeared) and h.kind != "permanent")


def _told(early: Car | None, car: Car) -> dict[str, str | None]:
    """The monitors as they were early in the recording, empty where no unit told any: whose car it was showed later."""
    if early is None and not any(ecu.readiness is not None for ecu in car.ecus.values()):
        return {}
    then = early or car
    then.signs = car.signs
    then.changed()
    return then.monitor_states()
