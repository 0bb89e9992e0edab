"""Before the wheels turn, and after they stopped: what the car said, what it allows today, what the drive brought."""

from collections.abc import Iterator

from coach.drive.core import Core
from coach.drive.current import before_parking
from coach.drive.plan import Plan, PlannedPhase
from coach.inspection.before import KEY_ON_V, REST_LOW_V
from coach.inspection.next_step import NextStep, steps_of
from coach.j1979.monitors import CONTINUOUS
from coach.j1979.similar import SIMILAR_FOR
from coach.words import clean_cycles
from coach.words.better import better_lines
from coach.words.coaching import repaired_by, view
from coach.words.gates import gate_words
from coach.words.names import MONITOR_NAMES
from coach.words.next_step import ABOUT_CODES, step_lines
from coach.words.standing import codes_line, open_beside, target_words
from coach.words.units import Units, at_least, capital, listed, pattern_words, span

REST_V, FLAT_V = REST_LOW_V - KEY_ON_V, 11.9
"""At rest a healthy battery shows 12.4 V or more, less the ignition's own load; 11.89 V is flat: see `REST_LOW_V`."""


def before_lines(core: Core, units: Units, profile_why: str, not_the_car_of: str = "") -> Iterator[str]:
    """The cautions first, since nobody may miss them; the state of the car and the plan, in lines.

    `not_the_car_of`: the id of the job the drive is kept in when it is another car's.
    """
    profile = core.built.profile
    yield ""
    yield f"Profile: {profile.name}" + (f", {profile_why}." if profile_why else ".")
    codes = codes_line(core)
    if codes:
        yield f"{codes}."
    yield ""
    yield "Before the wheels turn"
    yield from (f"  {caution}" for caution in profile.cautions)
    yield ""
    if not_the_car_of:
        yield f"This is not the car of job {not_the_car_of}, by its VIN: the drive will count for nothing there."
    yield from _state(core, units)
    yield from _plan(core, units)
    yield ""


def _state(core: Core, units: Units) -> Iterator[str]:
    seen, car = view(core, units), core.car
    told = any(car.last_word().values())
    yield f"Complete: {seen.complete or ('none' if told else 'not told')}."
    yield f"To run: {seen.to_run or 'none'}."
    yield from (f"Not today: {reason}." for reason in seen.not_today)
    yield from _refused(core, units)
    for kind in ("stored", "pending", "permanent"):
        said = car.conclude().codes[kind].said
        if said:
            yield f"Codes, {kind}: {', '.join(said)}."
        elif kind != "permanent" and car.codes(kind) is None:
            yield f"Codes, {kind}: uncertain."
    standing = {*car.conclude().codes["stored"].said, *car.conclude().codes["pending"].said}
    again = sorted(standing & core.wanted.repaired_codes)
    if again:
        yield f"The repaired {listed(again)} stands: unless it goes again, this drive confirms nothing."
    if car.mil_on():
        yield "The MIL is commanded on."
    yield from _codes_ask(core, units)
    fuel = car.values.get("fuel_level_pct")
    yield f"Fuel: {fuel:.0f} %." if fuel is not None else "Fuel: not told by this car; look at the gauge."
    volts = car.values.get("module_v", car.values.get("adapter_v"))
    if volts is not None and car.cycle.running is not True:
        low = f", {REST_V} V or more is healthy." if volts >= FLAT_V else ": nearly flat. Charge it first."
        yield f"Battery at rest, key on: {volts:.1f} V" + ("." if volts >= REST_V else low)
    coolant, intake = car.values.get("coolant_c"), car.values.get("intake_c")
    if coolant is not None and intake is not None:
        yield f"Coolant {units.temperature(coolant)}, intake air {units.temperature(intake)}."


def codes_steps(core: Core) -> list[NextStep]:
    """What codes and test results ask for, the weightiest first."""
    return [step for step in steps_of(core.car, core.wanted.repaired_codes) if step.id in ABOUT_CODES]


def _codes_ask(core: Core, units: Units) -> Iterator[str]:
    """What the codes ask for beside this drive; or, where it is for them, what it is about."""
    if core.clean.chosen:
        yield from clean_cycles.before_lines(core, units)
        return
    steps = codes_steps(core)
    yield from step_lines(steps, units)
    if any(step.id in ("mend", "clean_cycles") for step in steps):
        yield from clean_cycles.saves_and_costs()


def _refused(core: Core, units: Units) -> Iterator[str]:
    """Phases a monitor would have taken first, and what keeps them from counting on this drive."""
    states = core.monitor_states()
    wanted = [m for m in core.target_monitors(states) if states[m] != "complete" and m in core.ladders]
    first = {phase for m in wanted for rung in core.ladders[m].need.rungs[:1] for phase in rung}
    for phase, tracker in core.trackers.items():
        if phase in first and not tracker.gate.today:
            failed = next(failed for failed in tracker.gate.failed if not failed.later)
            why = gate_words(failed.gate, failed.value, failed.low, failed.high, units)
            yield f"{core.built.profile.phase[phase].name} cannot count on this drive: {why}."


