"""A verdict in words and as data: what an inspection would say, by which reading, why, and what would change it.

The sentences stand in `reasons.py`; nothing is decided here.
"""

from collections.abc import Iterator
from typing import Any, NamedTuple

from coach import __version__
from coach.inspection.clauses import Reason
from coach.inspection.findings import Findings
from coach.inspection.needs import Needs
from coach.inspection.parts import Part
from coach.inspection.rules import Rule
from coach.inspection.two_words import TwoWords
from coach.inspection.verdict import ReadingVerdict, Verdict, judge_any
from coach.words.outcomes import exempt_sources, exempt_words, headline, leads_to_words, outcome_said
from coach.words.paragraphs import wrapped
from coach.words.reasons import CHANGES, FUELS, OUTCOMES, REASONS, SHORT, SURE, TOPICS, monitor_names, number_words
from coach.words.two_words import differences, two_words_data, two_words_lines
from coach.words.units import listed
from coach.words.who import ways

SCHEMA, SCHEMA_VERSION = "coach.verdict", 2
BY_KNOWN = "Every reading of the rule that anybody has written down says so; it is unverified all the same:"
ALL_THE_SAME = "ask the programme; if it inspects such a car all the same, say so with --inspected yes"
CONFIRM = "Confirm with your local programme: rules change, and the inspector decides."


def verdict_page(verdict: Verdict, told: TwoWords | None = None, findings: Findings | None = None) -> str:
    """The verdict as text. With `findings`, and no model year known, the outcome of every span of years too."""
    parts = [
        list(_head(verdict, told)),
        ["What it would say by model year", *_by_year(verdict, findings)],
        ["This rule and this car", *_remarks(verdict)],
        *([_reading_title(verdict, one), *_reasons(one)] for one in verdict.readings),
        ["What would change it", *_changes(verdict)],
        ["Sources disagree", *(wrapped(words) for words in _conflicts(verdict))],
        ["Where that was read", *(wrapped(source) for source in exempt_sources(verdict))],
        ["Where the rule comes from", *(rule_source(verdict.rule) if verdict.exempt is None else ())],
        [CONFIRM],
    ]
    return "\n\n".join("\n".join(part) for part in parts if len(part) > 1 or part == [CONFIRM])


def short_lines(verdict: Verdict, told: TwoWords) -> tuple[str, ...]:
    """The verdict, why it is not inspected there, what car and user say differently, and what would change it."""
    why = (exempt_words(verdict),) if verdict.exempt is not None else ()
    needed = tuple(f"  {line}" for line in changes(verdict))
    return (headline(verdict), *why, *differences(told), *needed)


def _head(verdict: Verdict, told: TwoWords | None) -> Iterator[str]:
    yield headline(verdict)
    car = verdict.vehicle
    fuel = FUELS.get(car.fuel or "", "fuel not known")
    said = " ".join(two_words_lines(told)) if told is not None else ""
    yield wrapped(f"Model year {car.model_year or 'not known'}, {fuel}. {said}".rstrip(), hang=2).lstrip()
    if verdict.exempt is not None:
        yield wrapped(exempt_words(verdict), hang=2).lstrip()
    if verdict.outcome != "exempt" and (verdict.outcome == "not_ready" or not _counts(verdict)):
        yield wrapped(f"Not ready there means: {leads_to_words(verdict.rule)}.", hang=2).lstrip()
    if verdict.by_known_readings:
        yield wrapped(f"{BY_KNOWN} {listed(unread(verdict))}.", hang=2).lstrip()
    if verdict.contradictory:
        yield "The rule can be read in more than one way; each is shown and none is settled here."
    if verdict.unverified and verdict.outcome == "cannot_say":
        yield wrapped(f"This verdict is unverified: {listed(unread(verdict))}.", hang=2).lstrip()


def _counts(verdict: Verdict) -> bool:
    return any(one.limit is None or one.limit.counts for one in verdict.readings) or not verdict.readings


def unread(verdict: Verdict) -> list[str]:
    """What of the rule this verdict rests on and nobody read in its own source."""
    found: dict[str, None] = {}
    if verdict.exempt is not None and verdict.exempt.sure != "found":
        return [f"that it is not inspected there is {SHORT[verdict.exempt.sure]}"]
    if verdict.rule.outdated:
        found[f"the text that was read is not the newest ({verdict.rule.outdated})"] = None
    for one in verdict.readings:
        if one.limit is not None and one.limit.sure != "found":
            found[f"how many monitors may be incomplete is {SHORT[one.limit.sure]}"] = None
        if one.limit is not None and one.limit.unread:
            found["which monitors must be complete was not read"] = None
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
    spans = [(first, outcome_said(one)) for one, first in zip(told, firsts, strict=False)]
    steps = [
        span for before, span in zip([None, *spans], spans, strict=False) if before is None or before[1] != span[1]
    ]
    for (first, words), after in zip(steps, [*(first for first, _ in steps[1:]), None], strict=True):
        years = f"{first} on" if after is None else f"{first}" if after == first + 1 else f"{first} to {after - 1}"
        yield f"  {years}: {words}"


def _conflicts(verdict: Verdict) -> Iterator[str]:
    if verdict.exempt is None:
        yield from (conflict.words for conflict in verdict.rule.conflict)


