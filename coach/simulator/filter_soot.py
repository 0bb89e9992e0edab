"""The diesel's particle filter: soot gathers with fuel and burns off in a regeneration while driving fast enough."""

from coach.simulator.surroundings import Surroundings

# Our own numbers of plausible size: a regeneration every few hundred kilometres, ten minutes of fast driving each.
FULL_G = 24.0
SOOT_PER_FUEL = 0.0016
TRIGGER = 0.78
BEGIN_KMH, STOP_KMH = 58.0, 34.0
BEGIN_AFTER_S = 150.0
COOLANT_C = 67.0
BURN_G_PER_S = 0.028
BURNING_C = 500.0
DONE = 0.12


class SootFilter:
    """`soot_g` grams; `regenerations` finished so far."""

    def __init__(self) -> None:
        self.soot_g = 0.74 * FULL_G
        self.regenerating = False
        self.regenerations = 0
        self._fast_s = 0.0

    @property
    def trigger_pct(self) -> float:
        """How near the next regeneration is, 0-100 %."""
        return min(100.0, 100 * self.soot_g / (TRIGGER * FULL_G))

    def step(self, body: Surroundings, dt: float) -> None:
        """Live on for `dt` seconds."""
        self.soot_g += body.powertrain.fuel_gps * SOOT_PER_FUEL * dt
        fast = body.engine_on and body.coolant_c > COOLANT_C and body.speed_kmh > BEGIN_KMH
        self._fast_s = self._fast_s + dt if fast else 0.0
        if self.regenerating:
            self._burn(body, dt)
        elif self._fast_s > BEGIN_AFTER_S and self.soot_g > TRIGGER * FULL_G:
            self.regenerating = True

    def _burn(self, body: Surroundings, dt: float) -> None:
        if not body.engine_on or body.speed_kmh < STOP_KMH:
            self.regenerating, self._fast_s = False, 0.0
            return
        if body.catalyst_c > BURNING_C:
            self.soot_g -= BURN_G_PER_S * dt
        if self.soot_g < DONE * FULL_G:
            self.regenerating = False
            self.regenerations += 1