def _plan(core: Core, units: Units) -> Iterator[str]:
    plan, names = core.plan(), core.built.profile.names()
    if plan.drive:
        yield f"The plan, about {span(plan.driving_s)} of driving:"
    else:
        yield from _no_drive(core, plan, units)
    for number, planned in enumerate(plan.drive, start=1):
        yield f"  {number}. {names[planned.phase]}, about {span(planned.expected_s)}{_confirms(core, planned)}"
    for planned in plan.park:
        yield f"  after the drive: {names[planned.phase]}, {span(planned.expected_s)}{_confirms(core, planned)}"
    yield from better_lines(core, plan, units)
    yield from _no_phase(core, plan, units)


def _no_drive(core: Core, plan: Plan, units: Units) -> Iterator[str]:
    """Why no phase is asked for, and what instead."""
    first = before_parking(core, plan)
    if core.target_reached:
        yield f"No drive is needed. {target_words(core)}"
    elif core.standing().complete and not core.clean.chosen and not plan.park:
        yield f"No drive is needed for monitors. {target_words(core)}"
    elif core.clean.chosen and not plan.not_today:
        yield "No phase of its own: an easy drive will do, as it says above."
    elif first is not None:
        needs = gate_words(first.gate, first.value, first.low, first.high, units)
        yield f"Any easy drive will do, then park it: {needs}."
    elif plan.park:
        yield "No drive is needed; park it:"
    elif plan.not_today:
        yield "Nothing can be driven for today; the reasons stand above."


def _confirms(core: Core, planned: PlannedPhase) -> str:
    codes = repaired_by(core, planned.monitors)
    return f"; this one can confirm the repair of {listed(codes)}" if codes else ""


def _no_phase(core: Core, plan: Plan, units: Units) -> Iterator[str]:
    """Repaired codes that no phase of this drive confirms, and what does."""
    late = {found.monitor for found in plan.not_today}
    for code, monitor in core.wanted.repaired.items():
        if monitor in CONTINUOUS:
            near = ", and near the engine speed and load of its freeze frame" if monitor in SIMILAR_FOR else ""
            yield (
                f"The repair of {code} has no phase of its own: a finished drive of the regulated pattern confirms it"
                f" ({pattern_words(units)}), without the code after it{near}."
            )
        elif monitor in late:
            yield f"The repair of {code} cannot be confirmed on this drive: its {MONITOR_NAMES[monitor]} must wait."


def after_lines(core: Core, units: Units) -> Iterator[str]:
    """What the drive brought, in a few lines."""
    names, found = core.built.profile.names(), core.car.denominator
    driven = [names[phase] for phase, tracker in core.trackers.items() if tracker.times]
    states = core.monitor_states()
    yield ""
    ran = f"{span(found.whole_running_s)}, {units.distance(found.whole_distance_km)}"
    yield f"Driven: {at_least(ran, found.whole_at_least)}."
    yield f"Phases driven: {', '.join(driven) or 'none'}."
    yield from _codes_after(core, units)
    for word in ("complete", "incomplete", None):
        said = [MONITOR_NAMES[m] for m, state in states.items() if state == word]
        if said:
            yield f"{(word or 'uncertain').capitalize()}: {', '.join(said)}."
    if core.stop.ended is None:
        yield from _then(core)
    now = core.standing()
    if now.reached or (now.complete and not core.clean.chosen):
        yield target_words(core)
    yield from _beside(core)


def _beside(core: Core) -> Iterator[str]:
    """What the target lets go and is still open, and what would complete it."""
    names = core.built.profile.names()
    for monitor, why in open_beside(core).items():
        first = core.ladders[monitor].need.rungs[:1] if monitor in core.ladders else ()
        how = ", ".join(names[phase] for rung in first for phase in rung)
        yield f"{capital(MONITOR_NAMES[monitor])}: {why}" + (f"; it wants: {how}." if how else ".")


def _codes_after(core: Core, units: Units) -> Iterator[str]:
    """Codes go before everything else that is said at the end."""
    found = {kind: told.said for kind, told in core.car.conclude().codes.items()}
    for kind, said in found.items():
        if said:
            yield f"Codes, {kind}: {', '.join(said)}."
        elif kind != "permanent" and core.car.codes(kind) is None:
            yield f"Codes, {kind}: uncertain."
    if core.car.mil_on():
        yield "The MIL is commanded on."
    yield from (f"Next: {line}" for line in step_lines(codes_steps(core), units))
    if core.clean.chosen and core.clean.codes and not core.target_reached:
        yield from clean_cycles.after_lines(core)


def _then(core: Core) -> Iterator[str]:
    """What happens while it stands, once enough has been driven for it."""
    plan, names = core.plan(), core.built.profile.names()
    if core.car.denominator.whole_running_s > 0 and before_parking(core, plan) is None:
        for planned in plan.park:
            yield f"{names[planned.phase]}: park it now for {span(planned.expected_s)}, key off, adapter unplugged."
