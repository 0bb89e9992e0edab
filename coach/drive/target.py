"""What stands between a drive and its target: monitors that are open, the MIL, codes, what the named rule refuses.

"Reached" is said only when nothing does, for certain: none is never clean.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from coach.car.car import Car
from coach.car.conclusion import CodesFinding, Conclusion
from coach.drive.happenings import TargetBarred, TargetReached
from coach.drive.wanted import RuleSays

DOUBTS = (
    "mil_unknown",
    "stored_unknown",
    "pending_unknown",
    "permanent_unknown",
    "permanent_not_offered",
    "rule_unsure",
)
"""What bars a target only because nothing tells it."""
READ_FIRST = ("mil_unknown", "stored_unknown", "pending_unknown")
"""What has to be read before it is told what stands against a target."""
BARS = ("another_car", "mil_on", "stored", "pending", "permanent", "rule_against", *DOUBTS)
"""What may stand against a target beside its monitors. A permanent code does unless the named rule lets it go."""


@dataclass(frozen=True, slots=True)
class Bar:
    """One thing that stands against the target: its id of `BARS`, and the codes it is about."""

    id: str
    codes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Standing:
    """The target now. `open`: its incomplete monitors, `unknown`: those of which the car's word is not certain."""

    monitors: tuple[str, ...]
    open: tuple[str, ...]
    unknown: tuple[str, ...]
    bars: tuple[Bar, ...]
    may_be_empty: bool = False

    @property
    def complete(self) -> bool:
        """Every monitor of it is complete, by the car's certain word."""
        return (bool(self.monitors) or self.may_be_empty) and not self.open and not self.unknown

    @property
    def reached(self) -> bool:
        """Complete, and nothing stands against it."""
        return self.complete and not self.bars

    @property
    def doubtful(self) -> bool:
        """Not reached, and only because something is not told for certain."""
        sure = [bar for bar in self.bars if bar.id not in DOUBTS]
        return not self.reached and not self.open and not sure

    @property
    def codes(self) -> tuple[str, ...]:
        """Every code that stands against it, each once."""
        return tuple(dict.fromkeys(code for bar in self.bars for code in bar.codes))


def standing(
    car: Car,
    monitors: tuple[str, ...],
    states: Mapping[str, str | None],
    rule: RuleSays | None = None,
    another_car: bool = False,
    may_be_empty: bool = False,
) -> Standing:
    """The target's monitors in these states, and what else stands against it.

    `may_be_empty`: the drive is for something else than monitors.
    """
    return Standing(
        monitors,
        tuple(m for m in monitors if states[m] == "incomplete"),
        tuple(m for m in monitors if states[m] is None),
        (*([Bar("another_car")] if another_car else []), *bars(car, rule)),
        may_be_empty,
    )


def bars(car: Car, rule: RuleSays | None = None) -> Iterator[Bar]:
    """The MIL and the codes that stand, and what of them is not told for certain; then what the rule itself refuses.

    A code that only a doubtful unit named is no fault for certain, and no clean word either.
    """
    found = car.conclude()
    lit = found.mil.on
    if lit is not False:
        yield Bar("mil_on" if lit else "mil_unknown")
    for kind in ("stored", "pending"):
        yield from _codes(kind, found.codes[kind])
    for bar in _codes("permanent", found.codes["permanent"]):
        if rule is None or bar.id in rule.refuses:
            yield bar
    for name in ("rule_against", "rule_unsure"):
        if rule is not None and name in rule.refuses:
            yield Bar(name)


def _codes(kind: str, told: CodesFinding) -> Iterator[Bar]:
    sure = {*(told.certain or ()), *told.sure}
    if sure:
        yield Bar(kind, tuple(sorted({*sure, *told.said})))
    elif told.certain is None:
        never = kind == "permanent" and told.offered is None
        yield Bar("permanent_not_offered" if never else f"{kind}_unknown", told.said)


def present(car: Car, kind: str) -> tuple[str, ...]:
    """Every code of a kind that somebody reported, certain or not."""
    told = car.conclude().codes[kind]
    return tuple(sorted({*told.said, *(told.certain or ())}))


def last_codes(car: Car, kind: str) -> tuple[str, ...]:
    """The codes of a kind as last told, where nobody can say them now; none that was read before a clear."""
    since_t = _cleared_t(car)
    told = (ecu.codes[kind] for ecu in car.ecus.values() if kind in ecu.codes)
    return tuple(sorted({code for codes in told if codes.t > since_t for code in codes.codes or ()}))


def last_mil(car: Car) -> bool:
    """Whether the MIL was commanded when that was last told for certain, and nothing was cleared since."""
    return car.reported.mil is True and car.reported.since_t.get("mil", 0.0) > _cleared_t(car)


def _cleared_t(car: Car) -> float:
    times = (car.reported.cleared_t, car.conclude().clear.t)
    return max((t for t in times if t is not None), default=-1.0)


@dataclass(slots=True)
class Target:
    """What was told of the target. `open`: it may still be reached without any change being told.

    `seen`: the conclusion it was judged by; while it stands there is nothing new to judge.
    """

    reached: bool = False
    open: bool = False
    seen: Conclusion | None = None
    barred: tuple[Bar, ...] = ()

    def copy(self) -> "Target":
        """An independent copy."""
        return replace(self)

    def judge(self, t: float, now: Standing) -> TargetReached | TargetBarred | None:
        """What is new: reached, or complete and barred by something that is known."""
        before, self.reached = self.reached, now.reached
        self.open = not now.reached and (now.complete or bool(now.unknown))
        if now.reached:
            self.barred = ()
            return None if before else TargetReached(t, now.monitors)
        if not now.complete:
            self.barred = ()
            return None
        return self._barred(t, now)

    def _barred(self, t: float, now: Standing) -> TargetBarred | None:
        """Told once readiness and codes were read, and again when something else stands against it for certain."""
        sure = tuple(bar for bar in now.bars if bar.id not in DOUBTS or bar.id == "rule_unsure")
        if any(bar.id in READ_FIRST for bar in now.bars) or not sure or sure == self.barred:
            return None
        self.barred = sure
        codes = dict.fromkeys(code for bar in sure for code in bar.codes)
        return TargetBarred(t, now.monitors, tuple(bar.id for bar in sure), tuple(codes))

    def chosen(self) -> None:
        """Another target: it is judged as soon as the car's word is certain."""
        self.reached, self.open, self.seen, self.barred = False, True, None, ()
