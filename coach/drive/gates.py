"""Gates: what must be true before a phase can count, judged from what the car says.

A condition is met, not met, or unknown. Unknown never blocks and is never "met": the phase carries it as unwatched.
A condition that is not met either can still come true on this drive (warming up) or cannot (a start too warm).
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

from coach.car.car import Car
from coach.car.cycle import Start
from coach.car.happenings import Happening
from coach.drive.facts import Facts
from coach.drive.happenings import GateClosed, GateOpened

RECHECK_S = 5.0  # our judgement: conditions that grow with time are looked at this often until they are met
AGAIN_S = 300.0  # our judgement: a value that hovers at its limit is told once in five minutes, not at every flicker
NEVER = float("inf")


@dataclass(frozen=True, slots=True)
class Rule:
    """One condition: `measure` must lie between `low` and `high`, either of which may be none.

    `later`: when not met it can still come true on this drive. `signals`: what moves it. `timed`: time moves it too.
    """

    id: str
    low: float | None
    high: float | None
    later: bool
    signals: tuple[str, ...]
    timed: bool
    measure: "Measure"

    def fails(self, value: float) -> bool:
        """Whether a value lies outside the limits."""
        return (self.low is not None and value < self.low) or (self.high is not None and value > self.high)

    def judged(self, car: Car, facts: Facts) -> "Failed | Literal[True] | None":
        """True where it holds, the failure where it does not, none where nothing tells or what tells disagrees."""
        found = self.measure(car, facts)
        values = found if isinstance(found, tuple) else (found,)
        judged = {None if value is None else self.fails(value) for value in values}
        if judged == {True}:
            return Failed(self.id, values[0], self.low, self.high, self.later)
        return True if judged == {False} else None


@dataclass(frozen=True, slots=True)
class Failed:
    """A condition that does not hold: its id, the value seen, its limits."""

    gate: str
    value: float | None
    low: float | None
    high: float | None
    later: bool


@dataclass(slots=True)
class Gate:
    """The conditions of one phase. `open` is what the tracker looks at; a `quiet` one is judged and not told.

    `better`: narrower windows that stop nothing.
    """

    phase: str
    rules: tuple[Rule, ...] = ()
    better: tuple[Rule, ...] = ()
    advice: tuple[str, ...] = ()
    quiet: bool = False
    open: bool = True
    next_t: float = 0.0
    failed: tuple[Failed, ...] = ()
    unwatched: tuple[str, ...] = ()
    signals: frozenset[str] = field(default_factory=frozenset)
    told_t: dict[str, float] = field(default_factory=dict)
    opened_t: float = -1e9

    def copy(self) -> "Gate":
        """An independent copy; rules are frozen and shared."""
        return replace(self, told_t=dict(self.told_t))

    @property
    def why(self) -> tuple[str, float | None, float | None]:
        """The first condition that fails, in the form of a hold's break."""
        first = self.failed[0]
        limit = first.low if first.low is not None and (first.value or 0.0) < first.low else first.high
        return (f"gate_{first.gate}", first.value, limit)

    @property
    def today(self) -> bool:
        """False when a condition fails that cannot come true on this drive."""
        return all(failed.later for failed in self.failed)

    def judge(self, car: Car, facts: Facts, out: list[Happening]) -> None:
        """Judge every condition anew and tell when the gate closed or opened."""
        failed: list[Failed] = []
        unwatched = list(self.advice)
        for rule in self.rules:
            judged = rule.judged(car, facts)
            if judged is None:
                unwatched.append(rule.id)
            elif judged is not True:
                failed.append(judged)
        before, self.failed, self.unwatched = self.failed, tuple(failed), tuple(unwatched)
        self.open = not failed
        self.next_t = car.now + RECHECK_S if self._moves_with_time() else NEVER
        self._tell(before, car.now, out)

    def outside_better(self, car: Car, facts: Facts) -> tuple[Failed, ...]:
        """What lies inside every gate and outside a better window."""
        closed = {failed.gate for failed in self.failed}
        found = (rule.judged(car, facts) for rule in self.better if rule.id not in closed)
        return tuple(one for one in found if isinstance(one, Failed))

    def _moves_with_time(self) -> bool:
        waiting = {failed.gate for failed in self.failed}
        return any(rule.timed and (rule.high is not None or rule.id in waiting) for rule in self.rules)

    def _tell(self, before: tuple[Failed, ...], t: float, out: list[Happening]) -> None:
        if self.quiet:
            return
        known = {failed.gate for failed in before}
        for failed in self.failed:
            if failed.gate not in known and t - self.told_t.get(failed.gate, -AGAIN_S) >= AGAIN_S:
                self.told_t[failed.gate] = t
                value = None if failed.value is None else round(failed.value, 3)
                out.append(GateClosed(t, self.phase, failed.gate, value, failed.low, failed.high, failed.later))
        if before and not self.failed and t - self.opened_t >= AGAIN_S:
            self.opened_t = t
            out.append(GateOpened(t, self.phase, self.unwatched))


