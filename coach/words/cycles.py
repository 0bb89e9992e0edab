"""The driving cycles of a recording in words: warm-up cycle and general denominator, what covers what, and why not."""

from collections.abc import Iterator, Mapping

from coach.car.driven import DrivenCycle, pattern_met, why_not
from coach.car.totals import FAST_KMH, FAST_S, IDLE_S, RUNNING_S, Standstill
from coach.drive.core import Core
from coach.words.names import SIGNAL_NAMES
from coach.words.units import Units, at_least, clock, listed, span

WHY = {
    "short_running": "too little time with the engine running",
    "short_fast": "too little time at 25 mph (40 km/h) or more",
    "short_idle": "no idle long enough",
    "too_cold": "a part of it was too cold to count",
    "too_high": "a part of it was too high to count",
    "no_speed": "no speed was recorded",
    "not_timed": "no speed in this recording comes closely enough to be timed",
    "silence_unproved": "met if all of it was one driving cycle, which nothing tells; no part of it meets it alone",
    "clock_set": "the recording's clock was set, and how much lies between is unknown",
    "unseen": "a part of it was not seen",
    "hybrid": "the car drove with its engine off, and whether it counts that time is not known",
    "too_close": "by a few seconds, which values so far apart cannot settle",
}
"""Why the general denominator was not met, or cannot be said; see `coach.car.driven.why_not`."""
KEPT = {
    "engine_off": "the engine was off for {} of it",
    "engine_unseen": "the engine speed was not seen for {} of it",
    "accelerator": "the accelerator was touched for {} of it",
}
"""What made the longest idle shorter than the standstill."""
MOST_TIMES = 3  # our judgement: more moments are counted
MOST_CYCLES = 4  # our judgement: of more cycles only what was met is told, not every figure


def cycles_lines(core: Core, units: Units) -> Iterator[str]:
    """Every driving cycle of the recording, each with what is recorded of it."""
    cycles = core.car.cycles()
    if len(cycles) > 1:
        yield f"  The recording holds {len(cycles)} driving cycles."
    for number, cycle in enumerate(cycles, start=1):
        if len(cycles) > 1:
            yield f"  {number} of {len(cycles)}, {clock(cycle.from_t)} to {clock(cycle.to_t)}"
        yield from _uncertain(cycle)
        yield f"  warm-up cycle         {_warm_up(cycle, core, units)}"
        yield f"  regulated pattern     {pattern_words(cycle)}"
        if len(cycles) <= MOST_CYCLES and cycle.pattern.joined().timed_s > 0:
            yield from _figures(cycle, units)
    unwatched = core.car.unwatched_weather()
    if unwatched and any(cycle.pattern.joined().timed_s > 0 for cycle in cycles):
        yield f"    not recorded: {listed([SIGNAL_NAMES.get(name, name) for name in unwatched])}"


def _uncertain(cycle: DrivenCycle) -> Iterator[str]:
    moments = [clock(t) for t in cycle.unproved_t]
    if not moments:
        return
    if len(moments) > MOST_TIMES:
        moments = [*moments[: MOST_TIMES - 1], f"{len(moments) - MOST_TIMES + 1} more times"]
    several = "two" if len(cycle.unproved_t) == 1 else f"up to {len(cycle.unproved_t) + 1}"
    yield f"  At {listed(moments)} nothing tells whether the key was off: it was one driving cycle, or {several}."


def _warm_up(cycle: DrivenCycle, core: Core, units: Units) -> str:
    words = {True: "complete", False: "not complete", None: "cannot be said"}[cycle.warm_up]
    began = cycle.start.coolant_c if cycle.start is not None else None
    at_start = f"coolant {units.temperature(began)} at the start" if began is not None else "no coolant at the start"
    if cycle.unproved_t:
        at_start = "which start it began with is not known"
    if cycle.number == core.car.cycle.number:
        now = core.car.values.get("coolant_c")
        at_end = f"{units.temperature(now)} at the end" if now is not None else "none at the end"
    else:
        at_end = f"up to {units.temperature(cycle.highest_c)}" if cycle.highest_c is not None else "none after it"
    return f"{words}: {at_start}, {at_end}"


def pattern_words(cycle: DrivenCycle) -> str:
    """Whether the general denominator was met, and what decided that it was not, or that it cannot be said."""
    met = pattern_met(cycle.pattern)
    if met:
        return "met"
    why = "; ".join(WHY[reason] for reason in why_not(cycle.pattern))
    if met is None:
        return f"cannot be said: {why}"
    unseen = cycle.start is not None and not cycle.start.seen
    return f"not met in what was recorded: {why}" if unseen else f"not met: {why}"


