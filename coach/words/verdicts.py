"""A verdict in words and as data: what an inspection would say, by which reading, why, and what would change it.

A table of sentences, one a reason; nothing is decided here.
"""

from collections.abc import Callable, Iterator
from textwrap import fill
from typing import Any, NamedTuple

from coach import __version__
from coach.inspection.clauses import Reason
from coach.inspection.findings import Findings
from coach.inspection.model_year import ModelYear
from coach.inspection.needs import Needs
from coach.inspection.rules import Rule
from coach.inspection.verdict import ReadingVerdict, Verdict, judge_any
from coach.words.names import MONITOR_NAMES
from coach.words.units import listed

SCHEMA, SCHEMA_VERSION = "coach.verdict", 1
CONFIRM = "Confirm with your local programme: rules change, and the inspector decides."
OUTCOMES = {"ready": "ready", "not_ready": "not ready", "cannot_say": "cannot say"}
SURE = {
    "found": "read in its source",
    "found-2nd": "second hand, not read in its own source",
    "memory": "from memory, not read anywhere",
}
SHORT = {"found": "read in its source", "found-2nd": "second hand", "memory": "from memory"}
FUELS = {"gasoline": "petrol", "diesel": "diesel", "any": "petrol or diesel"}
WIDTH = 100

Words = Callable[[Reason], str]


def monitor_names(monitors: tuple[str, ...]) -> str:
    """Monitors as people read them."""
    return listed([MONITOR_NAMES[m] for m in monitors])


def _n(number: float | None) -> str:
    return "unknown" if number is None else f"{number:.0f}"


def _few(r: Reason) -> str:
    if not r.monitors:
        return "every monitor it counts is complete"
    return f"incomplete: {monitor_names(r.monitors)}; it lets {_n(r.limit)} be incomplete"


