"""The engine, the driving cycle and the warm-up cycle, from engine speed, run time, ignition counter and coolant.

Key-off, automatic stop, a lost link and a cranking brown-out all look like silence or zero rpm. A new driving cycle is
proved by the run time (PID 1F) falling or the ignition counter (service 09) rising. Behind a silence that nothing
judges the cycle may have begun there or before: each such moment is kept as a `Beginning`, in whatever order the first
answers behind it come, and only what is the same from all of them is said.
"""

from dataclasses import dataclass, field, replace
from functools import reduce

from coach.car.beginnings import (
    DIESEL_REACHED_C,
    DONE_C,
    REACHED_C,
    START_VALUES_S,
    Beginning,
    Start,
    still_needed_c,
    surely_none,
)
from coach.car.happenings import (
    CycleBegan,
    CycleUncertain,
    EngineRestarted,
    EngineStarted,
    EngineStopped,
    Happening,
    WarmUpCycleCompleted,
)
from coach.car.totals import BRIDGE_S
from coach.car.witnesses import (
    COUNTED_S,
    LONGEST_STOP_S,
    RUN_TIME_FELL_S,
    Counted,
    Verdict,
    judge_ignition,
    judge_run_time,
)

__all__ = ["MOVING_KMH", "SHORT_SILENCE_S", "Cycle", "Start"]

RUNNING_RPM = 400.0  # a maker's service text on engine-on time of hybrids (2025); below it the starter may be turning
MOVING_KMH = 20.0  # our judgement: a car that moves at both ends of a short silence was not switched off in it
SHORT_SILENCE_S = 60.0  # our judgement, with the line above
TEMPERATURES = ("coolant_c", "intake_c", "ambient_c")
_LONG_AGO = -1e9


