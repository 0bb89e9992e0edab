"""What the passenger sees of a drive at one moment: one instruction, one number, one bar, one "then". Words only.

`view` reads the core and decides nothing but the wording; screens and the plain lines show the same view.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import ceil, floor

from coach.car.near import NEAR_S
from coach.car.totals import FAST_KMH
from coach.drive.core import Core
from coach.drive.current import before_parking, current_phase, in_told_order
from coach.drive.hold import HOLDING
from coach.drive.manoeuvres import StopAndGo
from coach.drive.plan import Plan
from coach.drive.schema import CruiseHold, DecelerationHold, IdleHold, LoadStepHold, Phase, StopAndGoHold, WarmUpHold
from coach.drive.trackers import Cruise, Holding, Tracker
from coach.j1979.dtc import is_code
from coach.j1979.monitors import CONTINUOUS
from coach.j1979.similar import SIMILAR_RPM, Frame
from coach.words import clean_cycles
from coach.words.breaks import break_words
from coach.words.doubts import lasting
from coach.words.gates import gate_words
from coach.words.must_wait import must_wait, parked_test
from coach.words.names import MONITOR_NAMES, NOT_TODAY, REPEAT_NAMES
from coach.words.sentences import AFTER_ENDS, ENDS, stop_words
from coach.words.standing import barred_words, beside_line, codes_line, target_words
from coach.words.units import KM_PER_MILE, Units, capital, listed

STALE_S = 4.0  # our judgement: a speed older than this is not shown as the speed of this moment


@dataclass(frozen=True, slots=True)
class Gauge:
    """The number that matters now with its band. Values are in the user's unit; none is unknown or unlimited.

    A hold that has begun goes on counting as far as `leave_low` and `leave_high`, none where it ends with the band.
    `counts`: the hold counts at this very value.
    """

    value: float | None
    unit: str
    low: float | None
    high: float | None
    leave_low: float | None = None
    leave_high: float | None = None
    counts: bool = False


@dataclass(frozen=True, slots=True)
class View:
    """One moment of the drive in words. Empty strings are not shown.

    `kind`: phase, cycle (of the way without a clear), waiting, done, barred (the monitors are complete, something else
    stands against the target), stop, nothing. `share` is how much of the phase is done, 0 to 1. `codes`: the MIL and
    the codes while there are any; `beside`: what is open and no part of the target.
    """

    kind: str
    place: str
    title: str
    instruction: str
    gauge: Gauge | None
    progress: str
    share: float
    note: str
    serves: str
    then: str
    complete: str
    to_run: str
    not_today: tuple[str, ...]
    driven_s: float
    left_s: float
    cautions: tuple[str, ...]
    codes: str = ""
    beside: str = ""


def view(core: Core, units: Units) -> View:
    """The drive as it stands."""
    plan = core.plan()
    seen = _seen(core, plan, units)
    return replace(seen, note=seen.note or lasting(core.car), codes=codes_line(core), beside=beside_line(core))


def _seen(core: Core, plan: Plan, units: Units) -> View:
    if core.stop.ended is not None:
        return _plain(core, plan, units, "stop", stop_words(core.stop.ended.reason), _stop_note(core))
    phase = current_phase(core, plan)
    if phase is not None:
        return _phase_view(core, plan, phase, units)
    if plan.waiting:
        waiting = listed([MONITOR_NAMES[monitor] for monitor in plan.waiting])
        note = f"Driven; the car has not confirmed the {waiting} yet. It is asked again and again."
        return _plain(core, plan, units, "waiting", "Keep driving easily.", note)
    return _no_phase_left(core, plan, units)


def _no_phase_left(core: Core, plan: Plan, units: Units) -> View:
    """Nothing is asked of the road: the target is reached, or something else stands against it, or it has to wait."""
    now = core.standing()
    if now.reached:
        return _plain(core, plan, units, "done", "You may stop: nothing more is needed.", done_note(core))
    if core.clean.chosen and not (core.car.mil_on() is False and now.complete) and not plan.not_today:
        return _cycle_view(core, plan, units)
    if now.complete:
        return _plain(core, plan, units, "barred", *barred_words(core, now, units))
    first = before_parking(core, plan)
    if first is not None:
        needs = gate_words(first.gate, first.value, first.low, first.high, units)
        note = f"{capital(parked_test(plan))}, once this is so: {needs}."
        return _plain(core, plan, units, "waiting", "Keep driving easily, then park it.", note)
    return _plain(core, plan, units, "nothing", *must_wait(plan, core))


def done_note(core: Core) -> str:
    """For which target it is enough, and what stays open beside it."""
    beside = beside_line(core)
    return f"{target_words(core)} {capital(beside)}." if beside else target_words(core)


def _cycle_view(core: Core, plan: Plan, units: Units) -> View:
    """A driving cycle without the fault, where no phase of it is left to drive."""
    now = core.clean_now()
    if now.near is not None and not now.near.full and not now.returned:
        instruction, progress, note = clean_cycles.near_words(now.near, core, units)
        shown = _plain(core, plan, units, "cycle", instruction, note)
        shown = replace(shown, gauge=_rpm_gauge(core, now.near.frame), share=min(1.0, now.near.held_s / NEAR_S))
    elif now.pattern is False and now.codes and not now.returned:
        instruction, progress = clean_cycles.pattern_progress(core, units)
        shown = _plain(core, plan, units, "cycle", instruction, "The regulated pattern, in this driving cycle.")
        shown = replace(shown, gauge=_pattern_gauge(core, units), share=clean_cycles.pattern_share(core))
    else:
        return _plain(core, plan, units, "barred", *clean_cycles.end_words(now))
    title = clean_cycles.number_words(now.number, now.wanted)
    return replace(shown, progress=progress, place=clean_cycles.place(now), serves=f"for {title}")


def _pattern_gauge(core: Core, units: Units) -> Gauge:
    """Speed beside what the pattern wants of it now: fast, or standing."""
    lacks = core.car.denominator.lacks()
    low, high = (FAST_KMH, None) if "fast" in lacks else (0.0, 0.0 if "idle" in lacks else None)
    kmh = core.car.fresh("speed_kmh", STALE_S)
    unit = "mph" if units.us else "km/h"
    return Gauge(_speed(kmh, units), unit, _speed(low, units), _speed(high, units))


def _rpm_gauge(core: Core, frame: Frame | None) -> Gauge | None:
    """Engine speed in hundreds, beside the band of the freeze frame."""
    rpm = core.car.fresh("rpm", STALE_S)
    if frame is None:
        return None
    value = None if rpm is None else float(round(rpm / 100))
    low, high = max(0.0, frame.rpm - SIMILAR_RPM), frame.rpm + SIMILAR_RPM
    return Gauge(value, "x100 rpm", float(ceil(low / 100)), float(floor(high / 100)))


# ---------------------------------------------------------------- one phase


def _phase_view(core: Core, plan: Plan, phase: str, units: Units) -> View:
    form, tracker = core.built.profile.phase[phase], core.trackers[phase]
    planned = next(p for p in plan.drive if p.phase == phase)
    order = in_told_order(core, plan)
    behind = [other for other in order if other != phase]
    done = sum(1 for other in core.trackers.values() if other.driven_t is not None)
    serves = (
        f"the {listed([MONITOR_NAMES[m] for m in planned.monitors])}" if planned.monitors else "the phases after it"
    )
    repaired = repaired_by(core, planned.monitors)
    if repaired:  # first: a narrow screen cuts the end
        serves = f"the repair of {listed(repaired)}: {serves}"
    if core.clean.chosen:
        serves = f"{clean_cycles.place(core.clean_now())} without the fault: {serves}"
    then = [instruction(core.built.profile.phase[other], units) for other in behind[:1]]
    return View(
        "phase",
        f"{done + 1} of {done + len(order)}",
        form.name,
        _for_this_moment(form, core, units),
        gauge(core, phase, units),
        _progress(tracker),
        1.0 - tracker.left(),
        _note(tracker, units),
        f"for {serves}",
        then[0] if then else "",
        *_monitors(core, plan, units),
        core.car.denominator.whole_running_s,
        plan.driving_s,
        form.cautions,
    )


def repaired_by(core: Core, monitors: tuple[str, ...]) -> list[str]:
    """The job's repaired codes that these monitors confirm."""
    return sorted(code for code, monitor in core.wanted.repaired.items() if monitor in monitors)


