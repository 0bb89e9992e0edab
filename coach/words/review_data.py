"""The review of a recording as data: one documented shape. `schema` and `version` first, seconds, units in key names.

Unknown is null: never absent, never zero.
"""

from typing import Any

from msgspec import to_builtins

from coach import __version__
from coach.car.driven import DrivenCycle
from coach.car.happenings import GeneralDenominatorMet, WarmUpCycleCompleted
from coach.drive.core import Core
from coach.drive.obstacles import obstacles
from coach.drive.plan import Plan
from coach.drive.trackers import Holding, Tracker
from coach.inspection.next_step import steps_of
from coach.session.review import Reviewed
from coach.words.cycles import cycle_data, pattern_data
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


def the_cycle(core: Core) -> DrivenCycle:
    """The latest driving cycle in which the engine ran, or may have: a look with the key on is none of its own."""
    return core.car.cycles()[-1]


def warm_up(core: Core) -> bool | None:
    """True when seen; false when it surely was none; else unknown."""
    return the_cycle(core).warm_up


def denominator(core: Core) -> dict[str, Any]:
    """The general denominator of that cycle with its parts."""
    return pattern_data(the_cycle(core), core.car.unwatched_weather())


def _cycle(core: Core) -> dict[str, Any]:
    found = the_cycle(core)
    coolant_c = core.car.values.get("coolant_c")
    return cycle_data(found, coolant_c if found.number == core.car.cycle.number else None)


def _all_cycles(reviewed: Reviewed) -> dict[str, Any]:
    """What happened over the whole recording; what stands beside it is of the driving cycle at its end alone."""
    driven, held_s = driven_times(reviewed.happenings), held_in_all_s(reviewed)
    car, totals = reviewed.core.car, reviewed.core.car.denominator
    cycles = car.cycles()
    return {
        "count": len(cycles),
        "count_at_most": len(cycles) + sum(len(cycle.unproved_t) for cycle in cycles),
        "running_s": totals.whole_running_s,
        "distance_km": totals.whole_distance_km,
        "at_least": totals.whole_at_least,
        "cycles": [
            {**cycle_data(cycle, None), "general_denominator": pattern_data(cycle, car.unwatched_weather())}
            for cycle in cycles
        ],
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
