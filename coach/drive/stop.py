"""When coaching ends at once: a new misfire or fuel code, the repaired code again, the MIL coming on, overheating, low
charging voltage, another car.

It tells the fact once per reason; the words, and what to do, stand above the core.
"""

from dataclasses import dataclass, replace

from coach.car.car import Car
from coach.car.happenings import AnotherCarAnswered, CodeAppeared, CodeVanished, Happening, MilChanged
from coach.drive.happenings import CoachingEnded

LOW_VOLTAGE_S = 10.0  # our judgement: a dip while starting or under a fan is not a failing alternator
# SAE J2012 ranges: P0300-P0314 misfire; P0170-P0175 fuel trim and mixture. Common to all makers.
MISFIRE = tuple(f"P03{n:02d}" for n in range(15))
FUEL = tuple(f"P017{n}" for n in range(6))
CHARGED_RPM = 900.0  # our judgement: at idle a heavily loaded alternator may sag; above it, it must charge
REASONS = (
    "misfire_code",
    "fuel_code",
    "repaired_code",
    "mil_on",
    "coolant_hot",
    "voltage_low",
    "another_car",
)
"""Every reason there is, for the tables of words."""


@dataclass(slots=True)
class StopWatch:
    """Watches for the reasons to end coaching. `told` holds the reasons already told; `ended` is the first of them.

    `before`: codes and kinds that are reported. `came`: codes that came up in this drive, after both kinds had
    been read, which makes it `ready`. `repaired`: the job's codes, and those this drive is to put out.
    """

    coolant_hot_c: float
    voltage_low_v: float
    told: frozenset[str] = frozenset()
    ended: CoachingEnded | None = None
    before: frozenset[tuple[str, str]] = frozenset()
    came: frozenset[str] = frozenset()
    repaired: frozenset[str] = frozenset()
    _hot: bool = False
    _low_since_t: float | None = None
    ready: bool = False

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
            self._code(happening, engine_runs, out)
        elif isinstance(happening, CodeVanished):
            self.before -= {(happening.code, happening.kind)}  # should it be told again, the fault is there anew
        elif isinstance(happening, MilChanged) and happening.after and happening.before is False and engine_runs:
            self._tell(happening.t, "mil_on", "mil", None, None, out)
        elif isinstance(happening, AnotherCarAnswered):
            self._tell(happening.t, "another_car", happening.sign, None, None, out)

    def _code(self, happening: CodeAppeared, engine_runs: bool, out: list[Happening]) -> None:
        new, code = self._is_new(happening.code, happening.kind), happening.code
        self.before |= {(code, happening.kind)}
        if not new or not self.ready:
            return
        self.came |= {code}
        reason = next((why for why, codes in self._reasons() if code in codes), None)
        if reason is not None and engine_runs:
            self._tell(happening.t, reason, code, None, None, out)

    def _is_new(self, code: str, kind: str) -> bool:
        """A code that stood as stored and now turns up as pending was seen once more: the fault is there now."""
        known = {told for seen, told in self.before if seen == code}
        return not known or (kind == "pending" and kind not in known)

    def _reasons(self) -> tuple[tuple[str, frozenset[str] | tuple[str, ...]], ...]:
        return ("misfire_code", MISFIRE), ("fuel_code", FUEL), ("repaired_code", self.repaired)

    def codes_read(self) -> None:
        """Both stored and pending codes were read once: from here a code is a new one."""
        self.ready = True

    def _tell(
        self, t: float, reason: str, detail: str, value: float | None, limit: float | None, out: list[Happening]
    ) -> None:
        if reason not in self.told:
            self.told |= {reason}
            ended = CoachingEnded(t, reason, detail, value, limit)
            self.ended = self.ended or ended
            out.append(ended)
