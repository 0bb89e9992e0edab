"""Obstacles: for every monitor of the target that is not complete, what stands in its way, the weightiest first.

It reads the core and changes nothing. Each obstacle carries its evidence; nothing here is a guess without one.
"""

from collections.abc import Iterator

from msgspec import Struct

from coach.drive.core import Core
from coach.drive.manoeuvres import Parked
from coach.drive.trackers import Holding, Tracker

CAUSES = (
    "stored_code",
    "pending_code",
    "gate_not_today",
    "disabled_this_cycle",
    "prerequisite",
    "codes_cleared",
    "not_confirmed",
    "untimable",
    "gate_later",
    "band_broken",
    "data_gaps",
    "set_aside",
    "not_driven",
    "better_window",
)
"""Causes by weight. Our judgement: what no driving can mend today comes before what driving mends."""


class Obstacle(Struct, frozen=True):
    """One cause. `detail` is a gate, reason, code or monitor id; `value`, `low`, `high` its evidence.

    `count` is how often. `seconds` is what was held, or was silent; none where it means nothing.
    """

    cause: str
    phase: str | None = None
    detail: str | None = None
    value: float | None = None
    low: float | None = None
    high: float | None = None
    count: int | None = None
    seconds: float | None = None


def obstacles(core: Core) -> dict[str, tuple[Obstacle, ...]]:
    """What stands in the way of each monitor of the target that the car does not call complete."""
    states = core.monitor_states()
    found = {}
    for monitor in core.target_monitors(states):
        if states[monitor] != "complete" and monitor in core.ladders:
            seen = {(o.cause, o.phase, o.detail): o for o in _of(core, monitor, states)}
            found[monitor] = tuple(sorted(seen.values(), key=lambda o: CAUSES.index(o.cause)))
    return found


def _of(core: Core, monitor: str, states: dict[str, str | None]) -> Iterator[Obstacle]:
    yield from _of_the_car(core, monitor)
    for other in core.built.depends.get(monitor, ()):
        if states.get(other) == "incomplete":
            yield Obstacle("prerequisite", detail=other)
    ladder = core.ladders[monitor]
    if ladder.spent:
        yield Obstacle("not_confirmed", count=ladder.repeats + 1)
    rungs = ladder.need.rungs
    rung = rungs[min(ladder.rung, len(rungs) - 1)] if rungs else ()
    for phase in rung:
        yield from _of_the_phase(core, phase, core.trackers[phase])


def _of_the_car(core: Core, monitor: str) -> Iterator[Obstacle]:
    car = core.car
    for kind in ("stored", "pending"):
        codes = {code for ecu in car.ecus.values() if kind in ecu.codes for code in ecu.codes[kind].codes or ()}
        yield from (Obstacle(f"{kind}_code", detail=code) for code in sorted(codes))
    if car.cycle_states().get(monitor) == "disabled":
        yield Obstacle("disabled_this_cycle")
    if car.reported.clears:
        yield Obstacle("codes_cleared", count=car.reported.clears, seconds=car.reported.cleared_t)
    if car.lost_total_s > 0:
        yield Obstacle("data_gaps", seconds=round(car.lost_total_s, 3))


def _of_the_phase(core: Core, phase: str, tracker: Tracker) -> Iterator[Obstacle]:
    if tracker.driven_t is not None:
        return
    for failed in tracker.gate.failed:
        cause = "gate_later" if failed.later else "gate_not_today"
        yield Obstacle(cause, phase, failed.gate, failed.value, failed.low, failed.high)
    for failed in tracker.gate.outside_better(core.car, core.facts):
        yield Obstacle("better_window", phase, failed.gate, failed.value, failed.low, failed.high)
    if phase in core.wanted.skipped:
        yield Obstacle("set_aside", phase)
    if isinstance(tracker, Parked) or tracker.gate.failed:
        return
    if isinstance(tracker, Holding) and tracker.hold.untimable:
        yield Obstacle("untimable", phase, value=round(tracker.hold.gap_s, 3))
    elif isinstance(tracker, Holding) and tracker.hold.reasons:
        reason, count = max(tracker.hold.reasons.items(), key=lambda item: item[1])
        yield Obstacle("band_broken", phase, reason, count=count, seconds=round(tracker.hold.held_s, 3))
    else:
        yield Obstacle("not_driven", phase)
