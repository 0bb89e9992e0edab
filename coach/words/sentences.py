"""One sentence for each happening, in the past tense, calm and short. A table: one entry a kind."""

from collections.abc import Callable, Sequence
from typing import Any

from coach.car import happenings as car
from coach.car.happenings import Happening
from coach.drive import happenings as drive
from coach.j1979.monitors import CONTINUOUS
from coach.visible import one_line
from coach.words.breaks import break_words
from coach.words.doubts import ITEM_NAMES, SIGN_NAMES, asked_words, why_words
from coach.words.gates import gate_words
from coach.words.names import GATE_NAMES, MONITOR_NAMES, PART_NAMES, SIGNAL_NAMES
from coach.words.units import Units, capital, clock, listed, span

Names = dict[str, str]
"""Phase id to phase name, from the profile."""

PROOFS = {
    "run_time_fell": "the time since engine start fell",
    "run_time_too_short": "the engine has run for less time than the silence lasted",
    "ignition_counter_rose": "the ignition counter rose",
}
ENDS = {
    "misfire_code": "a misfire code appeared",
    "fuel_code": "a fuel mixture code appeared",
    "repaired_code": "the repaired fault is back",
    "mil_on": "the MIL came on",
    "coolant_hot": "the coolant is too hot",
    "voltage_low": "the charging voltage is low",
    "another_car": "this is not the car the drive began with",
}
AFTER_ENDS = {
    "misfire_code": "Do not go on loading the engine: it ruins the catalyst. Repair it before driving on.",
    "fuel_code": "Do not go on loading the engine. Repair it before driving on.",
    "repaired_code": "The repair has not held: driving on confirms nothing. Repair it, then begin again.",
    "mil_on": "Read the codes when you stand; repair first.",
    "coolant_hot": "Let the engine cool; never open a hot cooling system.",
    "voltage_low": "The car may stall: stop where help can come, and have battery and generator looked at.",
    "another_car": "Coaching has ended; the recording goes on.",
}
"""What to do after coaching ended, by the reason."""


def stop_words(reason: str) -> str:
    """The instruction when coaching ended; another car at the adapter is no reason to stop at once."""
    return "Nothing is asked any more." if reason == "another_car" else "Ease off and stop where it is safe."


REPEATS = {
    "deceleration": "Roll",
    "load_step": "Acceleration",
    "steady": "Steady stretch",
    "idle_stop": "Stop at idle",
}
CAUSES = {
    "stays_cold": "the engine stays cold",
    "cycle_status": "the car switched tests off or on",
    "phase_driven": "a phase is driven",
    "monitor_changed": "a monitor changed",
    "not_confirmed": "the car has not confirmed",
    "skipped": "not on this road",
    "given_up": "it did not come about",
    "code_appeared": "a code came up",
    "new_driving_cycle": "a new driving cycle began",
    "codes_cleared": "the memory was cleared",
    "engine_started": "the engine runs",
    "gate_closed": "a condition does not hold",
    "gate_opened": "a condition came true",
    "choice": "your choice",
}
UNUSABLE = {
    "not_asked": "An answer nobody asked for",
    "malformed": "An answer that cannot be read",
    "wrong_echo": "An answer to another question",
    "unparsed": "Lines that cannot be made out",
    "refused": "The car refused",
    "at_its_rail": "A sensor that sends its highest value",
    "no_answer": "No answer",
    "garbled": "A garbled answer",
}


def _monitor(monitor: str) -> str:
    return MONITOR_NAMES.get(monitor, monitor)


def _engine_started(h: Any, units: Units, _names: Names) -> str:
    what = "The engine started" if h.seen else "The engine was already running when the recording began"
    return f"{what}: coolant {units.temperature(h.coolant_c)}." if h.coolant_c is not None else f"{what}."


def _denominator(h: Any, _units: Units, _names: Names) -> str:
    told = f"The drive met the regulated pattern: {span(h.running_s)} running, {span(h.fast_s)} fast"
    told += f", one idle of {span(h.idle_s)}."
    if h.unwatched:
        told += f" Not recorded: {listed([SIGNAL_NAMES.get(name, name) for name in h.unwatched])}."
    return told


TAKEN_BACK = "The MIL is out and no code stands: the car has taken the fault back by itself."
"""The way without a clear has come to its end."""
NONE_STORED = "The MIL is out and no code stands: there was none to put out when this drive began."
"""The same way chosen for a car that told no stored code: nobody has seen a fault go."""


