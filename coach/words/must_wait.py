"""What is said when nothing is left to drive on this drive, though the target is not reached."""

from coach.drive.core import Core
from coach.drive.plan import Plan
from coach.words.names import MONITOR_NAMES
from coach.words.units import listed, span


def parked_test(plan: Plan) -> str:
    """Which monitor runs while it stands."""
    return f"the {listed([MONITOR_NAMES[monitor] for monitor in plan.park[0].monitors])} test runs while it stands"


ASIDE = {"skipped": "was put aside", "above_speed_limit": "is above the speed limit you set"}
"""What the driver chose to leave out, and may bring back; it does not have to wait for another day."""


def must_wait(plan: Plan, core: Core) -> tuple[str, str]:
    """The instruction when nothing is left to drive and the target is not reached, and the reason."""
    names = core.built.profile.names()
    if any(found.reason == "key_off" for found in plan.not_today):
        return (
            "Stop where it is safe: key off, then key on, and look again.",
            "Everything is driven and no bit has moved: this car may show them only after the key was off.",
        )
    ran = [MONITOR_NAMES[found.monitor] for found in plan.not_today if found.reason == "ran"]
    if ran:
        return (
            "Stop where it is safe: key off, then key on, and look again.",
            f"By its own word the car has run {listed(ran)}: it shows that after the key was off.",
        )
    others = listed([MONITOR_NAMES[found.monitor] for found in plan.not_today])
    if plan.park:
        parked = plan.park[0]
        rest = f" Not today: {others}; the reasons stand below." if plan.not_today else ""
        return (
            f"You may stop. Park it: {parked_test(plan)}.",
            f"{names[parked.phase]}: {span(parked.expected_s)} with the key off, adapter unplugged.{rest}",
        )
    if plan.not_today:
        reasons = dict.fromkeys(found.reason for found in plan.not_today)
        aside = all(reason in ASIDE for reason in reasons)
        why = f": the rest {' or '.join(ASIDE[reason] for reason in reasons)}" if aside else ""
        instead = "" if aside else " The rest must wait for another day."
        return (f"You may stop{why}.{instead}", f"Not today: {others}; the reasons stand below.")
    target, states = core.wanted.target, core.monitor_states()
    if target and all(states[monitor] == "unsupported" for monitor in target):
        return ("You may stop: this car has no such monitor.", "Nothing of the target can be driven for.")
    return ("You may stop: there is nothing to drive for.", "What the car has not told for certain is read again.")
