"""How long a phase has been asked for: what this road or this car never lets happen is left for another day."""

from dataclasses import dataclass, field, replace

TIMES = 3.0  # our judgement: three times what a phase takes with nothing going wrong is patience enough
LEAST_S = 900.0  # our judgement: a short phase may wait a quarter of an hour for its place on the road


def may_come_about(regime: str, kmh: float, engine_runs: bool | None) -> bool:
    """Whether waiting now says anything of the road: not with the engine off before the drive, nor in a queue."""
    return kmh > 0 or (regime == "standing" and engine_runs is not False)


@dataclass(slots=True)
class Patience:
    """Seconds each phase was asked for with data coming in, and the phases that are given up for this drive."""

    asked_s: dict[str, float] = field(default_factory=dict)
    given_up: frozenset[str] = frozenset()
    _t: float | None = None

    def copy(self) -> "Patience":
        """An independent copy."""
        return replace(self, asked_s=dict(self.asked_s))

    def interrupt(self) -> None:
        """The interval up to the next sample must not count."""
        self._t = None

    def asked(self, t: float, phase: str | None, expected_s: float, bridge_s: float) -> bool:
        """One speed sample while `phase` is asked for; true when it is given up by it."""
        last, self._t = self._t, t
        if phase is None or last is None or not 0 <= t - last <= bridge_s:
            return False
        self.asked_s[phase] = asked_s = self.asked_s.get(phase, 0.0) + t - last
        if asked_s < max(LEAST_S, TIMES * expected_s) or phase in self.given_up:
            return False
        self.given_up |= {phase}
        return True

    def progress(self, phase: str) -> None:
        """The phase was driven, or something of it was counted: patience begins anew."""
        self.asked_s.pop(phase, None)

    def start_over(self) -> None:
        """A new driving cycle, or a cleared memory: everything may be asked again."""
        self.asked_s.clear()
        self.given_up = frozenset()