def instruction(form: Phase, units: Units) -> str:
    """The phase's sentence with its numbers in the user's unit."""
    hold = form.hold
    numbers: dict[str, str] = {}
    if isinstance(hold, CruiseHold | WarmUpHold | StopAndGoHold):
        numbers = {"low": _bare(hold.speed.low, units), "high": units.speed(hold.speed.high)}
    elif isinstance(hold, DecelerationHold):
        numbers = {"from": units.speed(hold.start.value), "to": units.speed(hold.end.value)}
    elif isinstance(hold, LoadStepHold):
        numbers = {"to": units.speed(hold.end.value)}
    return form.instruction.format(**numbers)


def _for_this_moment(form: Phase, core: Core, units: Units) -> str:
    """An engine that runs need not be started."""
    text = instruction(form, units)
    if isinstance(form.hold, IdleHold) and core.car.cycle.running:
        return text.replace("Start the engine and let it idle", "Let it idle")
    return text


def _bare(kmh: float, units: Units) -> str:
    return units.speed(kmh).split()[0]


def gauge(core: Core, phase: str, units: Units) -> Gauge:
    """Coolant while warming up, else the speed; none when it is too old to be of this moment."""
    hold = core.built.profile.phase[phase].hold
    if isinstance(hold, WarmUpHold):
        coolant = core.car.fresh("coolant_c", 30.0)
        return Gauge(
            _degrees(coolant, units), "°F" if units.us else "°C", _degrees(hold.until_coolant.value, units), None
        )
    low: float | None = None
    high: float | None = None
    if isinstance(hold, CruiseHold | StopAndGoHold):
        low, high = hold.speed.low, hold.speed.high
    elif isinstance(hold, DecelerationHold):
        low, high = hold.end.value, hold.start.value
    elif isinstance(hold, IdleHold):
        low, high = 0.0, 0.0
    elif isinstance(hold, LoadStepHold):
        low, high = hold.end.value - hold.cruise_within.value, hold.end.value + hold.cruise_within.value
    kmh = core.car.fresh("speed_kmh", STALE_S)
    shown = Gauge(_speed(kmh, units), "mph" if units.us else "km/h", _speed(low, units), _speed(high, units))
    return _with_leave_limits(shown, core.trackers[phase], units)


