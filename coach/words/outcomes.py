"""The outcome of a verdict in words: what it rests on, why a car is not inspected there, what comes of not ready."""

from coach.inspection.rules import Rule
from coach.inspection.verdict import Verdict
from coach.words.reasons import OUTCOMES, SURE
from coach.words.who import fact_words

NOT_FOR = {
    "programme_ended": "not inspected there any more",
    "not_inspected": "not inspected there",
    "another_test": "judged by another test there",
    "not_for_it": "outside its inspection by OBD",
}
NOT_INSPECTED = {
    "programme_ended": "{place} does not inspect it",
    "not_inspected": "{place} does not inspect it",
    "another_test": "{place} does not judge it by what it tells",
    "not_for_it": "The OBD inspection of {place} is not for it",
}
LEADS_TO = {
    "rejection": "it is turned away",
    "another_test": "it gets another test instead",
    "nothing": "readiness changes nothing",
    "not_stated": "what comes of it is not stated",
}


def headline(verdict: Verdict) -> str:
    """The verdict in one line."""
    return f"{verdict.rule.name}: {outcome_said(verdict)}."


def outcome_said(verdict: Verdict) -> str:
    """The outcome in a few words, with what it rests on where that is less than the rule's own text."""
    exempt = verdict.exempt
    if exempt is not None:
        known = "" if exempt.sure == "found" else "as far as is known "
        return f"{known}{NOT_FOR[exempt.id]}"
    known = " by every known reading" if verdict.by_known_readings else ""
    return f"{OUTCOMES[verdict.outcome]}{known}"


def exempt_words(verdict: Verdict) -> str:
    """Why it is not inspected there and how sure that is; empty where it is or may be."""
    exempt, rule = verdict.exempt, verdict.rule
    if exempt is None:
        return ""
    why = fact_words(exempt.fact) if exempt.fact is not None else f"the programme ended {ended_words(rule)}"
    return f"{NOT_INSPECTED[exempt.id].format(place=rule.place)}: {why} ({SURE[exempt.sure]})."


def exempt_sources(verdict: Verdict) -> tuple[str, ...]:
    """Where it was read that such a car is not inspected there; nothing where that is from memory."""
    exempt, rule = verdict.exempt, verdict.rule
    if exempt is None or exempt.fact is None:
        return (rule.source,) if exempt is not None and exempt.sure != "memory" else ()
    return tuple(rule.scope.sources[letter] for letter in exempt.fact.letters)


def ended_words(rule: Rule) -> str:
    """When a programme ended."""
    return rule.ended.date if rule.ended is not None else "on a day not known"


def leads_to_words(rule: Rule) -> str:
    """What not being ready leads to there."""
    part = rule.not_ready
    sure = "" if part.leads_to == "not_stated" else f" ({SURE[part.sure]})"
    return f"{LEADS_TO[part.leads_to]}{f'; {part.words}' if part.words else ''}{sure}"
