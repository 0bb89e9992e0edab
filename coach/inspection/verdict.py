"""The verdict: what an inspection would say of this car under a named rule, with every reason. Pure.

ready       the rule is read in its source, nothing contradicts it, and every clause speaks for the car
not_ready   every reading of the rule has a reason against the car that was read in its source
cannot_say  everything else: what each reading would say stands beside it
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

from coach.inspection import clauses
from coach.inspection.clauses import Reason, Vehicle
from coach.inspection.findings import Findings
from coach.inspection.rules import Rule
from coach.inspection.schema import Fuel, Limit, Reading
from coach.inspection.scope import scope

Outcome = Literal["ready", "not_ready", "cannot_say"]


@dataclass(frozen=True, slots=True)
class ReadingVerdict:
    """What one reading of the rule says. `limit` is none where the reading has none for this car."""

    reading: Reading
    limit: Limit | None
    outcome: Outcome
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True)
class Verdict:
    """The whole. `scope`: why the rule may not be for this car, and remarks on it.

    `unverified`: some part it rests on was not read in its source. `contradictory`: several readings in force differ.
    """

    rule: Rule
    vehicle: Vehicle
    outcome: Outcome
    scope: tuple[Reason, ...]
    readings: tuple[ReadingVerdict, ...]
    unverified: bool
    contradictory: bool


def judge(rule: Rule, findings: Findings, vehicle: Vehicle) -> Verdict:
    """The verdict on these findings of this vehicle under this rule."""
    outside = tuple(scope(rule, vehicle))
    readings = _readings(rule, findings, vehicle)
    limits = {(r.limit.allowed, r.limit.only, r.limit.must) for r in readings if r.limit is not None}
    contradictory = len(limits) > 1
    unverified = bool(rule.outdated) or rule.sure == "memory" or not all(_verified(one) for one in readings)
    outcome: Outcome = "cannot_say"
    if not any(reason.effect == "open" for reason in outside) and readings:
        outcome = _outcome(readings, unverified or contradictory)
    return Verdict(rule, vehicle, outcome, outside, readings, unverified, contradictory)


def judge_any(rule: Rule, findings: Findings, vehicle: Vehicle) -> tuple[Verdict, ...]:
    """Like `judge`; one verdict for each model year that would make a difference where the year is not known."""
    if vehicle.model_year is not None or vehicle.fuel is None:
        return (judge(rule, findings, vehicle),)
    years = sorted({limit.first_model_year for limit in _limits(rule, vehicle) if limit.first_model_year > 0})
    return tuple(judge(rule, findings, replace(vehicle, model_year=year)) for year in years)


def _limits(rule: Rule, vehicle: Vehicle) -> Iterator[Limit]:
    for reading in rule.readings_on(vehicle.on):
        yield from (limit for limit in reading.limit if limit.fuel in (vehicle.fuel, "any"))


def _verified(reading: ReadingVerdict) -> bool:
    used = reading.limit is not None and reading.limit.sure == "found"
    return used and all(reason.sure == "found" for reason in reading.reasons)


def _outcome(readings: tuple[ReadingVerdict, ...], doubtful: bool) -> Outcome:
    if all(_surely_against(reading) for reading in readings):
        return "not_ready"
    return "ready" if not doubtful and all(reading.outcome == "ready" for reading in readings) else "cannot_say"


def _surely_against(reading: ReadingVerdict) -> bool:
    return any(reason.effect == "against" and reason.sure == "found" for reason in reading.reasons)


def _readings(rule: Rule, findings: Findings, vehicle: Vehicle) -> tuple[ReadingVerdict, ...]:
    if vehicle.model_year is None or vehicle.fuel is None:
        return ()
    pairs = [(reading, limit_of(reading, vehicle.model_year, vehicle.fuel)) for reading in rule.readings_on(vehicle.on)]
    with_limit = [(reading, limit) for reading, limit in pairs if limit is not None]
    return tuple(_read(rule, reading, limit, findings, vehicle) for reading, limit in with_limit or pairs)


def limit_of(reading: Reading, model_year: int, fuel: Fuel) -> Limit | None:
    """The first limit of a reading that covers such a car."""
    return next((limit for limit in reading.limit if limit.covers(model_year, fuel)), None)


def _read(rule: Rule, reading: Reading, limit: Limit | None, findings: Findings, vehicle: Vehicle) -> ReadingVerdict:
    if limit is None:
        return ReadingVerdict(reading, None, "cannot_say", (Reason("no_limit_for_car", "open", rule.sure),))
    reasons = (
        *_run_enough(rule, limit, findings, vehicle),
        *clauses.mil(rule, findings, vehicle),
        *clauses.codes(rule, findings, "stored"),
        *clauses.codes(rule, findings, "pending"),
        *clauses.permanent(rule, findings, vehicle),
        *clauses.retest(rule, findings, vehicle),
    )
    effects = {reason.effect for reason in reasons}
    outcome: Outcome = "not_ready" if "against" in effects else "cannot_say" if "open" in effects else "ready"
    return ReadingVerdict(reading, limit, outcome, reasons)


def _run_enough(rule: Rule, limit: Limit, findings: Findings, vehicle: Vehicle) -> tuple[Reason, ...]:
    """Readiness; where the rule also takes operation since the clear, either is enough."""
    counted = tuple(clauses.readiness(rule, limit, findings, vehicle.fuel or "gasoline"))
    op = rule.operation
    if op is None or (op.since is not None and op.since > vehicle.on):
        return counted
    if all(reason.effect == "for" for reason in counted):
        return counted
    driven = tuple(clauses.operation(op, findings))
    if any(reason.effect == "for" for reason in driven):
        return driven
    both = (*counted, *driven)  # only together they are against the car: as sure as the less sure of the two
    doubtful = any(reason.effect == "open" for reason in both)
    return tuple(
        replace(r, effect="open" if doubtful and r.effect == "against" else r.effect, sure=op.sure) for r in both
    )
