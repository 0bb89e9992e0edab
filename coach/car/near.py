"""Seconds spent near the conditions of a freeze frame. Nothing accrues across more than the bridge."""

from dataclasses import dataclass, replace

from coach.j1979.similar import Frame

NEAR_S = 60.0
"""Our judgement: how long is not published. Misfire is judged over a thousand revolutions (from memory), a minute at
1,000 rpm; a car may be content with less."""
BRIDGE_S = 6.0  # our judgement, as for a cruise: a longer interval between samples is a gap


@dataclass(slots=True)
class NearClock:
    """`told`: all three values were heard at one moment. Without a frame nothing is near, and nothing is not."""

    frame: Frame | None = None
    held_s: float = 0.0
    ever: bool = False
    told: bool = False
    _near_t: float | None = None

    def copy(self) -> "NearClock":
        """An independent copy."""
        return replace(self)

    @property
    def full(self) -> bool:
        """Near for long enough."""
        return self.held_s >= NEAR_S

    def step(self, t: float, rpm: float | None, load_pct: float | None, coolant_c: float | None) -> None:
        """The values of one moment; none where not heard of late."""
        if self.frame is None or rpm is None or load_pct is None or coolant_c is None:
            self._near_t = None
            return
        self.told = True
        last, self._near_t = self._near_t, None
        if self.frame.is_near(rpm, load_pct, coolant_c):
            self.ever, self._near_t = True, t
            if last is not None and 0.0 <= t - last <= BRIDGE_S:
                self.held_s += t - last

    def interrupt(self) -> None:
        """The next interval is of unknown length."""
        self._near_t = None

    def start_over(self) -> None:
        """A new driving cycle."""
        self.held_s, self.ever, self._near_t = 0.0, False, None
