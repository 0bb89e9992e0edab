"""The tracker of the warm-up, and what the slope of the coolant says of the thermostat long before a clock would."""

from dataclasses import dataclass
from typing import ClassVar

from coach.car.car import Car
from coach.car.happenings import Happening
from coach.drive.foot import Foot
from coach.drive.happenings import WarmUpSlow, WarmUpStalled
from coach.drive.limits import WarmUpLimits
from coach.drive.trackers import Tracker

COLD_C = 20.0  # our judgement: the profile's expected time of the warm-up is meant from a mild morning
MIDDLE = 3  # our judgement: one odd reading of the coolant neither ends a warm-up nor blames a thermostat
FLAT_S, FLAT_C = 180.0, 2.0
"""Our judgement: under way a cold engine gains 5 °C a minute and more, and on the coldest of the published drives
(DOI 10.35097/1130, -10 °C) still over 2 °C in any three minutes: less than that means that the radiator is open."""
EARLIEST_S = 300.0  # our judgement: no word before the engine has run for five minutes
UNDER_WAY_KMH, UNDER_WAY_SHARE = 20.0, 0.8  # our judgement: an engine at idle in the cold may well stay where it is
RISES_AGAIN_C = 4.0  # our judgement: so much above where it stood, and it was no thermostat


@dataclass(slots=True)
class WarmUp(Tracker):
    """Driving until the coolant is warm. There is no band to hold: the engine warms in any traffic.

    `stalled_c`: where the coolant stands though the car is driven; none while it rises.
    """

    limits: WarmUpLimits = None  # type: ignore[assignment]
    slow_told: bool = False
    coolant_c: float | None = None
    stalled_c: float | None = None
    began: tuple[float, float] | None = None
    _told: tuple[float, ...] = ()
    _recent: tuple[tuple[float, float, bool], ...] = ()
    signals: ClassVar[tuple[str, ...]] = ("coolant_c",)

    def update(self, signal: str, car: Car, foot: Foot, out: list[Happening]) -> None:
        """Judge one coolant sample."""
        self._told = (*self._told, car.values["coolant_c"])[-MIDDLE:]
        coolant_c = self.coolant_c = sorted(self._told)[(len(self._told) - 1) // 2]
        if self.driven_t is not None or car.cycle.running is False:
            self._recent = ()
            return
        t, start = car.now, car.cycle.start
        if self.began is None:
            self.began = (t, coolant_c)
        if start is None and car.cycle.running is not None:
            return  # behind a silence, before an engine speed was heard
        running_s = t - start.t - car.cycle.stop_s if start is not None else t - self.began[0]
        if coolant_c >= self.limits.until_c:
            self.stalled_c = None
            self.full(t, running_s, out)
            return
        self._slope(car, coolant_c, running_s, out)
        if not self.slow_told and running_s > self.limits.longest_s and coolant_c < self.limits.fault_below_c:
            self.slow_told = True
            out.append(WarmUpSlow(t, self.phase, round(running_s, 3), coolant_c))

    def interrupt(self) -> None:
        """Nothing is known of the slope across an interval of unknown length."""
        self._recent = ()

    def new_cycle(self, t: float, out: list[Happening]) -> None:
        """A new cycle may start cold again."""
        self.slow_told, self.began, self.driven_t, self.stalled_c, self._recent = False, None, None, None, ()

    def left(self) -> float:
        """The share of the warming up still ahead, by the coolant."""
        if self.driven_t is not None:
            return 0.0
        if self.coolant_c is None or self.began is None or self.began[1] >= self.limits.until_c:
            return 1.0
        return (self.limits.until_c - self.coolant_c) / (self.limits.until_c - min(self.began[1], COLD_C))

    def _slope(self, car: Car, coolant_c: float, running_s: float, out: list[Happening]) -> None:
        """Told once when the coolant stands though the car is driven; taken back without a word when it rises."""
        t = car.now
        under_way = car.values.get("speed_kmh", 0.0) >= UNDER_WAY_KMH
        self._recent = (*(old for old in self._recent if t - old[0] <= FLAT_S), (t, coolant_c, under_way))
        if self.stalled_c is not None:
            if coolant_c >= self.stalled_c + RISES_AGAIN_C:
                self.stalled_c, self._recent = None, ()
            return
        since_t, before_c, _ = self._recent[0]
        share = sum(moving for _, _, moving in self._recent) / len(self._recent)
        if running_s < EARLIEST_S or t - since_t < 0.9 * FLAT_S or share < UNDER_WAY_SHARE:
            return
        if coolant_c - before_c < FLAT_C and coolant_c < self.limits.fault_below_c:
            self.stalled_c = coolant_c
            rose_c = round(coolant_c - before_c, 1)
            out.append(WarmUpStalled(t, self.phase, round(running_s, 3), coolant_c, rose_c, round(t - since_t, 3)))
