"""Which monitors ran in a driving cycle, by what happened: PID 41 went from "to run" to "complete", or a bit of PID 01.

A "complete" of PID 41 with no "to run" before it in the same cycle proves nothing: it may be a copy of PID 01.
"""

from dataclasses import dataclass, replace

from coach.car.happenings import CycleMonitorChanged, CycleStatusDistrusted, Happening, MonitorChanged


@dataclass(slots=True)
class RanWatch:
    """`opened`: unit and monitor that PID 41 said is still to run. `told`: PID 41 said so of any in this cycle."""

    ran: frozenset[str] = frozenset()
    opened: frozenset[tuple[str, str]] = frozenset()
    told: bool = False

    def copy(self) -> "RanWatch":
        """An independent copy."""
        return replace(self)

    def happened(self, happening: Happening) -> None:
        """Take one happening."""
        if isinstance(happening, CycleMonitorChanged):
            self._cycle_monitor(happening)
        elif isinstance(happening, CycleStatusDistrusted):
            self.opened = frozenset(one for one in self.opened if one[0] != happening.ecu)
        elif isinstance(happening, MonitorChanged) and (happening.before, happening.after) == MOVED:
            self.ran |= {happening.monitor}

    def _cycle_monitor(self, happening: CycleMonitorChanged) -> None:
        key = (happening.ecu, happening.monitor)
        if happening.after == "to_run":
            self.opened, self.told = self.opened | {key}, True
        elif happening.after == "complete" and key in self.opened:
            self.opened -= {key}
            if not self.says_to_run(happening.monitor):
                self.ran |= {happening.monitor}

    def says_to_run(self, monitor: str) -> bool:
        """By PID 41 of some unit the monitor has not run in this cycle."""
        return monitor not in self.ran and any(opened == monitor for _, opened in self.opened)

    def start_over(self) -> None:
        """A new driving cycle."""
        self.ran, self.opened, self.told = frozenset(), frozenset(), False


MOVED = ("incomplete", "complete")
"""A bit of PID 01 that moves like this within a cycle: its monitor ran in it."""
