"""How steady the foot is: the accelerator's distance from its own recent mean. Must not judge; it only measures."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

LAST = 99  # beyond every rank

MEAN_S = 10.0  # our judgement: a slope taken slowly moves the mean along, a jab of the foot does not
FRESH_S = 6.0  # a better signal older than this gives way to the next; the longest bridge of a hold


@dataclass(slots=True)
class Foot:
    """`away_pct` is the signed distance from the running mean in percentage points; none until two samples came.

    `ranks` is the profile's order of preference: the lowest rank that is heard is measured.
    """

    ranks: Mapping[str, int] = field(default_factory=dict)
    away_pct: float | None = None
    signal: str | None = None
    _rank: int = LAST
    _mean: float = 0.0
    _t: float = -1.0

    def copy(self) -> "Foot":
        """An independent copy."""
        return replace(self)

    def update(self, signal: str, value: float, t: float) -> None:
        """Take one sample of a pedal or throttle signal."""
        rank = self.ranks[signal]
        dt = t - self._t
        if rank != self._rank:
            if rank > self._rank and dt <= FRESH_S:
                return
            self.signal, self._rank, self._mean, self._t, self.away_pct = signal, rank, value, t, None
            return
        self._t = t
        if dt > FRESH_S or dt < 0:
            self._mean, self.away_pct = value, None
            return
        away = value - self._mean
        self.away_pct = away
        self._mean += away * (dt / (MEAN_S + dt))
