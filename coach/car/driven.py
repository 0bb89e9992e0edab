"""Each driving cycle of a recording as a page tells of it: from when to when, warm-up cycle, pattern, and why."""

from dataclasses import dataclass

from coach.car.beginnings import DONE_C, Start, highest_c
from coach.car.cycle import Cycle
from coach.car.denominator import Denominator
from coach.car.totals import NEEDED, Totals


@dataclass(frozen=True, slots=True)
class DrivenCycle:
    """One driving cycle. `ran`: the engine ran in it, none where no engine speed was recorded.

    `from_t` to `to_t`: what is recorded of it. `start`: its engine start, none where it may be one of several.
    `unproved_t`: when a new one may have begun instead. `warm_up`: true where seen, false where surely none.
    """

    number: int
    from_t: float
    to_t: float
    ran: bool | None
    start: Start | None
    highest_c: float | None
    warm_up: bool | None
    warm_up_t: float | None
    unproved_t: tuple[float, ...]
    pattern: Denominator

    @property
    def whole(self) -> bool:
        """The engine start was seen, and nothing stands behind which another cycle may have begun."""
        return self.start is not None and self.start.seen

    @property
    def at_least(self) -> bool:
        """Its figures are lower bounds: its beginning was not seen, or a part of it."""
        return not self.whole or self.pattern.at_least


def driven_cycle(cycle: Cycle, pattern: Denominator, to_t: float, diesel: bool) -> DrivenCycle:
    """What is told of this cycle, with what was counted in it."""
    begun = (*cycle.earlier, cycle.now)
    peak_c = highest_c(begun)
    started = any(start is not None for start in cycle.starts())
    return DrivenCycle(
        number=cycle.number,
        from_t=max(0.0, begun[0].t),
        to_t=to_t,
        ran=True if started else (None if cycle.running is None else False),
        start=None if cycle.unproved else cycle.start,
        highest_c=None if peak_c == DONE_C else peak_c,
        warm_up=cycle.warm_up(diesel),
        warm_up_t=cycle.warm_up_t,
        unproved_t=cycle.unproved_t,
        pattern=pattern,
    )


def pattern_met(pattern: Denominator) -> bool | None:
    """True when it was surely met, false when what is recorded surely does not hold it, else none."""
    if pattern.met_t is not None:
        return True
    return False if pattern.lacking() else None


def why_not(pattern: Denominator) -> tuple[str, ...]:
    """What decided that the pattern was not met, or that it cannot be said.

    Not met: short_running, short_fast or short_idle; too_cold, too_high where only these took a part away.
    Cannot be said: no_speed, not_timed, silence_unproved, clock_set, unseen, hybrid, too_close.
    """
    if pattern.met_t is not None:
        return ()
    whole, lacking = pattern.joined(), pattern.lacking()
    if lacking:
        return tuple(dict.fromkeys(_weather(whole, part) or f"short_{part}" for part in lacking))
    if whole.timed_s == 0:
        return ("no_speed" if whole.samples == 0 else "not_timed",)
    if whole.met():
        return ("silence_unproved",)
    return tuple(dict.fromkeys(_unknown(whole)))


def _weather(whole: Totals, part: str) -> str | None:
    """The weather, where the part was driven and only that kept it from counting."""
    driven = {"running": whole.running_s, "fast": whole.fast_s, "idle": whole.longest_idle_s}
    if driven[part] < NEEDED[part]:
        return None
    return "too_cold" if whole.too_cold_s >= whole.too_high_s else "too_high"


def _unknown(whole: Totals) -> list[str]:
    """Why a pattern that was not surely met may have been."""
    if whole.clock_set:
        return ["clock_set"]
    found = []
    for part, short_s in _short(whole).items():
        if short_s > 0 and whole.hybrid and _without_off(whole)[part] < NEEDED[part]:
            found.append("hybrid")
        elif short_s > 0:
            found.append("unseen" if whole.unseen_s >= 1.0 else "too_close")
    return found


def _short(whole: Totals) -> dict[str, float]:
    counted = {"running": whole.counted_running_s, "fast": whole.counted_fast_s, "idle": whole.counted_idle_s}
    return {part: NEEDED[part] - seconds for part, seconds in counted.items()}


def _without_off(whole: Totals) -> dict[str, float]:
    return {
        "running": whole.could_running_s,
        "fast": whole.could_fast_s,
        "idle": whole.could_idle.longest_s,
    }
