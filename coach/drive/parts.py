"""Parts of a hold: seconds of it in which something else is true too, each with a clock of its own.

A regeneration inside a long cruise, a part of an idle in Drive. What the car cannot show is unwatched, never met, and
never blocks the hold.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

from coach.car.car import Car
from coach.drive.given import Span
from coach.drive.schema import Part

FRESH_S = 30.0  # temperatures move slowly: the profile's own bridge of temperatures
REGENERATING_C = 500.0  # our judgement: soot burns above it; the published inlet band outside a regeneration ends here

Watch = Callable[[Car], bool | None]
"""Whether the part is true at this moment; none when the car does not say."""


@dataclass(slots=True)
class PartClock:
    """The clock of one part. `seen`: the car has said at least once whether it is true. Seconds."""

    name: str
    wanted_s: float
    continuous: bool
    watch: Watch
    held_s: float = 0.0
    seen: bool = False
    _true: bool = False

    def copy(self) -> "PartClock":
        """An independent copy."""
        return replace(self)

    @property
    def done(self) -> bool:
        """True when its seconds are full."""
        return self.held_s >= self.wanted_s

    @property
    def open(self) -> bool:
        """True while it keeps the phase from being driven: the car shows it, and it is not full."""
        return self.seen and not self.done

    def step(self, car: Car, inside_s: float) -> bool:
        """Take one sample of the hold, `inside_s` after the last inside one, 0 outside. True when it is full by it."""
        if self.done:
            return False
        was, now = self._true, self.watch(car) if inside_s >= 0 else None
        self.seen = self.seen or now is not None
        self._true = now is True
        if was and self._true:
            self.held_s += inside_s
        elif self.continuous and not self._true:
            self.held_s = 0.0
        return self.done

    def again(self) -> None:
        """Start at zero."""
        self.held_s, self._true = 0.0, False


def _fresh(car: Car, signals: tuple[str, ...]) -> float | None:
    for signal in signals:
        value = car.fresh(signal, FRESH_S)
        if value is not None:
            return value
    return None


def _within(signals: tuple[str, ...], band: Span | None) -> Watch:
    def watch(car: Car) -> bool | None:
        value = _fresh(car, signals)
        return None if value is None or band is None else band.low <= value <= band.high

    return watch


def _torque(signals: tuple[str, ...], band: Span | None) -> Watch:
    """Torque is told as a share of the reference torque, which another PID tells once."""

    def watch(car: Car) -> bool | None:
        share, reference = _fresh(car, signals), car.values.get("reference_torque_nm")
        if share is None or reference is None or band is None:
            return None
        return band.low <= share * reference / 100 <= band.high

    return watch


def _regenerating(signals: tuple[str, ...], _band: Span | None) -> Watch:
    """A hot filter is the witness. The car's own flag (PID 8B) is from memory: alone it proves nothing."""
    hot = tuple(signal for signal in signals if signal.endswith("_c"))

    def watch(car: Car) -> bool | None:
        told = [value for signal in hot if (value := car.fresh(signal, FRESH_S)) is not None]
        return max(told) >= REGENERATING_C if told else None

    return watch


def _flag(signals: tuple[str, ...], _band: Span | None) -> Watch:
    def watch(car: Car) -> bool | None:
        value = _fresh(car, signals)
        return None if value is None else value >= 1.0

    return watch


def _always(_signals: tuple[str, ...], _band: Span | None) -> Watch:
    return lambda _car: True


WATCHES: dict[str, Callable[[tuple[str, ...], Span | None], Watch]] = {
    "speed": _always,  # the hold's own band, without a break
    "in_drive": _flag,
    "regeneration": _regenerating,
    "exhaust_temperature": _within,
    "scr_temperature": _within,
    "torque": _torque,
}
"""How each kind of part is watched."""


def make_part(name: str, watch: str, signals: tuple[str, ...], band: Span | None, form: Part) -> PartClock:
    """The clock of a profile's part."""
    return PartClock(name, form.duration.value, form.count == "continuous", WATCHES[watch](signals, band))
