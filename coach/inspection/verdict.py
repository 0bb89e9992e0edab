"""The verdict: what an inspection would say of this car under a named rule, with every reason. Pure.

exempt      the inspection is not for such a car: it gets no verdict
ready       the rule is read in its source, nothing contradicts it, and every clause speaks for the car
not_ready   every reading of the rule has a reason against the car: read in its source, or, `by_known_readings`,
            at least written down by somebody
cannot_say  everything else: what each reading would say stands beside it
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from coach.inspection import clauses
from coach.inspection.clauses import Reason, Vehicle
from coach.inspection.findings import Findings
from coach.inspection.parts import Fuel
from coach.inspection.rules import Rule
from coach.inspection.schema import Limit, Reading
from coach.inspection.scope import edges, exemption, scope
from coach.inspection.worked import Outcome
from coach.j1979.model_year import FIRST_OBD_YEAR


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
    `by_known_readings`: not ready, but by readings that were not all read in their source.
    """

    rule: Rule
    vehicle: Vehicle
    outcome: Outcome
    scope: tuple[Reason, ...]
    readings: tuple[ReadingVerdict, ...]
    unverified: bool
    contradictory: bool
    by_known_readings: bool = False

    @property
    def exempt(self) -> Reason | None:
        """The surest reason for which it is not inspected there, none where it is or may be."""
        return exemption(self.scope)


def judge(rule: Rule, findings: Findings, vehicle: Vehicle) -> Verdict:
    """The verdict on these findings of this vehicle under this rule."""
    outside = scope(rule, vehicle)
    exempt = exemption(outside)
    if exempt is not None:
        return Verdict(rule, vehicle, "exempt", outside, (), exempt.sure != "found", False)
    readings = _readings(rule, findings, vehicle)
    contradictory = len({_asked(one.limit) for one in readings if one.limit is not None}) > 1
    unverified = bool(rule.outdated) or rule.sure == "memory" or not all(_verified(one) for one in readings)
    outcome = _outcome(readings, unverified or contradictory)
    if any(_bars(reason, outcome) for reason in outside):
        outcome = "cannot_say"
    plain = not rule.outdated and all(_surely_against(one) for one in readings)
    by_known = outcome == "not_ready" and not plain
    return Verdict(rule, vehicle, outcome, outside, readings, unverified, contradictory, by_known)


def judge_any(rule: Rule, findings: Findings, vehicle: Vehicle) -> tuple[Verdict, ...]:
    """Like `judge`; one verdict for each model year that may make a difference where the year is not known."""
    if vehicle.model_year is not None or vehicle.fuel is None:
        return (judge(rule, findings, vehicle),)
    firsts = [max(limit.first_model_year, FIRST_OBD_YEAR) for limit in _limits(rule, vehicle)]
    steps = {*firsts, *(year for year in edges(rule, vehicle) if firsts and year > min(firsts))}
    return tuple(judge(rule, findings, replace(vehicle, model_year=year)) for year in sorted(steps))


def _limits(rule: Rule, vehicle: Vehicle) -> Iterator[Limit]:
    for reading in rule.readings_on(vehicle.on):
        yield from (limit for limit in reading.limit if limit.fuel in (vehicle.fuel, "any"))


def _asked(limit: Limit) -> tuple[object, ...]:
    return limit.allowed, limit.only, limit.must, limit.min_complete, limit.unread


def _verified(reading: ReadingVerdict) -> bool:
    limit = reading.limit
    used = limit is not None and limit.sure == "found" and not limit.unread
    return used and all(reason.sure == "found" for reason in reading.reasons)


def _outcome(readings: tuple[ReadingVerdict, ...], doubtful: bool) -> Outcome:
    if readings and all(reading.outcome == "not_ready" for reading in readings):
        return "not_ready"
    ready = readings and not doubtful and all(reading.outcome == "ready" for reading in readings)
    return "ready" if ready else "cannot_say"


def _surely_against(reading: ReadingVerdict) -> bool:
    return any(reason.effect == "against" and reason.sure == "found" for reason in reading.reasons)


def _bars(reason: Reason, outcome: Outcome) -> bool:
    """Whether a doubt about the scope takes this outcome away.

    A car that is ready is so too where it may not be inspected at all; not where it may get another test.
    """
    harmless = reason.id == "may_be_exempt" and reason.fact is not None and reason.fact.instead == "nothing"
    return reason.effect == "open" and not (harmless and outcome == "ready")


def _readings(rule: Rule, findings: Findings, vehicle: Vehicle) -> tuple[ReadingVerdict, ...]:
    if vehicle.fuel is None:
        return ()
    pairs = [(reading, limit_of(reading, vehicle.model_year, vehicle.fuel)) for reading in rule.readings_on(vehicle.on)]
    with_limit = [(reading, limit) for reading, limit in pairs if limit is not None]
    if not with_limit and vehicle.model_year is None:
        return ()
    return tuple(_read(rule, reading, limit, findings, vehicle) for reading, limit in with_limit or pairs)


def limit_of(reading: Reading, model_year: int | None, fuel: Fuel) -> Limit | None:
    """The first limit of a reading that covers such a car."""
    return next((limit for limit in reading.limit if limit.covers(model_year, fuel)), None)


def _read(rule: Rule, reading: Reading, limit: Limit | None, findings: Findings, vehicle: Vehicle) -> ReadingVerdict:
    missing = (Reason("no_limit_for_car", "open", rule.sure),)
    reasons = (
        *(missing if limit is None else _run_enough(rule, limit, findings, vehicle)),
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