def _remarks(verdict: Verdict) -> Iterator[str]:
    if verdict.exempt is not None and len(verdict.scope) == 1:
        return  # the head says it
    for reason in verdict.scope:
        mark = "note     " if reason.effect == "for" else _mark(reason)
        yield wrapped(f"{mark} {REASONS[reason.id](reason)}{_unsure(reason)}", hang=12)
    if verdict.rule.ended is not None and verdict.exempt is None:
        yield f"  ended {verdict.rule.ended.date}, {SURE[verdict.rule.ended.sure]}"
    if verdict.exempt is not None:
        return
    yield from (wrapped(f"note      {waiver.words}{_short(waiver)}", hang=12) for waiver in verdict.rule.scope.waiver)
    yield from (wrapped(f"note      {note}", hang=12) for note in verdict.rule.notes)
    if verdict.rule.mil.dark_at_key_on and verdict.vehicle.lamp_lights is None:
        yield "  look yourself: the lamp must light at key-on with the engine off; nothing in the car tells it"


def _reading_title(verdict: Verdict, one: ReadingVerdict) -> str:
    sure = f", {SURE[one.limit.sure]}" if one.limit is not None else ""
    return f"By {one.reading.words}{sure}: {OUTCOMES[one.outcome]}"


def _reasons(one: ReadingVerdict) -> Iterator[str]:
    yield from (f"  {_mark(reason)} {REASONS[reason.id](reason)}{_unsure(reason)}" for reason in one.reasons)


def _mark(reason: Reason) -> str:
    return {"for": "+ for    ", "against": "- against", "open": "? open   ", "exempt": "= exempt "}[reason.effect]


def _unsure(reason: Reason) -> str:
    told = reason.effect == "against" or reason.fact is not None
    return f" ({SURE[reason.sure]})" if reason.sure != "found" and told else ""


def _short(part: Part) -> str:
    return f" ({SHORT[part.sure]})" if part.sure != "found" else ""


def changes(verdict: Verdict) -> tuple[str, ...]:
    """What would change the verdict, each once."""
    found: dict[str, None] = {}
    if verdict.exempt is not None and verdict.exempt.sure != "found":
        found[ALL_THE_SAME] = None
    for reason in (*verdict.scope, *(r for one in verdict.readings for r in one.reasons)):
        if reason.effect == "for" or reason.id not in CHANGES:
            continue
        names, codes = monitor_names(reason.monitors), listed(list(reason.codes)) if reason.codes else "its codes"
        form = CHANGES["must_be_complete" if reason.limit == 0 and reason.monitors else reason.id]
        way = ways(reason.fact) if reason.fact is not None else ""
        found[form.format(monitors=names, codes=codes, limit=number_words(reason.limit), ways=way)] = None
    return tuple(found)


def _changes(verdict: Verdict) -> Iterator[str]:
    yield from (f"  {line}" for line in changes(verdict))


def rule_source(rule: Rule) -> Iterator[str]:
    """The sources, one a line, and their dates."""
    yield from (wrapped(source) for source in rule.source.split(" ; "))
    yield wrapped(f"Dates: {rule.source_date}." + (f" Not the newest text: {rule.outdated}." if rule.outdated else ""))


# ---------------------------------------------------------------- what is still needed


def needs_words(needs: Needs) -> str:
    """What a drive has to complete to be accepted, in one sentence."""
    wanted, free = needs.wanted(), needs.let_go()
    if needs.exempt:
        return "It is not inspected here, so nothing has to be complete for that; the drive is for the repair."
    if not needs.known:
        return "No number is known for this car here, so every monitor is wanted."
    if not wanted:
        rest = f" {monitor_names(free)} may stay open." if free else ""
        return f"Nothing more has to be complete to be accepted here.{rest}"
    rest = f"; {monitor_names(free)} may stay open" if free else ""
    return f"To be accepted here: {monitor_names(wanted)}{rest}."


# ---------------------------------------------------------------- as data


def verdict_document(verdict: Verdict, told: TwoWords | None = None) -> dict[str, Any]:
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
        "model_year_why": told.vin.why if told is not None else None,
        "model_year_candidates": list(told.vin.candidates) if told is not None else [],
        "fuel": car.fuel,
        "vehicle": two_words_data(told) if told is not None else None,
        "gross_weight_lb": car.gvwr_lb,
        "odometer_km": car.odometer_km,
        "kind": car.kind,
        "said_inspected": car.inspected,
        "outcome": verdict.outcome,
        "by_every_known_reading": verdict.by_known_readings,
        "not_ready_leads_to": rule.not_ready.leads_to,
        "exempt": _exempt(verdict),
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


def _exempt(verdict: Verdict) -> dict[str, Any] | None:
    reason = verdict.exempt
    if reason is None:
        return None
    return {
        "id": reason.id,
        "sure": reason.sure,
        "words": exempt_words(verdict),
        "sources": list(exempt_sources(verdict)),
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


def verdict_parts(verdict: Verdict, told: TwoWords | None = None) -> VerdictParts:
    """The same as the page, each piece unwrapped."""
    return VerdictParts(
        head=_unwrapped(_head(verdict, told)),
        remarks=_unwrapped(_remarks(verdict)),
        readings=tuple(
            (_reading_title(verdict, one), tuple((r.effect, f"{REASONS[r.id](r)}{_unsure(r)}") for r in one.reasons))
            for one in verdict.readings
        ),
        changes=changes(verdict),
        conflicts=tuple(_conflicts(verdict)),
        source=exempt_sources(verdict) or _unwrapped(rule_source(verdict.rule)),
    )


def _unwrapped(lines: Iterator[str]) -> tuple[str, ...]:
    return tuple(" ".join(line.split()) for line in lines)
