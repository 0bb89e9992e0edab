"""Holds a rule against its own worked cases: what it says of each car beside what the case says. Pure."""

from dataclasses import dataclass

from coach.inspection.clauses import Vehicle
from coach.inspection.findings import KM_PER_MILE, Findings, Found
from coach.inspection.rules import Rule
from coach.inspection.verdict import Verdict, judge
from coach.inspection.worked import Case, Says
from coach.j1979.monitors import MONITORS


@dataclass(frozen=True, slots=True)
class Worked:
    """One case and the verdict on it. `says`: what the rule says of it, by every reading."""

    case: Case
    says: Says
    verdict: Verdict

    @property
    def right(self) -> bool:
        """Whether the rule and its case agree."""
        return self.says == self.case.says and self.verdict.outcome == self.case.expected


def worked(rule: Rule) -> tuple[Worked, ...]:
    """Every case of a rule, judged."""
    told = ((case, judge(rule, findings_in(case), vehicle_in(case))) for case in rule.case)
    return tuple(Worked(case, said_of(verdict), verdict) for case, verdict in told)


def lacking(rule: Rule) -> tuple[Says, ...]:
    """The kinds of case the rule should have and has not: accepted, refused, and exempt where the place exempts."""
    wanted: list[Says] = ["accepted", "refused"] if rule.ended is None and _refuses(rule) else []
    if rule.ended is not None or any(not (fact.hangs_on or fact.unclear) for fact in rule.scope.exempt):
        wanted.append("exempt")
    return tuple(kind for kind in wanted if kind not in {case.says for case in rule.case})


def _refuses(rule: Rule) -> bool:
    return any(limit.counts for reading in rule.reading for limit in reading.limit)


def said_of(verdict: Verdict) -> Says:
    """What the text says, by every reading; undecided where they differ, or where it hangs on what nobody told."""
    if verdict.outcome == "exempt":
        return "exempt"
    if any(reason.effect == "open" for reason in verdict.scope):
        return "undecided"
    outcomes = {reading.outcome for reading in verdict.readings}
    return "accepted" if outcomes == {"ready"} else "refused" if outcomes == {"not_ready"} else "undecided"


def vehicle_in(case: Case) -> Vehicle:
    """The car of a case."""
    return Vehicle(
        on=case.on,
        model_year=case.model_year,
        fuel=case.fuel,
        gvwr_lb=case.weight_lb,
        lamp_lights=case.lamp_lights,
        failed_with=case.failed_with,
        odometer_km=None if case.odometer_mi is None else case.odometer_mi * KM_PER_MILE,
        kind=case.kind,
        inspected=case.inspected,
    )


def findings_in(case: Case) -> Findings:
    """What such a car tells."""
    has = case.fitted - set(case.lacking)
    return Findings(
        monitors={
            m: "unsupported" if m not in has else "incomplete" if m in case.incomplete else "complete" for m in MONITORS
        },
        mil_on=case.mil_on,
        stored=Found(case.stored),
        pending=Found(case.pending),
        permanent=Found(case.permanent),
        ignition="compression" if case.fuel == "diesel" else "spark",
        warm_ups=case.warm_ups,
        distance_km=case.distance_mi * KM_PER_MILE,
        run_time_min=case.run_time_min,
    )
