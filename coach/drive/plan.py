"""The plan: which phases are still needed for the target, in which order, what cannot be done today and why.

It reads the state of the drive and changes nothing. Exact, by `coach.drive.route`, over every choice the ladders leave.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from coach.drive.gates import Failed
from coach.drive.ladder import Ladder
from coach.drive.manoeuvres import Parked
from coach.drive.route import Leg, Route, best_route
from coach.drive.trackers import Holding, Tracker
from coach.drive.warming import WarmUp


@dataclass(frozen=True, slots=True)
class PhaseFacts:
    """What the planner needs of a phase beside its tracker; from the profile. Seconds, km/h."""

    phase: str
    expected_s: float
    regime: str
    after: tuple[str, ...]
    lowest_kmh: float | None
    shared_with: tuple[str, ...] = ()
    run_time_max_s: float | None = None


@dataclass(frozen=True, slots=True)
class PlannedPhase:
    """One phase to drive, its expected driving time and the monitors it is driven for. Seconds."""

    phase: str
    expected_s: float
    monitors: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NotToday:
    """A monitor that cannot be completed on this drive. `failed` names the conditions, `phases` what they stop.

    `reason` is code, off_this_cycle, gate, stays_cold, skipped, given_up, above_speed_limit, spent, ran, key_off,
    no_known_phase or no_order.
    """

    monitor: str
    reason: str
    phases: tuple[str, ...]
    failed: tuple[Failed, ...] = ()


@dataclass(frozen=True, slots=True)
class Plan:
    """`drive` in order; `park` after the drive; `waiting` monitors whose phases are driven and may still confirm.

    `complete` and `unknown` are the target's monitors that are done, and those of which the car has not said.
    """

    drive: tuple[PlannedPhase, ...]
    park: tuple[PlannedPhase, ...]
    not_today: tuple[NotToday, ...]
    waiting: tuple[str, ...]
    complete: tuple[str, ...]
    unknown: tuple[str, ...]

    @property
    def driving_s(self) -> float:
        """Expected driving time in seconds."""
        return sum(phase.expected_s for phase in self.drive)

    @property
    def phases(self) -> tuple[str, ...]:
        """Ids in order of what is to be driven."""
        return tuple(phase.phase for phase in self.drive)


@dataclass(frozen=True, slots=True)
class Situation:
    """Everything the plan depends on, gathered by the core. `here` is the kind of driving now, none when unknown.

    `first`: monitors whose phases come as early as they can without more driving: they confirm the repair. Phases with
    a deadline come as early, since a broken hold then has time to be held again. `off`: those
    the car has switched off for this driving cycle; `perhaps_off`: it says so and is not believed, so they come last.
    """

    trackers: Mapping[str, Tracker]
    facts: Mapping[str, PhaseFacts]
    ladders: Mapping[str, Ladder]
    depends: Mapping[str, tuple[str, ...]]
    states: Mapping[str, str | None]
    target: tuple[str, ...]
    skipped: frozenset[str]
    given_up: frozenset[str]
    faulty: frozenset[str]
    speed_max_kmh: float | None
    run_time_s: float | None
    here: str | None
    first: frozenset[str] = frozenset()
    off: frozenset[str] = frozenset()
    perhaps_off: frozenset[str] = frozenset()


HERE = ((2.0, "standing"), (60.0, "town"), (80.0, "road"), (float("inf"), "highway"))  # our judgement, after the bands


def regime_at(kmh: float | None) -> str | None:
    """The kind of driving at this speed, none when the speed is unknown."""
    return None if kmh is None else next(kind for limit, kind in HERE if kmh <= limit)


def make_plan(situation: Situation) -> Plan:
    """Plan the rest of the drive. `faulty` monitors have a code of their own that came up on this drive."""
    wanted, complete, unknown = _wanted(situation)
    not_today: list[NotToday] = []
    waiting: list[str] = []
    choices: dict[str, tuple[str, ...]] = {}
    for monitor in _with_prerequisites(situation, wanted, choices, waiting):
        ladder = situation.ladders.get(monitor)
        if ladder is None or not ladder.need.rungs:
            not_today.append(NotToday(monitor, "no_known_phase", ()))
        elif _rests_on_a_fault(situation, monitor):
            not_today.append(NotToday(monitor, "code", ()))
        elif ladder.ran:
            not_today.append(NotToday(monitor, "ran", ()))
        elif monitor in situation.off:
            not_today.append(NotToday(monitor, "off_this_cycle", ladder.need.rungs[ladder.rung]))
        elif ladder.key_off:
            not_today.append(NotToday(monitor, "key_off", ladder.need.rungs[ladder.rung]))
        elif ladder.spent:
            not_today.append(NotToday(monitor, "spent", ladder.need.rungs[-1]))
        elif ladder.wait_until_t is not None:
            waiting.append(monitor)
        else:
            feasible = [choice for choice in ladder.choices() if _hindrance(situation, monitor, choice) is None]
            if feasible:
                # the ladder's order: a later rung only where an earlier one cannot be driven
                choices[monitor] = feasible[0]
            else:
                hindered = [_hindrance(situation, monitor, choice) for choice in ladder.choices()]
                not_today.append(next(found for found in hindered if found is not None))
    route, why = _cheapest(situation, choices, not_today)
    drive = tuple(
        PlannedPhase(phase, round(cost, 3), _for_whom(phase, why))
        for phase, cost in zip(route.phases, route.leg_s, strict=True)
    )
    park = tuple(
        PlannedPhase(phase, tracker.remaining_s() or 0.0, _for_whom(phase, why))
        for phase, tracker in situation.trackers.items()
        if isinstance(tracker, Parked) and _for_whom(phase, why)
    )
    return Plan(drive, park, tuple(not_today), tuple(waiting), tuple(complete), tuple(unknown))


def _wanted(situation: Situation) -> tuple[list[str], list[str], list[str]]:
    """Monitors of the target to drive for; those complete; those unknown."""
    wanted: list[str] = []
    complete: list[str] = []
    unknown: list[str] = []
    for monitor in situation.target:
        state = situation.states.get(monitor)
        if state == "complete":
            complete.append(monitor)
        elif state != "unsupported":
            wanted.append(monitor)
            if state is None:
                unknown.append(monitor)
    return wanted, complete, unknown


def _rests_on_a_fault(situation: Situation, monitor: str) -> bool:
    """Whether a code came up for the monitor, or for one it waits for, however far back."""
    waits = (m for m in situation.depends.get(monitor, ()) if situation.states.get(m) != "complete")
    return monitor in situation.faulty or any(_rests_on_a_fault(situation, before) for before in waits)


def _with_prerequisites(
    situation: Situation, wanted: list[str], choices: Mapping[str, tuple[str, ...]], waiting: list[str]
) -> Iterator[str]:
    """The wanted monitors, then what those of them wait for that can be driven today."""
    yield from wanted
    for monitor in (*choices, *waiting):
        for before in situation.depends.get(monitor, ()):
            if before not in wanted and situation.states.get(before) == "incomplete" and before in situation.ladders:
                yield before


def _hindrance(situation: Situation, monitor: str, choice: tuple[str, ...]) -> NotToday | None:
    """Why this choice cannot be driven today; none when it can."""
    closed = [phase for phase in choice if not situation.trackers[phase].gate.today]
    if closed:
        failed = tuple(
            failed for phase in closed for failed in situation.trackers[phase].gate.failed if not failed.later
        )
        return NotToday(monitor, "gate", tuple(closed), _once(failed))
    needed = (*choice, *sorted(_warm_up_for(situation, set(choice)).difference(choice)))
    stalled = {phase for phase, t in situation.trackers.items() if isinstance(t, WarmUp) and t.stalled_c is not None}
    for reason, aside in (
        ("stays_cold", stalled),
        ("given_up", situation.given_up),
        ("skipped", situation.skipped),
    ):
        phases = tuple(phase for phase in needed if phase in aside)
        if phases:
            return NotToday(monitor, reason, phases)
    limit = situation.speed_max_kmh
    if limit is not None:
        fast = tuple(phase for phase in choice if (situation.facts[phase].lowest_kmh or 0.0) > limit)
        if fast:
            return NotToday(monitor, "above_speed_limit", fast)
    return None


def _once(failed: tuple[Failed, ...]) -> tuple[Failed, ...]:
    return tuple({found.gate: found for found in failed}.values())


def _cheapest(
    situation: Situation, chosen: dict[str, tuple[str, ...]], not_today: list[NotToday]
) -> tuple[Route, dict[str, tuple[str, ...]]]:
    """The least driving time over all orders; what no order can serve is left for another day.

    A deadline is missed only when it cannot be kept with nothing lost to traffic, which expected times allow for.
    """
    while True:
        for perhaps_last, unhindered in ((True, False), (True, True), (False, False), (False, True)):
            legs = _legs(situation, chosen, unhindered)
            route = best_route(_perhaps_last(situation, chosen, legs) if perhaps_last else legs, situation.here)
            if route is not None:
                return _as_expected(situation, route) if unhindered else route, chosen
        late = _most_urgent(situation, chosen)
        not_today.append(NotToday(late, "no_order", chosen.pop(late)))


def _as_expected(situation: Situation, route: Route) -> Route:
    """An order that only fits unhindered, told with the time that each leg is expected to take."""
    lost = [
        _drive_s(situation.trackers[phase], situation.facts[phase], False)
        - _drive_s(situation.trackers[phase], situation.facts[phase], True)
        for phase in route.phases
    ]
    return replace(route, leg_s=tuple(leg + more for leg, more in zip(route.leg_s, lost, strict=True)))


def _perhaps_last(situation: Situation, chosen: Mapping[str, tuple[str, ...]], legs: list[Leg]) -> list[Leg]:
    """What only monitors want that may be switched off comes after all the rest."""
    whom = {leg.phase: _for_whom(leg.phase, chosen) for leg in legs}
    late = {phase for phase, monitors in whom.items() if monitors and situation.perhaps_off.issuperset(monitors)}
    rest = frozenset(leg.phase for leg in legs if leg.phase not in late)
    needed = frozenset[str]().union(*(leg.after for leg in legs if leg.phase in rest))
    return [replace(leg, after=leg.after | rest) if leg.phase in late - needed else leg for leg in legs]


def _most_urgent(situation: Situation, chosen: Mapping[str, tuple[str, ...]]) -> str:
    """When nothing fits, the monitor whose phases have the nearest deadline is the one that cannot be kept."""

    def deadline(monitor: str) -> float:
        limits = [situation.facts[phase].run_time_max_s for phase in chosen[monitor]]
        return min((limit for limit in limits if limit is not None), default=float("inf"))

    return min(chosen, key=deadline)


def _drive_s(tracker: Tracker, facts: PhaseFacts, unhindered: bool) -> float:
    """Seconds a phase still takes; `unhindered`: a hold that is never broken."""
    left_s = facts.expected_s * (tracker.left() if tracker.driven_t is None else 1.0)
    if unhindered and isinstance(tracker, Holding) and tracker.driven_t is None:
        return min(left_s, tracker.remaining_s())
    return left_s


def _legs(situation: Situation, chosen: Mapping[str, tuple[str, ...]], unhindered: bool = False) -> list[Leg]:
    wanted = {phase for choice in chosen.values() for phase in choice}
    wanted |= _warm_up_for(situation, wanted)
    legs = []
    for phase, facts in situation.facts.items():
        tracker = situation.trackers[phase]
        if phase not in wanted or isinstance(tracker, Parked):
            continue
        finish_by = None
        if facts.run_time_max_s is not None:  # before the start all of it lies ahead
            finish_by = facts.run_time_max_s - (situation.run_time_s or 0.0)
        legs.append(
            Leg(
                phase,
                _drive_s(tracker, facts, unhindered),
                facts.regime,
                _before(situation.facts, phase),
                finish_by,
                frozenset(facts.shared_with),
                finish_by is not None or not situation.first.isdisjoint(_for_whom(phase, chosen)),
            )
        )
    return legs


def _before(facts: Mapping[str, PhaseFacts], phase: str) -> frozenset[str]:
    """What comes before a phase, however far back: a cold start stays first where the warm-up between is not needed."""
    direct = facts[phase].after
    return frozenset(direct).union(*(_before(facts, earlier) for earlier in direct if earlier in facts))


def _warm_up_for(situation: Situation, wanted: set[str]) -> set[str]:
    """Phases of the "after" chain that have not been driven and whose gate the wanted phases wait for: the warm-up."""
    waits = any(failed.gate == "coolant_min_c" for phase in wanted for failed in situation.trackers[phase].gate.failed)
    return {
        phase
        for phase, tracker in situation.trackers.items()
        if waits and tracker.driven_t is None and "coolant_c" in tracker.signals
    }


def _for_whom(phase: str, chosen: Mapping[str, tuple[str, ...]]) -> tuple[str, ...]:
    return tuple(monitor for monitor, phases in chosen.items() if phase in phases)
