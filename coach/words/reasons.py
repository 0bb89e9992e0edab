"""Every reason of a verdict as a sentence, and what would change it; nothing is decided here."""

from collections.abc import Callable

from coach.inspection.clauses import Reason
from coach.words.names import MONITOR_NAMES
from coach.words.units import listed
from coach.words.who import fact_words

OUTCOMES = {
    "ready": "ready",
    "not_ready": "not ready",
    "cannot_say": "cannot say",
    "exempt": "not inspected there",
}
SURE = {
    "found": "read in its source",
    "found-2nd": "second hand, not read in its own source",
    "memory": "from memory, not read anywhere",
}
SHORT = {"found": "read in its source", "found-2nd": "second hand", "memory": "from memory"}
FUELS = {"gasoline": "petrol", "diesel": "diesel", "any": "petrol or diesel"}

Words = Callable[[Reason], str]


def monitor_names(monitors: tuple[str, ...]) -> str:
    """Monitors as people read them."""
    return listed([MONITOR_NAMES[m] for m in monitors])


def number_words(number: float | None) -> str:
    """A whole number, or that it is unknown."""
    return "unknown" if number is None else f"{number:.0f}"


def _few(r: Reason) -> str:
    if not r.monitors:
        return "every monitor it counts is complete"
    let_go = f"it lets {number_words(r.limit)} be incomplete" if r.limit is not None else "which it lets go"
    return f"incomplete: {monitor_names(r.monitors)}; {let_go}"


def _fact(r: Reason) -> str:
    return fact_words(r.fact) if r.fact is not None else "such a car is not inspected"


def _unsaid(r: Reason) -> str:
    """What a doubt about the scope hangs on, where the car does not tell it."""
    if r.fact is None:
        return "whether it is inspected cannot be told"
    return f"{fact_words(r.fact)}; whether this is such a car cannot be told"


def _said(r: Reason) -> str:
    return "you said that it is inspected" + (f", though {fact_words(r.fact)}" if r.fact is not None else "")


REASONS: dict[str, Words] = {
    "not_counted": lambda r: "it does not count readiness",
    "no_monitors": lambda r: "the car did not tell its monitors",
    "monitors_unknown": lambda r: f"uncertain: {monitor_names(r.monitors)}",
    "counting_open": lambda r: f"whether {monitor_names(r.monitors)} count is not stated, and here it matters",
    "must_be_complete": lambda r: f"{monitor_names(r.monitors)} incomplete, which it never lets go",
    "may_not_be_incomplete": lambda r: f"{monitor_names(r.monitors)} incomplete, which is not on its list",
    "too_many_incomplete": lambda r: (
        f"{number_words(r.number)} incomplete ({monitor_names(r.monitors)}), at most {number_words(r.limit)}"
    ),
    "few_enough_incomplete": _few,
    "too_few_complete": lambda r: (
        f"{number_words(r.number)} complete, at least {number_words(r.limit)} must be; not: {monitor_names(r.monitors)}"
    ),
    "demand_unread": lambda r: f"{monitor_names(r.monitors)} incomplete; which must be complete was not read",
    "operation_warm_ups": lambda r: (
        f"{number_words(r.number)} warm-up cycles since the clear, {number_words(r.limit)} are enough"
    ),
    "operation_distance_mi": lambda r: (
        f"{number_words(r.number)} miles since the clear, {number_words(r.limit)} are enough"
    ),
    "operation_run_time_min": lambda r: (
        f"{number_words(r.number)} minutes of running since the clear, {number_words(r.limit)} are enough"
    ),
    "operation_short": lambda r: "too little operation since the clear, as far as the car counts it",
    "mil_off": lambda r: "the MIL is off",
    "mil_on": lambda r: "the MIL is commanded on",
    "mil_unknown": lambda r: "the MIL cannot be told for certain",
    "mil_on_not_stated": lambda r: "the MIL is commanded on, and no source says what that does here",
    "mil_on_no_matter": lambda r: "the MIL is commanded on, which does not decide by itself here",
    "mil_on_without_code": lambda r: "the MIL is on without a stored code; the rule speaks of both together",
    "lamp_dark": lambda r: "the lamp stays dark at key-on, as you saw it",
    "no_stored": lambda r: "no stored code",
    "stored_fails": lambda r: f"stored: {listed(list(r.codes))}; a reported code fails by itself",
    "stored_no_effect": lambda r: f"stored: {listed(list(r.codes))}; without the MIL it passes",
    "stored_no_effect_unsure": lambda r: f"stored: {listed(list(r.codes))}; said to pass without the MIL, second hand",
    "stored_not_stated": lambda r: f"stored: {listed(list(r.codes))}; no source says what it does without the MIL",
    "stored_unknown": lambda r: "stored codes cannot be told for certain",
    "no_pending": lambda r: "no pending code",
    "pending_fails": lambda r: f"pending: {listed(list(r.codes))}; it fails",
    "pending_no_effect": lambda r: f"pending: {listed(list(r.codes))}; not looked at",
    "pending_no_effect_unsure": lambda r: f"pending: {listed(list(r.codes))}; said not to matter, second hand",
    "pending_not_stated": lambda r: f"pending: {listed(list(r.codes))}; no source says whether it matters",
    "pending_unknown": lambda r: "pending codes cannot be told for certain",
    "no_permanent": lambda r: "no permanent code",
    "permanent_counts": lambda r: f"permanent: {listed(list(r.codes))}; it fails, even with the MIL off",
    "permanent_excepted": lambda r: (
        f"permanent: {listed(list(r.codes))}; not looked at after so much driving since the clear ({SURE[r.sure]})"
    ),
    "permanent_exception_unknown": lambda r: (
        f"permanent: {listed(list(r.codes))}; whether enough was driven since the clear cannot be told"
    ),
    "permanent_not_considered": lambda r: f"permanent: {listed(list(r.codes))}; not looked at",
    "permanent_not_considered_unsure": lambda r: (
        f"permanent: {listed(list(r.codes))}; thought not to be looked at, but no source was read for it"
    ),
    "permanent_older_car": lambda r: (
        f"permanent: {listed(list(r.codes))}; said not to count on a car so old ({SURE[r.sure]})"
    ),
    "permanent_not_offered": lambda r: "the car does not tell permanent codes",
    "permanent_unknown": lambda r: "permanent codes cannot be told for certain",
    "retest_monitor_open": lambda r: (
        f"a retest after {listed(list(r.codes))}: {monitor_names(r.monitors)} must be complete and is not"
    ),
    "retest_contradictory": lambda r: (
        f"a retest after {listed(list(r.codes))} with {monitor_names(r.monitors)} incomplete: sources disagree or none"
        " was found"
    ),
    "retest_code_unknown": lambda r: f"a retest after {listed(list(r.codes))}: whose monitor that is, is not known",
    "no_limit_for_car": lambda r: "no number was found for this model year and fuel",
    "programme_ended": lambda r: "this programme has ended",
    "programme_unknown": lambda r: "no rule text was read for this programme",
    "fuel_unknown": lambda r: "the fuel is not known",
    "model_year_unknown": lambda r: "the model year is not known",
    "model_year_disputed": lambda r: f"model year {number_words(r.number)} by your word, for which the VIN has no room",
    "programme_ends": lambda r: "this programme ended after that day",
    "not_inspected": _fact,
    "another_test": _fact,
    "not_for_it": _fact,
    "may_be_exempt": _unsaid,
    "scope_unclear": _fact,
    "said_inspected": _said,
    "kind_not_told": lambda r: f"taken as none such, unless --kind says so: {_fact(r)}",
    "weight_not_told": lambda r: (
        "it depends on the gross weight, which was not told"
        + (f"; the rule names {number_words(r.limit)} lb" if r.limit is not None else "")
    ),
}
"""One sentence part a reason."""

