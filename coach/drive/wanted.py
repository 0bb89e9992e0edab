"""What a drive is for and what its driver wants of it. It decides nothing; the plan does."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from coach.drive.quantity import told_number
from coach.j1979.dtc import is_code
from coach.j1979.monitors import MONITORS


@dataclass(slots=True)
class Wanted:
    """`target`: the monitors the drive is for, none for all; `skipped`: phases left out at the driver's wish.

    `monitors_of_codes` and `repaired`: the monitor of a code by the shared table, and by the job's own record;
    `repaired_codes` also holds those whose monitor nobody knows.
    """

    target: tuple[str, ...] | None = None
    speed_max_kmh: float | None = None
    skipped: frozenset[str] = frozenset()
    monitors_of_codes: Mapping[str, str] = field(default_factory=dict)
    repaired: Mapping[str, str] = field(default_factory=dict)
    repaired_codes: frozenset[str] = frozenset()

    def copy(self) -> "Wanted":
        """An independent copy."""
        return replace(self)

    def learn(self, known: Mapping[str, Any]) -> None:
        """What the job knew before the drive: `repaired`, the monitor of each repaired code, driven for first."""
        told = known.get("repaired")
        codes = told if isinstance(told, Mapping) else {}
        known_codes = [code for code in codes if isinstance(code, str) and is_code(code)]
        self.repaired = {code: m for code in known_codes if isinstance(m := codes[code], str) and m in MONITORS}
        self.repaired_codes = frozenset(known_codes)

    def choose(self, made: Mapping[str, Any], phases: Collection[str]) -> str | None:
        """{"skip": phase}, {"unskip": phase}, {"target": [monitors]}, {"speed_max_kmh": n}; the phase now skipped."""
        unskip = made.get("unskip")
        if isinstance(unskip, str):
            self.skipped -= {unskip}
        target = made.get("target")
        if isinstance(target, list | tuple):
            self.target = tuple(monitor for monitor in target if monitor in MONITORS)
        limit = told_number(made.get("speed_max_kmh"))
        if limit is not None:
            self.speed_max_kmh = limit
        skip = made.get("skip")
        if not isinstance(skip, str) or skip not in phases:
            return None
        self.skipped |= {skip}
        return skip

    def monitors(self, states: Mapping[str, str | None], known: Collection[str]) -> tuple[str, ...]:
        """The target's monitors; without a target all that the car supports, or all that are `known` when unread."""
        if self.target is not None:
            return tuple(monitor for monitor in self.target if states.get(monitor) != "unsupported")
        if any(state is not None for state in states.values()):
            return tuple(monitor for monitor in MONITORS if states[monitor] != "unsupported")
        return tuple(monitor for monitor in MONITORS if monitor in known)

    def of_codes(self, codes: Collection[str]) -> frozenset[str]:
        """The monitors these codes belong to; the job's own record goes before the table."""
        told = (self.repaired.get(code) or self.monitors_of_codes.get(code) for code in codes)
        return frozenset(monitor for monitor in told if monitor is not None)
