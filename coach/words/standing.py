"""The MIL and the codes in one line while there are any, and what keeps a complete target from being reached.

Words only. Every page and headline of a drive has them from here.
"""

from coach.car.conclusion import KINDS_OF_CODES
from coach.drive.core import Core
from coach.drive.target import Bar, Standing, last_codes, last_mil, present
from coach.inspection.findings import findings_of
from coach.inspection.next_step import next_steps
from coach.j1979.monitors import CONTINUOUS
from coach.words.names import MONITOR_NAMES
from coach.words.next_step import step_words
from coach.words.sentences import NONE_STORED, TAKEN_BACK, reached_words
from coach.words.units import Units, listed, pattern_words

NOT_READ = {
    "mil_unknown": "whether the MIL is commanded",
    "stored_unknown": "whether a code is stored",
    "pending_unknown": "whether a code is pending",
    "permanent_unknown": "whether a permanent code stands",
    "permanent_not_offered": "whether a permanent code stands (the car does not tell them)",
}
"""What bars a target because it was not told for certain."""
FIRST = {
    "mend": "You may stop: {codes} has to be mended.",
    "clean_cycles": "You may stop: the MIL is still on.",
    "ages_out": "You may stop: {codes} is still stored.",
    "second_drive": "You may stop: {codes} is pending, seen once.",
    "wait_for_permanent": "You may stop: {codes} is left as a permanent code.",
}
"""The instruction once the monitors are complete, by the next step."""
LIT = "You may stop: the MIL is on."
LAST = " when last told"
LET_GO = "left open, the rule lets it go"
NOT_ASKED = "left open, not asked for on this drive"


def codes_line(core: Core) -> str:
    """MIL on; P0128 stored; P0301 pending. Empty while there is none; what nobody can say now, as it was last told."""
    car, lit = core.car, core.car.mil_on()
    if core.stop.ended is not None and core.stop.ended.reason == "another_car":
        return ""
    parts = ["MIL on"] if lit else [f"MIL on{LAST}"] if lit is None and last_mil(car) else []
    for kind in KINDS_OF_CODES:
        codes, last = present(car, kind), ""
        if not codes and car.codes(kind) is None:
            codes, last = last_codes(car, kind), LAST
        parts += [f"{', '.join(codes)} {kind}{last}"] if codes else []
    return "; ".join(parts)


def target_words(core: Core) -> str:
    """The target by its name, all its monitors complete: all that the car has, or those that were asked for."""
    if core.clean.chosen:
        return TAKEN_BACK if core.clean.codes or core.clean.counted else NONE_STORED
    if core.wanted.target is None:
        return "Every monitor this car has is complete, by its own word."
    return reached_words(core.target_monitors(core.car.last_word()))


def open_beside(core: Core) -> dict[str, str]:
    """Monitors that are incomplete and no part of the target, and why they may stay so."""
    if core.clean.chosen:
        return {}
    states = core.car.last_word()
    target = core.target_monitors(states)
    beside = [m for m, state in states.items() if state == "incomplete" and m not in target and m not in CONTINUOUS]
    return dict.fromkeys(beside, LET_GO if core.wanted.rule is not None else NOT_ASKED)


def beside_line(core: Core) -> str:
    """The same in one line: the names, then why."""
    found = open_beside(core)
    return f"{listed([MONITOR_NAMES[m] for m in found])}: {next(iter(found.values()))}" if found else ""


def barred_words(core: Core, now: Standing, units: Units) -> tuple[str, str]:
    """The instruction and its note where the monitors are complete and something else stands against the target."""
    first, why = _weightiest(core, now, units)
    return first, why if core.clean.chosen else f"{target_words(core)} {why}"


def _weightiest(core: Core, now: Standing, units: Units) -> tuple[str, str]:
    coded = [bar for bar in now.bars if bar.codes or bar.id == "mil_on"]
    if coded:
        step = next_steps(findings_of(core.car), (), core.wanted.repaired_codes)[0]
        first = FIRST.get(step.id, LIT) if step.codes else LIT
        why = step_words(step, units) + (_pattern(core, units) if step.id == "wait_for_permanent" else "")
        return first.format(codes=listed(list(step.codes))), why
    return _by_rule(core, now.bars) or _unread(now.bars)


def _pattern(core: Core, units: Units) -> str:
    """Whether this driving cycle has had the pattern by now."""
    if core.car.denominator.met_t is not None:
        return " This drive has had it: end it with the key off."
    return f" This drive has not had it yet ({pattern_words(units)})."


def _by_rule(core: Core, bars: tuple[Bar, ...]) -> tuple[str, str] | None:
    rule, ids = core.wanted.rule, {bar.id for bar in bars}
    if rule is None or not ids & {"rule_against", "rule_unsure"} or ids & set(NOT_READ):
        return None
    why = f"By {rule.name}; coach check --rules {rule.id} says why."
    if "rule_against" in ids:
        return "You may stop; the rule refuses the car all the same.", why
    return "You may stop; whether the rule accepts the car cannot be said.", why


def _unread(bars: tuple[Bar, ...]) -> tuple[str, str]:
    told = [NOT_READ[bar.id] for bar in bars if bar.id in NOT_READ]
    return "You may stop: the monitors are complete.", f"Not told for certain: {listed(told)}. It is asked again."
