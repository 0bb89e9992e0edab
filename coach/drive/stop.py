"""When coaching ends at once: a new misfire or fuel code, the repaired code again, the MIL coming on, overheating, low
charging voltage.

It tells the fact once per reason; the words, and what to do, stand above the core.
"""

from dataclasses import dataclass, field, replace

from coach.car.car import Car
from coach.car.happenings import CodeAppeared, Happening, MilChanged
from coach.drive.happenings import CoachingEnded

LOW_VOLTAGE_S = 10.0  # our judgement: a dip while starting or under a fan is not a failing alternator
# SAE J2012 ranges: P0300-P0314 misfire; P0170-P0175 fuel trim and mixture. Common to all makers.
MISFIRE = tuple(f"P03{n:02d}" for n in range(15))
FUEL = tuple(f"P017{n}" for n in range(6))
CHARGED_RPM = 900.0  # our judgement: at idle a heavily loaded alternator may sag; above it, it must charge


@dataclass(slots=True)
class StopWatch:
    """Watches for the reasons to end coaching. `told` holds the reasons already told; `ended` is the first of them.

    `came`: codes that came up in this drive, after both kinds had been read. `repaired`: the job's codes.
    """

    coolant_hot_c: float
    voltage_low_v: float
    told: frozenset[str] = frozenset()
    ended: CoachingEnded | None = None
    before: frozenset[str] = frozenset()
    came: frozenset[str] = frozenset()
    repaired: frozenset[str] = frozenset()
    _hot: bool = False
    _low_since_t: float | None = None
    _mil_known: bool = False
    _ready: bool = field(default=False)

    def copy(self) -> "StopWatch":
        """An independent copy."""
        return replace(self)

    def coolant(self, t: float, coolant_c: float, out: list[Happening]) -> None:
        """Too hot, by two values in a row: one may be a flicker of the sensor's line."""
        hot, self._hot = self._hot, coolant_c >= self.coolant_hot_c
        if hot and self._hot:
            self._tell(t, "coolant_hot", "coolant_c", coolant_c, self.coolant_hot_c, out)

    def voltage(self, car: Car, volts: float, out: list[Happening]) -> None:
        """Too low for ten seconds with the engine running above idle."""
        charging = car.cycle.running is True and car.values.get("rpm", 0.0) >= CHARGED_RPM
        if not charging or volts >= self.voltage_low_v:
            self._low_since_t = None
        elif self._low_since_t is None:
            self._low_since_t = car.now
        elif car.now - self._low_since_t >= LOW_VOLTAGE_S:
            self._tell(car.now, "voltage_low", "module_v", volts, self.voltage_low_v, out)

    def happened(self, happening: Happening, engine_runs: bool, out: list[Happening]) -> None:
        """A code that appears, or the MIL that comes on, while the engine runs; what was there before is not new."""
        if isinstance(happening, CodeAppeared) and happening.kind != "permanent":
            new = happening.code not in self.before
            self.before |= {happening.code}
            if new and self._ready:
                self.came |= {happening.code}
            if new and engine_runs and self._ready:
                if happening.code in MISFIRE:
                    self._tell(happening.t, "misfire_code", happening.code, None, None, out)
                elif happening.code in FUEL:
                    self._tell(happening.t, "fuel_code", happening.code, None, None, out)
                elif happening.code in self.repaired:
                    self._tell(happening.t, "repaired_code", happening.code, None, None, out)
        elif isinstance(happening, MilChanged) and happening.after and happening.before is False and engine_runs:
            self._tell(happening.t, "mil_on", "mil", None, None, out)

    def codes_read(self) -> None:
        """Both stored and pending codes were read once: from here a code is a new one."""
        self._ready = True

    def _tell(
        self, t: float, reason: str, detail: str, value: float | None, limit: float | None, out: list[Happening]
    ) -> None:
        if reason not in self.told:
            self.told |= {reason}
            ended = CoachingEnded(t, reason, detail, value, limit)
            self.ended = self.ended or ended
            out.append(ended)