def reached_words(monitors: Sequence[str]) -> str:
    """The target by its monitors; those that run all the time are always complete and tell nothing."""
    if not monitors:
        return TAKEN_BACK
    told = [monitor for monitor in monitors if monitor not in CONTINUOUS] or monitors
    names = [_monitor(monitor) for monitor in told]
    return f"What this drive is for is complete, by the car's own word: {listed(names)}."


BARRED_BY = {
    "another_car": "another car answers",
    "mil_on": "the MIL is commanded",
    "stored": "a code is stored",
    "pending": "a code is pending",
    "permanent": "a permanent code stands",
    "rule_against": "the rule refuses the car all the same",
    "rule_unsure": "whether the rule accepts the car cannot be said",
    "mil_unknown": "the MIL was not told for certain",
    "stored_unknown": "stored codes were not told for certain",
    "pending_unknown": "pending codes were not told for certain",
    "permanent_unknown": "permanent codes were not told for certain",
    "permanent_not_offered": "the car does not tell permanent codes",
}
"""What stands against a target whose monitors are complete, by its id."""


def _barred(h: Any, _units: Units, _names: Names) -> str:
    codes = f" ({', '.join(h.codes)})" if h.codes else ""
    return f"The monitors this drive is for are complete, but {listed([BARRED_BY[b] for b in h.by])}{codes}."


def _monitor_changed(h: Any, _units: Units, _names: Names) -> str:
    after = h.after or "uncertain"
    if h.before is None:
        return f"Monitor {_monitor(h.monitor)}: {after}."
    return f"Monitor {_monitor(h.monitor)}: {h.before} before, {after} now."


LIT = {
    True: "The MIL is commanded on.",
    False: "The MIL is commanded off.",
    None: "Whether the MIL is commanded on cannot be told.",
}


def _cycle_monitor(h: Any, _units: Units, _names: Names) -> str:
    words = {
        "disabled": "switched off for this drive",
        "to_run": "still to run",
        "complete": "has run",
        None: "unknown",
    }
    return f"This driving cycle, by {h.ecu}: {_monitor(h.monitor)} {words[h.after]}."


def _cleared(h: Any, _units: Units, _names: Names) -> str:
    if h.evidence == "service_04_confirmed":
        return f"{h.ecu} confirmed the clear."
    if h.evidence == "readiness_reset":
        return f"The memory was cleared: a monitor of {h.ecu} that was complete is not any more."
    return f"The memory was cleared: {h.evidence.rsplit('_', 1)[0].replace('_', ' ')} fell back."


def _unusable(h: Any, _units: Units, _names: Names) -> str:
    of = f", asked for {asked_words(h.asked)}" if h.asked else ""
    by = f" from {h.ecu}" if h.ecu else ""
    return f"{UNUSABLE.get(h.why, h.why)}{of}{by}: {h.detail}. Counted, not used."


def _gate_closed(h: Any, units: Units, names: Names) -> str:
    when = "not yet" if h.today else "not on this drive"
    return f"{names.get(h.phase, h.phase)}, {when}: {gate_words(h.gate, h.value, h.low, h.high, units)}."


def _paused(h: Any, units: Units, names: Names) -> str:
    why = break_words(h.reason, h.value, h.limit, units)
    return f"{names.get(h.phase, h.phase)} paused at {span(h.held_s)}: {why}."


LINKS = {
    "up": "The car answers.",
    "lost": "The adapter is away. Drive as you like; nothing is counted until it is back.",
    "no_car": "The car does not answer. Drive as you like; nothing is counted until it does.",
    "ignition_off": "No control unit answers: the key is off, or the battery is very low.",
    "refused": "The car answers, but does not tell what it is asked; it is asked again. Drive as you like; nothing is "
    "counted until it does.",
    "unreadable": "Something answers, but it cannot be read. Drive as you like; nothing is counted until it can.",
    "bus_error": "The adapter cannot get its questions through to the car. Drive as you like; nothing is counted until "
    "it can.",
    "adapter_error": "The adapter breaks off its own questions. Drive as you like; nothing is counted meanwhile.",
}
"""The link in the driver's words; the adapter's own reason stands in the journal and is printed once."""


def _link(h: Any, _units: Units, _names: Names) -> str:
    state: str = h.state
    return LINKS.get(state, state)


