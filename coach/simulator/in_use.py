"""In-use performance counters of one control unit, by 40 CFR 86.010-18(d)(4) and (k)(5); a clear leaves them."""

from dataclasses import dataclass, field

from coach.j1979.vehicle_info import COMPRESSION_PAIRS, SPARK_PAIRS
from coach.simulator.body import Body

# 40 CFR 86.010-18(d)(4)(ii): the one place where all cars have the same numbers, since they are the law's.
RUNNING_S = 600.0
FAST_S = 300.0
FAST_KMH = 40.2
IDLE_S = 30.0
IDLE_KMH = 1.6
AMBIENT_LOW_C = -7.0
ALTITUDE_HIGH_M = 2440.0
FUELLED_S = 10.0  # newer cars count the time the car is ready, with so much of burning fuel in it; from memory
# Evaporative denominator, 13 CCR 1968.2(d)(4.3.2), from memory: a cold start between 4.4 and 35 °C.
EVAP_START_C = (4.4, 35.0)
TOP = 65535


@dataclass(slots=True)
class DriveCounter:
    """The general denominator's three parts in one driving cycle, in seconds."""

    running_s: float = 0.0
    fast_s: float = 0.0
    idle_s: float = 0.0
    longest_idle_s: float = 0.0
    fuelled_s: float = 0.0

    @property
    def met(self) -> bool:
        """All parts are there."""
        long_enough = self.running_s >= RUNNING_S and self.fuelled_s >= FUELLED_S
        return long_enough and self.fast_s >= FAST_S and self.longest_idle_s >= IDLE_S

    def look(self, body: Body, dt: float) -> None:
        """Count `dt` seconds of a started car."""
        if body.ambient_c < AMBIENT_LOW_C or body.altitude_m >= ALTITUDE_HIGH_M:
            return
        self.running_s += dt
        self.fuelled_s += dt if body.engine_on else 0.0
        if body.speed_kmh >= FAST_KMH:
            self.fast_s += dt
        idle = body.engine_on and body.speed_kmh <= IDLE_KMH and body.accelerator < 0.02
        self.idle_s = self.idle_s + dt if idle else 0.0
        self.longest_idle_s = max(self.longest_idle_s, self.idle_s)


@dataclass(slots=True)
class InUseCounters:
    """Numerators and denominators by pair name; 0 for pairs the car does not have."""

    compression: bool
    fitted: frozenset[str]
    general_denominator: int = 0
    ignition_cycles: int = 0
    numerators: dict[str, int] = field(default_factory=dict)
    denominators: dict[str, int] = field(default_factory=dict)

    def age(self, cycles: int, rate: float) -> None:
        """Counters of a car that has lived: `rate` is the share of drives that met the denominator."""
        self.ignition_cycles = cycles
        self.general_denominator = int(cycles * rate)
        for pair in self.fitted:
            share = 0.4 if pair == "EVAP" else 1.0
            self.denominators[pair] = int(self.general_denominator * share)
            self.numerators[pair] = int(self.denominators[pair] * 0.9)

    def ran(self, pairs: tuple[str, ...]) -> None:
        """A monitor has run to its end in this driving cycle."""
        for pair in pairs:
            self.numerators[pair] = min(TOP, self.numerators.get(pair, 0) + 1)

    def denominator(self, start_coolant_c: float) -> None:
        """The general denominator was met in this driving cycle."""
        self.general_denominator = (self.general_denominator + 1) & TOP
        for pair in self.fitted:
            if pair != "EVAP" or EVAP_START_C[0] <= start_coolant_c <= EVAP_START_C[1]:
                self.denominators[pair] = min(TOP, self.denominators.get(pair, 0) + 1)

    def words(self) -> list[int]:
        """All counters in the order of infotype 08 or 0B."""
        out = [self.general_denominator, self.ignition_cycles]
        for pair in COMPRESSION_PAIRS if self.compression else SPARK_PAIRS:
            out += [self.numerators.get(pair, 0), self.denominators.get(pair, 0)]
        return out