def _with_leave_limits(shown: Gauge, tracker: Tracker, units: Units) -> Gauge:
    """A cruise is entered by one pair of limits and left by a wider one, so that a small slip breaks nothing."""
    if not isinstance(tracker, Cruise):
        return shown
    limits, hold = tracker.limits, tracker.hold
    return replace(
        shown,
        leave_low=_speed(limits.leave_low_kmh, units),
        leave_high=_speed(limits.leave_high_kmh, units),
        counts=shown.value is not None and hold.state == HOLDING and hold.inside,
    )


def _speed(kmh: float | None, units: Units) -> float | None:
    return None if kmh is None else float(round(kmh / KM_PER_MILE if units.us else kmh))


def _degrees(celsius: float | None, units: Units) -> float | None:
    return None if celsius is None else float(round(celsius * 1.8 + 32 if units.us else celsius))


def stopwatch(seconds: float) -> str:
    """2:10, as a stopwatch shows it."""
    return f"{int(seconds) // 60}:{int(seconds) % 60:02d}"


def _progress(tracker: Tracker) -> str:
    parts = [f"{min(r.counted, r.wanted)} of {r.wanted} {REPEAT_NAMES[r.what]}" for r in tracker.repeats()]
    if isinstance(tracker, StopAndGo):
        parts.insert(0, f"{stopwatch(tracker.hold.held_s)} of {stopwatch(tracker.limits.duration_s)}")
    elif isinstance(tracker, Holding):
        parts.insert(0, f"held {stopwatch(tracker.hold.held_s)} of {stopwatch(tracker.hold.duration_s)}")
        parts += [
            f"{stopwatch(p.held_s)} of {stopwatch(p.wanted_s)} {p.name.replace('_', ' ')}"
            for p in tracker.parts
            if p.open
        ]
    return ", ".join(parts)


