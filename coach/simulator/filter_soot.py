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
# What goes through a crack, and the pressure it holds back in a steady cruise: clean, and for each gram of soot.
LEAKED = 0.4  # of the soot goes through a filter that is cracked all over
CLEAN_KPA, KPA_PER_G = 1.9, 0.09


class SootFilter:
    """`soot_g` grams; `regenerations` finished and `interrupted` so far. `crack` (0-1) and `ash_kpa` are faults."""

    def __init__(self) -> None:
        self.soot_g = 0.74 * FULL_G
        self.regenerating = False
        self.regenerations = 0
        self.interrupted = 0
        self.crack = 0.0
        self.ash_kpa = 0.0
        self._fast_s = 0.0

    @property
    def trigger_pct(self) -> float:
        """How near the next regeneration is, 0-100 %."""
        return min(100.0, 100 * self.soot_g / (TRIGGER * FULL_G))

    @property
    def pressure_kpa(self) -> float:
        """What it holds back in a steady cruise: more with soot and ash, hardly anything through a crack."""
        return (CLEAN_KPA + KPA_PER_G * self.soot_g + self.ash_kpa) * (1 - self.crack)

    def step(self, body: Surroundings, dt: float) -> None:
        """Live on for `dt` seconds."""
        self.soot_g += body.powertrain.fuel_gps * SOOT_PER_FUEL * (1 - LEAKED * self.crack) * dt
        fast = body.engine_on and body.coolant_c > COOLANT_C and body.speed_kmh > BEGIN_KMH
        self._fast_s = self._fast_s + dt if fast else 0.0
        if self.regenerating:
            self._burn(body, dt)
        elif self._fast_s > BEGIN_AFTER_S and self.soot_g > TRIGGER * FULL_G:
            self.regenerating = True

    def _burn(self, body: Surroundings, dt: float) -> None:
        if not body.engine_on or body.speed_kmh < STOP_KMH:
            self.regenerating, self._fast_s = False, 0.0
            self.interrupted += 1
            return
        if body.catalyst_c > BURNING_C:
            self.soot_g -= BURN_G_PER_S * dt
        if self.soot_g < DONE * FULL_G:
            self.regenerating = False
            self.regenerations += 1
