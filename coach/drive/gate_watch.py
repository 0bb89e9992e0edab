"""Tells when a value is worth judging gates by: when it crossed a limit of one, else now and then, for the evidence."""

from bisect import bisect_left
from dataclasses import dataclass, field, replace

from coach.drive.gates import RECHECK_S


@dataclass(frozen=True, slots=True)
class GateListeners:
    """The phases whose gates look at one signal, and every limit it may cross there, in order."""

    phases: tuple[str, ...]
    limits: tuple[float, ...]


@dataclass(slots=True)
class GateWatch:
    """The last value of each signal that gates were judged by, on which side of their limits, and the next turn."""

    last: dict[str, tuple[float | None, int, float]] = field(default_factory=dict)

    def copy(self) -> "GateWatch":
        """An independent copy."""
        return replace(self, last=dict(self.last))

    def is_due(self, listening: GateListeners, signal: str, value: float, now: float) -> bool:
        """Whether the gates that listen to this signal are to be judged anew at `now` seconds."""
        before, below, due = self.last.get(signal, (None, -1, 0.0))
        if value == before:
            return False
        side = bisect_left(listening.limits, value) * 2 + (value in listening.limits)
        if side == below and now < due:
            return False
        self.last[signal] = (value, side, now + RECHECK_S)
        return True
