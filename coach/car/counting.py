"""Counts speed samples towards the general denominator: what was driven, what surely counts, what may count.

A value stands until the next one, but never longer than the bridge: across a gap nothing accrues. Time is counted
only while the engine runs; where no engine speed was ever recorded the engine is taken as running and that is said.
"""

from dataclasses import dataclass
from typing import NamedTuple

from coach.car.totals import BRIDGE_S, FAST_KMH, IDLE_KMH, Standstill, Streak, Totals

ROLLING_KMH = 5.0  # our judgement: above walking pace; sensors flicker below


class Edge(NamedTuple):
    """The last interval in which the engine may have been started: counted from `until_t` on, whether as an idle."""

    from_t: float
    until_t: float
    idle: bool
    counts: bool


@dataclass(slots=True)
class Counting(Totals):
    """The totals of one span while it is driven. `last_kmh`, `last_t`: the newest speed, also of the span before.

    `idle_s`: the idle under way.
    """

    last_kmh: float | None = None
    last_t: float = 0.0
    _parted: bool = False
    _gap_from_t: float | None = None
    _rpm_t: float = -1.0
    _still: Standstill | None = None
    idle_s: float = 0.0
    _sure_idle_s: float = 0.0
    _unsure_s: float = 0.0
    _unsure_fast_s: float = 0.0
    _edge: Edge | None = None

    def interrupt(self, lost_s: float = 0.0) -> None:
        """The next interval is of unknown content: nothing accrues across it. `lost_s` by a clock that was set."""
        self._parted = True
        self.unseen_s += lost_s

    def on_speed(
        self,
        t: float,
        kmh: float,
        running: bool | None,
        so_since_t: float,
        rpm_t: float,
        touched: bool,
        weather: str | None,
    ) -> None:
        """Take one speed sample. `running`: the engine, none when no engine speed was ever recorded.

        `so_since_t`: since when it is known to be so, without a gap; `rpm_t`: when its speed was last heard. `touched`:
        the accelerator was seen pressed since the last sample. `weather` is none when the conditions hold or are
        unknown, else "cold" or "high".
        """
        before, t0 = self.last_kmh, self.last_t
        self.last_kmh, self.last_t = kmh, t
        self.samples += 1
        if kmh > self.top_kmh:
            self.top_kmh = kmh
        dt = t - t0
        if before is None or self._parted or self._gap_from_t is not None or dt > BRIDGE_S or dt < 0:
            self._gap(t, max(0.0, dt), before is None)
            return
        self.timed_s += dt
        self.distance_km += (before + kmh) * dt / 7200.0
        if running is None:
            self.engine_assumed = True
            self._run(dt, 0.0, before, kmh, touched, weather)
        elif t - rpm_t > BRIDGE_S:
            self.unseen_s += dt
            self._not_run(dt, before, "engine_unseen")
        elif running:
            self._run_since(t, dt, so_since_t, rpm_t, before, touched, weather)
        else:
            self._not_run(dt, before, "engine_off")
            self._edge = Edge(t0, t, kmh <= IDLE_KMH and before <= IDLE_KMH and not touched, weather is None)
            if so_since_t <= t0:
                self._surely_off(dt, before, kmh, touched, weather)
                return
        self._could(dt, before, kmh, touched, weather)

    def started(self, started_t: float) -> None:
        """The car's own clock tells when the engine was started: the interval it was started in counts from there."""
        edge = self._edge
        if edge is None or (more_s := edge.until_t - max(edge.from_t, started_t)) <= 0:
            return
        self._edge = edge._replace(until_t=edge.until_t - more_s)
        self.running_s += more_s
        if edge.counts:
            self.counted_running_s += more_s
        if edge.idle:
            self.idle_s += more_s
            self.longest_idle_s = max(self.longest_idle_s, self.idle_s)
            self._sure_idle_s += more_s if edge.counts else 0.0

    def _gap(self, t: float, gap_s: float, first: bool) -> None:
        """An interval that cannot be timed: nothing is counted, anything may have been."""
        if self._gap_from_t is not None:
            self.gap_s, self.gap_to_t, self._gap_from_t = max(0.0, t - self._gap_from_t), t, None
        elif not first:
            self.unseen_s += gap_s
            self.could_running_s += gap_s
            self.could_fast_s += gap_s
            self.could_idle.add(gap_s)
            self.could_idle_off.add(gap_s)
        self._parted = False
        self._unsure_s = self._unsure_fast_s = 0.0
        self._stand_no_more()

    def _run_since(
        self, t: float, dt: float, so_since_t: float, rpm_t: float, before: float, touched: bool, weather: str | None
    ) -> None:
        """The engine runs, since before the last sample or since a moment of this interval.

        An engine speed heard since the last sample confirms what was counted behind the one before.
        """
        if rpm_t != self._rpm_t:
            self._rpm_t = rpm_t
            self.counted_running_s += self._unsure_s
            self.counted_fast_s += self._unsure_fast_s
            self._unsure_s = self._unsure_fast_s = 0.0
        off_s = min(dt, max(0.0, so_since_t - (t - dt)))
        if off_s > 0:
            self._not_run(off_s, before, "engine_off")
        self._run(dt - off_s, max(0.0, t - rpm_t), before, self.last_kmh or 0.0, touched, weather)
        if off_s > 0:
            idle = self._still is not None and not touched
            self._edge = Edge(t - dt, t - dt + off_s, idle, weather is None)

    def _run(self, dt: float, unsure_s: float, before: float, kmh: float, touched: bool, weather: str | None) -> None:
        """`dt` seconds with the engine running, the last `unsure_s` of them not yet confirmed by an engine speed."""
        self.running_s += dt
        if before >= FAST_KMH:
            self.fast_s += dt
        if weather is None:
            rest_s = min(dt, unsure_s)
            fast = before >= FAST_KMH and kmh >= FAST_KMH
            self.counted_running_s += dt - rest_s
            self._unsure_s += rest_s
            if fast:
                self.counted_fast_s += dt - rest_s
                self._unsure_fast_s += rest_s
        elif weather == "cold":
            self.too_cold_s += dt
        else:
            self.too_high_s += dt
        if before <= IDLE_KMH:
            self._idle(dt, unsure_s, kmh, touched, weather)
        elif self._still is not None:
            self._stand_no_more()

    def _idle(self, dt: float, unsure_s: float, kmh: float, touched: bool, weather: str | None) -> None:
        self._stand(dt, "accelerator" if touched else None)
        if touched:
            self._break_idle()
            return
        self.idle_s += dt
        self.longest_idle_s = max(self.longest_idle_s, self.idle_s)
        self._sure_idle_s = self._sure_idle_s + dt if weather is None and kmh <= IDLE_KMH else 0.0
        self.counted_idle_s = max(self.counted_idle_s, self._sure_idle_s - unsure_s)

    def _not_run(self, dt: float, before: float, why: str) -> None:
        self._unsure_s = self._unsure_fast_s = 0.0
        self._break_idle()
        if before <= IDLE_KMH:
            self._stand(dt, why)
        else:
            self._stand_no_more()

    def _break_idle(self) -> None:
        self.idle_s = self._sure_idle_s = 0.0
        self._edge = None

    def _stand(self, dt: float, cause: str | None) -> None:
        if self._still is None:
            self._still = Standstill()
        self._still.add(dt, cause)
        if self._still.seconds > self.longest_standing_s:
            self.longest = self._still

    def _stand_no_more(self) -> None:
        self._still = None
        self._break_idle()

    # ------------------------------------------------------------ the most there may have been

    def _could(self, dt: float, before: float, kmh: float, touched: bool, weather: str | None) -> None:
        """The most that this interval may hold."""
        if weather is not None:
            self.could_idle.stop()
            self.could_idle_off.stop()
            return
        self.could_running_s += dt
        if before >= FAST_KMH or kmh >= FAST_KMH:
            self.could_fast_s += dt
        _maybe_idle(self.could_idle, dt, before, kmh, touched)
        _maybe_idle(self.could_idle_off, dt, before, kmh, touched)

    def _surely_off(self, dt: float, before: float, kmh: float, touched: bool, weather: str | None) -> None:
        """The engine was off from one sample to the next; a hybrid's own count may go on."""
        self.could_idle.stop()
        if weather is not None:
            self.could_idle_off.stop()
            return
        self.off_s += dt
        if before >= FAST_KMH or kmh >= FAST_KMH:
            self.off_fast_s += dt
        if before > ROLLING_KMH and kmh > ROLLING_KMH:
            self.off_rolling_s += dt
        _maybe_idle(self.could_idle_off, dt, before, kmh, touched)


def _maybe_idle(streak: Streak, dt: float, before: float, kmh: float, touched: bool) -> None:
    """The car may have stood in an interval at one end of which it stands."""
    if before > IDLE_KMH and kmh > IDLE_KMH:
        if streak.now_s > 0 or streak.lead_s is None:
            streak.stop()
        return
    streak.add(dt)
    if touched:  # at one moment of it, which one is unknown
        streak.stop()
        streak.add(dt)
