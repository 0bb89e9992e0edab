"""One monitor of a control unit through driving cycles: enabled or not, what it has seen and measured, its verdict."""

import random
from collections.abc import Set

from coach.j1979.readiness import CycleState
from coach.simulator.body import Body
from coach.simulator.rules import Measure, MonitorRule, Start
from coach.simulator.trials import Trial, inside, trial_of

# What this world's cars call a cold start for their cold-start tests: our own, wider than any profile's gate.
COLD_COOLANT_C = 43.0
COLD_APART_C = 9.0
SPREAD = 0.03  # two runs of one test differ by some percent
SIGNED_FROM = 0x80  # unit ids from here on are signed

Result = tuple[int, int, int]
"""Raw value and limits as service 06 shows them."""


def is_cold(body: Body) -> bool:
    """Whether the engine, about to run, counts as cold."""
    return body.coolant_c <= COLD_COOLANT_C and abs(body.coolant_c - body.intake_c) <= COLD_APART_C


def start_allows(start: Start, body: Body) -> bool:
    """Whether the start of the engine now lets this monitor run in this driving cycle."""
    return (
        start.coolant_low_c <= body.coolant_c <= start.coolant_high_c
        and abs(body.coolant_c - body.intake_c) <= start.over_intake_c
        and start.ambient_low_c <= body.ambient_c <= start.ambient_high_c
        and start.fuel_low_pct <= body.fuel_pct <= start.fuel_high_pct
        and body.baro_kpa >= start.baro_low_kpa
    )


class Monitor:
    """`complete` and `results` (by MID, TID): since the clear. `ran`: to its end in this driving cycle.

    `runs`: driving cycles in a row in which it ran, up to now.
    """

    def __init__(self, rule: MonitorRule, rng: random.Random) -> None:
        self.rule = rule
        self.rng = rng
        self.always = not rule.ways and rule.leak is None
        self.complete = self.always
        self.enabled = True
        self.ran = False
        self.runs = 0
        self.trials: tuple[Trial, ...] = ()
        self.results: dict[tuple[int, int], Result] = {}

    def new_cycle(self) -> None:
        """Key on: nothing has run yet."""
        self.enabled, self.ran, self.trials = True, False, ()

    def begin(self, body: Body, inhibited: bool) -> None:
        """The engine starts."""
        self.new_cycle()
        self.enabled = self.always or (not inhibited and start_allows(self.rule.start, body))
        if self.enabled:
            cold = is_cold(body)
            self.trials = tuple(trial_of(way, body, cold) for way in self.rule.ways)

    @property
    def begun(self) -> bool:
        """Whether it is under way in this driving cycle, or through."""
        return self.ran or any(trial.begun for trial in self.trials)

    def ended(self, cycle: bool) -> None:
        """The ignition is off; `cycle`: a driving cycle ended with it, and one without a run breaks the row."""
        if cycle and not self.ran:
            self.runs = 0

    def look(self, body: Body, dt: float, complete: Set[str]) -> bool:
        """Look at the car; true at the moment the monitor has seen all it needs."""
        if not self.enabled or self.ran or not self.trials:
            return False
        if not all(monitor in complete for monitor in self.rule.after) or not inside(body, self.rule.only):
            return False
        if self.rule.gives_up and self.begun and not inside(body, self.rule.gives_up):
            self.enabled = False
            return False
        for trial in self.trials:
            trial.look(body, dt)
        many = any if self.rule.any_way else all
        if many(trial.done for trial in self.trials):
            self.has_run()
            return True
        if (all if self.rule.any_way else any)(trial.closed for trial in self.trials):
            self.enabled = False
        return False

    def has_run(self) -> None:
        """It came to its end in this driving cycle."""
        self.ran, self.runs = True, self.runs + 1

    def measure(self, body: Body) -> tuple[str, ...]:
        """Take the test's values and keep them; the codes of those beyond their limits."""
        failed = []
        for measure in self.rule.measures:
            value = body.measured(measure.name) * (1 + self.rng.uniform(-SPREAD, SPREAD))
            self.results[measure.mid, measure.tid] = _raw(measure, value)
            if not measure.low <= value <= measure.high:
                failed.append(measure.code)
        return tuple(failed)

    def codes(self) -> tuple[str, ...]:
        """All codes this monitor can set."""
        return tuple(measure.code for measure in self.rule.measures)

    def clear(self) -> None:
        """Service 04: not complete, no results, and this driving cycle begins anew for it."""
        self.complete, self.runs = self.always, 0
        self.results.clear()
        self.new_cycle()

    def cycle_state(self) -> CycleState:
        """As PID 41 tells it."""
        if self.always or self.ran:
            return "complete"
        return "to_run" if self.enabled else "disabled"


def _raw(measure: Measure, value: float) -> Result:
    return _count(measure, value), _count(measure, measure.low), _count(measure, measure.high)


def _count(measure: Measure, value: float) -> int:
    """Raw counts, 0-65535 or signed; an open limit stands at the end of the range."""
    low, high = (-0x8000, 0x7FFF) if measure.unit_id >= SIGNED_FROM else (0, 0xFFFF)
    if value in (float("inf"), float("-inf")):
        return high if value > 0 else low
    return max(low, min(high, round((value - measure.offset) * measure.per_unit)))
