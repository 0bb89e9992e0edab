"""The fuel tank: what is in it, how it surges, what the float makes of it, how much vapour it gives off.

The surface is a pendulum of its own; the float sits off the tank's middle, so the reading surges with every pull and
stop. Petrol's vapour pressure rises with its warmth and with the winter grade; the canister keeps what a filling drives
out until the running engine burns it. Figures are our own, of plausible size.
"""

import math

from coach.simulator.surroundings import Surroundings

GRAVITY = 9.81
SURGE_RAD_S = 4.4  # about 0.7 Hz: the surface of a tank some 0.8 m long
SURGE_DAMPING = 0.10
STIFF, DAMPING = SURGE_RAD_S * SURGE_RAD_S, 2 * SURGE_DAMPING * SURGE_RAD_S
LEVER_PCT = 80.0  # reading per unit of tilt: 1 m/s² tilts by a tenth, the float then shows 8 % more or less
DAMPED_S, UNDAMPED_S = 90.0, 0.6  # how slowly a sound sender follows; one without damping shows every wave
DAMPED_EVERY_S = 1.0
SUMMER_KPA, WINTER_KPA = 60.0, 95.0  # vapour pressure at 37.8 °C, common grades, from memory
AT_C = 37.8
PER_K = 0.028  # a quarter more for eight degrees, from memory
SILENT_KPA = 45.0
VAPOUR_SHARE = 0.045
DRIVEN_WARMER_K = 9.0  # what road and exhaust add to the fuel
WARMING_S = 1800.0
COOLING_S = 9000.0
LOAD_PER_L = 0.02  # of the canister, for each litre filled in
PURGED_S = 260.0  # time constant at full purge


class Tank:
    """Contents in litres, temperature in °C. `undamped` and `winter_fuel` are circumstances, `load` is 0-1."""

    def __init__(self, capacity_l: float, fuel_pct: float, ambient_c: float) -> None:
        self.capacity_l = capacity_l
        self.litres = capacity_l * fuel_pct / 100
        self.fuel_c = ambient_c
        self.undamped = False
        self.winter_fuel = False
        self.load = 0.0
        self.shown_pct = self.level_pct
        self._tilt = self._rate = self._damped_s = 0.0

    @property
    def level_pct(self) -> float:
        """What is really in it, 0-100 %."""
        return 100 * self.litres / self.capacity_l

    @property
    def vapour_kpa(self) -> float:
        """What a minute with the tank shut adds to its pressure, kPa."""
        at_c = SUMMER_KPA if not self.winter_fuel else WINTER_KPA
        return VAPOUR_SHARE * max(0.0, at_c * math.exp(PER_K * (self.fuel_c - AT_C)) - SILENT_KPA)

    def fill(self, fuel_pct: float) -> None:
        """Fill up to this level (or pump it out down to it); what the fuel drives out goes into the canister."""
        before, self.litres = self.litres, self.capacity_l * min(100.0, max(0.0, fuel_pct)) / 100
        self.load = min(1.0, self.load + LOAD_PER_L * max(0.0, self.litres - before))
        self.shown_pct = self.level_pct

    def burn(self, litres: float) -> None:
        """Take so much out."""
        self.litres = max(0.0, self.litres - litres)

    def surge(self, acceleration_ms2: float, grade: float, dt: float) -> None:
        """The surface swings for `dt` seconds, and the float follows as slowly as its sender lets it."""
        pull = -acceleration_ms2 / GRAVITY - grade
        self._rate += (STIFF * (pull - self._tilt) - DAMPING * self._rate) * dt
        self._tilt += self._rate * dt
        self._damped_s -= dt
        if self.undamped or self._damped_s <= 0:
            self._show(dt if self.undamped else DAMPED_EVERY_S)

    def _show(self, dt: float) -> None:
        float_pct = min(100.0, max(0.0, self.level_pct + LEVER_PCT * self._tilt))
        self.shown_pct += (float_pct - self.shown_pct) * dt / (UNDAMPED_S if self.undamped else DAMPED_S)
        self._damped_s = DAMPED_EVERY_S

    def step(self, body: Surroundings, dt: float) -> None:
        """Warmth and vapour, for `dt` seconds with the ignition on."""
        warmer_k = DRIVEN_WARMER_K if body.engine_on else 0.0
        self.fuel_c += (body.ambient_c + warmer_k - self.fuel_c) * dt / WARMING_S
        self.load *= 1 - body.purge_pct / 100 * dt / PURGED_S

    def rest(self, ambient_c: float, seconds: float) -> None:
        """Stand for `seconds`: the fuel cools to the air and lies still."""
        self.fuel_c = ambient_c + (self.fuel_c - ambient_c) * math.exp(-seconds / COOLING_S)
        if seconds > 5:
            self._tilt = self._rate = 0.0
            self.shown_pct = self.level_pct
