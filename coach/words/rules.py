"""An inspection rule as a page: how far to trust it, which cars, how many may be incomplete, what else counts, sources.

The sentences are made from the rule's own keys, so that they cannot say anything else than what it is judged by; what a
key cannot hold stands behind as a remark. What was not read in its source is marked; what is not marked was.
"""

from collections.abc import Callable, Iterator

from coach.inspection.parts import Part
from coach.inspection.rules import Rule
from coach.inspection.schema import (
    OPEN_YEAR,
    Codes,
    Counts,
    Limit,
    Mil,
    NotReady,
    Operation,
    Permanent,
    PermanentException,
    Reading,
    Retest,
)
from coach.words.outcomes import LEADS_TO
from coach.words.paragraphs import wrapped
from coach.words.reasons import FUELS, SURE, monitor_names
from coach.words.verdicts import CONFIRM, rule_source
from coach.words.who import fact_words

MARKS = {"found": "", "found-2nd": " (second hand)", "memory": " (from memory)"}
WEAKER = ("found", "found-2nd", "memory")
FACTS = {"nothing": "out", "another_test": "other test", "not_stated": "outside"}
STATUS = {"active": "in force", "ended": "ended", "unknown": "no text was read"}
COUNTED = {
    "non_continuous": "misfire, fuel system and components are not counted",
    "all": "every monitor the car has is counted",
    "not_stated": "whether misfire, fuel system and components are counted is not stated",
}


def rules_page(rules: tuple[Rule, ...]) -> str:
    """All rules, one a line."""
    return "\n".join(f"{r.id:<24} {r.status:<8} {r.name} ({_in_short(r)})" for r in rules)


def _in_short(rule: Rule) -> str:
    """As sure as its numbers are: the rule may have been read and its number not."""
    numbers = [limit.sure for reading in rule.reading for limit in reading.limit]
    weakest = max((rule.sure, min(numbers, key=WEAKER.index, default=rule.sure)), key=WEAKER.index)
    return f"{SURE[weakest].split(',')[0]}{', an older text' if rule.outdated else ''}"


def rule_page(rule: Rule) -> str:
    """One rule."""
    parts = [
        [f"{rule.name}", f"{rule.id}, {STATUS[rule.status]}"],
        ["How far to trust it", *_trust(rule)],
        ["Which cars", *_cars(rule)],
        *[[_reading_title(rule, one), *_limits(one)] for one in rule.reading],
        ["What else it looks at", *_clauses(rule)],
        ["Sources disagree", *(wrapped(conflict.words) for conflict in rule.conflict)],
        ["Remarks", *(wrapped(note) for note in rule.notes)],
        ["Where it comes from", *rule_source(rule)],
        [CONFIRM],
    ]
    return "\n\n".join("\n".join(part) for part in parts if len(part) > 1 or part == [CONFIRM])


# ---------------------------------------------------------------- how far to trust it


def _trust(rule: Rule) -> Iterator[str]:
    if rule.ended is not None:
        yield wrapped(f"The programme ended {rule.ended.date}{_mark(rule.ended)}, so no car is judged by it.")
    elif rule.status == "unknown":
        yield wrapped("No rule text was read, so no car is judged by it.")
    else:
        yield wrapped(_worth(rule))
    yield wrapped("What is not marked as second hand or from memory was read in the sources below.")


def _worth(rule: Rule) -> str:
    """Whether a verdict by it can be "ready" at all, and why not: as `coach.inspection.verdict` decides it."""
    ways = "It can be read in more than one way; each is shown and none is settled here. " if rule.reading[1:] else ""
    if rule.outdated:
        return f"{ways}It never says ready, since it is not the newest text: {rule.outdated}."
    known = "It says not ready where every known reading of it does."
    if rule.sure == "memory" or not all(any(_read(x) for x in one.limit) for one in rule.reading):
        return f"{ways}It never says ready: how many may be incomplete was not read in its own source. {known}"
    return f"{ways}It can say ready and not ready. Where a part it needs was not read in its source, it cannot say."


def _read(limit: Limit) -> bool:
    return limit.sure == "found" and not limit.unread


# ---------------------------------------------------------------- which cars


def _cars(rule: Rule) -> Iterator[str]:
    scope = rule.scope
    if scope.area:
        yield wrapped(f"{'where':<11} {scope.area}", hang=14)
    for fact in scope.exempt:
        yield wrapped(f"{FACTS[fact.instead]:<11} {fact_words(fact)}{_letters(fact.source)}{_mark(fact)}", hang=14)
    for waiver in scope.waiver:
        yield wrapped(f"{'on request':<11} {waiver.words}{_letters(waiver.source)}{_mark(waiver)}", hang=14)
    if scope.unknown:
        yield wrapped(f"{'not found':<11} {scope.unknown}", hang=14)
    yield from (wrapped(f"[{letter}] {address}", hang=6) for letter, address in scope.sources.items())


def _letters(source: str) -> str:
    return f" [{source}]" if source else ""


# ---------------------------------------------------------------- how many


def _reading_title(rule: Rule, reading: Reading) -> str:
    if len(rule.reading) == 1:
        return "How many monitors may be incomplete"
    since = f", from {reading.since}" if reading.since and reading.since not in reading.words else ""
    return f"How many monitors may be incomplete, by {reading.words}{since}"