CHANGES: dict[str, str] = {
    "no_monitors": "read the car again, key on, adapter pushed fully in",
    "monitors_unknown": "read the car again: a control unit did not answer properly",
    "must_be_complete": "complete {monitors}",
    "may_not_be_incomplete": "complete {monitors}",
    "too_many_incomplete": "complete all but {limit} of {monitors}",
    "counting_open": "complete {monitors}",
    "operation_short": "drive on: warm-ups, miles or minutes since the clear are enough, any one of them",
    "mil_on": "repair what lights the MIL: {codes}",
    "mil_unknown": "read the car again",
    "mil_on_not_stated": "repair what lights the MIL",
    "mil_on_without_code": "read the stored codes again",
    "lamp_dark": "mend the lamp",
    "stored_fails": "repair {codes}",
    "stored_no_effect_unsure": "repair {codes}",
    "stored_not_stated": "repair {codes}, or ask the programme",
    "stored_unknown": "read the car again",
    "pending_fails": "repair {codes}",
    "pending_no_effect_unsure": "repair {codes}, unless the car drops it on the next drive; or ask the programme",
    "pending_not_stated": "repair {codes}, unless the car drops it on the next drive; or ask the programme",
    "pending_unknown": "read the car again",
    "permanent_counts": "the car itself has to erase {codes}: its monitor has to run and pass, then the key off and on",
    "permanent_excepted": "ask the programme whether {codes} is still looked at, or let the car erase it",
    "permanent_exception_unknown": "let the car erase {codes}: its monitor has to run and pass",
    "permanent_not_considered_unsure": "ask the programme about permanent codes, or let the car erase {codes}",
    "permanent_older_car": "ask the programme about permanent codes on a car of this age",
    "permanent_unknown": "read the car again",
    "retest_monitor_open": "complete {monitors}",
    "retest_contradictory": "complete {monitors}, or ask the programme about the retest",
    "retest_code_unknown": "ask the programme about the retest",
    "fuel_unknown": "say the fuel with --fuel-type",
    "model_year_unknown": "say the model year with --model-year",
    "model_year_disputed": "look at the emissions label under the bonnet; if the VIN is wrong, add --against-the-car",
    "weight_not_told": "say the gross weight with --weight-lb",
    "may_be_exempt": "say whether such a car is inspected there: {ways}",
    "scope_unclear": "ask the programme whether it inspects such a car, and say so with --inspected yes or no",
    "programme_unknown": "ask whether the programme inspects cars, and say so with --inspected yes",
    "too_few_complete": "complete at least {limit} of {monitors}",
    "demand_unread": "complete {monitors}",
}
"""What would change a reason that is against the car or open."""

TOPICS = {
    "mil": "the MIL",
    "lamp": "the MIL",
    "stored": "stored codes",
    "pending": "pending codes",
    "permanent": "permanent codes",
    "operation": "operation since the clear",
    "retest": "a retest",
}
"""The part of a rule a reason rests on, by the first word of its id; any other is the number of monitors."""
