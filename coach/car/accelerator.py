"""Is the accelerator released? Learned per signal at idle, since no pedal rests at 0 %.

The rest of a signal is the lowest stable value seen at standstill with the engine idling. The absolute throttle alone
never proves a released pedal: a car was measured whose throttle reads 83.5 % at standstill.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

# Without a profile's own order: relative pedal, pedal sensors, relative throttle, absolute throttle.
# Our judgement: what the foot does comes before what the engine makes of it.
ORDER = ("relative_pedal_pct", "pedal_d_pct", "pedal_e_pct", "pedal_f_pct", "relative_throttle_pct", "throttle_pct")
PEDALS = frozenset(ORDER[:4])
"""Signals that only the foot moves: a throttle opens for other reasons too."""
RANK = {signal: rank for rank, signal in enumerate(ORDER)}

STABLE_S = 3.0  # our judgement: a value that stands this long at standstill is a rest, not a passing foot
STABLE_PCT = 0.8  # our judgement: two steps of a one-byte percentage (100/255 = 0.39 %)
CLOSED_PCT = 1.2  # our judgement: three steps above the rest still count as released
FRESH_S = 6.0  # a better signal older than this gives way to the next one; the longest bridge of a hold
OPEN_LOOP_BY_DRIVING = 4.0  # PID 03 flag: open loop by driving condition (load or deceleration cut), SAE J1979
IDLE_AIR_FACTOR = 1.5  # our judgement: air flow up to this much above the idle's own still is a closed throttle


@dataclass(slots=True)
class Accelerator:
    """What is known of the foot. `closed` is none until a rest was learned; `pressed_t`: when last seen pressed."""

    closed: bool | None = None
    closed_t: float = -1.0
    pressed_t: float = -1.0
    rank: int = len(ORDER) + 1
    ranks: Mapping[str, int] = field(default_factory=lambda: RANK)
    by_fuel_cut: bool = True
    signal: str | None = None
    rest_pct: dict[str, float] = field(default_factory=dict)
    idle_air_gps: float | None = None
    _candidate: dict[str, tuple[float, float]] = field(default_factory=dict)

    def prefer(self, signals: tuple[str, ...]) -> None:
        """Trust these signals in this order, as the profile has it, and no others."""
        self.by_fuel_cut = "fuel_system_1" in signals
        self.ranks = {signal: rank for rank, signal in enumerate(signals) if signal in RANK}

    def copy(self) -> "Accelerator":
        """An independent copy."""
        return replace(self, rest_pct=dict(self.rest_pct), _candidate=dict(self._candidate))

    def update(self, signal: str, value: float, t: float, idling: bool, air_gps: float | None) -> None:
        """Take one value of a pedal or throttle signal. `idling`: standing with the engine running. `air_gps`: MAF."""
        if idling:
            self._learn(signal, value, t, air_gps)
        else:
            self._candidate.pop(signal, None)
        rank = self.ranks.get(signal)
        if rank is not None and signal in PEDALS and value > self.rest_pct.get(signal, value) + CLOSED_PCT:
            self.pressed_t = t
        if rank is None or (rank > self.rank and t - self.closed_t <= FRESH_S):
            return
        rest = self.rest_pct.get(signal)
        if rest is None:
            return
        closed = value <= rest + CLOSED_PCT
        if closed and signal == "throttle_pct" and not self._little_air(air_gps):
            return
        self.closed, self.closed_t, self.rank, self.signal = closed, t, rank, signal
        if not closed:
            self.pressed_t = t

    def fuel_cut(self, fuel_system_flag: float, slowing: bool, t: float) -> None:
        """PID 03 says open loop by driving condition while the car slows: the strongest witness of a released pedal."""
        if self.by_fuel_cut and fuel_system_flag == OPEN_LOOP_BY_DRIVING and slowing:
            self.closed, self.closed_t = True, t

    def released(self, t: float) -> bool | None:
        """Whether the foot is off at time `t`; none when unknown or last told more than `FRESH_S` ago."""
        return self.closed if t - self.closed_t <= FRESH_S else None

    def above_rest(self, signal: str, value: float) -> float | None:
        """How far the signal stands above its learned rest, in percentage points; none before the rest is known."""
        rest = self.rest_pct.get(signal)
        return None if rest is None else value - rest

    def _learn(self, signal: str, value: float, t: float, air_gps: float | None) -> None:
        candidate = self._candidate.get(signal)
        if candidate is None or abs(value - candidate[0]) > STABLE_PCT:
            self._candidate[signal] = (value, t)
            return
        if t - candidate[1] < STABLE_S:
            return
        lowest = min(value, candidate[0])
        known = self.rest_pct.get(signal)
        if known is None or lowest < known:
            self.rest_pct[signal] = lowest
        if air_gps is not None and (self.idle_air_gps is None or air_gps < self.idle_air_gps):
            self.idle_air_gps = air_gps

    def _little_air(self, air_gps: float | None) -> bool:
        return air_gps is not None and self.idle_air_gps is not None and air_gps <= self.idle_air_gps * IDLE_AIR_FACTOR
