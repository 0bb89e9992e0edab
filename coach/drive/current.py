"""Which phase the coach speaks of at this moment. It reads the core and changes nothing."""

from coach.drive.core import Core
from coach.drive.plan import Plan
from coach.drive.trackers import is_held


def current_phase(core: Core, plan: Plan) -> str | None:
    """The phase being held if it is planned, else the first of the plan as told.

    The told order stands until the plan changes, so that the sentence does not flicker with the speed.
    """
    order = in_told_order(core, plan)
    held = [phase for phase in order if is_held(core.trackers[phase])]
    return held[0] if held else (order[0] if order else None)


def in_told_order(core: Core, plan: Plan) -> tuple[str, ...]:
    """The planned phases in the order last told, new ones behind."""
    told = [phase for phase in core.planned or () if phase in plan.phases]
    return (*told, *(phase for phase in plan.phases if phase not in told))
