"""May what PID 41 says be acted on? Each unit earns it anew in every driving cycle.

Its enable bits have stood still for a minute with the engine running, and it has shown that it is no copy of PID 01: it
says something else of the same monitors, and went on saying it after PID 01 was read again. A unit that enables nothing
at all says nothing. A bit that comes back ends the trust: `coach.car.reports`.
"""

from dataclasses import dataclass, replace

from coach.j1979.readiness import CycleStatus, Readiness

STABLE_S = 60.0  # our judgement: what a start decides is decided in the first seconds; a minute also outlasts a crank
GAP_S = 30.0  # our judgement: five times the period of the question; a longer silence is not seen as standing still


@dataclass(frozen=True, slots=True)
class CycleTrust:
    """`enabled` since `since_t` with the engine running; `differs_t`: since when it says other than PID 01."""

    enabled: frozenset[str] = frozenset()
    since_t: float | None = None
    differs_t: float | None = None
    heard_t: float | None = None
    no_copy: bool = False

    def heard(
        self, t: float, status: CycleStatus, readiness: Readiness, readiness_t: float, running: bool
    ) -> "CycleTrust":
        """One answer to PID 41, with what PID 01 of the same unit said last and when."""
        enabled = status.enabled & readiness.supported
        still = running and enabled == self.enabled and self.heard_t is not None and t - self.heard_t <= GAP_S
        since_t = self.since_t if still and self.since_t is not None else (t if running else None)
        differs_t = None
        if enabled and _differs(status, readiness):
            differs_t = self.differs_t if self.differs_t is not None else t
        no_copy = self.no_copy or (differs_t is not None and readiness_t > differs_t)
        return replace(self, enabled=enabled, since_t=since_t, differs_t=differs_t, heard_t=t, no_copy=no_copy)

    @property
    def earned(self) -> bool:
        """Whether it may be acted on."""
        long = self.since_t is not None and self.heard_t is not None and self.heard_t - self.since_t >= STABLE_S
        return long and self.no_copy


NO_TRUST = CycleTrust()
"""Nothing heard yet."""


def _differs(status: CycleStatus, readiness: Readiness) -> bool:
    """Whether a copy of PID 01 could not say this."""
    supported = readiness.supported
    open_there = supported - readiness.complete
    return status.enabled & supported != supported or status.not_complete & supported != open_there
