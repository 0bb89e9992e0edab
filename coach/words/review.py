"""The review of a recording as one page of text, from the same facts as the data beside it."""

from collections.abc import Iterator
from typing import Any

from coach.car.ecus import ITEMS
from coach.car.happenings import ClockSteppedBack
from coach.drive.core import Core
from coach.drive.plan import NotToday, Plan
from coach.inspection.next_step import steps_of
from coach.session.review import Reviewed
from coach.words.cycles import cycles_lines
from coach.words.doubts import codes_told, lamp_told, odd_lines, uncertain
from coach.words.gates import gate_words
from coach.words.names import MONITOR_NAMES, NOT_TODAY
from coach.words.next_step import step_lines
from coach.words.phases import phase_rows
from coach.words.sentences import sentence
from coach.words.standing import open_beside
from coach.words.units import Units, at_least, clock, listed, span

CAUTION = "The car's own word counts, not this page: confirm readiness on the car before an inspection."
FOLDED = frozenset(
    {
        *("HoldStarted", "HoldResumed", "HoldPaused", "HoldReset", "RepeatRejected", "GateOpened"),
        *("CycleMonitorChanged", "CycleStatusDistrusted"),
    }
)
"""Kinds that come and go in traffic: the table of phases sums them up, --full tells each."""


def page(reviewed: Reviewed, units: Units, full: bool) -> str:
    """The review as text; `full` prints every happening."""
    names = reviewed.profile.names()
    parts = [
        _head(reviewed, units),
        _recording(reviewed),
        _timeline(reviewed, units, names, full),
        _phases(reviewed),
        _cycle_text(reviewed, units),
        _monitors(reviewed.core),
        _codes(reviewed.core),
        _plan_text(reviewed.core, units, names),
        _next_text(reviewed.core, units),
        CAUTION,
    ]
    return "\n\n".join(part for part in parts if part)


def _head(reviewed: Reviewed, units: Units) -> str:
    label = {"imported": "an imported recording", "simulated": "a SIMULATED drive", "live": "a recorded drive"}
    found = reviewed.core.car.denominator
    km, least = found.whole_distance_km, found.whole_at_least
    far = f", {at_least(units.distance(km), least)}" if km > 0 else ""
    said = "taken because none was named" if reviewed.profile_assumed else "as the recording has it"
    return (
        f"Review of {label[reviewed.header.source]}, {span(reviewed.end_t)}{far}.\n"
        f"Profile: {reviewed.profile.name} ({said})."
    )


def _recording(reviewed: Reviewed) -> str:
    return "\n".join(recording_lines(reviewed))


def recording_lines(reviewed: Reviewed) -> Iterator[str]:
    """What was wrong with the recording."""
    report, core = reviewed.report, reviewed.core
    if report.cut_short:
        yield "The recording was cut short: it has no last line. What is there is used."
    if report.bad_count:
        numbers = ", ".join(str(number) for number, _ in report.bad_lines[:5])
        yield f"{report.bad_count} lines could not be read and were skipped, the first: {numbers}."
    if report.unknown_records:
        yield f"{report.unknown_records} records of a kind this version does not know were kept and not used."
    if any(isinstance(happening, ClockSteppedBack) and happening.back_s == 0 for happening in reviewed.happenings):
        yield "The recording has no times of its own: what was said counts, how long anything lasted cannot be told."
    for mistake in report.context_mistakes:
        yield f"The recording's second line has a mistake, that part is not used: {mistake}."
    if core.out_of_order:
        yield f"{core.out_of_order} records out of order were not used; findings they concern are uncertain."
    if report.footer_disagrees:
        yield f"Caution: {report.footer_disagrees}."
    unusable = sum(count for what, count in core.car.unusable.items() if not what.startswith("no_answer"))
    if unusable:
        answers = "1 answer" if unusable == 1 else f"{unusable} answers"
        yield f"{answers} could not be used; findings they concern are uncertain until they are read again."


def _timeline(reviewed: Reviewed, units: Units, names: dict[str, str], full: bool) -> str:
    happenings = reviewed.happenings if full else tuple(h for h in reviewed.happenings if matters(h))
    lines = [f"  {clock(h.t):>8}  {sentence(h, units, names)}" for h in happenings]
    folded = len(reviewed.happenings) - len(happenings)
    if folded:
        lines.append(f"  {folded} smaller happenings are summed up under Phases; --full tells each")
    return "\n".join(["What happened", *(lines or ["  nothing that can be told from this recording"])])


def matters(happening: Any) -> bool:
    """Whether it stands in the list of what happened; the others are summed up with the phases."""
    kind = type(happening).__name__
    if kind == "GateClosed":
        return not happening.today
    if kind == "ClockSteppedBack":
        return bool(happening.back_s > 0)  # 0: the recording has no times, which its head says once
    if kind == "MonitorChanged":
        return happening.after == "complete" or happening.before is not None
    return kind not in FOLDED


