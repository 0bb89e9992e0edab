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
    CodesCleared,
    CycleBegan,
    CycleUncertain,
    EngineRestarted,
    EngineStarted,
    Happening,
    MonitorChanged,
    TimeResumed,
)
from coach.car.known import known_from
from coach.drive.build import Built, build, build_needs, build_trackers
from coach.drive.causes import CAUSES
from coach.drive.facts import Facts
from coach.drive.foot import Foot
from coach.drive.gate_watch import GateWatch
from coach.drive.gates import NEVER
from coach.drive.happenings import (
    PhaseDriven,
    PhaseGivenUp,
    PhaseSkipped,
    PlanChanged,
)
from coach.drive.ladder import Ladder, ladders_for
from coach.drive.late import Late
from coach.drive.patience import Patience, may_come_about
from coach.drive.plan import Plan, make_plan
from coach.drive.profile import Profile
from coach.drive.situation import Parts
from coach.drive.stop import StopWatch
from coach.drive.target import Target
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
            _gate_watch=self._gate_watch.copy(),
        )

    def learn(self, known: Mapping[str, Any]) -> None:
        """What the job knew before the drive: soak_s, soak_proof, fuel_before_pct, `repaired`, the monitor of each
        repaired code, which is driven for first, and `car`, what is known of it. Other keys are left alone."""
        if "car" in known:
            self.car.remember(known_from(known["car"]))
        self.facts.learn(known)
        self.wanted.learn(known)
        self.stop.repaired = self.wanted.repaired_codes

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
        if self.target.open:
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
                self._waited(ladder, due)
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
            if signal in gates and self._gate_watch.is_due(gates[signal], signal, values[signal], self.now):
                for phase in gates[signal].phases:
                    self.trackers[phase].gate.judge(self.car, self.facts, out)
            if signal in foot.ranks:
                foot.update(signal, values[signal], self.now)
            elif signal in SPECIAL:
                SPECIAL[signal](self, values[signal], out)
            for phase in listeners.get(signal, ()):
                self.trackers[phase].update(signal, self.car, foot, out)

    def _on_speed(self, kmh: float, out: list[Happening]) -> None:
        bridge_s = self.built.bridge_s
        self.facts.on_speed(self.now, self.car.accelerator.released(self.now), bridge_s)
        phase = self.planned[0] if self.planned else None
        asked = self.built.phases[phase] if phase is not None else None
        if asked is not None and not may_come_about(asked.regime, kmh, self.car.cycle.running):
            asked = None
        expected_s = asked.expected_s if asked is not None else 0.0
        if self.patience.asked(self.now, phase if asked is not None else None, expected_s, bridge_s) and phase:
            out.append(PhaseGivenUp(self.now, phase, round(self.patience.asked_s[phase], 3)))

    def _on_coolant(self, coolant_c: float, out: list[Happening]) -> None:
        self.stop.coolant(self.now, coolant_c, out)

    def _on_voltage(self, volts: float, out: list[Happening]) -> None:
        self.stop.voltage(self.car, volts, out)

    def _on_purge(self, purge_pct: float, _out: list[Happening]) -> None:
        self.facts.on_purge(self.now, purge_pct, self.built.slow_bridge_s)

    # ------------------------------------------------------------ what follows from what happened

    def _react(self, out: list[Happening]) -> None:
        """Happenings that follow from the ones in `out`; they are appended and looked at in turn."""
        cause: Happening | None = None
        for happening in out:  # grows while it is walked
            kind = type(happening)
            reaction = REACTIONS.get(kind)
            if reaction is not None:
                reaction(self, happening, out)
            if kind in CAUSES:
                cause = happening
            self.stop.happened(happening, self.car.cycle.running is True, out)
        if not self.stop._ready and self.car.ecus:
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
            ladder.key_off = False
        for tracker in self.trackers.values():
            tracker.new_cycle(happening.t, out)
        self._judge_all(happening, out)

    def _judge_all(self, _why: Happening | Choice, out: list[Happening]) -> None:
        for tracker in self.trackers.values():
            tracker.gate.judge(self.car, self.facts, out)

    def _on_driven(self, happening: Happening, _out: list[Happening]) -> None:
        assert isinstance(happening, PhaseDriven)
        self.patience.progress(happening.phase)
        for monitor, ladder in self.ladders.items():
            if self.car.reported.monitors.get(monitor) in (None, "incomplete"):
                ladder.driven(happening.phase, happening.t, self.built.wait_s)

    def _on_monitor(self, happening: Happening, out: list[Happening]) -> None:
        assert isinstance(happening, MonitorChanged)
        ladder = self.ladders.get(happening.monitor)
        self.bit_moved = self.bit_moved or (happening.before, happening.after) == ("incomplete", "complete")
        if ladder is not None and happening.after == "complete":
            ladder.wait_until_t = None
        elif ladder is not None and ladder.wait_until_t == NEVER:  # driven before anybody could see the bit
            ladder.wait_until_t = happening.t + self.built.wait_s
        self._judge_target(happening.t, out)

    def _on_cleared(self, happening: Happening, out: list[Happening]) -> None:
        for ladder in self.ladders.values():
            ladder.start_over()
        self.patience.start_over()
        for tracker in self.trackers.values():
            tracker.cleared(happening.t, out)
        self._planned_for = None

    def _waited(self, ladder: Ladder, out: list[Happening]) -> None:
        t = ladder.wait_until_t or self.now
        if self.car.reported.monitors.get(ladder.need.monitor) is None:
            ladder.wait_until_t = NEVER  # nothing says whether the car has confirmed
            return
        if not self.bit_moved:
            self._unseen(ladder, t, out)
            return
        for phase in ladder.waited(t, self.built.repeats_max, out):
            self.trackers[phase].again()

    def _unseen(self, ladder: Ladder, t: float, out: list[Happening]) -> None:
        """The car has shown no bit at all on this drive: the rest first, then the key off and on, before any repeat."""
        if self.plan().drive:
            ladder.wait_until_t = t + self.built.wait_s
        else:
            ladder.show_at_key_off(t, out)

    def _choose(self, choice: Choice, out: list[Happening]) -> None:
        made: Mapping[str, Any] = choice.choice
        if not made:
            return
        self.facts.answered(made.get("answer"))
        before = self.wanted.target
        skipped = self.wanted.choose(made, self.trackers)
        if self.wanted.target != before:
            self.target.chosen()
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
        """Whether every monitor of the target is complete, by the car's certain word."""
        return self.target.reached

    def _judge_target(self, t: float, out: list[Happening]) -> None:
        states = self.monitor_states()
        reached = self.target.judge(t, self.target_monitors(states), states)
        if reached is not None:
            out.append(reached)

    def target_monitors(self, states: Mapping[str, str | None]) -> tuple[str, ...]:
        """The monitors this drive is for, as `Wanted.monitors` has them."""
        return self.wanted.monitors(states, self.ladders)

    def _parts(self) -> Parts:
        return Parts(self.built, self.car, self.trackers, self.ladders, self.stop, self.patience, self.wanted)

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


SPECIAL = {
    "speed_kmh": Core._on_speed,
    "coolant_c": Core._on_coolant,
    "module_v": Core._on_voltage,
    "purge_pct": Core._on_purge,
}
"""Signals the core itself listens to."""

REACTIONS = {
    CycleBegan: Core._on_cycle,
    CycleUncertain: Core._judge_all,
    EngineStarted: Core._judge_all,
    EngineRestarted: Core._judge_all,
    PhaseDriven: Core._on_driven,
    MonitorChanged: Core._on_monitor,
    CodesCleared: Core._on_cleared,
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
