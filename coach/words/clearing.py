"""Words before and after a clear, and the checks before a drive. Tables of sentences; nothing is decided here."""

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from coach.inspection.before import Check
from coach.inspection.cleared import WORD, Hurdle, Loss
from coach.words.names import MONITOR_NAMES
from coach.words.paragraphs import wrapped
from coach.words.units import Units, listed

if TYPE_CHECKING:  # the clear brings the adapter with it, which words do not need
    from coach.session.clear import Cleared

HURDLES = {
    "engine_running": "the engine runs: stop it and turn the key to on",
    "engine_unknown": "the engine speed was not told, so nobody knows that the engine is off; try again",
    "moving": "the car moves",
    "another_car": "this is not the car that was just read out; nothing is sent to it",
    "car_unproved": "the car did not tell again which car it is (VIN, calibration); try again",
    "speed_unknown": "the speed was not told, so nobody knows that the car stands; try again",
    "battery_low": "the battery is low: charge it first, a control unit may fail while it writes",
}


def hurdle_words(one: Hurdle) -> str:
    """Why nothing is sent."""
    if one.id == "battery_low":
        return f"{HURDLES[one.id]} ({one.value:.1f} V, at least {one.limit:.1f} V)"
    return HURDLES[one.id]


def loss_page(loss: Loss) -> str:
    """What a clear takes, what it leaves, and the other way; shown before the word is asked for."""
    complete = [MONITOR_NAMES[m] for m in loss.lost_monitors]
    lines = ["Clearing takes away", f"  readiness: {_said(loss, 'readiness', complete, 'none is complete now')}"]
    stored, pending = (_said(loss, kind, getattr(loss, kind)) for kind in ("stored", "pending"))
    lines.append(f"  codes stored: {stored}; pending: {pending}")
    if loss.frozen_by:
        lines.append(f"  the freeze frame of {', '.join(loss.frozen_by)}: it is kept in the read-out just saved")
    if loss.has_tests:
        lines.append("  the test results: they are kept in the read-out too")
    permanent = _said(loss, "permanent", loss.permanent)
    lines += ["It leaves", f"  permanent codes: {permanent}; only the car erases them, after"]
    lines.append("    their monitor has run and passed in a drive of the regulated pattern")
    if loss.has_counters:
        lines.append("  the in-use counters")
    lines += [
        "The other way",
        "  Three driving cycles without the fault put the MIL out too, and keep readiness.",
        "  After a clear every monitor has to run again: a drive of about three quarters of an hour and often a night.",
        f"  If it has to be cleared: fuel at 30 to 70 %{_now(loss.fuel_pct)}, clear, park it overnight, then drive.",
        *wrapped(f"The key after it: {loss.after_clear or AFTER_CLEAR} {OWN}").splitlines(),
    ]
    if loss.voltage_v is None:
        lines.append("  The battery's voltage is not told by this car: be sure that it is charged.")
    return "\n".join([*lines, "", f"To clear, type the word {WORD}. Anything else leaves all as it is."])


def _said(loss: Loss, what: str, said: Sequence[str], none: str = "none") -> str:
    """What was told; "none" only where every control unit told it."""
    if what not in loss.uncertain:
        return listed(list(said)) if said else none
    return f"{listed(list(said))}, and perhaps more" if said else "not told for certain"


AFTER_CLEAR = "Some cars want it left on, some off for half a minute."
OWN = "The car's own procedure comes first."


def _now(fuel_pct: float | None) -> str:
    return "" if fuel_pct is None else f" (now {fuel_pct:.0f} %)"


ENDS = {
    "refused": "Nothing was sent.",
    "left": "Left as it was; nothing was sent.",
    "cleared": "Cleared, and every control unit shows it.",
    "not_cleared": "Not cleared everywhere.",
    "cannot_say": "Whether it was cleared everywhere cannot be said: read the car again.",
}


