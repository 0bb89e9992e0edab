"""The review of a recording as data: one documented shape. `schema` and `version` first, seconds, units in key names.

Unknown is null: never absent, never zero.
"""

from typing import Any

from msgspec import to_builtins

from coach import __version__
from coach.car.happenings import CycleBegan, GeneralDenominatorMet, WarmUpCycleCompleted
from coach.drive.core import Core
from coach.drive.obstacles import obstacles
from coach.drive.plan import Plan
from coach.drive.trackers import Holding, Tracker
from coach.inspection.next_step import steps_of
from coach.session.review import Reviewed
from coach.words.names import GATE_UNITS, MONITOR_NAMES
from coach.words.next_step import steps_data
from coach.words.phases import driven_times, held_in_all_s
from coach.words.standing import open_beside

SCHEMA = "coach.review"
SCHEMA_VERSION = 3


def document(reviewed: Reviewed) -> dict[str, Any]:
    """The review as data."""
    core = reviewed.core
    states, cycle = core.monitor_states(), core.car.cycle_states()
    found: dict[str, Any] = rounded(
        {
            "schema": SCHEMA,
            "version": SCHEMA_VERSION,
            "program": __version__,
            "source": reviewed.header.source,
            "began": reviewed.header.began,
            "duration_s": reviewed.end_t,
            "profile": reviewed.profile.id,
            "profile_assumed": reviewed.profile_assumed,
            "recording": _recording(reviewed),
            "verdict": core.car.conclude().standing,
            "concluded": to_builtins(core.car.conclude()),
            "monitors": {monitor: states[monitor] for monitor in MONITOR_NAMES},
            "monitors_this_cycle": {monitor: cycle[monitor] for monitor in MONITOR_NAMES},
            "mil_on": core.car.mil_on(),
            "codes": {kind: _codes(core, kind) for kind in ("stored", "pending", "permanent")},
            "driving_cycle": _cycle(core),
            "general_denominator": denominator(core),
            "phases": {phase: _phase(core.trackers[phase]) for phase in core.trackers},
            "all_driving_cycles": _all_cycles(reviewed),
            "plan": _plan(core.plan()),
            "target": target_data(core),
            "next_steps": steps_data(steps_of(core.car, core.wanted.repaired_codes)),
            "obstacles": {
                monitor: [{**to_builtins(one), "unit": GATE_UNITS.get(one.detail or "")} for one in causes]
                for monitor, causes in obstacles(core).items()
            },
            "happenings": [to_builtins(happening) for happening in reviewed.happenings],
        }
    )
    return found


