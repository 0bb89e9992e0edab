"""The review of a recording: one document for machines, one page of text for people, from the same facts."""

from typing import Any

from msgspec import to_builtins

from coach import __version__
from coach.car.denominator import FAST_S, IDLE_S, RUNNING_S
from coach.car.ecus import all_codes, mil_on, said_codes
from coach.drive.core import Core
from coach.drive.plan import Plan
from coach.drive.trackers import Holding, Tracker
from coach.session import Reviewed
from coach.words.names import MONITOR_NAMES, NOT_TODAY, SIGNAL_NAMES
from coach.words.sentences import gate_words, sentence
from coach.words.units import Units, clock, listed, span

SCHEMA = "coach.review"
SCHEMA_VERSION = 1
CAUTION = "The car's own word counts, not this page: confirm readiness on the car before an inspection."


def document(reviewed: Reviewed) -> dict[str, Any]:
    """The review as data: schema name and version first, seconds, units in the key names, unknown is null."""
    core, report = reviewed.core, reviewed.report
    states = core.monitor_states()
    return {
        "schema": SCHEMA,
        "version": SCHEMA_VERSION,
        "program": __version__,
        "source": reviewed.header.source,
        "began": reviewed.header.began,
        "duration_s": round(reviewed.end_t, 3),
        "profile": reviewed.profile.id,
        "profile_assumed": reviewed.profile_assumed,
        "recording": {
            "arrivals": reviewed.arrivals,
            "cut_short": report.cut_short,
            "torn_last_line": report.torn_last_line,
            "truncated_gzip": report.truncated_gzip,
            "bad_lines": report.bad_count,
            "unknown_records": report.unknown_records,
            "out_of_order": core.out_of_order,
            "silent_s": round(core.car.lost_total_s, 3),
            "unusable_answers": dict(sorted(core.car.unusable.items())),
        },
        "monitors": {monitor: states[monitor] for monitor in MONITOR_NAMES},
        "mil_on": mil_on(core.car.ecus.values()),
        "codes": {kind: _codes(core, kind) for kind in ("stored", "pending", "permanent")},
        "driving_cycle": _cycle(core),
        "general_denominator": _denominator(core),
        "phases": {phase: _phase(core.trackers[phase]) for phase in core.trackers},
        "plan": _plan(core.plan()),
        "happenings": [to_builtins(happening) for happening in reviewed.happenings],
    }


def _codes(core: Core, kind: str) -> dict[str, Any]:
    ecus = tuple(core.car.ecus.values())
    certain = all_codes(ecus, kind)
    return {"certain": list(certain) if certain is not None else None, "said": list(said_codes(ecus, kind))}


def _cycle(core: Core) -> dict[str, Any]:
    cycle = core.car.cycle
    start = cycle.start
    return {
        "number": cycle.number,
        "engine_start_seen": start.seen if start is not None else None,
        "start_coolant_c": start.coolant_c if start is not None else None,
        "start_intake_c": start.intake_c if start is not None else None,
        "coolant_c": core.car.values.get("coolant_c"),
        "warm_up_cycle": _warm_up(core),
        "warm_up_t": cycle.warm_up_t,
        "uncertain_since_t": cycle.uncertain_since_t,
    }


def _warm_up(core: Core) -> bool | None:
    """True when seen; false when the start and the coolant are known and it was not reached; else unknown."""
    cycle = core.car.cycle
    if cycle.warm_up_t is not None:
        return True
    return False if cycle.start is not None and cycle.start.seen and cycle.start.coolant_c is not None else None


def _denominator(core: Core) -> dict[str, Any]:
    found = core.car.denominator
    met: bool | None = found.met_t is not None
    if not met and core.car.cycle.unproved:
        met = None
    if "speed_kmh" not in core.car.values:
        met = None
    return {
        "met": met,
        "met_t": found.met_t,
        "running_s": round(found.running_s, 3),
        "at_25_mph_or_more_s": round(found.fast_s, 3),
        "longest_idle_s": round(found.longest_idle_s, 3),
        "longest_standing_s": round(found.longest_standing_s, 3),
        "too_cold_s": round(found.too_cold_s, 3),
        "too_high_s": round(found.too_high_s, 3),
        "distance_km": round(found.distance_km, 3),
        "top_speed_kmh": round(found.top_kmh, 3),
        "engine_assumed_running": found.engine_assumed,
        "unwatched": list(core.car.unwatched_weather()),
    }


