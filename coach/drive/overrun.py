"""Does the engine drive the car though the foot is off? Calculated load and manifold pressure against the idle's own.

A pedal at rest proves no closed throttle: under the speed holder it rests while the engine pulls. With the throttle
shut and the wheels turning the engine, load and pressure lie below those of the idle, on a diesel a little above.
Where neither was learned nothing is said. The rest of the proof is that the car slows.
"""

from dataclasses import dataclass, field, replace

LOAD_ABOVE = 2.0
"""Our judgement: five steps of PID 04. With the throttle shut a revolution draws less air the faster the engine turns,
and the cut of a diesel injects nothing: load in a roll lies well below that of the idle, with or without consumers."""
THROTTLED_KPA, THROTTLED_ABOVE_KPA = 80.0, 3.0
"""Our judgement, for the same reason: an idle below the first is throttled; the second is three steps of PID 0B."""
UNTHROTTLED_ABOVE = 1.3
"""Our judgement: of published drives (DOI 10.35097/1130) a turbo diesel rolls at up to 1.25 times its idle's pressure
while the charger runs down, and is driven at 1.45 times and more."""
WITNESSES = ("load_pct", "map_kpa")
STEADY = (
    5  # our judgement: the middle of five readings at idle; when an engine is shut off one or two may be far too low
)


@dataclass(slots=True)
class Overrun:
    """The lowest of each witness at a steady idle, and the newest of each with its time."""

    idle: dict[str, float] = field(default_factory=dict)
    heard: dict[str, tuple[float, float]] = field(default_factory=dict)
    _in_a_row: dict[str, tuple[float, ...]] = field(default_factory=dict)

    def copy(self) -> "Overrun":
        """An independent copy."""
        return replace(self, idle=dict(self.idle), heard=dict(self.heard), _in_a_row=dict(self._in_a_row))

    def update(self, signal: str, value: float, t: float, idling: bool) -> None:
        """One value of a witness; `idling`: standing with the engine running."""
        self.heard[signal] = (t, value)
        row = (*self._in_a_row.get(signal, ()), value)[-STEADY:] if idling else ()
        self._in_a_row[signal] = row
        if len(row) == STEADY:
            middle = sorted(row)[STEADY // 2]
            self.idle[signal] = min(middle, self.idle.get(signal, middle))

    def limit(self, signal: str) -> float | None:
        """Above this the engine drives; none before an idle was seen."""
        idle = self.idle.get(signal)
        if idle is None:
            return None
        if signal == "load_pct":
            return idle + LOAD_ABOVE
        return idle + THROTTLED_ABOVE_KPA if idle < THROTTLED_KPA else idle * UNTHROTTLED_ABOVE

    def drives(self, since_t: float) -> tuple[float, float] | None:
        """The value and the limit by which the engine drives the car, of what was heard after `since_t`; else none."""
        for signal in WITNESSES:
            t, value = self.heard.get(signal, (since_t, 0.0))
            limit = self.limit(signal)
            if t > since_t and limit is not None and value > limit:
                return value, round(limit, 1)
        return None
