"""What a plan depends on, gathered from the core. It reads and changes nothing."""

from typing import TYPE_CHECKING

from coach.drive.plan import Situation, regime_at
from coach.j1979.monitors import CONTINUOUS

if TYPE_CHECKING:
    from coach.drive.core import Core


def situation_of(core: "Core") -> Situation:
    """The drive as the plan has to see it."""
    states = core.car.last_word()
    target = tuple(monitor for monitor in core.target_monitors(states) if monitor not in CONTINUOUS)
    return Situation(
        core.trackers,
        core.built.phases,
        core.ladders,
        core.built.depends,
        states,
        target,
        core.wanted.skipped,
        core.patience.given_up,
        core.wanted.of_codes(core.stop.came),  # more driving completes nothing there
        core.wanted.speed_max_kmh,
        core.car.cycle.run_time_at_least_s(core.now),
        regime_at(core.car.fresh("speed_kmh", core.built.bridge_s)),
        frozenset(core.wanted.repaired.values()),
    )


def basis_of(core: "Core") -> object:
    """Everything that decides which phases a plan holds; planning anew is needed only when it changed."""
    return (
        tuple(core.car.reported.monitors.items()),
        tuple((ladder.choices(), ladder.spent, ladder.key_off) for ladder in core.ladders.values()),
        tuple((tracker.gate.today, tracker.driven_t is None) for tracker in core.trackers.values()),
        core.wanted.skipped,
        core.patience.given_up,
        core.stop.came,
        core.wanted.target,
        core.wanted.speed_max_kmh,
    )