REASONS: dict[str, Words] = {
    "not_counted": lambda r: "it does not count readiness",
    "no_monitors": lambda r: "the car did not tell its monitors",
    "monitors_unknown": lambda r: f"uncertain: {monitor_names(r.monitors)}",
    "counting_open": lambda r: f"whether {monitor_names(r.monitors)} count is not stated, and here it matters",
    "must_be_complete": lambda r: f"{monitor_names(r.monitors)} incomplete, which it never lets go",
    "may_not_be_incomplete": lambda r: f"{monitor_names(r.monitors)} incomplete, which is not on its list",
    "too_many_incomplete": lambda r: f"{_n(r.number)} incomplete ({monitor_names(r.monitors)}), at most {_n(r.limit)}",
    "few_enough_incomplete": _few,
    "operation_warm_ups": lambda r: f"{_n(r.number)} warm-up cycles since the clear, {_n(r.limit)} are enough",
    "operation_distance_mi": lambda r: f"{_n(r.number)} miles since the clear, {_n(r.limit)} are enough",
    "operation_run_time_min": lambda r: f"{_n(r.number)} minutes of running since the clear, {_n(r.limit)} are enough",
    "operation_short": lambda r: "too little operation since the clear, as far as the car counts it",
    "mil_off": lambda r: "the MIL is off",
    "mil_on": lambda r: "the MIL is commanded on",
    "mil_unknown": lambda r: "the MIL cannot be told for certain",
    "mil_on_not_stated": lambda r: "the MIL is commanded on, and no source says what that does here",
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
    "fuel_scope_not_stated": lambda r: "from which model year on this fuel is inspected is not stated",
    "alternative_fuel_only": lambda r: (
        "it is for natural gas and the like, petrol is outside it; the car does not tell"
    ),
    "older_than_scope": lambda r: f"model year {_n(r.number)} is older than the programme looks at ({_n(r.limit)} on)",
    "newer_than_window": lambda r: f"model year {_n(r.number)} is newer than this check is for (up to {_n(r.limit)})",
    "older_than_window": lambda r: f"model year {_n(r.number)} is older than this check is for (from {_n(r.limit)})",
    "too_heavy": lambda r: f"{_n(r.number)} lb is above what the rule is for",
    "too_light": lambda r: f"{_n(r.number)} lb is below what the rule is for",
    "weight_not_told": lambda r: (
        "it depends on the gross weight, which was not told"
        + (f"; the rule names {_n(r.limit)} lb" if r.limit is not None else "")
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
}
"""What would change a reason that is against the car or open."""


# ---------------------------------------------------------------- the page


def verdict_page(verdict: Verdict, year: ModelYear | None = None, findings: Findings | None = None) -> str:
    """The verdict as text. With `findings`, and no model year known, the outcome of every span of years too."""
    parts = [
        list(_head(verdict, year)),
        ["What it would say by model year", *_by_year(verdict, findings)],
        ["This rule and this car", *_remarks(verdict)],
        *([_reading_title(verdict, one), *_reasons(one)] for one in verdict.readings),
        ["What would change it", *_changes(verdict)],
        ["Sources disagree", *(wrapped(conflict.words) for conflict in verdict.rule.conflict)],
        ["Where the rule comes from", *rule_source(verdict.rule)],
        [CONFIRM],
    ]
    return "\n\n".join("\n".join(part) for part in parts if len(part) > 1 or part == [CONFIRM])


def headline(verdict: Verdict) -> str:
    """The verdict in one line."""
    return f"{verdict.rule.name}: {OUTCOMES[verdict.outcome]}."


def _head(verdict: Verdict, year: ModelYear | None) -> Iterator[str]:
    yield headline(verdict)
    car = verdict.vehicle
    fuel = FUELS.get(car.fuel or "", "fuel not known")
    yield f"Model year {car.model_year or 'not known'}, {fuel}." + (f" {year_words(year)}" if year is not None else "")
    if verdict.contradictory:
        yield "The rule can be read in more than one way; each is shown and none is settled here."
    if verdict.unverified and verdict.outcome == "cannot_say":
        yield wrapped(f"This verdict is unverified: {listed(unread(verdict))}.", hang=2).lstrip()


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


def unread(verdict: Verdict) -> list[str]:
    """What of the rule this verdict rests on and nobody read in its own source."""
    found: dict[str, None] = {}
    if verdict.rule.outdated:
        found[f"the text that was read is not the newest ({verdict.rule.outdated})"] = None
    for one in verdict.readings:
        if one.limit is not None and one.limit.sure != "found":
            found[f"how many monitors may be incomplete is {SHORT[one.limit.sure]}"] = None
        for reason in one.reasons:
            if reason.sure != "found" and (topic := TOPICS.get(reason.id.partition("_")[0])) is not None:
                found[f"what it says of {topic} is {SHORT[reason.sure]}"] = None
    return list(found) or ["no rule text was read for it"]


def _by_year(verdict: Verdict, findings: Findings | None) -> Iterator[str]:
    """Where the model year is not known: the outcome of each span of years the rule tells apart."""
    if findings is None or verdict.vehicle.model_year is not None:
        return
    told = judge_any(verdict.rule, findings, verdict.vehicle)
    firsts = [one.vehicle.model_year for one in told if one.vehicle.model_year is not None]
    for one, first, after in zip(told, firsts, [*firsts[1:], None], strict=False):
        years = f"{first} on" if after is None else f"{first} to {after - 1}"
        yield f"  {years}: {OUTCOMES[one.outcome]}"


def year_words(year: ModelYear) -> str:
    """Where a model year comes from, or why it has to be asked."""
    words = {
        "no_vin": "The car did not tell its VIN.",
        "not_a_vin": "What the car sent as its VIN is none.",
        "no_year_letter": "The VIN's year letter fits no year of such a car.",
        "seventh_character": "By the VIN: year letter and seventh character.",
        "outside_north_america": "Outside North America the VIN's letter proves no model year.",
        "ambiguous": "The VIN leaves the model year open.",
    }[year.why]
    if year.year is None and year.candidates:
        which = "say so" if len(year.candidates) == 1 else "say which"
        return f"{words} It may be {' or '.join(str(one) for one in year.candidates)}: {which} with --model-year."
    return words


def _remarks(verdict: Verdict) -> Iterator[str]:
    for reason in verdict.scope:
        yield f"  {'note     ' if reason.effect == 'for' else _mark(reason)} {REASONS[reason.id](reason)}"
    if verdict.rule.ended is not None:
        yield f"  ended {verdict.rule.ended.date}, {SURE[verdict.rule.ended.sure]}"
    window = verdict.rule.scope.window
    if window is not None and window.words:
        yield wrapped(f"note      {window.words}", hang=12)
    yield from (wrapped(f"note      {note}", hang=12) for note in verdict.rule.notes)
    if verdict.rule.mil.dark_at_key_on and verdict.vehicle.lamp_lights is None:
        yield "  look yourself: the lamp must light at key-on with the engine off; nothing in the car tells it"


def _reading_title(verdict: Verdict, one: ReadingVerdict) -> str:
    sure = f", {SURE[one.limit.sure]}" if one.limit is not None else ""
    return f"By {one.reading.words}{sure}: {OUTCOMES[one.outcome]}"


def _reasons(one: ReadingVerdict) -> Iterator[str]:
    yield from (f"  {_mark(reason)} {REASONS[reason.id](reason)}{_unsure(reason)}" for reason in one.reasons)


def _mark(reason: Reason) -> str:
    return {"for": "+ for    ", "against": "- against", "open": "? open   "}[reason.effect]


def _unsure(reason: Reason) -> str:
    return f" ({SURE[reason.sure]})" if reason.sure != "found" and reason.effect == "against" else ""


def changes(verdict: Verdict) -> tuple[str, ...]:
    """What would change the verdict, each once."""
    found: dict[str, None] = {}
    for reason in (*verdict.scope, *(r for one in verdict.readings for r in one.reasons)):
        if reason.effect == "for" or reason.id not in CHANGES:
            continue
        names, codes = monitor_names(reason.monitors), listed(list(reason.codes)) if reason.codes else "its codes"
        form = CHANGES["must_be_complete" if reason.limit == 0 and reason.monitors else reason.id]
        found[form.format(monitors=names, codes=codes, limit=_n(reason.limit))] = None
    return tuple(found)


def _changes(verdict: Verdict) -> Iterator[str]:
    yield from (f"  {line}" for line in changes(verdict))


def rule_source(rule: Rule) -> Iterator[str]:
    """The sources, one a line, and their dates."""
    yield from (wrapped(source) for source in rule.source.split(" ; "))
    yield wrapped(f"Dates: {rule.source_date}." + (f" Not the newest text: {rule.outdated}." if rule.outdated else ""))


def wrapped(text: str, hang: int = 4) -> str:
    """A paragraph of a page, indented; addresses are not broken."""
    rest = " " * hang
    return fill(
        text, WIDTH, initial_indent="  ", subsequent_indent=rest, break_long_words=False, break_on_hyphens=False
    )


# ---------------------------------------------------------------- what is still needed


def needs_words(needs: Needs) -> str:
    """What a drive has to complete to be accepted, in one sentence."""
    wanted, free = needs.wanted(), needs.let_go()
    if not needs.known:
        return "No number is known for this car here, so every monitor is wanted."
    if not wanted:
        rest = f" {monitor_names(free)} may stay open." if free else ""
        return f"Nothing more has to be complete to be accepted here.{rest}"
    rest = f"; {monitor_names(free)} may stay open" if free else ""
    return f"To be accepted here: {monitor_names(wanted)}{rest}."


# ---------------------------------------------------------------- as data


def verdict_document(verdict: Verdict, year: ModelYear | None = None) -> dict[str, Any]:
    """The verdict as data; unknown is null."""
    rule, car = verdict.rule, verdict.vehicle
    return {
        "schema": SCHEMA,
        "version": SCHEMA_VERSION,
        "program": __version__,
        "rule": {
            "id": rule.id,
            "name": rule.name,
            "status": rule.status,
            "sure": rule.sure,
            "source": rule.source,
            "source_date": rule.source_date,
        },
        "on": car.on,
        "model_year": car.model_year,
        "model_year_why": year.why if year is not None else None,
        "model_year_candidates": list(year.candidates) if year is not None else [],
        "fuel": car.fuel,
        "gross_weight_lb": car.gvwr_lb,
        "outcome": verdict.outcome,
        "unverified": verdict.unverified,
        "unverified_because": unread(verdict) if verdict.unverified else [],
        "contradictory": verdict.contradictory,
        "scope": [_reason(reason) for reason in verdict.scope],
        "readings": [
            {
                "id": one.reading.id,
                "words": one.reading.words,
                "sure": one.limit.sure if one.limit is not None else None,
                "outcome": one.outcome,
                "reasons": [_reason(reason) for reason in one.reasons],
            }
            for one in verdict.readings
        ],
        "changes": list(changes(verdict)),
        "conflicts": [{"id": conflict.id, "words": conflict.words} for conflict in rule.conflict],
        "confirm": CONFIRM,
    }


def _reason(reason: Reason) -> dict[str, Any]:
    return {
        "id": reason.id,
        "effect": reason.effect,
        "sure": reason.sure,
        "monitors": list(reason.monitors),
        "codes": list(reason.codes),
        "number": reason.number,
        "limit": reason.limit,
        "words": REASONS[reason.id](reason),
    }


# ---------------------------------------------------------------- for a report's page


class VerdictParts(NamedTuple):
    """A verdict in pieces. `readings`: title, then effect and words of each reason. `source`: its date too."""

    head: tuple[str, ...]
    remarks: tuple[str, ...]
    readings: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]
    changes: tuple[str, ...]
    conflicts: tuple[str, ...]
    source: tuple[str, ...]


def verdict_parts(verdict: Verdict, year: ModelYear | None = None) -> VerdictParts:
    """The same as the page, each piece unwrapped."""
    return VerdictParts(
        head=_unwrapped(_head(verdict, year)),
        remarks=_unwrapped(_remarks(verdict)),
        readings=tuple(
            (_reading_title(verdict, one), tuple((r.effect, f"{REASONS[r.id](r)}{_unsure(r)}") for r in one.reasons))
            for one in verdict.readings
        ),
        changes=changes(verdict),
        conflicts=tuple(conflict.words for conflict in verdict.rule.conflict),
        source=_unwrapped(rule_source(verdict.rule)),
    )


def _unwrapped(lines: Iterator[str]) -> tuple[str, ...]:
    return tuple(" ".join(line.split()) for line in lines)