# ---------------------------------------------------------------- what each condition looks at

Measured = float | tuple[float | None, ...] | None
"""A value, or several where the driving cycle may have begun at several moments: only what all say is said."""
Measure = Callable[[Car, Facts], Measured]
Value = Callable[[Car, Facts], float | None]
Signals = tuple[str, ...]
COLD_C = 4.0  # coolant within 4 °C of intake at the start "looks cold": Volkswagen service information, Passat, 2012


WARM_C = 50.0  # our judgement: an engine first seen this warm was not started cold within the minute before


def _of_starts(of: Callable[[Car, Start], float | None], a_start_now: bool = True) -> Measure:
    """The value by every start that may be the one of this cycle; before any, by what a start now would be."""

    def measure(car: Car, _facts: Facts) -> Measured:
        starts = car.cycle.starts()
        if a_start_now and starts == (None,) and car.cycle.running is False:
            told = car.values.get
            starts = (Start(car.now, True, told("coolant_c"), told("intake_c"), told("ambient_c")),)
        values = tuple(dict.fromkeys(None if start is None else of(car, start) for start in starts))
        return values[0] if len(values) == 1 else values

    return measure


def _coolant_then(_car: Car, start: Start) -> float | None:
    """A start nobody saw has no coolant of its own, but an engine first seen warm was surely not cold."""
    known = start.coolant_c is not None and (start.seen or start.coolant_c > WARM_C)
    return start.coolant_c if known else None


def _start_coolant(_signals: Signals) -> Measure:
    return _of_starts(_coolant_then)


def _over_intake(sign: float) -> Callable[[Signals], Measure]:
    def over(_car: Car, start: Start) -> float | None:
        if not start.seen or start.coolant_c is None or start.intake_c is None:
            return None
        return sign * (start.coolant_c - start.intake_c)

    return lambda _signals: _of_starts(over)


def _first(signals: Signals) -> Value:
    """The best of these signals that the car offers."""

    def measure(car: Car, _facts: Facts) -> float | None:
        return next((car.values[signal] for signal in signals if signal in car.values), None)

    return measure


def _ambient(signals: Signals) -> Measure:
    """The intake air stands for the ambient air at a cold start only, before the engine heats it."""
    told = _first(tuple(signal for signal in signals if signal != "intake_c"))

    def intake(_car: Car, start: Start) -> float | None:
        if not start.seen or start.intake_c is None or start.coolant_c is None:
            return None
        return start.intake_c if abs(start.coolant_c - start.intake_c) <= COLD_C else None

    by_intake = _of_starts(intake, a_start_now=False)

    def measure(car: Car, facts: Facts) -> Measured:
        value = told(car, facts)
        return by_intake(car, facts) if value is None and "intake_c" in signals else value

    return measure


def _ambient_change(_signals: Signals) -> Measure:
    def change(car: Car, start: Start) -> float | None:
        now = car.values.get("ambient_c")
        if not start.seen or start.ambient_c is None or now is None:
            return None
        return abs(now - start.ambient_c)

    return _of_starts(change, a_start_now=False)


def _closed_loop(signals: Signals) -> Measure:
    told = _first(signals)

    def measure(car: Car, facts: Facts) -> float | None:
        flag = told(car, facts)
        if flag is None or flag == 0.0:
            return None
        return 0.0 if flag in (1.0, 8.0) else 1.0  # PID 03: 1 open loop, not warm yet; 8 open loop by fault

    return measure


