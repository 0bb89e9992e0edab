"""Watching one way of one monitor through a driving cycle. Each trial says when it has seen enough."""

from typing import Protocol

from coach.simulator.body import Body
from coach.simulator.rules import Band, Hold, LoadStep, Regenerated, Roll, Way


class Trial(Protocol):
    """One way being watched."""

    done: bool
    closed: bool
    """Can no longer succeed in this driving cycle."""

    @property
    def begun(self) -> bool:
        """Whether it is under way."""

    def look(self, body: Body, dt: float) -> None:
        """Look at the car, `dt` seconds after the last look."""


BEGUN_S = 20.0  # a hold of so much is under way, not just touched; our own


def inside(body: Body, bands: tuple[Band, ...]) -> bool:
    """Whether every band is met now."""
    return all(band.low <= getattr(body, band.signal) <= band.high for band in bands)


class HoldTrial:
    """Seconds inside the bands."""

    def __init__(self, rule: Hold, cold: bool) -> None:
        self.rule = rule
        self.done = False
        self.closed = rule.cold_start and not cold
        self.held_s = 0.0
        self._out_s = 0.0

    @property
    def begun(self) -> bool:
        """Held for a while."""
        return self.held_s >= BEGUN_S

    def look(self, body: Body, dt: float) -> None:
        """Count, pause, or start again."""
        if self.done or self.closed:
            return
        if body.run_time_s > self.rule.window_s:
            self.closed = True
        elif body.engine_on and inside(body, self.rule.bands):
            self._out_s = 0.0
            self.held_s += dt
            self.done = self.held_s >= self.rule.needed_s
        else:
            self._out_s += dt
            if self.rule.continuous and self._out_s > self.rule.pause_s:
                self.held_s = 0.0


class RollTrial:
    """Closed-throttle decelerations."""

    def __init__(self, rule: Roll) -> None:
        self.rule = rule
        self.done = False
        self.closed = False
        self.count = 0
        self._begun_kmh = 0.0
        self._cut_s = 0.0

    @property
    def begun(self) -> bool:
        """One roll was good."""
        return self.count > 0

    def look(self, body: Body, dt: float) -> None:
        """One roll is counted when it ends low enough after long enough; a touch of the pedal ends it uncounted."""
        if self.done:
            return
        cut = body.powertrain.fuel_cut or (body.spec.wheel_power_kw > 0 and body.demand < 0.012)
        if not cut or not inside(body, self.rule.bands):
            self._begun_kmh = self._cut_s = 0.0
            return
        self._begun_kmh = max(self._begun_kmh, body.speed_kmh)
        self._cut_s += dt
        low = body.speed_kmh <= self.rule.to_kmh
        if low and self._begun_kmh >= self.rule.from_kmh and self._cut_s >= self.rule.shortest_s:
            self.count += 1
            self._begun_kmh = self._cut_s = 0.0
            self.done = self.count >= self.rule.repeats


class LoadStepTrial:
    """Firm pulls."""

    def __init__(self, rule: LoadStep) -> None:
        self.rule = rule
        self.done = False
        self.closed = False
        self.count = 0
        self._armed = False
        self._pull_s = 0.0

    @property
    def begun(self) -> bool:
        """One pull was good."""
        return self.count > 0

    def look(self, body: Body, dt: float) -> None:
        """Armed when slow; a pull is counted once it has lasted and the speed is reached."""
        if self.done:
            return
        if body.speed_kmh <= self.rule.from_kmh:
            self._armed, self._pull_s = True, 0.0
        if not self._armed or not inside(body, self.rule.bands):
            return
        if body.foot_pct >= self.rule.foot_pct:
            self._pull_s += dt
        if self._pull_s >= self.rule.pull_s and body.speed_kmh >= self.rule.to_kmh:
            self.count += 1
            self._armed = False
            self.done = self.count >= self.rule.repeats


class RegeneratedTrial:
    """A regeneration finished in this cycle, and a while of driving after it."""

    def __init__(self, rule: Regenerated, finished_before: int) -> None:
        self.rule = rule
        self.done = False
        self.closed = False
        self._before = finished_before
        self._after_s = 0.0

    @property
    def begun(self) -> bool:
        """The regeneration is over."""
        return self._after_s > 0

    def look(self, body: Body, dt: float) -> None:
        """Count the seconds after it."""
        if not self.done and body.soot.regenerations > self._before and inside(body, self.rule.bands):
            self._after_s += dt
            self.done = self._after_s >= self.rule.after_s


def trial_of(way: Way, body: Body, cold: bool) -> Trial:
    """A fresh trial for a driving cycle that begins now; `cold`: the car calls this a cold start."""
    if isinstance(way, Hold):
        return HoldTrial(way, cold)
    if isinstance(way, Roll):
        return RollTrial(way)
    if isinstance(way, LoadStep):
        return LoadStepTrial(way)
    return RegeneratedTrial(way, body.soot.regenerations)