def cleared_page(done: "Cleared", relearn: bool = False) -> str:
    """How it ended, control unit by control unit. `relearn`: the work was on the throttle or the battery."""
    lines = [ENDS[done.state]]
    lines += [f"  {hurdle_words(one)}" for one in done.hurdles]
    for ecu in done.ecus:
        told = "confirmed it" if ecu.confirmed else "did not confirm it"
        reset = {
            True: "readiness is reset",
            False: f"readiness is not reset ({', '.join(ecu.kept)})",
            None: "has no monitor that could show a reset" if not ecu.shows else "readiness was not told",
        }[ecu.reset]
        gone = {True: "no stored code", False: "a stored code is still there", None: "stored codes were not told"}
        lines.append(f"  {ecu.address} {told}: {reset}, {gone[ecu.codes_gone]}.")
    lines += [f"  {address} refused ({code})." for address, code in done.refusal]
    if done.permanent:
        codes = ", ".join(done.permanent)
        lines.append(f"  Permanent, and rightly still there: {codes}. The car erases it once its monitor has passed.")
    if done.state in ("cleared", "cannot_say") and done.loss is not None:
        lines += wrapped(f"The key now: {done.loss.after_clear or AFTER_CLEAR} {OWN}").splitlines()
        lines += [f"  {RELEARN}"] if relearn else []
    if done.before_path is not None:
        lines.append(f"  The read-out before is kept: {done.before_path}")
    if done.unrecorded:
        lines.append(
            f"  The clear could not be recorded to its end: {done.unrecorded}. Read the car again into the job."
        )
    elif done.clear_path is not None:
        what = "last look" if done.state == "refused" else "clear"
        lines.append(f"  The {what} is recorded: {done.clear_path}")
    return "\n".join(lines)


# ---------------------------------------------------------------- before the drive

CHECKS = {
    "battery_rest_v": "battery at rest, key on",
    "charging_v": "charging voltage",
    "fuel_pct": "fuel level",
    "fuel_for_leak_test_pct": "fuel level for the leak test",
    "start_coolant_c": "coolant for a cold start",
    "start_coolant_over_air_c": "coolant above the air outside",
    "stored_codes": "stored codes",
    "pending_codes": "pending codes",
    "coolant_level": "coolant level, filled and bled",
    "leaks_and_filler_cap": "hoses and exhaust tight, filler cap seated",
    "loads_off": "A/C, lights and heaters off unless a step asks for them",
    "road_worthy": "tyres, brakes, lights in order",
    "idle_relearn": "the idle relearn the maker asks for after throttle or battery work",
}
RELEARN = "After work on the throttle or the battery makers ask for an idle relearn: do it before the drive."
STATES = {
    "in_order": "in order",
    "not_in_order": "not in order",
    "not_measurable": "not told by the car",
    "ask": "look yourself",
}


def checks_page(checks: tuple[Check, ...], units: Units) -> str:
    """The checks before a drive, one a line, each with its figures and their source."""
    return "\n".join(f"  {STATES[one.state]:<20} {CHECKS[one.id]}{_figures(one, units)}" for one in checks)


def _figures(one: Check, units: Units) -> str:
    if one.codes:
        return f": {', '.join(one.codes)}"
    form: dict[str, Callable[[float], str]] = {
        "_over_air_c": units.degrees,
        "_c": units.temperature,
        "_pct": lambda value: f"{value:.0f} %",
        "_v": lambda value: f"{value:.1f} V",
    }
    show = next((f for ending, f in form.items() if one.id.endswith(ending)), None)
    if show is None:
        return f" ({one.source})"
    ends = [f"at least {show(one.low)}" if one.low is not None else "", f"at most {show(one.high)}" if one.high else ""]
    wanted = " and ".join(end for end in ends if end)
    seen = f" {show(one.value)}," if one.value is not None else ""
    return f":{seen} wanted {wanted} ({one.source})"
