"""The way without a clear in words: which driving cycle it is, what it asks for, what it saves and costs."""

from collections.abc import Iterator, Mapping

from coach.car.near import NEAR_S, NearClock
from coach.car.totals import FAST_KMH, FAST_S, IDLE_S, RUNNING_S
from coach.drive.clean import CleanNow
from coach.drive.core import Core
from coach.j1979.similar import CYCLES_WITHOUT_FAULT, SIMILAR_LOAD_PCT, SIMILAR_RPM, WARM_UPS_TO_ERASE, Frame
from coach.words.names import MONITOR_NAMES
from coach.words.next_step import CYCLES
from coach.words.units import Units, capital, listed, pattern_words, span

SAVES = "It saves: readiness is kept, so no monitor has to run anew and no night is waited for."
COSTS = (
    "It costs: {cycles}, the key off after each; the code stays stored for {warm_ups} warm-up cycles more,"
    " its permanent copy until the car has put the MIL out."
)
JUDGED = "how long is not published: our judgement"
"""Of the minute near the freeze frame."""


def number_words(number: int, wanted: int) -> str:
    """driving cycle 2 of 3 without the fault; what it is when the car should have done by now."""
    if number <= wanted:
        return f"driving cycle {number} of {wanted} without the fault"
    return f"driving cycle {number} without the fault; the car has not counted all {wanted} before it"


def saves_and_costs() -> Iterator[str]:
    """What the way saves, and what it costs."""
    yield SAVES
    yield COSTS.format(cycles=CYCLES.removesuffix(" without the fault"), warm_ups=WARM_UPS_TO_ERASE)


def before_lines(core: Core, units: Units) -> Iterator[str]:
    """The page before the drive: which cycle, what for, what it asks of this drive."""
    now = core.clean_now()
    if not now.codes:
        yield "No stored code was told: there is none to put out by driving cycles without the fault."
        return
    known = "by the job's record" if core.clean.counted else "what was driven before is not known"
    yield f"The way without a clear, for {listed(list(now.codes))}: {CYCLES}, and the car puts the MIL out by itself."
    yield f"This is {number_words(now.number, now.wanted)} ({known})."
    yield from (f"  {line}" for line in asked_lines(now, units))
    yield from saves_and_costs()


def asked_lines(now: CleanNow, units: Units) -> Iterator[str]:
    """What a driving cycle has to hold to count for these codes."""
    if now.to_run or now.done:
        yield f"the phases of the {_names((*now.to_run, *now.done))}"
    if now.pattern is not None:
        yield f"the regulated pattern: {pattern_words(units)}"
    if now.near is not None and now.near.frame is not None:
        yield f"about {span(NEAR_S)} near the freeze frame: {frame_words(now.near.frame)} ({JUDGED})"
    if now.near_unknown:
        yield "near the freeze frame, which cannot be watched: it is not whole, or the car does not tell its load"
    if now.unknown:
        yield f"{listed(list(now.unknown))}: nobody knows the monitor; whether it ran cannot be told"


def _names(monitors: tuple[str, ...]) -> str:
    return listed([MONITOR_NAMES[monitor] for monitor in monitors])


def frame_words(frame: Frame) -> str:
    """The conditions near a freeze frame."""
    low, high = max(0.0, frame.load_pct - SIMILAR_LOAD_PCT), min(100.0, frame.load_pct + SIMILAR_LOAD_PCT)
    warm = "warm" if frame.warm else "not yet warm"
    rpm = f"{max(0.0, frame.rpm - SIMILAR_RPM):.0f} to {frame.rpm + SIMILAR_RPM:.0f} rpm"
    return f"{rpm}, load {low:.0f} to {high:.0f} %, engine {warm}"


def counted_lines(counted: Mapping[str, int]) -> Iterator[str]:
    """How far a job has come on this way, code by code; what it saves and costs."""
    for code, count in counted.items():
        yield (
            f"The way without a clear, {code}: {count} of {CYCLES_WITHOUT_FAULT} driving cycles without the fault, by"
            " this job's record."
        )
    if counted:
        yield from saves_and_costs()
        yield "coach drive --target clean-cycles guides through the next one."


