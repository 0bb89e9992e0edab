"""Makes the trackers, gates and ladders of a drive from a profile: the one place that knows both."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from coach.drive.gate_watch import GateListeners
from coach.drive.gates import Gate, Rule, make_gate, make_rule
from coach.drive.hold import Hold
from coach.drive.ladder import Need
from coach.drive.limits import (
    CruiseLimits,
    DecelerationLimits,
    IdleLimits,
    LoadStepLimits,
    TownLimits,
    WarmUpLimits,
)
from coach.drive.manoeuvres import LoadStep, Parked, StopAndGo
from coach.drive.parts import PartClock, make_part
from coach.drive.plan import PhaseFacts
from coach.drive.profile import Profile
from coach.drive.rolling import Deceleration
from coach.drive.schema import IdleHold, ParkedHold, Part, Phase, Windows
from coach.drive.trackers import Cruise, Idle, Tracker
from coach.drive.warming import WarmUp

NO_END_S = 1e12  # a hold that is ended by other counts than its own


@dataclass(frozen=True, slots=True)
class Built:
    """What a drive needs of its profile, ready to use. Seconds."""

    profile: Profile
    phases: dict[str, PhaseFacts]
    depends: dict[str, tuple[str, ...]]
    listeners: dict[str, tuple[str, ...]]
    gate_listeners: dict[str, GateListeners]
    wait_s: float
    repeats_max: int
    bridge_s: float
    slow_bridge_s: float


# profile key, gate id of the core, whether the value is the lowest or the highest allowed
_GATES: tuple[tuple[str, str, str], ...] = (
    ("soak_min", "soak_min_s", "low"),
    ("coolant_start", "coolant_start_c", "both"),
    ("coolant_over_intake_max", "coolant_over_intake_max_c", "high"),
    ("intake_over_coolant_max", "intake_over_coolant_max_c", "high"),
    ("fuel", "fuel_pct", "both"),
    ("ambient", "ambient_c", "both"),
    ("ambient_min", "ambient_min_c", "low"),
    ("ambient_change_max", "ambient_change_max_c", "high"),
    ("coolant_min", "coolant_min_c", "low"),
    ("run_time_min", "run_time_min_s", "low"),
    ("run_time_max", "run_time_max_s", "high"),
    ("closed_loop", "closed_loop", "true"),
    ("intake_min", "intake_min_c", "low"),
    ("refuelled_max", "refuelled_max_pct", "high"),
    ("throttle_open_before", "throttle_open_before_s", "low"),
    ("pto_off", "pto_off", "zero"),
    ("driven_min", "driven_min_s", "low"),
    ("purged", "purged", "low"),
    ("baro_min", "baro_min_kpa", "low"),
    ("voltage_min", "voltage_min_v", "low"),
)


def _rules(gates: Windows, orders: Mapping[str, tuple[str, ...]]) -> Iterator[Rule]:
    for key, gate, sense in _GATES:
        given: Any = getattr(gates, key)
        if given is None:
            continue
        low = {"low": "value", "both": "low"}.get(sense)
        high = {"high": "value", "both": "high"}.get(sense)
        if sense == "true":
            yield make_rule(gate, 1.0, None, orders)
        elif sense == "zero":
            yield make_rule(gate, None, 0.0, orders)
        else:
            limits = (getattr(given, low) if low else None, getattr(given, high) if high else None)
            yield make_rule(gate, *limits, orders)


def build_gate(profile: Profile, phase: str, form: Phase) -> Gate:
    """The gate of one phase: its own conditions, those common to all phases, and what its kind asks.

    The idle of a cold start ends with the first metre driven.
    """
    orders = profile.signals.orders()
    own = list(_rules(form.gates, orders))
    if isinstance(form.hold, IdleHold) and form.hold.cold_start:
        own.insert(0, make_rule("not_driven_off", None, 0.0, orders))
    common = () if isinstance(form.hold, ParkedHold) else _rules(profile.gates, orders)
    known = {rule.id for rule in own}
    own += [rule for rule in common if rule.id not in known]
    quiet = isinstance(form.hold, ParkedHold)
    better = [*_rules(form.better, orders), *(() if quiet else _rules(profile.better, orders))]
    return make_gate(phase, tuple(own), (*form.gates.advice, *profile.gates.advice), quiet, tuple(better))


def _hold(profile: Profile, phase: str, duration_s: float, continuous: bool, bridge_s: float) -> Hold:
    timing = profile.timing
    return Hold(phase, duration_s, continuous, timing.settle.value, timing.short_break.value, bridge_s)


def _parts(profile: Profile, forms: Mapping[str, Part]) -> tuple[PartClock, ...]:
    orders = {**profile.signals.orders(), "speed": ("speed_kmh",)}
    return tuple(
        make_part(name, form.watch, orders[form.watch], form.temperature or form.torque, form)
        for name, form in forms.items()
    )


def _idle(profile: Profile, phase: str, form: Any, gate: Gate) -> Tracker:
    clock = _hold(profile, phase, form.duration.value, True, profile.bridge.idle.value)
    limits = IdleLimits(form.speed_max.value, True, form.cold_start)
    return Idle(phase, gate, hold=clock, limits=limits, parts=_parts(profile, form.part))


def _warm_up(_profile: Profile, phase: str, form: Any, gate: Gate) -> Tracker:
    limits = WarmUpLimits(form.until_coolant.value, form.longest.value, form.fault_below.value)
    return WarmUp(phase, gate, limits=limits)


def _cruise(profile: Profile, phase: str, form: Any, gate: Gate) -> Tracker:
    clock = _hold(profile, phase, form.duration.value, form.count == "continuous", profile.bridge.cruise.value)
    leave, rpm, rpm_leave = form.speed_leave.value, form.rpm, form.rpm_leave.value if form.rpm_leave else 0.0
    limits = CruiseLimits(
        form.speed.low,
        form.speed.high,
        form.speed.low - leave,
        form.speed.high + leave,
        form.foot.value if form.foot else None,
        (form.foot_leave or form.foot).value if form.foot else None,
        profile.signals.throttle_steady.first,
        rpm.low if rpm else None,
        rpm.high if rpm else None,
        rpm.low - rpm_leave if rpm else None,
        rpm.high + rpm_leave if rpm else None,
        form.engine_on is not None,
    )
    return Cruise(phase, gate, hold=clock, limits=limits, parts=_parts(profile, form.part))


def _stop_and_go(profile: Profile, phase: str, form: Any, gate: Gate) -> Tracker:
    clock = _hold(profile, phase, NO_END_S, False, profile.bridge.cruise.value)
    limits = TownLimits(
        form.duration.value,
        form.speed.low,
        form.speed.high,
        form.steady_within.value,
        form.steady_stretch.value,
        form.steady_count.value,
        form.idle_stop.value,
        form.idle_count.value,
    )
    return StopAndGo(phase, gate, hold=clock, limits=limits)


def _deceleration(profile: Profile, phase: str, form: Any, gate: Gate) -> Tracker:
    limits = DecelerationLimits(
        form.start.value,
        form.end.value,
        form.shortest.value,
        form.speed_min.value,
        form.repeats.value,
        profile.bridge.deceleration.value,
    )
    return Deceleration(phase, gate, limits=limits)


def _load_step(profile: Profile, phase: str, form: Any, gate: Gate) -> Tracker:
    limits = LoadStepLimits(
        form.idle_before.value,
        form.accelerator.low,
        form.accelerator.high,
        form.end.value,
        form.cruise.value,
        form.cruise_within.value,
        form.repeats.value,
        profile.bridge.idle.value,
    )
    return LoadStep(phase, gate, limits=limits)


def _parked(_profile: Profile, phase: str, form: Any, gate: Gate) -> Tracker:
    return Parked(phase, gate, duration_s=form.duration.value)


MAKERS: dict[str, Callable[[Profile, str, Any, Gate], Tracker]] = {
    "idle": _idle,
    "warm_up": _warm_up,
    "cruise": _cruise,
    "stop_and_go": _stop_and_go,
    "deceleration": _deceleration,
    "load_step": _load_step,
    "parked": _parked,
}
"""The tracker of each kind of phase."""


def build_trackers(profile: Profile) -> dict[str, Tracker]:
    """A fresh tracker for each phase, in the profile's order."""
    return {
        phase: MAKERS[form.hold.kind](profile, phase, form.hold, build_gate(profile, phase, form))
        for phase, form in profile.phase.items()
    }


