"""The general denominator and the distance of one driving cycle, counted as the car itself would count them.

A value stands until the next one, but never longer than the bridge: across a gap nothing accrues. Time is counted
only while the engine runs; where no engine speed was ever recorded the engine is taken as running and that is said.
"""

from dataclasses import dataclass, replace

FAST_KMH = 25 * 1.609344  # 25 mph: 40 CFR 86.010-18(d)(4)(ii)
IDLE_KMH = 1.609344  # 1 mph, same paragraph
RUNNING_S = 600.0  # same paragraph
FAST_S = 300.0  # same paragraph
IDLE_S = 30.0  # same paragraph, unbroken
AMBIENT_MIN_C = -7.0  # 20 °F, same paragraph, rounded as regulators do
BARO_MIN_KPA = 75.2  # 2,440 m (8,000 ft) in the ISA standard atmosphere: 101.325 * (1 - 2.25577e-5 * 2440) ** 5.25588
BRIDGE_S = 6.0  # our judgement, as for a cruise: a longer interval between samples is a gap


@dataclass(slots=True)
class Denominator:
    """Running totals of one driving cycle. Seconds, kilometres, km/h.

    `running_s`, `fast_s` and `longest_idle_s` are what was driven; the `counted_` ones leave out what was too cold or
    too high to count. `unseen_s` could not be timed: samples too far apart, or an engine speed too old to say.
    """

    running_s: float = 0.0
    fast_s: float = 0.0
    idle_s: float = 0.0
    longest_idle_s: float = 0.0
    counted_running_s: float = 0.0
    counted_fast_s: float = 0.0
    counted_idle_s: float = 0.0
    standing_s: float = 0.0
    longest_standing_s: float = 0.0
    distance_km: float = 0.0
    top_kmh: float = 0.0
    too_cold_s: float = 0.0
    too_high_s: float = 0.0
    timed_s: float = 0.0
    unseen_s: float = 0.0
    met_t: float | None = None
    engine_assumed: bool = False
    earlier_s: float = 0.0
    earlier_km: float = 0.0
    _speed: float | None = None
    _speed_t: float = 0.0

    def copy(self) -> "Denominator":
        """An independent copy."""
        return replace(self)

    def interrupt(self) -> None:
        """The next interval is of unknown length or content: nothing accrues across it."""
        self._speed = None
        self.idle_s = self.standing_s = 0.0

    def restart(self, keep_met: bool = False) -> None:
        """A new driving cycle: the totals of the cycle go to zero, the last speed stays known.

        `keep_met`: nobody knows whether a new cycle began; a pattern that was met stays met.
        """
        speed, speed_t, met_t = self._speed, self._speed_t, self.met_t
        earlier_s, earlier_km = self.whole_running_s, self.whole_distance_km
        for name, value in _fresh().items():
            setattr(self, name, value)
        self._speed, self._speed_t = speed, speed_t
        self.met_t = met_t if keep_met else None
        self.earlier_s, self.earlier_km = earlier_s, earlier_km

    def on_speed(
        self, t: float, kmh: float, running: bool | None, stale: bool, foot_off: bool, weather: str | None
    ) -> None:
        """Take one speed sample. `running`: engine, none when no engine speed was ever recorded.

        `stale`: the engine speed is too old to say. `foot_off` is false only when the accelerator is known to be
        pressed. `weather` is none when the conditions hold or are unknown, else "cold" or "high".
        """
        before = self._speed
        dt = t - self._speed_t
        self._speed, self._speed_t = kmh, t
        if kmh > self.top_kmh:
            self.top_kmh = kmh
        if before is None:
            return
        if dt > BRIDGE_S or dt < 0:
            self.idle_s = self.standing_s = 0.0
            self.unseen_s += max(0.0, dt)
            return
        self.timed_s += dt
        self.distance_km += (before + kmh) * dt / 7200.0
        if before <= IDLE_KMH:
            self._stand(dt, running and not stale, foot_off, weather)
        else:
            self.idle_s = self.standing_s = 0.0
        if stale:
            self.unseen_s += dt
            return
        if running is False:
            return
        if running is None:
            self.engine_assumed = True
        self.running_s += dt
        fast = before >= FAST_KMH
        if fast:
            self.fast_s += dt
        if weather is None:
            self.counted_running_s += dt
            if fast:
                self.counted_fast_s += dt
        elif weather == "cold":
            self.too_cold_s += dt
        else:
            self.too_high_s += dt

    @property
    def whole_running_s(self) -> float:
        """Seconds driven or idled in the whole recording, earlier driving cycles included."""
        return self.earlier_s + self.running_s

    @property
    def whole_distance_km(self) -> float:
        """Kilometres of the whole recording, earlier driving cycles included."""
        return self.earlier_km + self.distance_km

    def met(self) -> bool:
        """True when all three parts of the pattern are there."""
        return self.counted_running_s >= RUNNING_S and self.counted_fast_s >= FAST_S and self.counted_idle_s >= IDLE_S

    def lacks(self) -> tuple[str, ...]:
        """Which parts of the pattern are still missing: fast, idle, running; none once it was met."""
        parts = (
            ("fast", self.counted_fast_s < FAST_S),
            ("idle", self.counted_idle_s < IDLE_S),
            ("running", self.counted_running_s < RUNNING_S),
        )
        return () if self.met_t is not None else tuple(name for name, missing in parts if missing)

    def missed(self) -> bool | None:
        """True when the pattern was surely not met, whatever the unseen time held; none when it may have been."""
        if self.timed_s == 0.0:
            return None
        unseen = self.unseen_s
        surely = (
            self.counted_running_s + unseen < RUNNING_S
            or self.counted_fast_s + unseen < FAST_S
            or self.counted_idle_s + unseen < IDLE_S
        )
        return True if surely else None

    def _stand(self, dt: float, running: bool | None, foot_off: bool, weather: str | None) -> None:
        self.standing_s += dt
        self.longest_standing_s = max(self.longest_standing_s, self.standing_s)
        if running is False or not foot_off:
            self.idle_s = 0.0
            return
        self.idle_s += dt
        self.longest_idle_s = max(self.longest_idle_s, self.idle_s)
        if weather is None:
            self.counted_idle_s = max(self.counted_idle_s, self.idle_s)


def _fresh() -> dict[str, float | bool | None]:
    blank = Denominator()
    return {name: getattr(blank, name) for name in Denominator.__slots__}
