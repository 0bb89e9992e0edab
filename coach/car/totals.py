"""What one span of a recording counts towards the general denominator, and how two spans are taken as one.

Three readings of the same seconds: what was driven, as the published schedules are counted; what surely counts,
whatever happened between two samples; what may count. A pattern is met by the second and missed by the third.
"""

from dataclasses import dataclass, field, fields, replace

FAST_KMH = 25 * 1.609344  # 25 mph: 40 CFR 86.010-18(d)(4)(ii)
IDLE_KMH = 1.609344  # 1 mph, same paragraph
RUNNING_S = 600.0  # same paragraph
FAST_S = 300.0  # same paragraph
IDLE_S = 30.0  # same paragraph, unbroken, accelerator released
BRIDGE_S = 6.0  # our judgement, as for a cruise: a longer interval between samples is a gap
CAUSES = ("engine_off", "engine_unseen", "accelerator")
"""What keeps a second of a standstill from being one of an idle."""


@dataclass(slots=True)
class Streak:
    """The longest unbroken stretch of seconds, also across spans: `lead_s` is the one a span begins with."""

    longest_s: float = 0.0
    now_s: float = 0.0
    lead_s: float | None = None

    def add(self, dt: float) -> None:
        """So many seconds more."""
        self.now_s += dt
        if self.now_s > self.longest_s:
            self.longest_s = self.now_s

    def stop(self) -> None:
        """The stretch is over."""
        if self.lead_s is None:
            self.lead_s = self.now_s
        self.now_s = 0.0

    def then(self, gap_s: float, after: "Streak") -> "Streak":
        """The two with a gap between them that may belong to either."""
        across = self.now_s + gap_s + (after.now_s if after.lead_s is None else after.lead_s)
        longest = max(self.longest_s, after.longest_s, across)
        lead = across if self.lead_s is None and after.lead_s is not None else self.lead_s
        return Streak(longest, across if after.lead_s is None else after.now_s, lead)


@dataclass(slots=True)
class Standstill:
    """One standstill: its seconds, its longest idle, and what kept the rest from being one."""

    seconds: float = 0.0
    idle: Streak = field(default_factory=Streak)
    lost_s: dict[str, float] = field(default_factory=dict)
    without: dict[str, Streak] = field(default_factory=lambda: {cause: Streak() for cause in CAUSES})

    def copy(self) -> "Standstill":
        """An independent copy."""
        without = {cause: replace(streak) for cause, streak in self.without.items()}
        return Standstill(self.seconds, replace(self.idle), dict(self.lost_s), without)

    def add(self, dt: float, cause: str | None) -> None:
        """So many seconds more; `cause` is none for seconds of an idle."""
        self.seconds += dt
        if cause is None:
            self.idle.add(dt)
        else:
            self.idle.stop()
            self.lost_s[cause] = self.lost_s.get(cause, 0.0) + dt
        for other, streak in self.without.items():
            if cause is None or cause == other:
                streak.add(dt)
            else:
                streak.stop()

    def decided(self) -> tuple[str, ...]:
        """The causes that made the idle shorter than the standstill, the one that took most first.

        A cause without which the idle would have been as long did not decide; where no single one did, all are named.
        """
        gained = {cause: streak.longest_s - self.idle.longest_s for cause, streak in self.without.items()}
        found = [cause for cause in CAUSES if gained[cause] > 1.0 and cause in self.lost_s]
        if not found and self.seconds > self.idle.longest_s + 1.0:
            return tuple(sorted(self.lost_s, key=lambda cause: -self.lost_s[cause]))
        return tuple(sorted(found, key=lambda cause: -gained[cause]))


@dataclass(slots=True)
class Totals:
    """One span. Seconds, kilometres, km/h.

    `running_s`, `fast_s` and `longest_idle_s` are what was driven; the `counted_` ones are what surely counts: seen at
    both ends, not too cold, not too high; the `could_` ones what may count. `off_`: with the engine off, which newer
    hybrids count too. `unseen_s` could not be timed; `gap_s` is the gap before the span, up to `gap_to_t`, of unknown
    length with `clock_set`. `alone_t`: when this span alone met the pattern, `told` whether that was told.
    """

    from_t: float = float("-inf")
    running_s: float = 0.0
    fast_s: float = 0.0
    longest_idle_s: float = 0.0
    counted_running_s: float = 0.0
    counted_fast_s: float = 0.0
    counted_idle_s: float = 0.0
    could_running_s: float = 0.0
    could_fast_s: float = 0.0
    could_idle: Streak = field(default_factory=Streak)
    off_s: float = 0.0
    off_fast_s: float = 0.0
    off_rolling_s: float = 0.0
    could_idle_off: Streak = field(default_factory=Streak)
    longest: Standstill | None = None
    distance_km: float = 0.0
    top_kmh: float = 0.0
    too_cold_s: float = 0.0
    too_high_s: float = 0.0
    samples: int = 0
    timed_s: float = 0.0
    unseen_s: float = 0.0
    gap_s: float = 0.0
    gap_to_t: float = 0.0
    clock_set: bool = False
    engine_assumed: bool = False
    alone_t: float | None = None
    told: bool = False

    @property
    def longest_standing_s(self) -> float:
        """The longest standstill, the engine running or not."""
        return self.longest.seconds if self.longest is not None else 0.0

    @property
    def hybrid(self) -> bool:
        """The car drove with its engine off: its own count may go by another text than the engine running."""
        return self.off_rolling_s > BRIDGE_S

    def then(self, after: "Totals") -> "Totals":
        """The two as parts of one driving cycle; what the gap between them held is unknown."""
        whole = Totals(self.from_t)
        for name in _ADDED:
            setattr(whole, name, getattr(self, name) + getattr(after, name))
        for name in _HIGHEST:
            setattr(whole, name, max(getattr(self, name), getattr(after, name)))
        gap_s = after.gap_s
        whole.unseen_s += gap_s
        whole.could_running_s += gap_s
        whole.could_fast_s += gap_s
        whole.could_idle = self.could_idle.then(gap_s, after.could_idle)
        whole.could_idle_off = self.could_idle_off.then(gap_s, after.could_idle_off)
        whole.longest = after.longest if after.longest_standing_s > self.longest_standing_s else self.longest
        whole.gap_s, whole.gap_to_t, whole.clock_set = self.gap_s, self.gap_to_t, self.clock_set or after.clock_set
        whole.engine_assumed = self.engine_assumed or after.engine_assumed
        whole.alone_t = self.alone_t if self.alone_t is not None else after.alone_t
        whole.told = self.told or after.told
        return whole

    def met(self) -> bool:
        """All three parts of the pattern are surely there."""
        return self.counted_running_s >= RUNNING_S and self.counted_fast_s >= FAST_S and self.counted_idle_s >= IDLE_S

    def most(self) -> dict[str, float]:
        """The most that each part may have been, whatever was not seen, in seconds."""
        off, idle = (1.0, self.could_idle_off) if self.hybrid else (0.0, self.could_idle)
        return {
            "running": self.could_running_s + off * self.off_s,
            "fast": self.could_fast_s + off * self.off_fast_s,
            "idle": idle.longest_s,
        }


NEEDED = {"running": RUNNING_S, "fast": FAST_S, "idle": IDLE_S}
"""The parts of the pattern and what each needs, in seconds."""
_HIGHEST = ("longest_idle_s", "counted_idle_s", "top_kmh")
_ADDED = tuple(
    part.name
    for part in fields(Totals)
    if part.type in (float, int) and part.name not in (*_HIGHEST, "from_t", "gap_s", "gap_to_t")
)
