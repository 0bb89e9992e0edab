"""Which phase the coach speaks of at this moment. It reads the core and changes nothing."""

from coach.drive.core import Core
from coach.drive.gates import Failed
from coach.drive.plan import Plan

DRIVEN_FIRST = ("driven_min_s", "purged")
"""Conditions of a parked test that only driving meets."""


def current_phase(core: Core, plan: Plan) -> str | None:
    """The first phase of the plan as told whose gate is open; while all wait for something, the first of all.

    Whatever else is held meanwhile counts too, but the sentence does not jump to it.
    """
    order = in_told_order(core, plan)
    return next((phase for phase in order if core.trackers[phase].gate.open), order[0] if order else None)


def before_parking(core: Core, plan: Plan) -> Failed | None:
    """What must still be driven until the test that runs while it stands can count; none when nothing must.

    A key turned off and on for a look, with no start since, takes nothing from the drive that was.
    """
    driven = core.car.denominator
    looked = driven.running_s == 0 and driven.whole_running_s > 0
    for failed in (found for planned in plan.park for found in core.trackers[planned.phase].gate.failed):
        enough = looked and (failed.gate != "driven_min_s" or driven.whole_running_s >= (failed.low or 0.0))
        if failed.gate in DRIVEN_FIRST and not enough:
            return failed
    return None


def drives_on(core: Core, plan: Plan) -> bool:
    """Whether an easy drive still brings something though no phase is asked for."""
    return bool(plan.waiting) or before_parking(core, plan) is not None or _cycle_goes_on(core)


def _cycle_goes_on(core: Core) -> bool:
    """A driving cycle without the fault still lacks the pattern, or the stretch near the freeze frame."""
    if not core.clean.chosen:
        return False
    now = core.clean_now()
    lacking = now.pattern is False or (now.near is not None and not now.near.full)
    return bool(now.codes) and lacking and not now.returned and not now.to_run


def in_told_order(core: Core, plan: Plan) -> tuple[str, ...]:
    """The planned phases in the order last told, new ones behind."""
    told = [phase for phase in core.planned or () if phase in plan.phases]
    return (*told, *(phase for phase in plan.phases if phase not in told))
