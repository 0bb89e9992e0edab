"""Entries of a profile that nothing would ever look at: refused, so that every key of a profile does something."""

from collections.abc import Iterator

from coach.car.accelerator import RANK
from coach.drive.schema import DecelerationHold, LoadStepHold, ProfileForm, WarmUpHold

UNWATCHED = ("soak", "brake", "loads_off", "hard_turn", "hill", "cruise_control", "def_ok")
"""What no signal of the standard tells, or only the job's own record."""
FIXED = {"run_time": ("run_time_s",), "purge": ("purge_pct",), "altitude": ("baro_kpa", "map_kpa")}
"""What is always told by the same signals."""
OF_THE_FOOT = ("fuel_system_1", *RANK)


def dead_entries(profile: ProfileForm) -> Iterator[str]:
    """One mistake for every entry that would do nothing."""
    yield from _signals(profile)
    yield from _phases(profile)


def _signals(profile: ProfileForm) -> Iterator[str]:
    orders = profile.signals.orders()
    for role in UNWATCHED:
        if orders[role]:
            yield f"signals.{role}.first: nothing watches it; it has to be []"
    for role, first in FIXED.items():
        if orders[role] != first:
            yield f"signals.{role}.first: it is always told by {', '.join(first)}"
    for signal in orders["accelerator_closed"]:
        if signal not in OF_THE_FOOT:
            yield f"signals.accelerator_closed.first: {signal!r} tells nothing; what does: {', '.join(OF_THE_FOOT)}"


def _phases(profile: ProfileForm) -> Iterator[str]:
    asked = {phase for need in profile.needs.values() for rung in need.rungs for phase in rung}
    asked |= {phase for need in profile.needs.values() for phase in need.helps}
    for phase, form in profile.phase.items():
        hold = form.hold
        if phase not in asked and not isinstance(hold, WarmUpHold):
            yield f"phase.{phase}: no monitor needs it, and none is helped by it (needs.*.rungs, needs.*.helps)"
        if isinstance(hold, DecelerationHold) and hold.speed_min.value >= hold.start.value:
            yield f"phase.{phase}.hold.speed_min: not below start, so that no second of a roll would count"
        if isinstance(hold, DecelerationHold) and hold.end.value >= hold.start.value:
            yield f"phase.{phase}.hold.end: not below start"
        if isinstance(hold, LoadStepHold) and hold.cruise_within.value <= 0:
            yield f"phase.{phase}.hold.cruise_within: a speed is never held to the point"
