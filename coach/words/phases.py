"""What was driven of each phase over a whole recording, out of its happenings.

The trackers forget what was held in an earlier driving cycle, and every drive ends with a key-off and a new one: so a
page on a whole drive asks the happenings. What was driven before a clear does not count.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping

from coach.car.happenings import (
    CodesCleared,
    CycleBegan,
    DataLost,
    DataReturned,
    Happening,
    LinkChanged,
)
from coach.drive.happenings import (
    HoldPaused,
    HoldReset,
    HoldResumed,
    HoldStarted,
    PhaseDriven,
    PhaseUntimable,
    RepeatCounted,
)
from coach.drive.trackers import Holding, Tracker
from coach.session.review import Reviewed
from coach.words.names import REASON_NAMES, REPEAT_NAMES
from coach.words.paper import Strip
from coach.words.units import clock, span

Stretch = tuple[float, float]
"""From and to, seconds."""


def held_stretches(reviewed: Reviewed) -> dict[str, tuple[Stretch, ...]]:
    """When each phase was held, without the times in which nothing came in."""
    trackers, end_t = reviewed.core.trackers, reviewed.end_t
    held = {phase: t.hold.held_s for phase, t in trackers.items() if isinstance(t, Holding)}
    found, gaps = stretches(reviewed.happenings, held, end_t), silences(reviewed.happenings, end_t)
    return {
        phase: tuple(part for stretch in sorted(found.get(phase, ())) for part in without(stretch, gaps))
        for phase in trackers
    }


def cleared_t(happenings: Iterable[Happening]) -> float:
    """When the memory was cleared for the last time; -1 when it was not."""
    return max((h.t for h in happenings if isinstance(h, CodesCleared)), default=-1.0)


def driven_times(happenings: tuple[Happening, ...]) -> dict[str, float]:
    """When each phase was first driven in full since a clear."""
    driven: dict[str, float] = {}
    since_t = cleared_t(happenings)
    for h in happenings:
        if isinstance(h, PhaseDriven) and h.t > since_t:
            driven.setdefault(h.phase, h.t)
    return driven


def strips(reviewed: Reviewed) -> tuple[Strip, ...]:
    """Every phase that was held or driven, for beneath the plots."""
    names, driven, held = reviewed.profile.names(), driven_times(reviewed.happenings), held_stretches(reviewed)
    return tuple(Strip(names[p], parts, driven.get(p)) for p, parts in held.items() if parts or p in driven)


def several_cycles(reviewed: Reviewed) -> bool:
    """The recording holds more than one driving cycle: what the core holds at its end is of the last alone."""
    return any(isinstance(happening, CycleBegan) for happening in reviewed.happenings)


def held_in_all_s(reviewed: Reviewed) -> dict[str, float | None]:
    """Seconds each phase was held over the whole recording; none where a phase is not held for a time."""
    trackers, several = reviewed.core.trackers, several_cycles(reviewed)
    stretched = held_stretches(reviewed) if several else {}
    return {
        phase: (sum(b - a for a, b in stretched[phase]) if several else tracker.hold.held_s)
        if isinstance(tracker, Holding)
        else None
        for phase, tracker in trackers.items()
    }


def phase_rows(reviewed: Reviewed) -> tuple[tuple[str, str], ...]:
    """Each phase by name, and what was driven of it."""
    names, trackers = reviewed.profile.names(), reviewed.core.trackers
    if not several_cycles(reviewed):
        return tuple((names[phase], _phase_state(tracker)) for phase, tracker in trackers.items())
    driven, held = driven_times(reviewed.happenings), held_stretches(reviewed)
    since_t = cleared_t(reviewed.happenings)
    counting = tuple(h for h in reviewed.happenings if h.t > since_t)
    after = {p: tuple(part for part in parts if part[0] >= since_t) for p, parts in held.items()}
    return tuple(
        (names[p], f"driven, at {clock(driven[p])}" if p in driven else _partly(counting, p, after[p])) for p in held
    )


def _phase_state(tracker: Tracker) -> str:
    """Driven or not, what was held, and what broke it most."""
    if tracker.driven_t is not None:
        return f"driven, at {clock(tracker.driven_t)}"
    parts = [f"{r.counted} of {r.wanted} {REPEAT_NAMES[r.what]}" for r in tracker.repeats() if r.counted]
    if isinstance(tracker, Holding) and tracker.hold.untimable:
        return "cannot be timed with this adapter: values come too slowly"
    if isinstance(tracker, Holding) and tracker.hold.held_s >= 1:
        parts.insert(0, _held(tracker))
    return ", ".join(parts) or "not driven"


def _held(tracker: Holding) -> str:
    hold = tracker.hold
    wanted = f" of {span(hold.duration_s)}" if hold.duration_s < 1e9 else ""
    text = f"{span(hold.held_s)}{wanted} held"
    if not hold.reasons:
        return text
    reason, count = max(hold.reasons.items(), key=lambda item: item[1])
    breaks = "1 break" if hold.breaks == 1 else f"{hold.breaks} breaks"
    return f"{text}, longest {span(hold.longest_s)}, {breaks}, mostly {REASON_NAMES.get(reason, reason)} ({count})"


def _partly(happenings: tuple[Happening, ...], phase: str, held: tuple[Stretch, ...]) -> str:
    own = [h for h in happenings if getattr(h, "phase", None) == phase]
    if any(isinstance(h, PhaseUntimable) for h in own):
        return "cannot be timed with this adapter: values come too slowly"
    counted = max((h for h in own if isinstance(h, RepeatCounted)), key=lambda h: h.count, default=None)
    parts = [f"{counted.count} of {counted.wanted} {REPEAT_NAMES[counted.what]}"] if counted is not None else []
    held_s = sum(ended - began for began, ended in held)
    if held_s >= 1 and not (counted is not None and counted.what == "deceleration"):
        parts.append(f"held for {span(held_s)} in all")
    reasons = Counter(h.reason for h in own if isinstance(h, HoldPaused))
    if reasons and parts:
        reason, count = reasons.most_common(1)[0]
        breaks = "1 break" if reasons.total() == 1 else f"{reasons.total()} breaks"
        parts.append(f"{breaks}, mostly {REASON_NAMES.get(reason, reason)} ({count})")
    return ", ".join(parts) or "not driven"


# ---------------------------------------------------------------- stretches


def stretches(happenings: Iterable[Happening], held: Mapping[str, float], end_t: float) -> dict[str, list[Stretch]]:
    """When each phase was held. `held`: seconds each hold has at the end, for the one that is still going on."""
    began: dict[str, tuple[float, float]] = {}
    found: dict[str, list[Stretch]] = {}

    def close(phase: str, until_t: float) -> None:
        since_t, _ = began.pop(phase, (until_t, 0.0))
        if until_t > since_t:
            found.setdefault(phase, []).append((since_t, until_t))

    for h in happenings:
        if isinstance(h, HoldStarted):
            began[h.phase] = (h.since_t, 0.0)
        elif isinstance(h, HoldResumed):
            began[h.phase] = (h.since_t, h.held_s)
        elif isinstance(h, HoldPaused):
            close(h.phase, h.since_t)
        elif isinstance(h, HoldReset):
            close(h.phase, h.t)
        elif isinstance(h, PhaseDriven):
            since_t, before_s = began.get(h.phase, (h.t, 0.0))
            close(h.phase, min(h.t, since_t + h.held_s - before_s))  # the hold may be full before its parts are
        elif isinstance(h, RepeatCounted):
            found.setdefault(h.phase, []).append((h.t - h.lasted_s, h.t))
    for phase, (since_t, before_s) in list(began.items()):
        close(phase, min(end_t, since_t + max(0.0, held.get(phase, 0.0) - before_s)))
    return found


def silences(happenings: Iterable[Happening], end_t: float) -> list[Stretch]:
    """When nothing came in: a hold goes on behind it, but none of it is counted."""
    found: list[Stretch] = []
    since_t: float | None = None
    for h in happenings:
        if isinstance(h, DataLost) or (isinstance(h, LinkChanged) and h.state != "up"):
            at = h.since_t if isinstance(h, DataLost) else h.t
            since_t = at if since_t is None else min(since_t, at)
        elif isinstance(h, DataReturned | LinkChanged) and since_t is not None:
            found.append((since_t, h.t))
            since_t = None
    return found if since_t is None else [*found, (since_t, end_t)]


def without(stretch: Stretch, gaps: Iterable[Stretch]) -> Iterator[Stretch]:
    """What is left of a stretch when the gaps are cut out."""
    began, ended = stretch
    for low, high in gaps:
        if low < ended and high > began:
            if low > began:
                yield began, low
            began = high
    if ended > began:
        yield began, ended