@dataclass(slots=True)
class Cycle:
    """The driving cycle now running. `running` is none until an engine speed was heard.

    `now`: the latest moment it may have begun; `earlier`: the others. `state_t`: since when the engine is known to be
    as it is, without a gap. `moved_t`: when the car last moved.
    """

    running: bool | None = None
    number: int = 1
    now: Beginning = field(default_factory=Beginning)
    earlier: tuple[Beginning, ...] = ()
    latest_start: Start | None = None
    stopped_t: float | None = None
    warm_up_t: float | None = None
    moved_t: float | None = None
    stop_moved: bool = False
    run_time_s: float | None = None
    run_time_t: float = 0.0
    rpm_t: float = _LONG_AGO
    state_t: float = _LONG_AGO
    coolant_t: float = _LONG_AGO
    counted: dict[str, Counted] = field(default_factory=dict)
    tell_t: float | None = None
    _off_t: float | None = None
    _unheard: bool = False
    _candidate: Start | None = None
    _unsettled_c: float | None = None
    _needed_c: float = DONE_C
    _begun_t: float = _LONG_AGO
    _clock_t: float = _LONG_AGO

    def copy(self) -> "Cycle":
        """An independent copy; earlier beginnings are never changed."""
        now = self.now.copy()
        same = {id(self.now.start): now.start}

        def of(start: Start | None) -> Start | None:
            return start if start is None else same.setdefault(id(start), replace(start))

        latest, candidate = of(self.latest_start), of(self._candidate)
        return replace(self, now=now, latest_start=latest, _candidate=candidate, counted=dict(self.counted))

    # ------------------------------------------------------------ what is known

    @property
    def start(self) -> Start | None:
        """The start of the engine of this cycle, by the latest moment it may have begun."""
        return self.now.start

    def starts(self) -> tuple[Start | None, ...]:
        """Every start that may be the one of this cycle."""
        return (*(begun.start for begun in self.earlier), self.now.start)

    @property
    def stop_s(self) -> float:
        """Seconds the engine stood since that start."""
        return self.now.stop_s

    @property
    def moved(self) -> bool:
        """Whether the car has driven off in this cycle, wherever it began."""
        return self.moved_t is not None and self.moved_t >= (self.earlier[0].t if self.earlier else self.now.t)

    @property
    def unproved(self) -> bool:
        """True while a silence stands behind which this cycle may have begun."""
        return bool(self.earlier)

    @property
    def unproved_t(self) -> tuple[float, ...]:
        """When it may have begun anew, unproved."""
        return (*(begun.t for begun in self.earlier[1:]), self.now.t) if self.earlier else ()

    def run_time_now_s(self, t: float) -> float | None:
        """Seconds since the engine start of this cycle, by PID 1F or by our own count since a start we saw."""
        heard = self.run_time_s is not None and self.run_time_t >= self.now.t
        if heard and self.running and self.run_time_s is not None:
            return self.run_time_s + (t - self.run_time_t)
        if self.now.start is not None and self.now.start.seen and not self.earlier:
            return t - self.now.start.t
        return None

    def run_time_at_least_s(self, t: float) -> float | None:
        """Like `run_time_now_s`, but counts from when the engine was first seen running: a lower bound."""
        known = self.run_time_now_s(t)
        if known is not None or self.now.start is None:
            return known
        first_t = self.now.start.first_t
        return t - (self.now.start.t if first_t is None else first_t)

    def warm_up(self, diesel: bool = False) -> bool | None:
        """Whether a warm-up cycle was seen; false when it surely was none, wherever the cycle began.

        `diesel`: its own count may go by a lower coolant.
        """
        if self.warm_up_t is not None:
            return True
        ran_t = self.rpm_t if self.running or self.stopped_t is None else self.stopped_t
        if ran_t - self.coolant_t > SHORT_SILENCE_S:
            return None
        begun = (*self.earlier, self.now)
        return False if surely_none(begun, DIESEL_REACHED_C if diesel else REACHED_C) else None

    # ------------------------------------------------------------ signals

    def on_rpm(
        self, t: float, rpm: float, values: dict[str, float], heard: dict[str, float], out: list[Happening]
    ) -> None:
        """Engine speed decides whether the engine runs. `values` and `heard`: the car's signals and their times."""
        running = rpm >= RUNNING_RPM
        gap_s, self.rpm_t = t - self.rpm_t, t
        if running is self.running and not self._unheard and gap_s <= BRIDGE_S:
            if not running:
                self._off_t = t
            return
        was, unheard, self.running, self._unheard = self.running, self._unheard, running, False
        if running is not was or gap_s > BRIDGE_S:
            self.state_t = t
        if not running:
            self._off_t = t
            self._stopped(t, bool(was), out)
            return
        if gap_s > BRIDGE_S:
            self._off_t = None
        if unheard:
            self._ran_on(t, was, out)
        elif not was:
            start = Start(t, was is False and gap_s <= START_VALUES_S)
            self._note(start, t, max(t - START_VALUES_S, self.now.t), values, heard)
            self._started(start, was is None, out)

    def on_temperature(self, t: float, signal: str, value: float, out: list[Happening]) -> None:
        """Coolant, intake or ambient: the start's values and the warm-up cycle."""
        if self._candidate is not None:
            self._candidate.note(signal, value, t)
        if self.latest_start is not None:
            self.latest_start.note(signal, value, t)
        if signal != "coolant_c":
            return
        self.coolant_t = t
        if self._unheard:
            self._unsettled_c = value
        elif self.running:
            self._hot(t, value, out)

    def on_run_time(self, t: float, before: tuple[float, float] | None, run_time_s: float) -> Verdict | None:
        """PID 1F of one ECU; `before`: its last value and when."""
        self.run_time_s, self.run_time_t = run_time_s, t
        start = self.now.start
        if start is not None and t - run_time_s >= start.t - RUN_TIME_FELL_S:
            start.sure = True
        if before is None:
            return None
        verdict = judge_run_time(before, t, run_time_s, clock_set=before[1] <= self._clock_t)
        if verdict is not None and verdict.new and t - self._begun_t <= SHORT_SILENCE_S:
            return verdict._replace(new=False)  # another witness has told of the same start
        return verdict

    def on_ignition_count(self, t: float, ecu: str, count: int) -> Verdict | None:
        """The ignition cycle counter of one ECU (service 09)."""
        start = self.now.start
        until_t = t if self.running or self.stopped_t is None else self.stopped_t
        first_t = start.t if start is not None else t
        counted = start is not None and until_t - max(first_t, start.first_t or first_t) >= COUNTED_S
        self.counted[ecu], verdict = judge_ignition(self.counted.get(ecu), t, count, counted)
        return verdict

    def engine_started_t(self) -> float | None:
        """When the engine was started by PID 1F, told once, if that was since it was last seen standing."""
        if not self.run_time_s or not self.running or self._off_t is None:  # zero is the key on, the engine off
            return None
        started_t = self.run_time_t - self.run_time_s
        if not self._off_t < started_t < self.state_t:
            return None
        self._off_t, self.state_t = None, started_t
        return started_t

    # ------------------------------------------------------------ where it began

    def part(self, t: float, silent_s: float) -> bool:
        """Behind a silence, or a clock that was set (0), nobody knows whether a new cycle began; true if one may have.

        Before the first start of the engine there is nothing to tell apart.
        """
        if self.running is False and self.now.start is None and not self.earlier:
            return False
        self._may_begin(Beginning(t, silent_s))
        self._clock_t = t if silent_s == 0 else self._clock_t
        self._candidate, self._unheard = Start(t, 0 < silent_s <= START_VALUES_S), True
        return True

    def join(self, t: float, since_t: float, out: list[Happening]) -> None:
        """No new cycle began after `since_t`."""
        if not self.earlier or self.now.t <= since_t:
            return
        while self.earlier and self.now.t > since_t:
            self.now = self.earlier[-1].then(self.now)
            self.earlier = self.earlier[:-1]
        self.latest_start = self.latest_start or self.now.start
        self.tell_t = self.tell_t if self.earlier else None
        if self._unheard and self.running and self._unsettled_c is not None:
            self.now.peak_c = max(self._unsettled_c, self.now.peak_c or self._unsettled_c)
        self._unheard, self._candidate, self._unsettled_c = False, None, None
        self._settle(t, out)

    def begin(
        self, t: float, verdict: Verdict, values: dict[str, float], heard: dict[str, float], out: list[Happening]
    ) -> None:
        """A new driving cycle is proved."""
        kept = tuple(begun for begun in (*self.earlier, self.now) if begun.t > verdict.since_t)
        self.number, self._begun_t = self.number + 1, t
        self.counted = {ecu: old.one_more() for ecu, old in self.counted.items()}
        if kept:
            self.now, self.earlier = kept[-1], kept[:-1]
            if verdict.started_t is not None:
                self._date(kept, verdict.started_t)
        else:
            self.earlier = ()
            self._begin_unparted(t, verdict, values, heard)
        if self.warm_up_t is not None and self.warm_up_t < (kept[0].t if kept else t):
            self.warm_up_t = None
        self.tell_t = None
        out.append(CycleBegan(t, verdict.proof))
        self._settle(t, out)

    def until(self, since_t: float, t: float) -> tuple["Cycle", float]:
        """What of it was over when a new cycle began after `since_t`, as proved at `t`; and when it was."""
        all_ = (*self.earlier, self.now)
        kept = tuple(begun for begun in all_ if begun.t > since_t)
        old = all_[: len(all_) - len(kept)]
        if not kept or not old:
            return self.copy(), t
        began_t = kept[0].t
        warm_up_t = self.warm_up_t if self.warm_up_t is not None and self.warm_up_t < began_t else None
        over = replace(self, now=old[-1].copy(), earlier=old[:-1], warm_up_t=warm_up_t)
        return over, began_t - kept[0].silent_s

    def dated(self, started_t: float) -> bool:
        """When the engine was started for the cycle that just began behind a silence; true where it was not known."""
        start = self.now.start if self.now.start is not None else self._candidate
        if start is None or start.first_t is not None or self.earlier or self.now.silent_s == 0:
            return False
        start.date(started_t)
        return True

    def tell(self, t: float, out: list[Happening]) -> None:
        """Nothing has judged the silence so far: told once."""
        self.tell_t = None
        if self.earlier:
            out.append(CycleUncertain(t, self.now.silent_s))

    def _may_begin(self, begun: Beginning) -> None:
        self.earlier, self.now = (*self.earlier, self.now), begun
        self.latest_start = None
        self._needed_c = still_needed_c(self.earlier)
        if self.tell_t is None:
            self.tell_t = begun.t + SHORT_SILENCE_S

    def _date(self, kept: tuple[Beginning, ...], started_t: float) -> None:
        """It began in the silence before the first of these, when its engine was started."""
        if len(kept) > 1:
            self.now, self.earlier = reduce(Beginning.then, kept).copy(), ()
            self.latest_start = self.now.start
            self._candidate = self.now.start or self._candidate
        start = self.now.start if self.now.start is not None else self._candidate
        if start is not None and start.t == kept[0].t:
            start.date(started_t)

    def _begin_unparted(self, t: float, verdict: Verdict, values: dict[str, float], heard: dict[str, float]) -> None:
        """No silence parts it from the cycle before: the engine was seen started, or stood too short to be seen."""
        self.now = Beginning(t)
        latest = self.latest_start
        if latest is not None and latest.t > verdict.since_t:
            self.now.t, self.now.start = latest.t, latest
            return
        self.latest_start = None
        if self.running is False:
            return
        started_t = t if verdict.started_t is None else max(verdict.since_t, verdict.started_t)
        self._candidate = Start(started_t, t - started_t <= START_VALUES_S, first_t=t)
        self._note(self._candidate, t, started_t, values, heard)
        self._unheard = self.rpm_t < started_t
        if not self._unheard:
            self.now.start = self.latest_start = self._candidate

    # ------------------------------------------------------------ the engine

    def _stopped(self, t: float, ran: bool, out: list[Happening]) -> None:
        self._unsettled_c = None
        if ran:
            self.stopped_t, self.stop_moved = t, False
            out.append(EngineStopped(t))

    def _ran_on(self, t: float, was: bool | None, out: list[Happening]) -> None:
        """The first engine speed behind a silence: it runs, and may have been started in it."""
        start = self.now.start = self.latest_start = self._candidate
        if was is None and start is not None:
            out.append(EngineStarted(t, False, start.coolant_c, start.intake_c, start.ambient_c))
        elif was is False:
            self._again(t, out)
        if self._unsettled_c is not None:
            self._hot(t, self._unsettled_c, out)
            self._unsettled_c = None

    @staticmethod
    def _note(start: Start, t: float, since_t: float, values: dict[str, float], heard: dict[str, float]) -> None:
        for signal in TEMPERATURES:
            if signal in heard and heard[signal] >= since_t:
                start.note(signal, values[signal], t)

    def _started(self, start: Start, first: bool, out: list[Happening]) -> None:
        t, ran_before = start.t, any(known is not None for known in self.starts())
        self.latest_start = start
        if self.now.start is None:
            self.now.start = start
            if first or not ran_before:
                out.append(EngineStarted(t, start.seen, start.coolant_c, start.intake_c, start.ambient_c))
            else:
                self._again(t, out)
            return
        stopped_s = t - self.stopped_t if self.stopped_t is not None else 0.0
        self.now.stop_s += stopped_s
        out.append(EngineRestarted(t, stopped_s))
        if stopped_s > LONGEST_STOP_S and not self.stop_moved and self.run_time_s is None:
            self._may_begin(Beginning(t, stopped_s, start=start))
            self.latest_start = start

    def _again(self, t: float, out: list[Happening]) -> None:
        """It ran in an earlier span and stood meanwhile: an automatic stop, or the start of a new cycle."""
        self.now.before_s = t - self.stopped_t if self.stopped_t is not None else 0.0
        out.append(EngineRestarted(t, self.now.before_s))

    # ------------------------------------------------------------ the warm-up cycle

    def _hot(self, t: float, coolant_c: float, out: list[Happening]) -> None:
        now = self.now
        if now.peak_c is None or coolant_c > now.peak_c:
            now.peak_c = coolant_c
        if self.warm_up_t is None and now.peak_c >= self._needed_c and now.peak_c >= now.needs_c():
            self.warm_up_t = t
            began = [start.coolant_c for start in self.starts() if start is not None and start.coolant_c is not None]
            out.append(WarmUpCycleCompleted(t, max(began), now.peak_c))

    def _settle(self, t: float, out: list[Happening]) -> None:
        """What may have begun where has changed: the warm-up cycle is judged anew."""
        self._needed_c = still_needed_c(self.earlier)
        if self.now.peak_c is not None and self.running:
            self._hot(t, self.now.peak_c, out)
