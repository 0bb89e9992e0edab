"""What the car does not tell and somebody beside it knows: the fuel gauge, how long it stood. Comes in as a choice."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from coach.drive.core import Core
from coach.drive.facts import USERS_WORD


@dataclass(frozen=True, slots=True)
class Telling:
    """One thing to tell: `signal` of the answer, the question, the largest number, and what a number is times over."""

    signal: str
    question: str
    most: int
    times: float
    may: Callable[[Core], bool]
    """Whether nothing better than the user's word is known."""


TELLINGS: dict[str, Telling] = {
    "fuel": Telling(
        "fuel_level_pct",
        "How full is the tank by its gauge, in percent? Digits, then enter; escape leaves it.",
        100,
        1.0,
        lambda core: "fuel_level_pct" not in core.car.owner,
    ),
    "parked": Telling(
        "soak_s",
        "How many hours did it stand with the engine off? Digits, then enter; escape leaves it.",
        24 * 365,
        3600.0,
        lambda core: core.facts.soak_proof in (None, USERS_WORD),
    ),
}


def may_tell(core: Core) -> tuple[str, ...]:
    """What may be told of this car now."""
    return tuple(name for name, telling in TELLINGS.items() if telling.may(core))


def told_so_far(core: Core) -> object:
    """What the user has chosen and told: as long as it is the same, so is the page before the drive."""
    values = core.car.values.get("fuel_level_pct") if TELLINGS["fuel"].may(core) else None
    wanted = core.wanted
    return values, core.facts.soak_s, wanted.speed_max_kmh, wanted.skipped, wanted.target, core.clean.chosen


def wrong(name: str, text: str) -> str:
    """What is wrong with the digits; empty when nothing is."""
    telling, digits = TELLINGS[name], text.strip()
    if digits.isdecimal() and int(digits) <= telling.most:
        return ""
    return f"A whole number from 0 to {telling.most}, then enter; escape leaves it."


def choice(name: str, text: str) -> Mapping[str, object]:
    """The choice that tells it."""
    telling = TELLINGS[name]
    return {"answer": {telling.signal: int(text) * telling.times}}