def _fuel(signals: Signals) -> Measure:
    """The middle one of the last readings: fuel sloshes, and one reading in a bend is no level."""
    told = _first(signals)

    def measure(car: Car, facts: Facts) -> float | None:
        level = facts.fuel_pct()
        return told(car, facts) if level is None else level

    return measure


def _refuelled(signals: Signals) -> Measure:
    told = _fuel(signals)

    def measure(car: Car, facts: Facts) -> Measured:
        now = told(car, facts)
        if isinstance(now, tuple):
            return None
        return None if now is None or facts.fuel_before_pct is None else now - facts.fuel_before_pct

    return measure


def _running_voltage(signals: Signals) -> Measure:
    """Only with the engine running: a battery at rest is judged before the drive, not by this limit."""
    told = _first(signals)
    return lambda car, facts: told(car, facts) if car.cycle.running else None


def _baro(_signals: Signals) -> Measure:
    return lambda car, _facts: car.baro_kpa()


def _run_time_surely(_signals: Signals) -> Measure:
    """For an upper limit: a lower bound already beyond it proves it; below it only a known start does."""

    def measure(car: Car, _facts: Facts) -> float | None:
        known = car.cycle.run_time_now_s(car.now)
        return known if known is not None else car.cycle.run_time_at_least_s(car.now)

    return measure


def _plain(measure: Measure) -> Callable[[Signals], Measure]:
    return lambda _signals: measure


MEASURES: dict[str, tuple[Callable[[Signals], Measure], tuple[str, ...], bool, bool]] = {
    # id: (makes the measure from the signals, what it is told by, time moves it, can come true later on the same drive)
    # A start of the engine moves them all; engine speed itself is therefore in no list.
    "soak_min_s": (_plain(lambda _car, facts: facts.soak_s), (), False, False),
    "coolant_start_c": (_start_coolant, ("coolant",), False, False),
    "coolant_over_intake_max_c": (_over_intake(1.0), ("coolant", "intake"), False, False),
    "intake_over_coolant_max_c": (_over_intake(-1.0), ("coolant", "intake"), False, False),
    "fuel_pct": (_fuel, ("fuel_level",), False, False),
    "ambient_c": (_ambient, ("ambient",), False, False),
    "ambient_min_c": (_ambient, ("ambient",), False, False),
    "ambient_change_max_c": (_ambient_change, ("ambient",), False, False),
    "coolant_min_c": (_first, ("coolant",), False, True),
    "run_time_min_s": (_plain(lambda car, _facts: car.cycle.run_time_at_least_s(car.now)), (), True, True),
    "run_time_max_s": (_run_time_surely, (), True, False),
    "closed_loop": (_closed_loop, ("closed_loop",), False, True),
    "intake_min_c": (_first, ("intake",), False, True),
    "refuelled_max_pct": (_refuelled, ("refuelled",), False, False),
    "throttle_open_before_s": (_plain(lambda _car, facts: facts.throttle_open_s), (), True, True),
    "not_driven_off": (_plain(lambda car, _facts: float(car.cycle.moved)), (), True, False),
    "pto_off": (_first, ("pto",), False, True),
    "driven_min_s": (_plain(lambda car, _facts: car.denominator.running_s), (), True, True),
    "purged": (_plain(lambda _car, facts: facts.purged_s), (), True, True),
    "baro_min_kpa": (_baro, ("altitude",), False, True),
    "voltage_min_v": (_running_voltage, ("voltage",), False, True),
}


def make_rule(gate: str, low: float | None, high: float | None, orders: Mapping[str, Signals]) -> Rule:
    """A condition of the table with its limits. `orders`: signals by what they tell, best first, from the profile.

    KeyError when the table has no such condition.
    """
    make, roles, timed, later = MEASURES[gate]
    signals = tuple(signal for role in roles for signal in orders[role])
    return Rule(gate, low, high, later, signals, timed, make(signals))


def make_gate(
    phase: str,
    rules: tuple[Rule, ...],
    advice: tuple[str, ...],
    quiet: bool = False,
    better: tuple[Rule, ...] = (),
) -> Gate:
    """The gate of a phase from its conditions, what is only advice, and the better windows."""
    signals = frozenset(signal for rule in rules for signal in rule.signals)
    return Gate(phase, rules, better, advice, quiet, signals=signals)
