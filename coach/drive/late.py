"""Records from before the newest one: counted and left, until a long run in order shows that the newest was wrong."""

from dataclasses import dataclass, replace

IN_ORDER_AGAIN = 20  # our judgement: so many records in a row, each in order, outvote one wrong time before them


@dataclass(slots=True)
class Late:
    """How many late records there were, and how long the present run of them is in order."""

    count: int = 0
    _run: int = 0
    _t: float = 0.0

    def copy(self) -> "Late":
        """An independent copy."""
        return replace(self)

    def outvotes(self, t: float) -> bool:
        """One more late record, at `t` seconds; true when the run of them outvotes the newest time."""
        self.count += 1
        self._run = self._run + 1 if t >= self._t else 1
        self._t = t
        if self._run < IN_ORDER_AGAIN:
            return False
        self._run = 0
        return True