# ---------------------------------------------------------------- phases


def _phases(reviewed: Reviewed) -> str:
    return "\n".join(["Phases", *(f"  {name:<44} {driven}" for name, driven in phase_rows(reviewed))])


# ---------------------------------------------------------------- the cycle


def _cycle_text(reviewed: Reviewed, units: Units) -> str:
    return "\n".join(["Driving cycle", *pattern_lines(reviewed, units)])


def pattern_lines(reviewed: Reviewed, units: Units) -> Iterator[str]:
    """Warm-up cycle and general denominator of every driving cycle in the recording."""
    yield from cycles_lines(reviewed.core, units)


# ---------------------------------------------------------------- what the car says


def _monitors(core: Core) -> str:
    if not any(ecu.claims_readiness() for ecu in core.car.ecus.values()):
        spoilt = "01 01" in core.car.doubts
        held = (
            "what the recording holds of readiness cannot be made out" if spoilt else "the recording holds no readiness"
        )
        return f"Monitors\n  {held}: which monitors are complete cannot be said"
    states, lines = core.monitor_states(), []
    for word in ("complete", "incomplete", None):
        found = [MONITOR_NAMES[m] for m, state in states.items() if state == word]
        if found:
            lines.append(f"  {word or 'uncertain':<12} {', '.join(found)}")
    told = core.car.conclude()
    reasons = dict.fromkeys(uncertain(one) for one in told.monitors.values() if one.state is None)
    lines += [f"  uncertain because {reason}" for reason in reasons]
    lines += [f"  {line}" for line in odd_lines(told)]
    return "\n".join(["Monitors", *lines])


def _codes(core: Core) -> str:
    ecus = tuple(core.car.ecus.values())
    if not ecus:
        return ""
    told = core.car.conclude()
    lines = [f"  {'MIL':<12} {lamp_told(told.mil)}"]
    for kind, found in told.codes.items():
        lines.append(f"  {kind:<12} {codes_told(found) if ITEMS[kind] in core.car.asked_all else 'not read'}")
    return "\n".join(["MIL (the check-engine lamp) and trouble codes", *lines])


LAST_TOLD = "  nothing by what was last told; whether that still holds cannot be said"
"""No monitor is left to drive for, and what the car is like now is uncertain."""


def _plan_text(core: Core, units: Units, names: dict[str, str]) -> str:
    plan = core.plan()
    head = "Still needed" + (f", about {span(plan.driving_s)} of driving" if plan.drive else "")
    if plan.unknown:
        head += "; the recording does not say which monitors are complete, so all are planned for"
    lines = list(plan_lines(plan, core, units, names))
    return "\n".join([head, *(lines or [LAST_TOLD if None in core.monitor_states().values() else "  nothing"])])


def _next_text(core: Core, units: Units) -> str:
    """What comes next for the car, beside what is still to drive; nothing where no control unit spoke."""
    steps = steps_of(core.car, core.wanted.repaired_codes) if core.car.ecus else ()
    lines = step_lines((step for step in steps if step.id != "drive"), units)
    told = [f"  {line}" for line in lines]
    return "\n".join(["Next", *told]) if told else ""


def plan_lines(plan: Plan, core: Core, units: Units, names: dict[str, str]) -> Iterator[str]:
    """What is still to drive, what comes after the drive, and what has to wait."""
    for number, planned in enumerate(plan.drive, start=1):
        serves = listed([MONITOR_NAMES[m] for m in planned.monitors]) if planned.monitors else "the phases after it"
        yield f"  {number}. {names[planned.phase]}, about {span(planned.expected_s)}, for {serves}"
    for planned in plan.park:
        yield f"  after the drive: {names[planned.phase]}, {span(planned.expected_s)}"
    states = core.monitor_states()
    for monitor in plan.waiting:
        unseen = states[monitor] is None
        why = "whether the car has confirmed is not recorded" if unseen else "the car has not confirmed yet"
        yield f"  {MONITOR_NAMES[monitor]}: driven; {why}"
    yield from (f"  not today: {not_today_words(found, units)}" for found in plan.not_today)
    yield from (f"  {MONITOR_NAMES[monitor]}: {why}" for monitor, why in open_beside(core).items())


def not_today_words(found: NotToday, units: Units) -> str:
    """A monitor that has to wait, and why."""
    why = "; ".join(gate_words(f.gate, f.value, f.low, f.high, units) for f in found.failed)
    return f"{MONITOR_NAMES[found.monitor]}: {why or NOT_TODAY[found.reason]}"