def _phase(tracker: Tracker) -> dict[str, Any]:
    hold = tracker.hold if isinstance(tracker, Holding) else None
    return {
        "driven": tracker.driven_t is not None,
        "driven_t": tracker.driven_t,
        "times": tracker.times,
        "held_s": round(hold.held_s, 3) if hold is not None else None,
        "remaining_s": round(tracker.remaining_s(), 3) if tracker.signals else None,
        "breaks": hold.breaks if hold is not None else None,
        "untimable": hold.untimable if hold is not None else None,
        "gate": "open" if tracker.gate.open else ("later" if tracker.gate.today else "not_today"),
        "gate_failed": [
            {"gate": failed.gate, "value": failed.value, "low": failed.low, "high": failed.high}
            for failed in tracker.gate.failed
        ],
        "unwatched": list(tracker.gate.unwatched),
    }


def _plan(plan: Plan) -> dict[str, Any]:
    return {
        "driving_s": round(plan.driving_s, 3),
        "drive": [
            {"phase": planned.phase, "expected_s": planned.expected_s, "for": list(planned.monitors)}
            for planned in plan.drive
        ],
        "park": [
            {"phase": planned.phase, "expected_s": planned.expected_s, "for": list(planned.monitors)}
            for planned in plan.park
        ],
        "not_today": [
            {"monitor": found.monitor, "reason": found.reason, "phases": list(found.phases),
             "failed": [{"gate": f.gate, "value": f.value, "low": f.low, "high": f.high} for f in found.failed]}
            for found in plan.not_today
        ],
        "waiting": list(plan.waiting),
        "complete": list(plan.complete),
        "unknown": list(plan.unknown),
    }  # fmt: skip


# ---------------------------------------------------------------- text


def page(reviewed: Reviewed, units: Units, full: bool) -> str:
    """The review as text; `full` prints the whole timeline, else holds shorter than the profile tells are left out."""
    names = reviewed.profile.names()
    parts = [
        _head(reviewed, units),
        _recording(reviewed),
        _timeline(reviewed, units, names, full),
        _phases(reviewed, names),
        _cycle_text(reviewed.core, units),
        _monitors(reviewed.core),
        _plan_text(reviewed.core.plan(), units, names),
        CAUTION,
    ]
    return "\n\n".join(part for part in parts if part)


def _head(reviewed: Reviewed, units: Units) -> str:
    label = {"imported": "an imported recording", "simulated": "a SIMULATED drive", "live": "a recorded drive"}
    lines = [
        f"Review of {label[reviewed.header.source]}, {span(reviewed.end_t)},"
        f" {units.distance(reviewed.core.car.denominator.distance_km)}."
    ]
    said = "taken because none was named" if reviewed.profile_assumed else "as the recording has it"
    lines.append(f"Profile: {reviewed.profile.name} ({said}).")
    return "\n".join(lines)


def _recording(reviewed: Reviewed) -> str:
    report, core = reviewed.report, reviewed.core
    lines = []
    if report.cut_short:
        lines.append("The recording was cut short: it has no last line. What is there is used.")
    if report.bad_count:
        numbers = ", ".join(str(number) for number, _ in report.bad_lines[:5])
        lines.append(f"{report.bad_count} lines could not be read and were skipped, the first: {numbers}.")
    if report.unknown_records:
        lines.append(f"{report.unknown_records} records of a kind this version does not know were kept and not used.")
    if core.out_of_order:
        lines.append(f"{core.out_of_order} records out of order were not used.")
    if report.footer_disagrees:
        lines.append(f"Caution: {report.footer_disagrees}.")
    if core.car.unusable:
        lines.append(
            f"{sum(core.car.unusable.values())} answers could not be used; findings they concern are uncertain."
        )
    return "\n".join(lines)


def _timeline(reviewed: Reviewed, units: Units, names: dict[str, str], full: bool) -> str:
    happenings = reviewed.happenings if full else tuple(h for h in reviewed.happenings if _matters(h))
    lines = [f"  {clock(h.t):>8}  {sentence(h, units, names)}" for h in happenings]
    return "\n".join(["What happened", *(lines or ["  nothing that can be told from this recording"])])