def _figures(cycle: DrivenCycle, units: Units) -> Iterator[str]:
    found, part = cycle.pattern.joined(), cycle.pattern.fullest()
    least, parted = cycle.at_least, bool(cycle.unproved_t)

    def figure(name: str, whole_s: float, part_s: float, needs_s: float) -> str:
        in_one = f" in all, {span(part_s)} in one part" if parted and part_s != whole_s else ""
        return f"    {name} {at_least(span(whole_s), least)}{in_one}, it needs {span(needs_s)}"

    yield figure("running", found.running_s, part.running_s, RUNNING_S)
    yield figure(f"at {units.speed(FAST_KMH)} or more", found.fast_s, part.fast_s, FAST_S)
    yield figure("longest idle with the engine running", found.longest_idle_s, part.longest_idle_s, IDLE_S)
    if found.longest is not None and found.longest.seconds > found.longest_idle_s + 1:
        yield f"    longest standstill {span(found.longest.seconds)}{_kept(found.longest)}"
    if found.unseen_s >= 1:
        yield f"    {span(found.unseen_s)} could not be timed: values too far apart"
    if found.too_cold_s:
        yield f"    {span(found.too_cold_s)} were too cold to count (below {units.temperature(-7.0)} outside)"
    if found.too_high_s:
        yield f"    {span(found.too_high_s)} were too high to count (above {units.height(2440.0)})"
    if found.engine_assumed:
        yield "    no engine speed was recorded: the engine is taken as running throughout"


def _kept(still: Standstill) -> str:
    told = [KEPT[cause].format(span(still.lost_s.get(cause, 0.0))) for cause in still.decided()]
    return f": {listed(told)}" if told else ""


# ---------------------------------------------------------------- the same as data


def cycle_data(cycle: DrivenCycle, coolant_c: float | None) -> dict[str, object]:
    """One driving cycle. `may_have_begun_t`: moments behind which nothing tells whether the key was off."""
    start = cycle.start
    return {
        "number": cycle.number,
        "from_t": cycle.from_t,
        "to_t": cycle.to_t,
        "may_have_begun_t": list(cycle.unproved_t),
        "engine_start_seen": start.seen if start is not None else None,
        "start_coolant_c": start.coolant_c if start is not None else None,
        "start_intake_c": start.intake_c if start is not None else None,
        "coolant_c": coolant_c,
        "highest_coolant_c": cycle.highest_c,
        "warm_up_cycle": cycle.warm_up,
        "warm_up_t": cycle.warm_up_t,
    }


def pattern_data(cycle: DrivenCycle, unwatched: tuple[str, ...]) -> dict[str, object]:
    """The general denominator with its parts; every part is null when nothing could be timed.

    `because`: what decided that it was not met or cannot be said. With `at_least` every figure is a lower bound; where
    the cycle may have begun anew, `in_one_part` holds what the fullest part alone has. `surely`: what counts for
    certain, without what was too cold or too high.
    """
    pattern = cycle.pattern
    found = pattern.joined()
    timed, still = found.timed_s > 0, found.longest
    parts: Mapping[str, float] = {
        "running_s": found.running_s,
        "at_25_mph_or_more_s": found.fast_s,
        "longest_idle_s": found.longest_idle_s,
        "longest_standing_s": found.longest_standing_s,
        "too_cold_s": found.too_cold_s,
        "too_high_s": found.too_high_s,
        "distance_km": found.distance_km,
        "top_speed_kmh": found.top_kmh,
    }
    one = pattern.fullest()
    surely = {
        "running_s": found.counted_running_s,
        "at_25_mph_or_more_s": found.counted_fast_s,
        "longest_idle_s": found.counted_idle_s,
    }
    in_one = {
        "from_t": max(cycle.from_t, one.from_t),
        "running_s": one.running_s,
        "at_25_mph_or_more_s": one.fast_s,
        "longest_idle_s": one.longest_idle_s,
    }
    return {
        "met": pattern_met(pattern),
        "met_t": pattern.met_t,
        "because": list(why_not(pattern)),
        "at_least": cycle.at_least if timed else None,
        **{name: value if timed else None for name, value in parts.items()},
        "longest_standing_because": list(still.decided()) if still is not None else None,
        "surely": surely if timed else None,
        "in_one_part": in_one if timed and cycle.unproved_t else None,
        "unseen_s": found.unseen_s,
        "engine_assumed_running": found.engine_assumed if timed else None,
        "unwatched": list(unwatched),
    }
