"""Whether the target of a drive is reached: judged when a monitor changes, and when another target is chosen."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from coach.drive.happenings import TargetReached


@dataclass(slots=True)
class Target:
    """`reached`: every monitor of it is complete, by the car's certain word; `open`: that word is still missing."""

    reached: bool = False
    open: bool = False

    def copy(self) -> "Target":
        """An independent copy."""
        return replace(self)

    def judge(self, t: float, monitors: tuple[str, ...], states: Mapping[str, str | None]) -> TargetReached | None:
        """The happening, once: when all of them are complete and were not before."""
        told = [states[monitor] for monitor in monitors]
        before, self.reached = self.reached, bool(told) and all(state == "complete" for state in told)
        self.open = not self.reached and None in told
        return TargetReached(t, monitors) if self.reached and not before else None

    def chosen(self) -> None:
        """Another target: it is judged as soon as the car's word is certain."""
        self.reached, self.open = False, True
