"""A rule beside its own worked cases, in words and as data; what is compared stands in `coach.inspection.cases`."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from coach.inspection.cases import Worked, lacking, worked
from coach.inspection.rules import Rule
from coach.inspection.worked import Says
from coach.words.outcomes import exempt_words
from coach.words.reasons import OUTCOMES, REASONS

SCHEMA, SCHEMA_VERSION = "coach.rules.check", 1
FEWEST = 3
"""Our judgement: one on each side of the limit, and one that the rule is not for or cannot settle."""


@dataclass(frozen=True, slots=True)
class Checked:
    """A rule and its cases. `name`: what the user called it. `missing`: kinds of case it should have."""

    name: str
    rule: Rule
    cases: tuple[Worked, ...]
    missing: tuple[Says, ...]

    @property
    def right(self) -> bool:
        """Whether it says what its cases say, and has them."""
        return not self.missing and len(self.cases) >= FEWEST and all(case.right for case in self.cases)


def found_in(name: str, rule: Rule) -> Checked:
    """A rule held against its cases."""
    return Checked(name, rule, worked(rule), lacking(rule))


def checked_words(one: Checked) -> Iterator[str]:
    """One line a rule, and one for each thing that is not as it should be."""
    wrong = [case for case in one.cases if not case.right]
    number = f"{len(one.cases)} worked cases"
    yield f"{one.name}: {number}, {'all as the rule says' if not wrong else f'{len(wrong)} not as the rule says'}"
    yield from (f"  {case.case.name}: {_difference(case)}" for case in wrong)
    yield from (f"  no case for {kind!r}" for kind in one.missing)
    if len(one.cases) < FEWEST:
        yield f"  at least {FEWEST} cases are wanted"


def _difference(one: Worked) -> str:
    case, outcome = one.case, one.verdict.outcome
    said = f"the case says {case.says}, the rule {one.says}" if case.says != one.says else f"both say {case.says}"
    told = f"told as {OUTCOMES[outcome]}, wanted {OUTCOMES[case.expected]}"
    return f"{said}; {told}: {'; '.join(_why(one))}"


def _why(one: Worked) -> Iterator[str]:
    if one.verdict.exempt is not None:
        yield exempt_words(one.verdict)
    every = (*one.verdict.scope, *(reason for reading in one.verdict.readings for reason in reading.reasons))
    found = [REASONS[reason.id](reason) for reason in every if reason.effect in ("open", "against")]
    yield from dict.fromkeys(found)
    if not found and one.verdict.exempt is None:
        yield "nothing speaks against it"


def check_document(found: Sequence[Checked]) -> dict[str, Any]:
    """The same as data."""
    return {"schema": SCHEMA, "version": SCHEMA_VERSION, "rules": [_rule(one) for one in found]}


def _rule(one: Checked) -> dict[str, Any]:
    return {
        "name": one.name,
        "id": one.rule.id,
        "right": one.right,
        "missing": list(one.missing),
        "cases": [
            {
                "name": case.case.name,
                "right": case.right,
                "case_says": case.case.says,
                "rule_says": case.says,
                "wanted": case.case.expected,
                "outcome": case.verdict.outcome,
            }
            for case in one.cases
        ],
    }
