"""What a job keeps of the user's word for a verdict, used where nothing is typed: rule, year, fuel and the rest."""

from typing import cast

from coach.car.car import Car
from coach.inspection.clauses import Vehicle
from coach.inspection.findings import findings_of
from coach.inspection.needs import target
from coach.inspection.parts import DrivenBy
from coach.inspection.rules import Rule
from coach.inspection.two_words import TwoWords
from coach.inspection.verdict import judge
from coach.jobs.errors import JobError
from coach.jobs.records import JobRecord
from coach.session.confirm import JobSeen
from coach.session.filed import Judged
from coach.session.rules import a_rule, refusals, vehicle_of


def kept_rule(record: JobRecord) -> Rule | None:
    """The rule a job is judged by; none where it keeps none. JobError where that rule is not there any more."""
    if record.rule is None:
        return None
    try:
        return a_rule(record.rule)
    except (KeyError, ValueError, OSError) as error:
        why = error.args[0] if isinstance(error, KeyError) else error
        raise JobError(
            f"{record.id} is judged by a rule that cannot be used: {why}; name another with --rules"
        ) from None


def kept_verdict(seen: JobSeen, on: str) -> Judged | None:
    """The verdict on a job by the rule it keeps; none where it keeps none, or nothing was read. `on`: today."""
    rule = kept_rule(seen.job.record)
    if rule is None or seen.latest is None or seen.evidence is None:
        return None
    vehicle, told = _vehicle(seen.job.record, seen.latest.car, on)
    return judge(rule, seen.evidence.findings, vehicle), told


def kept_words(seen: JobSeen, on: str) -> TwoWords | None:
    """What the user of a job and its car say of model year and fuel; none before anything was read."""
    return _vehicle(seen.job.record, seen.latest.car, on)[1] if seen.latest is not None else None


def kept_target(record: JobRecord, car: Car, on: str) -> tuple[str, ...] | None:
    """What a drive has to complete to be accepted by the rule the job keeps; none where it keeps none."""
    rule = kept_rule(record)
    if rule is None:
        return None
    return target(rule, findings_of(car), _vehicle(record, car, on)[0], record.codes, record.chosen)


def kept_refusals(record: JobRecord, car: Car, on: str) -> dict[str, object] | None:
    """What the rule the job keeps refuses beside the monitors of its target; none where it keeps none."""
    rule = kept_rule(record)
    if rule is None:
        return None
    wanted = kept_target(record, car, on) or ()
    return refusals(rule, car, _vehicle(record, car, on)[0], wanted)


def _vehicle(record: JobRecord, car: Car, on: str) -> tuple[Vehicle, TwoWords]:
    return vehicle_of(
        car,
        on,
        year=record.model_year,
        fuel=record.fuel,
        gvwr_lb=record.gvwr_lb,
        against_the_car=record.against_the_car,
        kept_km=record.odometer_km,
        kind=cast("DrivenBy | None", record.kind),
        inspected=record.inspected,
    )
