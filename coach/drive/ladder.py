"""What each monitor still needs: a ladder of sets of phases, climbed when a rung is driven but not confirmed.

Every rung is another published pattern: all are tried before any is driven again.

States of a ladder: climbing -> waiting (rung driven) -> climbing (repeat or next rung) | done (the car says complete)
| ran (by PID 41; the bit of PID 01 has not moved: shown after the key was off)
| key_off (the car shows no bits while it runs: climbing again in the next driving cycle)
| spent (the last rung was driven often enough: another day).
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from coach.car.happenings import Happening
from coach.drive.happenings import MonitorNotConfirmed


@dataclass(frozen=True, slots=True)
class Need:
    """The ladder of one monitor as the profile has it. `any_order`: any rung will do, whichever is cheaper today."""

    monitor: str
    rungs: tuple[tuple[str, ...], ...]
    any_order: bool = False
    helps: tuple[str, ...] = ()


@dataclass(slots=True)
class Ladder:
    """Where one monitor stands on its ladder. `wait_until_t` is set while the car may still confirm.

    `tried`: the rungs that were driven and not confirmed; `repeats`: how often one of them was asked for again.

    `key_off`: driven, and to be looked at after the key was off and on. `ran`: the same, and the car itself says by
    PID 41 that the monitor has run in this driving cycle.
    """

    need: Need
    tried: frozenset[int] = frozenset()
    repeats: int = 0
    wait_until_t: float | None = None
    spent: bool = False
    key_off: bool = False
    ran: bool = False
    counted: dict[str, int] = field(default_factory=dict)

    def copy(self) -> "Ladder":
        """An independent copy."""
        return replace(self, counted=dict(self.counted))

    @property
    def rung(self) -> int:
        """The rung that is asked for first: the lowest not tried, the last when all were."""
        return next((at for at in range(len(self.need.rungs)) if at not in self.tried), len(self.need.rungs) - 1)

    def choices(self) -> tuple[tuple[str, ...], ...]:
        """The sets of phases of which one is wanted now, without those already driven for this rung."""
        if self.spent or self.key_off or self.ran or not self.need.rungs or self.wait_until_t is not None:
            return ()
        return tuple(self._left(at) for at in self._open())

    def driven(self, phase: str, t: float, wait_s: float) -> None:
        """A phase was driven. When that completes a rung, the car gets `wait_s` seconds to confirm."""
        if self.spent or self.wait_until_t is not None:
            return
        self.counted[phase] = self.counted.get(phase, 0) + 1
        if any(not left for left in self.choices()):
            self.wait_until_t = t + wait_s

    def waited(self, t: float, repeats_max: int, out: list[Happening]) -> tuple[str, ...]:
        """The wait is over without the bit. The phases to drive again; none for the next rung or another day."""
        self.wait_until_t = None
        rung, rungs = self._rung_driven(), self.need.rungs
        self.tried |= {at for at in range(len(rungs)) if not self._left(at)}
        if len(self.tried) < len(rungs):
            out.append(MonitorNotConfirmed(t, self.need.monitor, rung, "next_rung"))
            return ()
        if self.repeats < repeats_max:
            again = min(self.repeats, len(rungs) - 1)
            self.repeats += 1
            self.tried -= {again}
            self._forget(rungs[again])
            out.append(MonitorNotConfirmed(t, self.need.monitor, rung, "repeat"))
            return rungs[again]
        self.spent = True
        out.append(MonitorNotConfirmed(t, self.need.monitor, rung, "another_day"))
        return ()

    def show_at_key_off(self, t: float, out: list[Happening]) -> None:
        """The car has shown no bit at all: before anything is repeated the key is turned off and on."""
        self.wait_until_t, self.key_off = None, True
        out.append(MonitorNotConfirmed(t, self.need.monitor, self._rung_driven(), "key_off"))

    def shows_later(self, t: float, out: list[Happening]) -> None:
        """The car says that it has run in this cycle, and its bit has not moved: the key off and on shows it."""
        self.wait_until_t, self.ran = None, True
        out.append(MonitorNotConfirmed(t, self.need.monitor, (), "ran"))

    def new_cycle(self) -> None:
        """The key was off and on: what the car shows now counts, and what it does not is driven for again."""
        self.key_off = self.ran = False

    def start_over(self) -> None:
        """The memory was cleared: the ladder is climbed from the bottom."""
        self.new_cycle()
        self.tried, self.repeats, self.wait_until_t, self.spent = frozenset(), 0, None, False
        self.counted.clear()

    def _open(self) -> tuple[int, ...]:
        """The rungs that may be driven now: all not tried, or the lowest of them."""
        left = tuple(at for at in range(len(self.need.rungs)) if at not in self.tried)
        return left if self.need.any_order else left[:1]

    def _left(self, at: int) -> tuple[str, ...]:
        """What of a rung was not driven yet."""
        return tuple(phase for phase in self.need.rungs[at] if not self.counted.get(phase))

    def _rung_driven(self) -> tuple[str, ...]:
        for at in self._open():
            if not self._left(at):
                return self.need.rungs[at]
        return self.need.rungs[self.rung]

    def _forget(self, phases: tuple[str, ...]) -> None:
        for phase in phases:
            self.counted.pop(phase, None)


def ladders_for(needs: Mapping[str, Need]) -> dict[str, Ladder]:
    """A fresh ladder for each monitor that has one."""
    return {monitor: Ladder(need) for monitor, need in needs.items()}
