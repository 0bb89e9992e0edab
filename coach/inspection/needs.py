"""Which monitors the rule still wants, and which it lets go: from this the session makes a drive's target.

The strictest reading counts: what is accepted by it is accepted by all.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from coach.inspection.clauses import Vehicle
from coach.inspection.codes import monitors_of
from coach.inspection.findings import Findings
from coach.inspection.rules import Rule
from coach.inspection.schema import Limit
from coach.inspection.scope import exemption, scope
from coach.inspection.verdict import limit_of
from coach.j1979.monitors import CONTINUOUS

LET_GO_FIRST = (
    "evaporative_system",
    "particulate_filter",
    "nmhc_catalyst",
    "secondary_air",
    "heated_catalyst",
    "nox_aftertreatment",
    "egr_vvt",
    "ac_or_gpf",
    "boost_pressure",
    "exhaust_gas_sensor",
    "oxygen_sensor_heater",
    "catalyst",
    "oxygen_sensor",
)
"""The longest wait first: our judgement; a leak test costs a night, a regeneration may take days, the rest a drive."""


@dataclass(frozen=True, slots=True)
class Needs:
    """`must`: incomplete monitors the rule wants in any case. Of `choose_from` it lets `may_stay_open` go.

    `known` is false where no reading gives a number for this car: then everything is wanted. `exempt`: the inspection
    is not for such a car, so that what is wanted is wanted for the repair alone.
    """

    must: tuple[str, ...]
    choose_from: tuple[str, ...]
    may_stay_open: int
    known: bool
    exempt: bool = False

    def let_go(self, first: Sequence[str] = LET_GO_FIRST) -> tuple[str, ...]:
        """The monitors to let go, those named first before the others."""
        order = [m for m in first if m in self.choose_from] + [m for m in self.choose_from if m not in first]
        return tuple(order[: self.may_stay_open])

    def wanted(self, first: Sequence[str] = LET_GO_FIRST) -> tuple[str, ...]:
        """The incomplete monitors a drive has to complete to be accepted."""
        free = self.let_go(first)
        return (*self.must, *(m for m in self.choose_from if m not in free))


def needs(
    rule: Rule,
    findings: Findings,
    vehicle: Vehicle,
    repaired: Sequence[str] = (),
    chosen: Mapping[str, str] | None = None,
) -> Needs:
    """What is still needed. `repaired`: codes whose own monitor is never let go: it has to confirm the repair.

    `chosen`: the monitors the user named for codes that are in no table.
    """
    open_ones = tuple(
        m for m, state in findings.monitors.items() if state in ("incomplete", None) and m not in CONTINUOUS
    )
    if exemption(scope(rule, vehicle)) is not None:
        return Needs(open_ones, (), 0, False, exempt=True)
    limits = [
        limit
        for reading in rule.readings_on(vehicle.on)
        if vehicle.fuel is not None and (limit := limit_of(reading, vehicle.model_year, vehicle.fuel)) is not None
    ]
    if not limits:
        return Needs(open_ones, (), 0, False)
    kept = set(monitors_of((*repaired, *vehicle.failed_with), findings.ignition, chosen or {}).values())
    free = tuple(m for m in open_ones if m not in kept and all(_may_wait(limit, m) for limit in limits))
    counted = [most for limit in limits if (most := _most_open(limit, findings)) is not None]
    most = min(counted) if counted else len(free)
    must = tuple(m for m in open_ones if m not in free)
    return Needs(must, free, max(0, min(most, len(free))), True)


def target(
    rule: Rule,
    findings: Findings,
    vehicle: Vehicle,
    repaired: Sequence[str] = (),
    chosen: Mapping[str, str] | None = None,
) -> tuple[str, ...]:
    """The target "accepted here" for a drive: every monitor the car has but those the rule lets go."""
    free = needs(rule, findings, vehicle, repaired, chosen).let_go()
    return tuple(m for m, state in findings.monitors.items() if state != "unsupported" and m not in free)


def _may_wait(limit: Limit, monitor: str) -> bool:
    return not limit.unread and monitor not in limit.must and (not limit.only or monitor in limit.only)


def _most_open(limit: Limit, findings: Findings) -> int | None:
    """How many monitors it lets be incomplete; none where it does not limit their number."""
    if limit.min_complete is None:
        return limit.allowed
    most = max(0, sum(monitor not in CONTINUOUS for monitor in findings.supported) - limit.min_complete)
    return most if limit.allowed is None else min(most, limit.allowed)
