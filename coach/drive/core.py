"""The core of a drive: arrivals in, happenings out. All change of state goes through `Core.feed` and `Core.finish`.

What may move what:
  time        forwards only; a record from before the newest one is counted and not used
  car         by every arrival
  gates       by a changed signal they name, by a start of the engine, by time
  trackers    by a new value of a signal they name; by a gap, a clock step, a lost link, a new driving cycle
  ladders     by a phase driven, a monitor confirmed, the end of a wait, a clear
  plan        by any of these; told when its phases change
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from coach.car.arrivals import Arrival, Choice, ClockStep, LinkChange
from coach.car.car import Car
from coach.car.happenings import (
    ArrivedOutOfOrder,
    CodeAppeared,
    CodesCleared,
    CodeVanished,
    CycleBegan,
    CycleMonitorChanged,
    CycleUncertain,
    EngineRestarted,
    EngineStarted,
    FindingDoubted,
    FindingSettled,
    Happening,
    MilChanged,
    MonitorChanged,
    TimeResumed,
)
from coach.car.known import known_from
from coach.drive import climb
from coach.drive.build import Built, build, build_needs, build_trackers
from coach.drive.causes import CAUSES
from coach.drive.clean import CleanCycles, CleanNow
from coach.drive.facts import Facts
from coach.drive.foot import Foot
from coach.drive.gate_watch import GateWatch
from coach.drive.gates import NEVER
from coach.drive.happenings import PhaseDriven, PhaseSkipped, PlanChanged
from coach.drive.heard import SPECIAL
from coach.drive.ladder import Ladder, ladders_for
from coach.drive.late import Late
from coach.drive.patience import Patience
from coach.drive.plan import Plan, make_plan
from coach.drive.profile import Profile
from coach.drive.situation import Parts
from coach.drive.stop import StopWatch
from coach.drive.target import Standing, Target, standing
from coach.drive.trackers import Tracker
from coach.drive.wanted import Wanted


@dataclass(slots=True)
class Core:
    """One drive. Build it with `make_core`; copy it with `copy()` in well under a millisecond."""

    built: Built
    car: Car
    trackers: dict[str, Tracker]
    ladders: dict[str, Ladder]
    stop: StopWatch
    wanted: Wanted = field(default_factory=Wanted)
    foot: Foot = field(default_factory=Foot)
    facts: Facts = field(default_factory=Facts)
    patience: Patience = field(default_factory=Patience)
    bit_moved: bool = False
    now: float = 0.0
    check_t: float = 0.0
    late: Late = field(default_factory=Late)
    target: Target = field(default_factory=Target)
    clean: CleanCycles = field(default_factory=CleanCycles)
    planned: tuple[str, ...] | None = None
    planned_s: float = 0.0
    _planned_for: object = None
    _gate_watch: GateWatch = field(default_factory=GateWatch)

    @property
    def out_of_order(self) -> int:
        """How many records came from before the newest one."""
        return self.late.count

    def copy(self) -> "Core":
        """An independent copy; the profile is shared."""
        return replace(
            self,
            car=self.car.copy(),
            trackers={phase: tracker.copy() for phase, tracker in self.trackers.items()},
            ladders={monitor: ladder.copy() for monitor, ladder in self.ladders.items()},
            stop=self.stop.copy(),
            foot=self.foot.copy(),
            facts=self.facts.copy(),
            patience=self.patience.copy(),
            late=self.late.copy(),
            wanted=self.wanted.copy(),
            target=self.target.copy(),
            clean=self.clean.copy(),
            _gate_watch=self._gate_watch.copy(),
        )

    def learn(self, known: Mapping[str, Any]) -> None:
        """What was known before the drive: soak_s, soak_proof, fuel_before_pct; `repaired`, the monitor of each
        repaired code, driven for first; `car`; `rule` and `clean_cycles`, what it is for. Others are left alone."""
        if "car" in known:
            self.car.remember(known_from(known["car"]))
        self.facts.learn(known)
        self.wanted.learn(known)
        self.clean.learn(known)
        self._watch_codes()

    def _watch_codes(self) -> None:
        """The codes whose return ends coaching: those of the job, and those this drive is to put out."""
        self.stop.repaired = self.wanted.repaired_codes | frozenset(self.clean.codes if self.clean.chosen else ())

    # ------------------------------------------------------------ the one way in

    def feed(self, arrival: Arrival) -> tuple[Happening, ...]:
        """Take one arrival; the happenings it brought, in order of time."""
        out: list[Happening] = []
        t = arrival.t
        if t < self.now and not self._in_order_again(arrival, out):
            return tuple(out)
        self.now = t
        if t >= self.check_t:
            self._fall_due(t, out)
        heard = self.car.fold(arrival, out)
        if heard:
            self._dispatch(heard, out)
        elif type(arrival) in (LinkChange, ClockStep):
            self._interrupt()
        elif type(arrival) is Choice:
            self._choose(arrival, out)
        if self.target.open and self.car.conclude() is not self.target.seen:
            self._judge_target(t, out)
        if not out:
            return ()
        self._react(out)
        return tuple(out)

    def finish(self, t: float, answered: bool = True) -> tuple[Happening, ...]:
        """The recording ends at `t`: what falls due until then comes out.

        `answered`: the last question had its time, so that silence on it counts; false when the recording was cut.
        """
        out: list[Happening] = []
        self.now = self.car.now = max(t, self.now)
        self._fall_due(self.now, out)
        if answered:
            self.car.end(out)
        if self.target.open:
            self._judge_target(self.now, out)
        self._react(out)
        return tuple(out)

    # ------------------------------------------------------------ time

    def _in_order_again(self, arrival: Arrival, out: list[Happening]) -> bool:
        """A record from the past: count it and leave it, unless a long run in order shows the newest time was wrong."""
        self.car.dropped(arrival)
        if self.late.count == 0:
            out.append(ArrivedOutOfOrder(arrival.t, self.now))
        if not self.late.outvotes(arrival.t):
            return False
        out.append(TimeResumed(arrival.t, self.now))
        self.now = self.check_t = arrival.t
        self._interrupt()
        return True

    def _interrupt(self) -> None:
        self.car.interrupt()
        self.facts.interrupt()
        self.patience.interrupt()
        self.clean.near.interrupt()
        for tracker in self.trackers.values():
            tracker.interrupt()

    def _fall_due(self, t: float, out: list[Happening]) -> None:
        """Expiries in order of their deadlines, then what time does to gates and waits."""
        due: list[Happening] = []
        self.car.expire(t, due)
        for tracker in self.trackers.values():
            tracker.expire(t, due)
        for ladder in self.ladders.values():
            if ladder.wait_until_t is not None and t > ladder.wait_until_t:
                climb.waited(self, ladder, due)
        due.sort(key=lambda happening: happening.t)
        out.extend(due)
        for tracker in self.trackers.values():
            if t >= tracker.gate.next_t:
                tracker.gate.judge(self.car, self.facts, out)
        self.check_t = self._next_check()

    def _next_check(self) -> float:
        times = [tracker.gate.next_t for tracker in self.trackers.values()]
        times += [t for tracker in self.trackers.values() if (t := tracker.deadline()) is not None]
        times += [ladder.wait_until_t for ladder in self.ladders.values() if ladder.wait_until_t is not None]
        car = self.car.deadline()
        return min(times if car is None else [*times, car], default=NEVER)

    # ------------------------------------------------------------ signals

    def _dispatch(self, heard: tuple[str, ...], out: list[Happening]) -> None:
        values, listeners, gates = self.car.values, self.built.listeners, self.built.gate_listeners
        foot = self.foot
        for signal in heard:
            if signal in foot.ranks:
                foot.update(signal, values[signal], self.now)
            elif signal in SPECIAL:
                SPECIAL[signal](self, values[signal], out)
            if signal in gates and self._gate_watch.is_due(gates[signal], signal, values[signal], self.now):
                for phase in gates[signal].phases:
                    self.trackers[phase].gate.judge(self.car, self.facts, out)
            for phase in listeners.get(signal, ()):
                self.trackers[phase].update(signal, self.car, foot, out)

    # ------------------------------------------------------------ what follows from what happened

    def _react(self, out: list[Happening]) -> None:
        """Happenings that follow from the ones in `out`; they are appended and looked at in turn."""
        cause: Happening | None = None
        for happening in out:  # grows while it is walked
            kind = type(happening)
            self.clean.happened(happening, self.wanted, self.stop.ready)
            reaction = REACTIONS.get(kind)
            if reaction is not None:
                reaction(self, happening, out)
            if kind in CAUSES:
                cause = happening
            self.stop.happened(happening, self.car.cycle.running is True, out)
        if self.clean.chosen:
            self.judge_cycle(out)
        if not self.stop.ready and self.car.ecus:
            self._codes_known()
        if cause is not None:
            self._replan(cause, out)
        self.check_t = min(self.check_t, self._next_check())

    def _codes_known(self) -> None:
        if self.car.codes("stored") is not None and self.car.codes("pending") is not None:
            self.stop.codes_read()

    def _on_cycle(self, happening: Happening, out: list[Happening]) -> None:
        self.facts.new_cycle()
        self.patience.start_over()
        self.bit_moved = False
        for ladder in self.ladders.values():
            ladder.new_cycle()
        for tracker in self.trackers.values():
            tracker.new_cycle(happening.t, out)
        climb.once_more(self)
        self._judge_all(happening, out)

    def _judge_all(self, _why: Happening | Choice, out: list[Happening]) -> None:
        for tracker in self.trackers.values():
            tracker.gate.judge(self.car, self.facts, out)

    def _on_driven(self, happening: Happening, _out: list[Happening]) -> None:
        climb.phase_driven(self, happening)

    def _on_monitor(self, happening: Happening, out: list[Happening]) -> None:
        climb.monitor_changed(self, happening)
        self._judge_target(happening.t, out)

    def _on_finding(self, happening: Happening, out: list[Happening]) -> None:
        self._watch_codes()
        self._judge_target(happening.t, out)

    def _on_cleared(self, happening: Happening, out: list[Happening]) -> None:
        for ladder in self.ladders.values():
            ladder.start_over()
        self.patience.start_over()
        for tracker in self.trackers.values():
            tracker.cleared(happening.t, out)
        self._planned_for = None

    def _choose(self, choice: Choice, out: list[Happening]) -> None:
        made: Mapping[str, Any] = choice.choice
        if not made:
            return
        self.facts.answered(made.get("answer"))
        before = (self.wanted.target, self.wanted.rule, self.clean.chosen)
        skipped = self.wanted.choose(made, self.trackers)
        self.clean.choose(made)
        if (self.wanted.target, self.wanted.rule, self.clean.chosen) != before:
            self.target.chosen()
            self._watch_codes()
            climb.once_more(self)
        if skipped is not None:
            out.append(PhaseSkipped(choice.t, skipped))
        self._judge_all(choice, out)
        self._tell_plan(choice.t, "choice", out)

    # ------------------------------------------------------------ the plan

    def monitor_states(self) -> dict[str, str | None]:
        """The merged state of every monitor now."""
        return self.car.monitor_states()

    @property
    def target_reached(self) -> bool:
        """Whether every monitor of the target is complete, and nothing else stands against it, for certain."""
        return self.standing().reached

    def standing(self) -> Standing:
        """What stands between this drive and its target now."""
        states, another = self.monitor_states(), "another_car" in self.stop.told
        target = self.target_monitors(states)
        return standing(self.car, target, states, self.wanted.rule, another, may_be_empty=self.clean.chosen)

    def _judge_target(self, t: float, out: list[Happening]) -> None:
        self.target.seen = self.car.conclude()
        told = self.target.judge(t, self.standing())
        if told is not None:
            out.append(told)

    def judge_cycle(self, out: list[Happening]) -> None:
        """Tell it, once, when all is driven that a cycle without the fault asks for; no silence waits for a witness."""
        if self.car.cycle.tell_t is not None:
            return
        told = self.clean.tell(self.now, self.clean_now())
        if told is not None:
            out.append(told)

    def clean_now(self) -> CleanNow:
        """This driving cycle as one without the fault."""
        return self.clean.now(self.car, self.wanted, self.ladders)

    def target_monitors(self, states: Mapping[str, str | None]) -> tuple[str, ...]:
        """The monitors this drive is for, as `Wanted.monitors` has them; of the codes, where it is to put them out."""
        if self.clean.chosen:
            own = {self.wanted.of_code(code) for code in self.clean.codes}
            return tuple(m for m in states if m in own and states[m] != "unsupported")
        return self.wanted.monitors(states, self.ladders)

    def _parts(self) -> Parts:
        built, car, trackers, ladders = self.built, self.car, self.trackers, self.ladders
        return Parts(built, car, trackers, ladders, self.stop, self.patience, self.wanted, self.clean)

    def plan(self) -> Plan:
        """The plan as things stand now."""
        return make_plan(self._parts().situation(self.now))

    def _replan(self, cause: Happening, out: list[Happening]) -> None:
        self._tell_plan(cause.t, CAUSES[type(cause)], out)

    def _tell_plan(self, t: float, cause: str, out: list[Happening]) -> None:
        basis = self._parts().basis()
        if basis == self._planned_for:
            return
        self._planned_for = basis
        plan = self.plan()
        if self.planned is not None and set(plan.phases) == set(self.planned):
            return
        before = self.planned_s if self.planned is not None else None
        self.planned, self.planned_s = plan.phases, round(plan.driving_s, 3)
        out.append(PlanChanged(t, plan.phases, self.planned_s, before, cause))


REACTIONS = {
    CycleBegan: Core._on_cycle,
    CycleUncertain: Core._judge_all,
    EngineStarted: Core._judge_all,
    EngineRestarted: Core._judge_all,
    PhaseDriven: Core._on_driven,
    MonitorChanged: Core._on_monitor,
    CycleMonitorChanged: climb.cycle_monitor_changed,
    CodesCleared: Core._on_cleared,
    MilChanged: Core._on_finding,
    CodeAppeared: Core._on_finding,
    CodeVanished: Core._on_finding,
    FindingDoubted: Core._on_finding,
    FindingSettled: Core._on_finding,
}
"""What follows from which happening."""


def make_core(profile: Profile, can: bool | None = None) -> Core:
    """A core at the beginning of a drive. `can`: whether the car speaks on CAN, none when unknown."""
    trackers = build_trackers(profile)
    stop = StopWatch(profile.stop_coaching.coolant_hot.value, profile.stop_coaching.voltage_run_low.value)
    car = Car(can=can)
    car.accelerator.prefer(profile.signals.accelerator_closed.first)
    steady = {signal: rank for rank, signal in enumerate(profile.signals.throttle_steady.first)}
    core = Core(build(profile, trackers), car, trackers, ladders_for(build_needs(profile)), stop)
    core.foot.ranks = steady
    return core
