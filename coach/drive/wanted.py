"""What a drive is for and what its driver wants of it. It decides nothing; the plan does."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from coach.drive.quantity import told_number
from coach.j1979.dtc import is_code
from coach.j1979.monitors import MONITORS
from coach.visible import one_line

CLEAN_CYCLES = "clean_cycles"
"""The target that is no monitor: driving cycles without the fault, until the MIL goes out."""
MONITORS_AGAIN = "monitors"
"""Back to the monitors the drive was for before."""


@dataclass(frozen=True, slots=True)
class RuleSays:
    """What the named inspection rule would refuse, or cannot say, beside monitors: ids of `coach.drive.target.BARS`."""

    id: str
    name: str
    refuses: frozenset[str]


def rule_says(told: object) -> RuleSays | None:
    """{"id": …, "name": …, "refuses": [ids]} as the session tells it; none for anything else."""
    if not isinstance(told, Mapping) or not isinstance(told.get("id"), str):
        return None
    refuses = told.get("refuses")
    ids = [name for name in refuses if isinstance(name, str)] if isinstance(refuses, list | tuple) else []
    return RuleSays(one_line(told["id"]), one_line(str(told.get("name") or told["id"])), frozenset(ids))


@dataclass(slots=True)
class Wanted:
    """`target`: the monitors the drive is for, none for all; `skipped`: phases left out at the driver's wish.

    `rule`: the inspection rule the target was made by, none where none was named. `monitors_of_codes` and `repaired`:
    the monitor of a code by the shared table, and by the job's own record; `repaired_codes` also holds those whose
    monitor nobody knows. `all_the_time`: the monitor of each code whose check runs all the time, as those of wiring do.
    """

    target: tuple[str, ...] | None = None
    rule: RuleSays | None = None
    speed_max_kmh: float | None = None
    skipped: frozenset[str] = frozenset()
    monitors_of_codes: Mapping[str, str] = field(default_factory=dict)
    all_the_time: Mapping[str, str] = field(default_factory=dict)
    repaired: Mapping[str, str] = field(default_factory=dict)
    repaired_codes: frozenset[str] = frozenset()

    def copy(self) -> "Wanted":
        """An independent copy."""
        return replace(self)

    def learn(self, known: Mapping[str, Any]) -> None:
        """What was known before the drive: `repaired`, the monitor of each repaired code, driven for first; `rule`."""
        self.rule = rule_says(known.get("rule"))
        told = known.get("repaired")
        codes = told if isinstance(told, Mapping) else {}
        known_codes = [code for code in codes if isinstance(code, str) and is_code(code)]
        self.repaired = {code: m for code in known_codes if isinstance(m := codes[code], str) and m in MONITORS}
        self.repaired_codes = frozenset(known_codes)

    def choose(self, made: Mapping[str, Any], phases: Collection[str]) -> str | None:
        """{"skip": phase}, {"unskip": phase}, {"speed_max_kmh": n}; the phase now skipped.

        {"target": [monitors]}, with {"rule": …} where a rule named them.
        """
        unskip = made.get("unskip")
        if isinstance(unskip, str):
            self.skipped -= {unskip}
        target = made.get("target")
        if isinstance(target, list | tuple):
            self.target = tuple(monitor for monitor in target if monitor in MONITORS)
            self.rule = rule_says(made.get("rule"))
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

    def of_code(self, code: str) -> str | None:
        """The monitor of one code, those that run all the time too; none when nobody knows it."""
        return self.repaired.get(code) or self.all_the_time.get(code) or self.monitors_of_codes.get(code)

    def of_codes(self, codes: Collection[str]) -> frozenset[str]:
        """The monitors these codes belong to; the job's own record goes before the table."""
        told = (self.repaired.get(code) or self.monitors_of_codes.get(code) for code in codes)
        return frozenset(monitor for monitor in told if monitor is not None)
