"""Starts of the engine, and where the driving cycle now running may have begun."""

from dataclasses import dataclass, replace

RISE_C = 22.0  # warm-up cycle: 40 °F, 13 CCR 1968.2(c); UN light-duty OBD definitions: 22 K
REACHED_C = 71.0
"""Warm-up cycle: 160 °F in 13 CCR 1968.2(c), from memory, is 71.1 °C, which PID 05 in whole degrees tells as 71.

343 K (70 °C) in the UN light-duty OBD definitions. The later of the two holds under both; a real car's own counter
(PID 30) moved within 7 s of 71 °C in all 21 timed cases, and up to 21 s after 70 °C.
"""
DIESEL_REACHED_C = 60.0  # 140 °F for compression ignition, 13 CCR 1968.2(c), from memory: denied below it only
START_VALUES_S = 60.0  # our judgement: a temperature first heard within a minute of the start is still the start's
QUIET_S = 60.0  # our judgement: no engine warms up and cools down again within it
NEVER_C = float("inf")
DONE_C = float("-inf")


@dataclass(slots=True)
class Start:
    """One start of the engine: its time and the temperatures then, none where not heard in time.

    `seen`: its time is known to within a minute. `first_t`: when the engine was first known to run after it. `sure`: by
    the car's own run time it is the start of the cycle; else an automatic stop may have been under way before it.
    """

    t: float
    seen: bool
    coolant_c: float | None = None
    intake_c: float | None = None
    ambient_c: float | None = None
    first_t: float | None = None
    sure: bool = False

    def note(self, signal: str, value: float, t: float) -> None:
        """Take the first temperature heard within a minute."""
        if t - (self.t if self.first_t is None else self.first_t) > START_VALUES_S:
            return
        if signal == "coolant_c" and self.coolant_c is None:
            self.coolant_c = value
        elif signal == "intake_c" and self.intake_c is None:
            self.intake_c = value
        elif signal == "ambient_c" and self.ambient_c is None:
            self.ambient_c = value

    def date(self, t: float) -> None:
        """The car's own clock tells when it was."""
        first_t = self.t if self.first_t is None else self.first_t
        self.first_t, self.t, self.seen, self.sure = first_t, min(t, first_t), first_t - t <= START_VALUES_S, True


@dataclass(slots=True)
class Beginning:
    """A moment at which the driving cycle may have begun, and what was seen from there to the next such moment.

    `silent_s` is the silence before `t`, `quiet_s` the longest silence since. `start`: the first start of the engine,
    `stop_s` how long it stood since, `before_s` how long it stood before. `peak_c`: the highest coolant while it ran.
    """

    t: float = float("-inf")
    silent_s: float = 0.0
    quiet_s: float = 0.0
    start: Start | None = None
    stop_s: float = 0.0
    before_s: float = 0.0
    peak_c: float | None = None

    def copy(self) -> "Beginning":
        """An independent copy."""
        return replace(self, start=replace(self.start) if self.start else None)

    def then(self, after: "Beginning") -> "Beginning":
        """The two as one: no new cycle began at the second."""
        peaks = [peak for peak in (self.peak_c, after.peak_c) if peak is not None]
        return replace(
            self,
            quiet_s=max(self.quiet_s, after.silent_s, after.quiet_s),
            start=self.start if self.start is not None else after.start,
            stop_s=self.stop_s + after.stop_s + (after.before_s if self.start is not None else 0.0),
            peak_c=max(peaks, default=None),
        )

    def needs_c(self, reached_c: float = REACHED_C) -> float:
        """The coolant that completes a warm-up cycle begun here; infinite while the start's is unknown."""
        began = self.start.coolant_c if self.start is not None else None
        return NEVER_C if began is None else max(reached_c, began + RISE_C)


def highest_c(beginnings: tuple[Beginning, ...]) -> float:
    """The highest coolant since the first of these; minus infinity where none was told."""
    return max((begun.peak_c for begun in beginnings if begun.peak_c is not None), default=DONE_C)


def surely_none(beginnings: tuple[Beginning, ...], reached_c: float) -> bool:
    """Whether no warm-up cycle was driven from any of these, by this coolant to be reached.

    Every start must be known, and no silence long enough to warm up and cool down in. A start that may only have ended
    an automatic stop is known where the coolant never got so far at all.
    """
    starts = [begun.start for begun in beginnings if begun.start is not None and begun.start.coolant_c is not None]
    silences = [*(begun.quiet_s for begun in beginnings), *(begun.silent_s for begun in beginnings[1:])]
    if len(starts) < len(beginnings) or max(silences) > QUIET_S or not all(start.seen for start in starts):
        return False
    if highest_c(beginnings) >= reached_c and not all(start.sure for start in starts):
        return False
    return all(highest_c(beginnings[at:]) < begun.needs_c(reached_c) for at, begun in enumerate(beginnings))


def still_needed_c(beginnings: tuple[Beginning, ...]) -> float:
    """The coolant that completes a warm-up cycle from whichever of these it began; minus infinity where all have."""
    needed_c, peak_c = DONE_C, DONE_C
    for begun in reversed(beginnings):
        peak_c = max(peak_c, DONE_C if begun.peak_c is None else begun.peak_c)
        if peak_c < begun.needs_c():
            needed_c = max(needed_c, begun.needs_c())
    return needed_c