def _note(tracker: Tracker, units: Units) -> str:
    """What keeps the phase from counting now, or what broke it last."""
    if tracker.gate.failed:
        failed = tracker.gate.failed[0]
        return f"Does not count yet: {gate_words(failed.gate, failed.value, failed.low, failed.high, units)}."
    if isinstance(tracker, Holding) and tracker.hold.untimable:
        return "Cannot be timed with this adapter: the values come too slowly."
    if isinstance(tracker, Holding) and tracker.hold.last_break is not None:
        why = break_words(*tracker.hold.last_break, units)
        kept = "what was held is kept" if tracker.hold.held_s > 0 else "it starts afresh"
        times = "once" if tracker.hold.breaks == 1 else f"{tracker.hold.breaks} times"
        return f"Broke {times}, last: {why}; {kept}."
    return ""


# ---------------------------------------------------------------- the rest of the page


def _plain(core: Core, plan: Plan, units: Units, kind: str, sentence: str, note: str) -> View:
    return View(
        kind,
        "",
        "",
        sentence,
        None,
        "",
        0.0,
        note,
        "",
        "",
        *_monitors(core, plan, units),
        core.car.denominator.whole_running_s,
        plan.driving_s,
        (),
    )


def _stop_note(core: Core) -> str:
    ended = core.stop.ended
    if ended is None:
        return ""
    code = f" ({ended.detail})" if is_code(ended.detail) else ""
    reason = ENDS.get(ended.reason, ended.reason)
    saved = "" if ended.reason == "another_car" else " The drive is saved."
    return f"{capital(reason)}{code}. {AFTER_ENDS[ended.reason]}{saved}"


def _monitors(core: Core, plan: Plan, units: Units) -> tuple[str, str, tuple[str, ...]]:
    """Complete, to run, and what cannot run today with its reason."""
    states = core.car.last_word()  # while the car is silent the last it told: the page says beside it that it is
    if not any(states.values()):
        return "", "not told", tuple(_not_today(plan, units, known=False))
    complete = [MONITOR_NAMES[m] for m, state in states.items() if state == "complete"]
    if core.clean.chosen:
        run = ", ".join(MONITOR_NAMES[m] for m in core.clean_now().to_run)
        again = f"once more in this driving cycle: {run}" if run else ""
        return ", ".join(complete), again, tuple(_not_today(plan, units))
    blocked = {found.monitor for found in plan.not_today}
    to_run = [
        MONITOR_NAMES[m]
        for m in core.target_monitors(states)
        if states[m] != "complete" and m not in blocked and (m not in CONTINUOUS or states[m] == "incomplete")
    ]
    return ", ".join(complete), ", ".join(to_run), tuple(_not_today(plan, units))


def _not_today(plan: Plan, units: Units, known: bool = True) -> Iterator[str]:
    """`known`: the car has told which monitors it has; before that a missing pattern says nothing about it."""
    for found in plan.not_today:
        if not known and found.reason == "no_known_phase":
            continue
        if found.failed:
            first = found.failed[0]
            why = gate_words(first.gate, first.value, first.low, first.high, units)
        else:
            why = NOT_TODAY[found.reason]
        yield f"{MONITOR_NAMES[found.monitor]}: {why}"
