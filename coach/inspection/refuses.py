"""What a named rule would refuse, or could not say, of a car whose target is complete: ids for a drive to go by.

A drive knows no rules. It is told at its beginning, beside the monitors of its target, which findings stand against it
under this rule; the MIL and a stored or pending code do under every one.
"""

from collections.abc import Collection, Iterator
from dataclasses import replace

from coach.inspection import clauses
from coach.inspection.clauses import Vehicle
from coach.inspection.findings import Findings, Found
from coach.inspection.rules import Rule
from coach.inspection.verdict import judge

ANY_CODE = ("P0000",)
"""Stands for any permanent code: no rule asks which it is."""
HELD = {
    "permanent": Found(ANY_CODE, ANY_CODE),
    "permanent_unknown": Found(None),
    "permanent_not_offered": Found(None, offered=False),
}
"""Permanent codes as a drive may find them at its end."""
OUTCOMES = {
    "ready": (),
    "not_ready": ("rule_against",),
    "cannot_say": ("rule_unsure",),
    "exempt": ("rule_unsure",),  # an inspection that is not for this car accepts nothing
}


def refused(rule: Rule, findings: Findings, vehicle: Vehicle, target: Collection[str]) -> tuple[str, ...]:
    """Ids of what stands against the car once the monitors of `target` are complete and no code is stored or pending.

    What the rule leaves open counts as refused: only what surely speaks for the car does not.
    """
    clean = _at_the_end(findings, target)
    whole = OUTCOMES[judge(rule, clean, vehicle).outcome]
    return (*whole, *_permanent(rule, clean, vehicle))


def _at_the_end(findings: Findings, target: Collection[str]) -> Findings:
    """The findings such a drive would bring; what the rule lets go stays as it is."""
    none = Found(())
    monitors = {m: "complete" if m in target else state for m, state in findings.monitors.items()}
    return replace(findings, monitors=monitors, mil_on=False, stored=none, pending=none, permanent=none)


def _permanent(rule: Rule, clean: Findings, vehicle: Vehicle) -> Iterator[str]:
    for name, held in HELD.items():
        reasons = clauses.permanent(rule, replace(clean, permanent=held), vehicle)
        if any(reason.effect != "for" for reason in reasons):
            yield name