def _limits(reading: Reading) -> Iterator[str]:
    yield from (wrapped(limit_words(limit)) for limit in reading.limit)


def limit_words(limit: Limit) -> str:
    """One limit in words."""
    last = "on" if limit.last_model_year == OPEN_YEAR else f"to {limit.last_model_year}"
    years = f"{limit.first_model_year} {last}, " if limit.first_model_year > 0 else ""
    count = _count_words(limit)
    only = f", only {monitor_names(limit.only)}" if limit.only else ""
    must = f", never {monitor_names(limit.must)}" if limit.must else ""
    return f"{years}{FUELS[limit.fuel]}: {count}{only}{must}{_mark(limit)}{_remark(limit)}"


def _count_words(limit: Limit) -> str:
    if not limit.counts:
        return "readiness is not counted"
    if limit.unread:
        return "some readiness is wanted; which was not read"
    if limit.min_complete is not None:
        return f"at least {limit.min_complete} must be complete"
    return "any may be incomplete" if limit.allowed is None else f"{limit.allowed or 'none'} may be incomplete"


# ---------------------------------------------------------------- what else


def _clauses(rule: Rule) -> Iterator[str]:
    counted = any(limit.counts for reading in rule.reading for limit in reading.limit)
    for name, key, words in CLAUSES:
        part = getattr(rule, key)
        known = part is not None and (rule.reading or part.words) and (counted or key != "counts")
        if known:
            yield _row(name, words(part), part)


def _counts(part: Counts) -> str:
    petrol, diesel = COUNTED[part.gasoline], COUNTED[part.diesel]
    return petrol if petrol == diesel else f"petrol: {petrol}; diesel: {diesel}"


def _mil(part: Mil) -> str:
    on = {True: "it fails when commanded on", False: "it does not matter", None: "what it does is not stated"}
    dark = {True: "; a lamp that stays dark at key-on fails too", False: "", None: ""}
    with_code = " with a code, and without one it cannot be said" if part.with_code_only else ""
    return f"{on[part.commanded_on]}{with_code}{dark[part.dark_at_key_on]}"


def _stored(part: Codes) -> str:
    return {
        "fails": "a stored code fails by itself, whatever the MIL does",
        "no_effect": "a stored code passes while the MIL is off",
        "not_stated": "what a stored code does while the MIL is off is not stated",
    }[part.effect]


def _pending(part: Codes) -> str:
    return {
        "fails": "a pending code fails",
        "no_effect": "pending codes do not matter",
        "not_stated": "whether a pending code matters is not stated",
    }[part.effect]


def _permanent(part: Permanent) -> str:
    if not part.considered:
        return "not looked at" if part.sure == "found" else "thought not to be looked at; nothing was read about it"
    since = f" since {part.since}" if part.since else ""
    year = f" on cars of model year {part.min_model_year} on" if part.min_model_year is not None else ""
    return f"a permanent code fails{since}{year}, even with the MIL off{_excepted(part.exception)}"


def _excepted(part: PermanentException | None) -> str:
    if part is None:
        return ""
    both = "and" if part.needs_both else "or"
    off = " with the MIL off" if part.mil_off else ""
    since = f"{part.warm_ups} warm-ups {both} {part.distance_mi:.0f} miles since the clear{off}"
    return f"; not after {since}{_mark(part)}"


def _operation(part: Operation) -> str:
    own = f"{part.warm_ups} warm-ups, {part.distance_mi:.0f} miles or {part.run_time_min:.0f} minutes of running"
    kept = (
        f"{part.permanent_warm_ups} warm-ups, {part.permanent_distance_mi:.0f} miles,"
        f" {part.permanent_run_time_min:.0f} minutes, or with {part.permanent_max_incomplete} incomplete at most"
    )
    return f"{own} are enough, any one; a permanent code is not looked at after {kept}"


def _retest(part: Retest) -> str:
    if part.no_bar:
        return "an incomplete monitor is no bar"
    if part.must_be_complete:
        return f"after a failure with its code it must be complete: {monitor_names(part.must_be_complete)}"
    return "" if part.words else "no rule for one was found"


def _not_ready(part: NotReady) -> str:
    return LEADS_TO[part.leads_to]


CLAUSES: tuple[tuple[str, str, Callable[..., str]], ...] = (
    ("counted", "counts", _counts),
    ("MIL", "mil", _mil),
    ("stored", "stored", _stored),
    ("pending", "pending", _pending),
    ("permanent", "permanent", _permanent),
    ("driven", "operation", _operation),
    ("retest", "retest", _retest),
    ("not ready", "not_ready", _not_ready),
)
"""What stands at the left, the part of the rule, its words."""


# ---------------------------------------------------------------- forms


def _row(name: str, words: str, part: Part) -> str:
    """A part with its mark; a part that says nothing was not read anywhere, which needs no mark."""
    unsaid = "not stated" in words and "fails" not in words
    silent = unsaid or words.startswith(("no rule", "thought"))
    remark = _remark(part)
    text = f"{words}{remark}".removeprefix("; ")
    return wrapped(f"{name:<11} {text}{'' if silent else _mark(part)}", hang=14)


def _mark(part: Part | PermanentException) -> str:
    return MARKS[part.sure]


def _remark(part: Part) -> str:
    where = f" ({part.source})" if part.source else ""
    return (f"; {part.words}" if part.words else "") + where