def rounded(value: Any) -> Any:
    """The same with every number to the thousandth: what is measured is no finer."""
    if isinstance(value, float):
        return round(value, 3)
    if isinstance(value, dict):
        return {key: rounded(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [rounded(inner) for inner in value]
    return value


def _recording(reviewed: Reviewed) -> dict[str, Any]:
    core, report = reviewed.core, reviewed.report
    return {
        "arrivals": reviewed.arrivals,
        "cut_short": report.cut_short,
        "torn_last_line": report.torn_last_line,
        "truncated_gzip": report.truncated_gzip,
        "bad_lines": report.bad_count,
        "unknown_records": report.unknown_records,
        "context_mistakes": list(report.context_mistakes),
        "out_of_order": core.out_of_order,
        "silent_s": core.car.lost_total_s,
        "unusable_answers": dict(sorted(core.car.unusable.items())),
    }


def _codes(core: Core, kind: str) -> dict[str, Any]:
    certain = core.car.codes(kind)
    said = core.car.conclude().codes[kind].said
    return {"certain": list(certain) if certain is not None else None, "said": list(said)}


def _cycle(core: Core) -> dict[str, Any]:
    cycle = core.car.cycle
    start = cycle.start
    return {
        "number": cycle.number,
        "engine_start_seen": start.seen if start is not None else None,
        "start_coolant_c": start.coolant_c if start is not None else None,
        "start_intake_c": start.intake_c if start is not None else None,
        "coolant_c": core.car.values.get("coolant_c"),
        "warm_up_cycle": warm_up(core),
        "warm_up_t": cycle.warm_up_t,
        "uncertain_since_t": cycle.uncertain_since_t,
    }


def warm_up(core: Core) -> bool | None:
    """True when seen; false when the start and the coolant are known and it was not reached; else unknown."""
    cycle = core.car.cycle
    if cycle.warm_up_t is not None:
        return True
    known = cycle.start is not None and cycle.start.seen and cycle.start.coolant_c is not None
    return False if known and not cycle.unproved else None


def denominator(core: Core) -> dict[str, Any]:
    """The general denominator with its parts; every part is null when nothing could be timed."""
    found = core.car.denominator
    met = True if found.met_t is not None else (False if found.missed() and not core.car.cycle.unproved else None)
    timed = found.timed_s > 0
    parts = {
        "running_s": found.running_s,
        "at_25_mph_or_more_s": found.fast_s,
        "longest_idle_s": found.longest_idle_s,
        "longest_standing_s": found.longest_standing_s,
        "too_cold_s": found.too_cold_s,
        "too_high_s": found.too_high_s,
        "distance_km": found.distance_km,
        "top_speed_kmh": found.top_kmh,
    }
    return {
        "met": met,
        "met_t": found.met_t,
        **{name: value if timed else None for name, value in parts.items()},
        "unseen_s": found.unseen_s,
        "engine_assumed_running": found.engine_assumed if timed else None,
        "unwatched": list(core.car.unwatched_weather()),
    }


def _all_cycles(reviewed: Reviewed) -> dict[str, Any]:
    """What happened over the whole recording; what stands beside it is of the driving cycle at its end alone."""
    driven, held_s = driven_times(reviewed.happenings), held_in_all_s(reviewed)
    return {
        "count": 1 + sum(isinstance(h, CycleBegan) for h in reviewed.happenings),
        "warm_up_cycle_t": [h.t for h in reviewed.happenings if isinstance(h, WarmUpCycleCompleted)],
        "general_denominator_met_t": [h.t for h in reviewed.happenings if isinstance(h, GeneralDenominatorMet)],
        "phases": {phase: {"driven_t": driven.get(phase), "held_s": seconds} for phase, seconds in held_s.items()},
    }


def _phase(tracker: Tracker) -> dict[str, Any]:
    hold = tracker.hold if isinstance(tracker, Holding) else None
    return {
        "driven": tracker.driven_t is not None,
        "driven_t": tracker.driven_t,
        "times": tracker.times,
        "left_share": tracker.left(),
        "remaining_s": tracker.remaining_s(),
        "held_s": hold.held_s if hold is not None else None,
        "longest_s": hold.longest_s if hold is not None else None,
        "breaks": hold.breaks if hold is not None else None,
        "break_reasons": dict(hold.reasons) if hold is not None else None,
        "untimable": hold.untimable if hold is not None else None,
        "repeats": [repeat._asdict() for repeat in tracker.repeats()],
        "gate": "open" if tracker.gate.open else ("later" if tracker.gate.today else "not_today"),
        "gate_failed": [_failed(failed) for failed in tracker.gate.failed],
        "unwatched": list(tracker.gate.unwatched),
    }


def _failed(failed: Any) -> dict[str, Any]:
    return {
        "gate": failed.gate,
        "unit": GATE_UNITS.get(failed.gate),
        "value": failed.value,
        "low": failed.low,
        "high": failed.high,
    }


def target_data(core: Core) -> dict[str, Any]:
    """What the drive was for, whether that is reached, and what stands against it."""
    now, rule = core.standing(), core.wanted.rule
    return {
        "monitors": list(now.monitors),
        "clean_cycles": core.clean.chosen,
        "rule": rule.id if rule is not None else None,
        "reached": now.reached,
        "against": [{"id": bar.id, "codes": list(bar.codes)} for bar in now.bars],
        "left_open": list(open_beside(core)),
    }


def _plan(plan: Plan) -> dict[str, Any]:
    return {
        "driving_s": plan.driving_s,
        "drive": [
            {"phase": planned.phase, "expected_s": planned.expected_s, "for": list(planned.monitors)}
            for planned in plan.drive
        ],
        "park": [
            {"phase": planned.phase, "expected_s": planned.expected_s, "for": list(planned.monitors)}
            for planned in plan.park
        ],
        "not_today": [
            {
                "monitor": found.monitor,
                "reason": found.reason,
                "phases": list(found.phases),
                "failed": [_failed(failed) for failed in found.failed],
            }
            for found in plan.not_today
        ],
        "waiting": list(plan.waiting),
        "complete": list(plan.complete),
        "unknown": list(plan.unknown),
    }
