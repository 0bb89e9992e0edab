"""The model year from a VIN: the year letter's candidates by a library, then what proves one of them. It never guesses.

The letters come round every thirty years (ISO 3779, 49 CFR 565.15 Table VII). Which round it is, the seventh character
tells on cars and light trucks for North America: a figure before 2010, a letter from 2010 on (73 FR 23367, 2008-04-30).
"""

from dataclasses import dataclass

from vininfo import Vin
from vininfo.exceptions import VininfoException

FIRST_OBD_YEAR = 1994  # some makers' first cars with these services; required from model year 1996 (40 CFR 86.094-17)
FIRST_CAN_YEAR = 2003  # diagnostics on CAN allowed from model year 2003: 13 CCR 1968.2(g)(3), from memory
NORTH_AMERICA = "12345"  # ISO 3780 regions
SECOND_ROUND = 2010


@dataclass(frozen=True, slots=True)
class ModelYear:
    """`year` when it is proved, else none; `candidates` are possible; `likely` is a proposal to be confirmed.

    `why`: no_vin, not_a_vin, no_year_letter, seventh_character, outside_north_america, check_digit, ambiguous.
    """

    year: int | None
    candidates: tuple[int, ...]
    likely: int | None
    why: str


def model_year(vin: str | None, this_year: int, can: bool | None = None) -> ModelYear:
    """The model year of a car that answered OBD services. `this_year` bounds it; `can` as the link found it."""
    if not vin:
        return ModelYear(None, (), None, "no_vin")
    try:
        parsed = Vin(vin)
    except VininfoException:
        return ModelYear(None, (), None, "not_a_vin")
    lowest = FIRST_CAN_YEAR if can else FIRST_OBD_YEAR
    possible = tuple(sorted(year for year in parsed.years if lowest <= year <= this_year + 1))
    if not possible:
        return ModelYear(None, (), None, "no_year_letter")
    by_seventh = tuple(year for year in possible if (year >= SECOND_ROUND) == parsed.num[6].isalpha())
    likely = possible[0] if len(possible) == 1 else None
    if parsed.num[0] not in NORTH_AMERICA:
        return ModelYear(None, possible, likely, "outside_north_america")
    if not parsed.verify_checksum():
        return ModelYear(None, possible, likely, "check_digit")
    if len(by_seventh) == 1:
        return ModelYear(by_seventh[0], possible, by_seventh[0], "seventh_character")
    return ModelYear(None, possible, likely, "ambiguous")  # witnesses disagree: a heavy vehicle, or a maker's own way
