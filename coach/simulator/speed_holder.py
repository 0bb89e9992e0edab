"""The speed holder (cruise control): it asks the engine for what the set speed takes, and the pedal stays at rest."""

from typing import Protocol

LOWEST_KMH = 30.0  # below this it does not hold; common practice 25 to 40 km/h
REACH_S = 4.0  # how soon it wants a gap closed
MOST_MS2, LEAST_MS2 = 0.9, -1.0
RATE_PER_S = 0.25  # how fast it moves the throttle
BRAKED = 0.02  # a touch of the brake lets go


class Held(Protocol):
    """What the holder needs of the car."""

    brake: float

    @property
    def speed_kmh(self) -> float:
        """Road speed."""

    @property
    def running(self) -> bool:
        """Whether the car is started."""

    def pedals_for(self, acceleration_ms2: float) -> tuple[float, float]:
        """Accelerator and brake for an acceleration."""


class SpeedHolder:
    """`set_kmh`: the speed it holds, none while it is off. `demand`: what it asks of the engine, as a pedal would."""

    def __init__(self) -> None:
        self.set_kmh: float | None = None
        self.demand = 0.0
        self.used = False
        """Whether this car's driver likes to use it."""

    def step(self, body: Held, dt: float) -> None:
        """Live on for `dt` seconds."""
        if self.set_kmh is None:
            return
        if body.brake > BRAKED or not body.running or body.speed_kmh < LOWEST_KMH:
            self.let_go()
            return
        gap_ms = (self.set_kmh - body.speed_kmh) / 3.6
        wanted, _ = body.pedals_for(max(LEAST_MS2, min(MOST_MS2, gap_ms / REACH_S)))
        most = RATE_PER_S * dt
        self.demand += max(-most, min(most, wanted - self.demand))

    def let_go(self) -> None:
        """Off: the pedal alone counts again."""
        self.set_kmh, self.demand = None, 0.0