def _matters(happening: Any) -> bool:
    """Short holds come and go in traffic; the page leaves them to --full."""
    kind = type(happening).__name__
    if kind in ("HoldStarted", "HoldResumed"):
        return False
    if kind == "HoldReset":
        return bool(happening.lost_s >= 60)
    if kind == "GateClosed":
        return not happening.today
    if kind == "RepeatRejected":
        return bool(happening.reason != "gained_speed")
    return kind != "HoldPaused" or bool(happening.held_s >= 60)


def _phases(reviewed: Reviewed, names: dict[str, str]) -> str:
    lines = []
    for phase, tracker in reviewed.core.trackers.items():
        if tracker.driven_t is not None:
            state = f"driven, at {clock(tracker.driven_t)}"
        elif isinstance(tracker, Holding) and tracker.hold.untimable:
            state = "cannot be timed with this adapter"
        elif isinstance(tracker, Holding) and tracker.hold.held_s > 0:
            state = f"{span(tracker.hold.held_s)} held, {tracker.hold.breaks} breaks"
        else:
            state = "not driven"
        lines.append(f"  {names[phase]:<44} {state}")
    return "\n".join(["Phases", *lines])


def _cycle_text(core: Core, units: Units) -> str:
    found, start, lines = core.car.denominator, core.car.cycle.start, []
    warm = _warm_up(core)
    began = units.temperature(start.coolant_c if start is not None else None)
    now = units.temperature(core.car.values.get("coolant_c"))
    words = {True: "complete", False: "not complete", None: "cannot be said"}
    lines.append(f"  warm-up cycle         {words[warm]}: coolant {began} at the start, {now} at the end")
    met = _denominator(core)["met"]
    lines.append(f"  general denominator   { {True: 'met', False: 'not met', None: 'cannot be said'}[met] }")
    lines.append(f"    running {span(found.running_s)} of {span(RUNNING_S)}")
    lines.append(f"    at 25 mph or more {span(found.fast_s)} of {span(FAST_S)}")
    lines.append(f"    longest idle with the engine running {span(found.longest_idle_s)} of {span(IDLE_S)}")
    if found.longest_standing_s > found.longest_idle_s + 1:
        lines.append(f"    longest standstill {span(found.longest_standing_s)}: the engine was off for a part of it")
    if found.too_cold_s:
        lines.append(f"    {span(found.too_cold_s)} were too cold to count (below -7 °C outside)")
    if found.too_high_s:
        lines.append(f"    {span(found.too_high_s)} were too high to count (above 2,440 m)")
    unwatched = core.car.unwatched_weather()
    if unwatched:
        lines.append(f"    not recorded: {listed([SIGNAL_NAMES.get(name, name) for name in unwatched])}")
    if found.engine_assumed:
        lines.append("    no engine speed was recorded: the engine is taken as running throughout")
    return "\n".join(["Driving cycle", *lines])


def _monitors(core: Core) -> str:
    states = core.monitor_states()
    if all(state is None for state in states.values()):
        return "Monitors\n  the recording holds no readiness: which monitors are complete cannot be said"
    lines = []
    for word in ("complete", "incomplete", None):
        found = [MONITOR_NAMES[m] for m, state in states.items() if state == word]
        if found:
            lines.append(f"  {word or 'uncertain':<12} {', '.join(found)}")
    return "\n".join(["Monitors", *lines])


def _plan_text(plan: Plan, units: Units, names: dict[str, str]) -> str:
    lines = []
    for number, planned in enumerate(plan.drive, start=1):
        serves = listed([MONITOR_NAMES[m] for m in planned.monitors]) if planned.monitors else "what comes after it"
        lines.append(f"  {number}. {names[planned.phase]}, about {span(planned.expected_s)}, for {serves}")
    for planned in plan.park:
        lines.append(f"  after the drive: {names[planned.phase]}, {span(planned.expected_s)}")
    for monitor in plan.waiting:
        lines.append(f"  {MONITOR_NAMES[monitor]}: driven, the car has not confirmed yet")
    for found in plan.not_today:
        why = "; ".join(gate_words(f.gate, f.value, f.low, f.high, units) for f in found.failed)
        lines.append(f"  not today: {MONITOR_NAMES[found.monitor]}: {why or NOT_TODAY[found.reason]}")
    head = "Still needed" + (f", about {span(plan.driving_s)} of driving" if plan.drive else "")
    if plan.unknown:
        head += "; the recording does not say which monitors are complete, so all are planned for"
    return "\n".join([head, *(lines or ["  nothing"])])
