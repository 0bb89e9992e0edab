"""The diesel's exhaust fluid and NOx catalyst: fluid that freezes and thaws, a catalyst with its window, two sensors.

Sizes are our own. The fluid (urea and water) freezes at -11 °C, a property of the mixture.
"""

import math

from coach.simulator.surroundings import Surroundings

FREEZES_C = -11.0
FLUID_KG = 16.0
SENSIBLE_KJ_PER_K = 3.4 * FLUID_KG
LATENT_KJ = 270.0 * FLUID_KG
WALL_KW_PER_K = 0.004
HEATER_KW = 0.55
HEATER_BELOW_C = -5.0
POOL = 0.86  # with no more ice than this there is enough liquid around the pump
REST_STEP_S = 600.0
SCR_S, SCR_BELOW_K = 140.0, 25.0  # it follows the first catalyst, slower and a little cooler
WINDOW_C, WINDOW_K = 285.0, 105.0  # best temperature, and how far from it the conversion has halved or so
BEST_PCT = 88.0
USUAL_SHARE = 0.9  # of the best, in ordinary driving
SETTLE_S = 25.0
DEW_POINT_C, DRY_S = 128.0, 70.0  # the sensors are switched on once no drop can hit them


class ExhaustFluid:
    """`temperature_c` and `ice` (0-1) of the tank; `strength` is 1 for good fluid, less for watered."""

    def __init__(self, ambient_c: float) -> None:
        self.temperature_c = ambient_c
        self.ice = 0.0
        self.strength = 1.0
        self.stand(ambient_c)

    def stand(self, ambient_c: float) -> None:
        """Have stood in this air for days."""
        self.temperature_c, self.ice = ambient_c, float(ambient_c < FREEZES_C)

    @property
    def liquid(self) -> bool:
        """Whether the pump can draw any."""
        return self.ice <= POOL

    def step(self, ambient_c: float, heated: bool, dt: float) -> None:
        """Take up or give off heat for `dt` seconds; ice melts or grows before the temperature passes its point."""
        heater = HEATER_KW if heated and (self.ice > 0 or self.temperature_c < HEATER_BELOW_C) else 0.0
        kj = (heater + WALL_KW_PER_K * (ambient_c - self.temperature_c)) * dt
        melting = self.ice > 0 and self.temperature_c >= FREEZES_C and kj > 0
        freezing = self.ice < 1 and self.temperature_c <= FREEZES_C and kj < 0
        if melting or freezing:
            self.ice = min(1.0, max(0.0, self.ice - kj / LATENT_KJ))
        else:
            self.temperature_c += kj / SENSIBLE_KJ_PER_K

    def rest(self, ambient_c: float, seconds: float) -> None:
        """Stand for `seconds` without the heater."""
        for _ in range(math.ceil(seconds / REST_STEP_S)):
            self.step(ambient_c, heated=False, dt=min(REST_STEP_S, seconds))


class NoxCatalyst:
    """`catalyst_c`, and `conversion_pct` as the two sensors show it. `health` is 0-1: the fault."""

    def __init__(self, ambient_c: float) -> None:
        self.fluid = ExhaustFluid(ambient_c)
        self.health = 1.0
        self.catalyst_c = ambient_c
        self.conversion_pct = 0.0
        self._dry_s = 0.0

    @property
    def sensors_on(self) -> bool:
        """Both NOx sensors give a value."""
        return self._dry_s >= DRY_S

    @property
    def shown_pct(self) -> float:
        """What the unit last made of the conversion, %."""
        return self.conversion_pct if self.dosing else USUAL_SHARE * self._best_pct()

    @property
    def dosing(self) -> bool:
        """Fluid can be injected now."""
        return self.sensors_on and self.fluid.liquid

    def step(self, body: Surroundings, dt: float) -> None:
        """Live on for `dt` seconds."""
        self.fluid.step(body.ambient_c, body.engine_on, dt)
        settle_c = max(body.ambient_c, body.catalyst_c - SCR_BELOW_K)
        self.catalyst_c += (settle_c - self.catalyst_c) * dt / SCR_S
        hot = body.engine_on and self.catalyst_c > DEW_POINT_C
        self._dry_s = self._dry_s + dt if hot else 0.0
        away = (self.catalyst_c - WINDOW_C) / WINDOW_K
        best = self._best_pct() * math.exp(-away * away)
        self.conversion_pct += ((best if self.dosing else 0.0) - self.conversion_pct) * dt / SETTLE_S

    def _best_pct(self) -> float:
        return BEST_PCT * self.health * self.fluid.strength

    def rest(self, ambient_c: float, seconds: float) -> None:
        """Stand for `seconds`."""
        self.fluid.rest(ambient_c, seconds)
        self.catalyst_c = ambient_c + (self.catalyst_c - ambient_c) * math.exp(-seconds / 2000)
        self._dry_s = self.conversion_pct = 0.0
