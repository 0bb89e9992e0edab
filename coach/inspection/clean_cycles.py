"""How many driving cycles without the fault a job holds, for each code that is stored: by its record, not by the car.

A cycle counts when it is finished, no code of the same system was pending after it, and its monitor ran in it: by
PID 41 or the bit of PID 01; for a check that runs all the time, and where the car tells neither, the regulated pattern
stands for it, our judgement; misfire and fuel need the conditions of the freeze frame too. One that cannot be told
neither counts nor breaks the row; a code that came breaks it.
"""

from collections.abc import Iterable, Mapping

from coach.car.near import NEAR_S
from coach.inspection.codes import Assignment, assignment, runs_all_the_time
from coach.inspection.confirm import CycleDriven, Evidence, same_monitor
from coach.j1979.readiness import Ignition
from coach.j1979.similar import SIMILAR_FOR


def clean_counts(codes: Iterable[str], evidence: Evidence, chosen: Mapping[str, str] | None = None) -> dict[str, int]:
    """Whole cycles without the fault in a row up to now, for each code. `chosen`: monitors the user named."""
    return {code: _in_a_row(code, evidence, (chosen or {}).get(code)) for code in codes}


def _in_a_row(code: str, evidence: Evidence, chosen: str | None) -> int:
    assigned, count = assignment(code, evidence.findings.ignition, chosen), 0
    for cycle in reversed(evidence.cycles):
        without = _without(code, assigned, cycle, evidence)
        if without is False:
            break
        count += without is True
    return count


def _without(code: str, assigned: Assignment | None, cycle: CycleDriven, evidence: Evidence) -> bool | None:
    """Whether the cycle was one without the fault in which its monitor ran; none when that cannot be told."""
    ignition, after = evidence.findings.ignition, cycle.pending_after
    came = [_is_of(one, code, assigned, ignition) for one in after.present] if after is not None else []
    if True in came:
        return False
    if not cycle.finished or after is None or after.clean is None or None in came or assigned is None:
        return None
    if assigned.monitor in SIMILAR_FOR:
        frame = evidence.similar_to
        near = frame is not None and same_monitor(frame, assigned, ignition) and cycle.near_s >= NEAR_S
        return True if cycle.pattern_met and near else None
    if not runs_all_the_time(assigned) and cycle.ran is not None:
        return True if assigned.monitor in cycle.ran else None
    return True if cycle.pattern_met else None


def _is_of(one: str, code: str, assigned: Assignment | None, ignition: Ignition | None) -> bool | None:
    """Whether a pending code is this fault, or of its system; none where it is in no table and may be anybody's."""
    if one == code:
        return True
    if assigned is None or assignment(one, ignition) is None:
        return None
    return same_monitor(one, assigned, ignition)