def _facts(profile: Profile, phase: str, form: Phase) -> PhaseFacts:
    hold: Any = form.hold
    lowest = {"cruise": "speed", "stop_and_go": "speed"}.get(hold.kind)
    lowest_kmh = getattr(hold, lowest).low if lowest else None
    if hold.kind == "deceleration":
        lowest_kmh = hold.start.value
    shared = tuple(other for pair in profile.overlap if phase in pair for other in pair if other != phase)
    latest = form.gates.run_time_max.value if form.gates.run_time_max else None
    return PhaseFacts(phase, form.expected.value, form.regime, form.after, lowest_kmh, shared, latest)


def _gate_listeners(signal: str, trackers: Mapping[str, Tracker]) -> GateListeners:
    rules = [rule for tracker in trackers.values() for rule in tracker.gate.rules if signal in rule.signals]
    limits = {limit for rule in rules for limit in (rule.low, rule.high) if limit is not None}
    phases = tuple(phase for phase, tracker in trackers.items() if signal in tracker.gate.signals)
    return GateListeners(phases, tuple(sorted(limits)))


def build(profile: Profile, trackers: dict[str, Tracker]) -> Built:
    """Everything the core looks up while it runs."""
    listeners: dict[str, list[str]] = {}
    for phase, tracker in trackers.items():
        for signal in tracker.signals:
            listeners.setdefault(signal, []).append(phase)
    gated = {signal for tracker in trackers.values() for signal in tracker.gate.signals}
    return Built(
        profile,
        {phase: _facts(profile, phase, form) for phase, form in profile.phase.items()},
        {monitor: depend.after for monitor, depend in profile.depends.items()},
        {signal: tuple(phases) for signal, phases in listeners.items()},
        {signal: _gate_listeners(signal, trackers) for signal in gated},
        profile.after_hold.wait.value,
        profile.after_hold.repeats.value,
        profile.bridge.cruise.value,
        profile.bridge.temperature.value,
    )


def build_needs(profile: Profile) -> dict[str, Need]:
    """The ladder of every monitor."""
    return {monitor: Need(monitor, need.rungs, need.any_order, need.helps) for monitor, need in profile.needs.items()}
