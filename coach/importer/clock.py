"""A recording's own clock as seconds since its first time: never falling, whatever the recorder's clock did."""

from math import isfinite

STEP_BACK_S = 0.05  # our judgement: merged buses and threads that write one log disorder it by less
LONGEST_STEP_S = 86400.0  # our judgement: a longer step forward is a clock that was set


class Clock:
    """`t` is now, in seconds to the millisecond."""

    __slots__ = ("_start", "t")

    def __init__(self) -> None:
        self.t = 0.0
        self._start: float | None = None

    def step(self, at: float) -> float | None:
        """Move to the recorder's time `at`; seconds its clock was set back (0 for forward), none when it was not set.

        A little disorder is smoothed; a time that is no number changes nothing.
        """
        if self._start is None:
            self._start = at if isfinite(at) else 0.0
        elapsed = at - self._start
        if 0 <= elapsed - self.t <= LONGEST_STEP_S:
            self.t = round(elapsed, 3)
            return None
        if not isfinite(at) or -STEP_BACK_S <= round(elapsed, 3) - self.t <= 0:
            return None
        back_s = round(self.t - elapsed, 3)
        self._start = at - self.t
        return max(0.0, back_s)
