"""The clauses of a rule, one function each: what it says of this car, as reasons with ids and numbers.

A reason is `for` the car, `against` it, `exempt`: the inspection is not for such a car, or `open`: not known, or not
known how the rule takes it. A part of a rule that was not read in its source never speaks for the car where the car
needs it: it leaves the question open.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from coach.inspection.codes import assignment
from coach.inspection.findings import Findings
from coach.inspection.parts import DrivenBy, Fuel, Sure
from coach.inspection.rules import Rule
from coach.inspection.schema import Limit, Operation, PermanentException
from coach.inspection.who import Exempt

Effect = Literal["for", "against", "open", "exempt"]


@dataclass(frozen=True, slots=True)
class Vehicle:
    """What a rule needs beside the car's answers. `on`: the day in ISO 8601. None is unknown.

    `gvwr_lb`: gross vehicle weight rating in pounds. `lamp_lights`: the user saw the MIL light at key-on, engine off.
    `failed_with`: the codes it was failed for before, where this is a retest. `disputed_year`: the model year by the
    user's word, where the car's VIN has no room for it and nobody's word holds. `kind`: what drives it beside its fuel.
    `inspected`: the user's word, where whether it is inspected hangs on what the car does not tell.
    """

    on: str
    model_year: int | None = None
    fuel: Fuel | None = None
    gvwr_lb: float | None = None
    lamp_lights: bool | None = None
    failed_with: tuple[str, ...] = ()
    disputed_year: int | None = None
    odometer_km: float | None = None
    kind: DrivenBy | None = None
    inspected: bool | None = None

    @property
    def this_year(self) -> int:
        """The year of the day."""
        return int(self.on[:4])


@dataclass(frozen=True, slots=True)
class Reason:
    """One reason. `sure`: how sure the part of the rule is it rests on. `number` against `limit`, in their own unit.

    `fact`: what of the rule's scope it is about.
    """

    id: str
    effect: Effect
    sure: Sure
    monitors: tuple[str, ...] = ()
    codes: tuple[str, ...] = ()
    number: float | None = None
    limit: float | None = None
    fact: Exempt | None = None


# ---------------------------------------------------------------- readiness


def readiness(rule: Rule, limit: Limit, findings: Findings, fuel: Fuel) -> Iterator[Reason]:
    """How many monitors are incomplete, which, and whether this reading of the rule lets them go."""
    if not limit.counts:
        yield Reason("not_counted", "for", limit.sure)
        return
    if not findings.supported:
        yield Reason("no_monitors", "open", "found")
        return
    counting = getattr(rule.counts, fuel)
    unknown = findings.in_state(None, continuous=counting != "non_continuous" or bool(limit.must))
    if unknown:
        yield Reason("monitors_unknown", "open", "found", unknown)
    strict = tuple(_count(limit, findings, continuous=True))
    loose = tuple(_count(limit, findings, continuous=False))
    if counting == "not_stated" and _outcome(strict) != _outcome(loose):
        every = findings.in_state("incomplete", continuous=True)
        yield Reason("counting_open", "open", rule.counts.sure, every)
        return
    yield from loose if counting == "non_continuous" else strict


def _count(limit: Limit, findings: Findings, *, continuous: bool) -> Iterator[Reason]:
    """`continuous`: whether misfire, fuel system and components count; those a rule names count in any case."""
    incomplete = findings.in_state("incomplete", continuous=continuous)
    every = findings.in_state("incomplete", continuous=True)
    against = tuple(_against(limit, incomplete, every, len(findings.in_state("complete", continuous=continuous))))
    if against:
        yield from against
    elif limit.unread and incomplete:
        yield Reason("demand_unread", "open", limit.sure, incomplete)
    else:
        yield Reason("few_enough_incomplete", "for", limit.sure, incomplete, (), len(incomplete), limit.allowed)


def _against(limit: Limit, incomplete: tuple[str, ...], every: tuple[str, ...], complete: int) -> Iterator[Reason]:
    must = tuple(m for m in every if m in limit.must)
    barred = tuple(m for m in incomplete if limit.only and m not in limit.only)
    if must:
        yield Reason("must_be_complete", "against", limit.sure, must)
    if barred:
        yield Reason("may_not_be_incomplete", "against", limit.sure, barred)
    if limit.allowed is not None and len(incomplete) > limit.allowed:
        yield Reason("too_many_incomplete", "against", limit.sure, incomplete, (), len(incomplete), limit.allowed)
    if limit.min_complete is not None and complete < limit.min_complete:
        yield Reason("too_few_complete", "against", limit.sure, incomplete, (), complete, limit.min_complete)


def _outcome(reasons: tuple[Reason, ...]) -> bool:
    return any(reason.effect == "against" for reason in reasons)


def operation(op: Operation, findings: Findings) -> Iterator[Reason]:
    """Operation since the clear: any one minimum is enough."""
    told = (
        (findings.warm_ups, op.warm_ups, "operation_warm_ups"),
        (findings.distance_mi, op.distance_mi, "operation_distance_mi"),
        (findings.run_time_min, op.run_time_min, "operation_run_time_min"),
    )
    for number, limit, name in told:
        if number is not None and number >= limit:
            yield Reason(name, "for", op.sure, (), (), number, limit)
            return
    known = next(((number, limit) for number, limit, _ in told if number is not None), (None, None))
    yield Reason(
        "operation_short", "against" if None not in (n for n, _, _ in told) else "open", op.sure, (), (), *known
    )


# ---------------------------------------------------------------- MIL and codes


def mil(rule: Rule, findings: Findings, vehicle: Vehicle) -> Iterator[Reason]:
    """The MIL as commanded, and as the user saw it light at key-on."""
    part = rule.mil
    if findings.mil_on is None:
        yield Reason("mil_unknown", "open", "found")
    elif findings.mil_on is False:
        yield Reason("mil_off", "for", "found")
    elif part.commanded_on is None:
        yield Reason("mil_on_not_stated", "open", part.sure)
    elif part.commanded_on is False:
        yield Reason("mil_on_no_matter", "for" if part.sure == "found" else "open", part.sure)
    elif part.with_code_only and findings.stored.clean is not False:
        yield Reason("mil_on_without_code", "open", part.sure)
    else:
        yield Reason("mil_on", "against", part.sure, (), findings.stored.present)
    if vehicle.lamp_lights is False:
        yield Reason("lamp_dark", "against" if part.dark_at_key_on else "open", part.sure)


def codes(rule: Rule, findings: Findings, kind: Literal["stored", "pending"]) -> Iterator[Reason]:
    """Stored or pending codes by themselves. With the MIL commanded the MIL decides already."""
    part, found = getattr(rule, kind), getattr(findings, kind)
    if found.clean is None:
        yield Reason(f"{kind}_unknown", "open", "found")
    elif found.clean:
        yield Reason(f"no_{kind}", "for", "found")
    elif part.effect == "fails":
        yield Reason(f"{kind}_fails", "against", part.sure, (), found.present)
    elif part.effect == "no_effect" and part.sure == "found" and not (kind == "stored" and findings.mil_on):
        yield Reason(f"{kind}_no_effect", "for", part.sure, (), found.present)
    elif not (kind == "stored" and findings.mil_on):
        name = f"{kind}_no_effect_unsure" if part.effect == "no_effect" else f"{kind}_not_stated"
        yield Reason(name, "open", part.sure, (), found.present)


def permanent(rule: Rule, findings: Findings, vehicle: Vehicle) -> Iterator[Reason]:
    """Permanent codes: whether the rule looks at them, from which model year, and from when it does not any more."""
    part, found = rule.permanent, findings.permanent
    counts = part.considered and (part.since is None or part.since <= vehicle.on)
    if found.clean:
        yield Reason("no_permanent", "for", "found")
        return
    if found.clean is None and not counts and (part.sure == "found" or not found.offered):
        return  # nobody said one is there, and the rule does not look
    if found.clean is None and not found.offered:
        newer = part.min_model_year is None or (vehicle.model_year or 0) >= part.min_model_year
        yield Reason("permanent_not_offered", "open" if newer else "for", part.sure)
        return
    if found.clean is None:
        yield Reason("permanent_unknown", "open", "found")
        return
    yield _permanent_present(rule, findings, vehicle, counts)


def _permanent_present(rule: Rule, findings: Findings, vehicle: Vehicle, counts: bool) -> Reason:
    part, present = rule.permanent, findings.permanent.present
    if not counts:
        unsure = part.sure != "found"
        name = "permanent_not_considered_unsure" if unsure else "permanent_not_considered"
        return Reason(name, "open" if unsure else "for", part.sure, (), present)
    if part.min_model_year is not None and (vehicle.model_year or 0) < part.min_model_year:
        return Reason("permanent_older_car", "open", part.min_model_year_sure or part.sure, (), present)
    if rule.operation is not None:
        return _by_operation(rule.operation, findings, present)
    if part.exception is not None:
        return _by_exception(part.exception, part.sure, findings, present)
    return Reason("permanent_counts", "against", part.sure, (), present)


def _by_exception(part: PermanentException, sure: Sure, findings: Findings, present: tuple[str, ...]) -> Reason:
    met = [
        None if number is None else number >= limit
        for number, limit in ((findings.warm_ups, part.warm_ups), (findings.distance_mi, part.distance_mi))
    ]
    whole = _joined(met, part.needs_both)
    if part.mil_off and findings.mil_on is not False:
        whole = False if findings.mil_on else None
    if whole is False:
        return Reason("permanent_counts", "against", sure, (), present, findings.warm_ups, part.warm_ups)
    if whole is None:
        return Reason("permanent_exception_unknown", "open", part.sure, (), present)
    effect: Effect = "for" if part.sure == "found" else "open"
    return Reason("permanent_excepted", effect, part.sure, (), present, findings.warm_ups, part.warm_ups)


def _by_operation(op: Operation, findings: Findings, present: tuple[str, ...]) -> Reason:
    incomplete = len(findings.in_state("incomplete", continuous=False))
    told = (
        (findings.warm_ups, op.permanent_warm_ups),
        (findings.distance_mi, op.permanent_distance_mi),
        (findings.run_time_min, op.permanent_run_time_min),
    )
    met: list[bool | None] = [None if number is None else number >= limit for number, limit in told]
    sure_count = bool(findings.supported) and not findings.in_state(None, continuous=False)
    met.append(incomplete <= op.permanent_max_incomplete if sure_count else None)
    whole = _joined(met, needs_all=False)
    if whole is None:
        return Reason("permanent_exception_unknown", "open", op.sure, (), present)
    if whole:
        return Reason("permanent_excepted", "for", op.sure, (), present, findings.warm_ups, op.permanent_warm_ups)
    return Reason("permanent_counts", "against", op.sure, (), present, findings.warm_ups, op.permanent_warm_ups)


def _joined(met: list[bool | None], needs_all: bool) -> bool | None:
    """All or any of three-valued answers; none where the unknown ones decide."""
    deciding = not needs_all
    if deciding in met:
        return deciding
    return None if None in met else not deciding


# ---------------------------------------------------------------- a retest


def retest(rule: Rule, findings: Findings, vehicle: Vehicle) -> Iterator[Reason]:
    """After a failure with a code: whether its own monitor must be complete now. Sources contradict each other."""
    part = rule.retest
    for code in vehicle.failed_with:
        known = assignment(code, findings.ignition)
        if known is None:
            yield Reason("retest_code_unknown", "open", part.sure, (), (code,))
            continue
        state = findings.monitors.get(known.monitor)
        if state in ("complete", "unsupported"):
            continue
        if part.must_be_complete and known.monitor in part.must_be_complete:
            yield Reason("retest_monitor_open", "against" if state else "open", part.sure, (known.monitor,), (code,))
        elif part.must_be_complete is None or part.no_bar:
            yield Reason("retest_contradictory", "open", part.sure, (known.monitor,), (code,))
