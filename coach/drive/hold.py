"""The hold: seconds inside a band, counted only between two samples that are both inside and close enough.

States and what moves them (nothing else may):
  waiting -> holding   inside for the settle time (the settling itself is then counted)
  holding -> paused    outside for the settle time, or no sample for longer than the bridge
  paused  -> holding   inside again for the settle time
  paused  -> waiting   continuous holds only: outside for longer than the short break; what was held is lost
  any     -> full      the duration is reached
  full    -> waiting   asked to be driven again
A break shorter than the settle time is neither told nor counted.
"""

from dataclasses import dataclass, field, replace

from coach.car.happenings import Happening
from coach.drive.happenings import HoldPaused, HoldReset, HoldResumed, HoldStarted, PhaseUntimable

WAITING, HOLDING, PAUSED, FULL = "waiting", "holding", "paused", "full"

Break = tuple[str, float | None, float | None]
"""Why a sample is outside: reason id, the value and the limit it passed."""

UNTIMABLE_AFTER = 5  # our judgement: so many intervals beyond the bridge, hardly one within, are the adapter's pace


@dataclass(slots=True)
class Hold:
    """The clock of one phase. Times in seconds; `last_break` is kept after the hold goes on.

    `reasons` counts the breaks by what caused them; `longest_s` is the longest stretch without one.
    """

    phase: str
    duration_s: float
    continuous: bool
    settle_s: float
    short_break_s: float
    bridge_s: float
    state: str = WAITING
    held_s: float = 0.0
    inside: bool = False
    longest_s: float = 0.0
    breaks: int = 0
    reasons: dict[str, int] = field(default_factory=dict)
    last_break: Break | None = None
    last_break_t: float = 0.0
    gap_s: float = 0.0
    _pending_s: float = 0.0
    _unbroken_s: float = 0.0
    _since_t: float = 0.0
    _last_t: float | None = None
    _out_t: float | None = None
    _why: Break = ("", None, None)
    _long: int = 0
    _short: int = 0
    _untimable: bool = False

    def copy(self) -> "Hold":
        """An independent copy."""
        return replace(self, reasons=dict(self.reasons))

    @property
    def untimable(self) -> bool:
        """True once the samples proved to come too slowly for this hold."""
        return self._untimable

    def step(self, t: float, broken: Break | None, out: list[Happening]) -> bool:
        """Take one sample: `broken` is none inside, else why it is outside. True when the hold is full by it."""
        last, was = self._last_t, self.inside
        self._last_t, self.inside = t, broken is None
        timed = last is not None and self._timed(t - last, out)
        if broken is not None:
            self._outside(t, broken, out)
            return False
        self._out_t = None
        if not (was and timed):
            self._pending_s, self._since_t = 0.0, t
            return False
        dt = t - last if last is not None else 0.0
        if self.state == HOLDING:
            return self._count(dt)
        self._pending_s += dt
        return self._pending_s >= self.settle_s and self._enter(t, out)

    def quiet(self, t: float) -> bool:
        """The sample is outside and nothing is going on: note its time only. False when `step` must judge it."""
        if self.state == HOLDING or self.inside or (self.state == PAUSED and self.continuous):
            return False
        self._last_t = t
        return True

    def expire(self, t: float, out: list[Happening]) -> None:
        """No sample came for longer than the bridge: pause, dated at the deadline."""
        if self._last_t is None or t <= self._last_t + self.bridge_s:
            return
        if self.state == HOLDING:
            self._pause(self._last_t + self.bridge_s, self._last_t, ("data_gap", None, self.bridge_s), out)
        self.inside, self._pending_s, self._out_t = False, 0.0, None

    def deadline(self) -> float | None:
        """When `expire` would pause this hold, none when it is not held."""
        return self._last_t + self.bridge_s if self.state == HOLDING and self._last_t is not None else None

    def interrupt(self) -> None:
        """The interval up to the next sample is of unknown length: it must not count."""
        self._last_t, self.inside, self._pending_s = None, False, 0.0

    def reset(self, t: float, reason: str, out: list[Happening]) -> None:
        """Lose what was held; a full hold stays full."""
        if self.state == FULL:
            return
        if self.held_s > 0:
            out.append(HoldReset(t, self.phase, round(self.held_s, 3), reason))
        self.state, self.held_s, self._pending_s, self._unbroken_s, self.inside = WAITING, 0.0, 0.0, 0.0, False
        self._out_t = None

    def again(self) -> None:
        """To be driven once more: the clock starts at zero."""
        self.state, self.held_s, self._pending_s, self._unbroken_s = WAITING, 0.0, 0.0, 0.0
        self.inside = False

    def _timed(self, dt: float, out: list[Happening]) -> bool:
        if 0 <= dt <= self.bridge_s:
            self._short += 1
            return True
        self._long += 1
        if dt > 0:
            self.gap_s += dt
        if not self._untimable and self._long >= UNTIMABLE_AFTER and self._short < self._long // UNTIMABLE_AFTER:
            self._untimable = True
            out.append(PhaseUntimable(self._last_t or 0.0, self.phase, round(dt, 3), self.bridge_s))
        return False

    def _count(self, dt: float) -> bool:
        self.held_s += dt
        self._unbroken_s += dt
        self.longest_s = max(self.longest_s, self._unbroken_s)
        return self._full()

    def _full(self) -> bool:
        if self.held_s < self.duration_s:
            return False
        self.state = FULL
        return True

    def _enter(self, t: float, out: list[Happening]) -> bool:
        fresh = self.state == WAITING
        self.state = HOLDING
        if fresh:
            out.append(HoldStarted(t, self.phase, self._since_t))
        else:
            out.append(HoldResumed(t, self.phase, self._since_t, round(self.held_s, 3)))
        self._unbroken_s = 0.0
        pending, self._pending_s = self._pending_s, 0.0
        return self._count(pending)

    def _outside(self, t: float, broken: Break, out: list[Happening]) -> None:
        self._pending_s = 0.0
        if self.state == HOLDING:
            if self._out_t is None:
                self._out_t, self._why = t, broken
            if t - self._out_t >= self.settle_s:
                self._pause(t, self._out_t, self._why, out)
        elif self.state == PAUSED and self.continuous and t - self.last_break_t > self.short_break_s:
            self.reset(t, self._why[0], out)

    def _pause(self, t: float, since_t: float, why: Break, out: list[Happening]) -> None:
        self.state, self._out_t, self._why = PAUSED, None, why
        self.breaks += 1
        self.reasons[why[0]] = self.reasons.get(why[0], 0) + 1
        self.last_break, self.last_break_t = why, since_t
        self._unbroken_s = 0.0
        out.append(HoldPaused(t, self.phase, since_t, round(self.held_s, 3), *why))