def _driven(h: Any, _units: Units, names: Names) -> str:
    again = f", {h.time} times by now" if h.time > 1 else ""
    names_of = {**GATE_NAMES, **PART_NAMES}
    unwatched = f" Not watched: {listed([names_of.get(g, g) for g in h.unwatched])}." if h.unwatched else ""
    if h.held_s < 1:
        return f"{names.get(h.phase, h.phase)}: already so at the start, nothing to drive.{unwatched}"
    return f"{names.get(h.phase, h.phase)} driven{again}, {span(h.held_s)}.{unwatched}"


def _plan(h: Any, _units: Units, names: Names) -> str:
    cause = CAUSES.get(h.cause, h.cause)
    if not h.phases:
        return f"Nothing is left to drive ({cause})."
    change = ""
    if h.before_s is not None and abs(h.driving_s - h.before_s) >= 60:
        change = f", {span(abs(h.driving_s - h.before_s))} {'less' if h.driving_s < h.before_s else 'more'}"
    return f"Still to drive ({cause}{change}): {', then '.join(names.get(p, p) for p in h.phases)}."


def _not_confirmed(h: Any, _units: Units, names: Names) -> str:
    nexts = {
        "repeat": "once more",
        "next_rung": "the next thing that may help",
        "another_day": "leave it for another day",
        "key_off": "no bit has moved on this drive; park, key off, key on, and look again before driving it once more",
    }
    if h.next == "ran":
        return f"The car says that the {_monitor(h.monitor)} monitor has run: it shows it after the key was off."
    driven = listed([names.get(phase, phase) for phase in h.phases])
    return f"{driven}: driven, and the car has not confirmed the {_monitor(h.monitor)} monitor. Next: {nexts[h.next]}."