def after_lines(core: Core) -> Iterator[str]:
    """The end of the drive: what this cycle was worth; the car alone says whether it counts."""
    now, finished = core.clean_now(), core.clean.finished
    if now.returned:
        yield f"{listed(list(now.returned))} came back: the count of driving cycles begins anew, after it is mended."
    elif core.clean.told or finished:
        number = now.number if core.clean.told else now.number - 1
        driven = capital(number_words(number, now.wanted))
        yield f"{driven} is driven; it counts once the key was off and no code is pending."
    else:
        yield f"{capital(number_words(now.number, now.wanted))} is not driven in full."


# ---------------------------------------------------------------- while driving


def place(now: CleanNow) -> str:
    """cycle 2 of 3, for the head of the page."""
    return f"cycle {now.number} of {now.wanted}" if now.number <= now.wanted else f"cycle {now.number}"


def end_words(now: CleanNow) -> tuple[str, str]:
    """The instruction and its note once the cycle has all it asks for, or cannot have it."""
    codes = listed(list(now.codes))
    if not now.codes:
        return "You may stop: no stored code was told.", "There is none to put out by driving cycles without the fault."
    if now.returned:
        return f"You may stop: {listed(list(now.returned))} came back.", "This cycle does not count. Mend it first."
    after = " The next start shows whether the MIL is out." if now.number >= now.wanted else ""
    number = capital(number_words(now.number, now.wanted))
    return (
        "You may stop: the key off ends this driving cycle.",
        f"{number}, for {codes}: it counts if no code is pending after it.{after}",
    )


def near_words(near: NearClock, core: Core, units: Units) -> tuple[str, str, str]:
    """Instruction, progress and note of the stretch near the freeze frame."""
    assert near.frame is not None
    load, rpm = core.car.fresh("load_pct", 6.0), near.frame.rpm
    low, high = max(0.0, rpm - SIMILAR_RPM), rpm + SIMILAR_RPM
    progress = f"near the freeze frame {_clock(near.held_s)} of about {_clock(NEAR_S)}"
    now = "not told" if load is None else f"{load:.0f} %"
    note = (
        f"The load of the freeze frame: {near.frame.load_pct:.0f} %, now {now}; {SIMILAR_LOAD_PCT:.0f} points apart do."
    )
    kmh = core.clean.frame_kmh
    then = f", as at {units.speed(kmh)} when the code came" if kmh is not None else ""
    return f"Where the road allows it, keep {low:.0f} to {high:.0f} rpm{then}.", progress, note


def pattern_progress(core: Core, units: Units) -> tuple[str, str]:
    """Instruction and progress of the regulated pattern."""
    found = core.car.denominator
    lacks = found.lacks()
    instruction = "Drive on easily."
    if "fast" in lacks:
        instruction = f"Drive easily, at {units.speed(FAST_KMH)} or more where the road allows it."
    elif "idle" in lacks:
        instruction = "When you stop next, let it idle for half a minute, foot off."
    parts = {
        "fast": f"at {units.speed(FAST_KMH)} or more {_part(found.counted_fast_s, FAST_S)}",
        "idle": f"one idle {_part(found.counted_idle_s, IDLE_S)}",
        "running": f"running {_part(found.counted_running_s, RUNNING_S)}",
    }
    return instruction, ", ".join(parts[name] for name in (*lacks, *(name for name in parts if name not in lacks)))


def pattern_share(core: Core) -> float:
    """How much of the pattern's seconds there are, 0 to 1."""
    found = core.car.denominator
    pairs = ((found.counted_running_s, RUNNING_S), (found.counted_fast_s, FAST_S), (found.counted_idle_s, IDLE_S))
    return sum(min(seconds, wanted) for seconds, wanted in pairs) / sum(wanted for _, wanted in pairs)


def _part(seconds: float, wanted: float) -> str:
    return f"{_clock(min(seconds, wanted))} of {_clock(wanted)}"


def _clock(seconds: float) -> str:
    return f"{int(seconds) // 60}:{int(seconds) % 60:02d}"
