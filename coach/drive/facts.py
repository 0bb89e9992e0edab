"""What the drive itself and the job know beside the car's signals: soak, fuel before, throttle and purge so far."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from coach.drive.quantity import told_number

FUEL_READINGS = 9  # our judgement: at half a minute each, four minutes; a bend or a hill lasts less than half of that
USERS_WORD = "by the user's word"


@dataclass(slots=True)
class Facts:
    """None is unknown. Seconds, percent."""

    soak_s: float | None = None
    soak_proof: str | None = None
    fuel_before_pct: float | None = None
    throttle_open_s: float | None = None
    purged_s: float | None = None
    fuel_told: tuple[float, ...] = ()
    _speed_t: float | None = None
    _purge: tuple[float, float] | None = None

    def copy(self) -> "Facts":
        """An independent copy."""
        return replace(self)

    def learn(self, known: Mapping[str, Any]) -> None:
        """What the job knew before the drive: soak_s, soak_proof, fuel_before_pct. Other keys are left alone."""
        proof = known.get("soak_proof")
        self.soak_s = told_number(known.get("soak_s"))
        self.soak_proof = proof if isinstance(proof, str) else None
        self.fuel_before_pct = told_number(known.get("fuel_before_pct"))

    def answered(self, told: object) -> None:
        """{"soak_s": 36000} is how long it stood, as the user says; what the record proves stays."""
        soak_s = told_number(told.get("soak_s")) if isinstance(told, Mapping) else None
        if soak_s is not None and self.soak_proof in (None, USERS_WORD):
            self.soak_s, self.soak_proof = soak_s, USERS_WORD

    def interrupt(self) -> None:
        """The interval up to the next sample is of unknown length."""
        self._speed_t = self._purge = None

    def new_cycle(self) -> None:
        """Driving with the accelerator pressed is counted within one driving cycle."""
        self.throttle_open_s = None if self.throttle_open_s is None else 0.0

    def on_speed(self, t: float, released: bool | None, bridge_s: float) -> None:
        """One speed sample; `released`: the accelerator, none when unknown."""
        last, self._speed_t = self._speed_t, t
        if released is None:
            return
        opened = self.throttle_open_s or 0.0
        if not released and last is not None and t - last <= bridge_s:
            opened += t - last
        self.throttle_open_s = opened

    def on_fuel(self, fuel_pct: float) -> None:
        """One reading of the fuel level."""
        self.fuel_told = (*self.fuel_told, fuel_pct)[-FUEL_READINGS:]

    def fuel_pct(self) -> float | None:
        """The level without the slosh: the median of the last readings, the lower of two; none before the first."""
        told = sorted(self.fuel_told)
        return told[(len(told) - 1) // 2] if told else None

    def on_purge(self, t: float, purge_pct: float, bridge_s: float) -> None:
        """One sample of the commanded purge."""
        last, self._purge = self._purge, (t, purge_pct)
        purged = self.purged_s or 0.0
        if last is not None and last[1] > 0 and t - last[0] <= bridge_s:
            purged += t - last[0]
        self.purged_s = purged