SENTENCES: dict[type[Happening], Callable[[Any, Units, Names], str]] = {
    car.EngineStarted: _engine_started,
    car.EngineStopped: lambda h, u, n: "The engine stopped.",
    car.EngineRestarted: lambda h, u, n: f"The engine ran again after {span(h.stopped_s)}.",
    car.CycleBegan: lambda h, u, n: f"A new driving cycle began: {PROOFS.get(h.proof, h.proof)}.",
    car.CycleUncertain: lambda h, u, n: (
        f"After {span(h.silent_s)} of silence nothing tells whether the key was off."
        if h.silent_s > 0
        else "The clock began anew; nothing tells whether the key was off."
    ),
    car.WarmUpCycleCompleted: lambda h, u, n: (
        f"Warm-up cycle complete: from {u.temperature(h.start_coolant_c)} to {u.temperature(h.coolant_c)}."
    ),
    car.GeneralDenominatorMet: _denominator,
    car.MonitorChanged: _monitor_changed,
    car.CycleMonitorChanged: _cycle_monitor,
    car.CycleStatusDistrusted: lambda h, u, n: (
        f"{h.ecu} took back what it said of the {_monitor(h.monitor)} this cycle: its PID 41 is not relied on."
    ),
    car.CycleStatusTrusted: lambda h, u, n: (
        f"{h.ecu} has switched off {listed([_monitor(m) for m in h.disabled])} for this drive:"
        " nothing is driven for it."
    ),
    car.MilChanged: lambda h, u, n: LIT[h.after],
    car.CodeAppeared: lambda h, u, n: f"Code {h.code}, {h.kind}, reported by {h.ecu}.",
    car.CodeVanished: lambda h, u, n: (
        f"The permanent copy of {h.code} is gone: the car itself erased it."
        if h.kind == "permanent"
        else f"Code {h.code} is no longer {h.kind} in {h.ecu}."
    ),
    car.CodesCleared: _cleared,
    car.AnswerUnusable: _unusable,
    car.ClearSent: lambda h, u, n: (
        "A clear was sent; what was read before does not stand until every control unit is read again."
        if h.to is None
        else f"A clear was sent to {h.to} alone; nothing read before stands until every control unit is read again."
    ),
    car.ClearProved: lambda h, u, n: "Every control unit shows that it was cleared.",
    car.AnotherCarAnswered: lambda h, u, n: (
        f"Another car answers: {h.ecu} tells another {SIGN_NAMES[h.sign]} than before. Nothing it says is of the first."
    ),
    car.UnitChanged: lambda h, u, n: (
        f"{h.ecu} tells another {SIGN_NAMES[h.sign]} than the car had: a control unit reprogrammed or replaced, or"
        " another car. Nothing counts until you say which."
    ),
    car.FindingDoubted: lambda h, u, n: (
        f"{capital(ITEM_NAMES[h.item])} cannot be said any more: {why_words(h.why, h.units)}."
    ),
    car.FindingSettled: lambda h, u, n: f"{capital(ITEM_NAMES[h.item])} can be said again, after {span(h.doubted_s)}.",
    car.EcuFellSilent: lambda h, u, n: f"{h.ecu} did not answer {h.asked}: what it said before is uncertain.",
    car.EcuAnsweredAgain: lambda h, u, n: f"{h.ecu} answers {h.asked} again.",
    car.DataLost: lambda h, u, n: f"No data since {clock(h.since_t)}.",
    car.DataReturned: lambda h, u, n: f"Data again after {span(h.silent_s)}; that time is not counted.",
    car.LinkChanged: _link,
    car.ClockSteppedBack: lambda h, u, n: (
        f"The recording's clock stepped back by {h.back_s:.2f} s; that interval is not counted."
        if h.back_s > 0
        else "Nothing is known of the time that passed here."
    ),
    car.ArrivedOutOfOrder: lambda h, u, n: f"A record out of order: {clock(h.newest_t)} was already seen. Not used.",
    car.TimeResumed: lambda h, u, n: f"The time {clock(h.wrong_t)} before was wrong; the recording goes on from here.",
    car.NoteMade: lambda h, u, n: f"Note: {h.text}",
    drive.GateOpened: lambda h, u, n: f"{n.get(h.phase, h.phase)} can count from here.",
    drive.GateClosed: _gate_closed,
    drive.HoldStarted: lambda h, u, n: f"{n.get(h.phase, h.phase)} holding since {clock(h.since_t)}.",
    drive.HoldPaused: _paused,
    drive.HoldResumed: lambda h, u, n: f"{n.get(h.phase, h.phase)} goes on from {span(h.held_s)}.",
    drive.HoldReset: lambda h, u, n: (
        f"{n.get(h.phase, h.phase)} starts afresh, {span(h.lost_s)} lost: {break_words(h.reason, None, None, u)}."
    ),
    drive.RepeatCounted: lambda h, u, n: (
        f"{REPEATS.get(h.what, h.what)} {h.count} of {h.wanted} counted, {span(h.lasted_s)}."
    ),
    drive.RepeatRejected: lambda h, u, n: (
        f"{REPEATS.get(h.what, h.what)} not counted: {break_words(h.reason, h.value, h.limit, u)}."
    ),
    drive.PartFilled: lambda h, u, n: (
        f"{n.get(h.phase, h.phase)}: {PART_NAMES.get(h.part, h.part)} is full, {span(h.held_s)}."
    ),
    drive.PhaseDriven: _driven,
    drive.PhaseUntimable: lambda h, u, n: (
        f"{n.get(h.phase, h.phase)} cannot be timed with this adapter: values {span(h.interval_s)} apart,"
        f" at most {span(h.bridge_s)} can be bridged."
    ),
    drive.WarmUpStalled: lambda h, u, n: (
        f"Under way the coolant rose {u.degrees(max(0.0, h.rose_c))} in {span(h.over_s)} and stands at"
        f" {u.temperature(h.coolant_c)}: the thermostat may hang open, or the coolant be low. See to that first."
    ),
    drive.WarmUpSlow: lambda h, u, n: (
        f"Coolant only {u.temperature(h.coolant_c)} after {span(h.running_s)}: a cold day, or a thermostat stuck open."
    ),
    drive.MonitorNotConfirmed: _not_confirmed,
    drive.PhaseGivenUp: lambda h, u, n: (
        f"{n.get(h.phase, h.phase)}: asked for {span(h.asked_s)} and not come about. Leave it for another day."
    ),
    drive.PhaseSkipped: lambda h, u, n: f"{n.get(h.phase, h.phase)}: not on this road.",
    drive.PlanChanged: _plan,
    drive.TargetReached: lambda h, u, n: reached_words(h.monitors),
    drive.TargetBarred: _barred,
    drive.CleanCycleDriven: lambda h, u, n: (
        f"Driving cycle {h.number} of {h.wanted} without {listed(list(h.codes))} has all it needs. It counts once the"
        " key was off and no code is pending."
    ),
    drive.CoachingEnded: lambda h, u, n: (
        f"{stop_words(h.reason).rstrip('.')}: {ENDS.get(h.reason, h.reason)}. {AFTER_ENDS.get(h.reason, '')}".rstrip()
    ),
}


def sentence(happening: Happening, units: Units, names: Names) -> str:
    """The sentence for one happening, in one line. KeyError for a kind without one (a test looks at all kinds)."""
    return one_line(SENTENCES[type(happening)](happening, units, names))
