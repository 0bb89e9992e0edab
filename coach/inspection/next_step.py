"""What comes next for a car, from its findings alone: ids in order of weight, the first is the next step.

mend                   a code is stored or pending and the fault was seen of late, or a repaired code came again
clean_cycles           the MIL is commanded and nothing is pending any more: driving cycles without the fault
ages_out               a code is stored and the MIL is off: the car drops it after 40 warm-up cycles without the fault
second_drive           a code is pending alone: seen once, a second drive confirms or drops it
result_outside_limits  a test result of a complete monitor lies outside its limits: a code may come
drive                  monitors are incomplete
wait_for_permanent     only a permanent code stands: the car erases it after its own monitor ran
read_again             something of all this was not told for certain
say_what_was_done      a control unit tells another calibration or VIN than the car's: reading again ends no doubt
find_the_car           another car answers than before
nothing                none of these
"""

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from typing import Literal, get_args

from coach.car.conclusion import Identity
from coach.car.readout import units_of
from coach.car.state import CarState
from coach.inspection.findings import Findings, findings_of
from coach.j1979.test_results import TestResult

Step = Literal[
    "mend",
    "clean_cycles",
    "ages_out",
    "second_drive",
    "result_outside_limits",
    "drive",
    "wait_for_permanent",
    "read_again",
    "say_what_was_done",
    "find_the_car",
    "nothing",
]
STEPS: tuple[Step, ...] = get_args(Step)
INSTEAD: dict[Identity, Step] = {
    "changed": "say_what_was_done",
    "two_vins": "say_what_was_done",
    "another": "find_the_car",
}
"""Whose words they are, where no further reading would end the doubt: what does."""


@dataclass(frozen=True, slots=True)
class NextStep:
    """One step, and what it is about."""

    id: Step
    codes: tuple[str, ...] = ()
    monitors: tuple[str, ...] = ()


def steps_of(car: CarState, repaired: Collection[str] = ()) -> tuple[NextStep, ...]:
    """The steps for a car as it stands. `repaired`: the codes of its job."""
    tests = [test for unit in units_of(car) for test in unit.tests]
    instead = INSTEAD.get(car.signs.state)
    steps = next_steps(findings_of(car), tests, repaired)
    return tuple(NextStep(instead) if instead and step.id == "read_again" else step for step in steps)


def next_steps(
    findings: Findings, tests: Iterable[TestResult] = (), repaired: Collection[str] = ()
) -> tuple[NextStep, ...]:
    """All steps these findings ask for, the weightiest first; never empty."""
    found = (
        *_codes(findings, frozenset(repaired)),
        *_outside(findings, tests),
        *_open(findings),
        *_permanent(findings),
        *_unread(findings),
    )
    return found or (NextStep("nothing"),)


def _codes(findings: Findings, repaired: frozenset[str]) -> Iterator[NextStep]:
    stored, pending = findings.stored.present, findings.pending.present
    every = tuple(sorted({*stored, *pending}))
    if stored or findings.mil_on:
        gone = findings.pending.clean is True and bool(stored)  # service 07: this driving cycle or the last
        if not gone:
            yield NextStep("mend", every)
        else:
            yield NextStep("ages_out" if findings.mil_on is False else "clean_cycles", stored)
        return
    back = tuple(code for code in pending if code in repaired)
    others = tuple(code for code in pending if code not in repaired)
    if back:
        yield NextStep("mend", back)
    if others:
        yield NextStep("second_drive", others)


def _outside(findings: Findings, tests: Iterable[TestResult]) -> Iterator[NextStep]:
    """Only of complete monitors: the results of one that has not run are of before, or of nothing."""
    outside = {test.monitor for test in tests if test.passed is False and test.monitor is not None}
    monitors = tuple(m for m, state in findings.monitors.items() if m in outside and state == "complete")
    if monitors:
        yield NextStep("result_outside_limits", (), monitors)


def _open(findings: Findings) -> Iterator[NextStep]:
    monitors = findings.in_state("incomplete", continuous=False)
    if monitors:
        yield NextStep("drive", (), monitors)


def _permanent(findings: Findings) -> Iterator[NextStep]:
    others = (*findings.stored.present, *findings.pending.present)
    if findings.permanent.present and not others and not findings.mil_on:
        yield NextStep("wait_for_permanent", findings.permanent.present)


def _unread(findings: Findings) -> Iterator[NextStep]:
    codes = [findings.stored.certain, findings.pending.certain]
    if findings.permanent.offered is not False:
        codes.append(findings.permanent.certain)
    told = bool(findings.supported)
    if not told or None in findings.monitors.values() or findings.mil_on is None or None in codes:
        yield NextStep("read_again")
