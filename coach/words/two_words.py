"""Words on model year and fuel: what the car says, what the user says, whose word holds; nothing is decided here."""

from collections.abc import Iterator
from typing import Any

from coach.inspection.two_words import TwoWords
from coach.j1979.model_year import ModelYear
from coach.words.reasons import FUELS

VIN_SAYS = {
    "no_vin": "The car did not tell its VIN.",
    "not_a_vin": "What the car sent as its VIN is none.",
    "no_year_letter": "The VIN's year letter fits no year of such a car.",
    "seventh_character": "By the VIN: year letter and seventh character.",
    "outside_north_america": "Outside North America the VIN's letter proves no model year.",
    "check_digit": "The VIN's check digit is wrong, so it proves no model year.",
    "ambiguous": "The VIN leaves the model year open.",
}
"""Where a model year comes from, or why it has to be asked."""
HOLDS = "the car's word holds, unless you add --against-the-car"
YOURS = "your word holds, as you said with --against-the-car"


def two_words_lines(told: TwoWords) -> Iterator[str]:
    """Whose word the model year and the fuel are by, and where the two differ what each says."""
    yield _year_words(told)
    if told.fuels_differ:
        yield f"The car says {_fuel(told.car_fuel)}, you say {_fuel(told.user_fuel)}: {_holds(told.fuel_by)}."


def differences(told: TwoWords) -> tuple[str, ...]:
    """What the user and the car say differently; empty where they agree."""
    lines = tuple(two_words_lines(told))
    return (*(lines[:1] if told.years_differ else ()), *lines[1:])


def _year_words(told: TwoWords) -> str:
    vin, user = told.vin, told.user_year
    if user is None:
        return f"{VIN_SAYS[vin.why]}{_ask(vin)}"
    if not told.years_differ:
        return "By the VIN, and as you say." if user == vin.year else "As you say."
    if vin.year is not None:
        return f"The car's VIN says {vin.year}, you say {user}: {_holds(told.model_year_by)}."
    leaves = f"its letter stands for {_years(vin)}, you say {user}"
    if told.against_the_car:
        return f"{VIN_SAYS[vin.why]} But {leaves}: {YOURS}."
    if told.open_dispute:
        return f"{VIN_SAYS[vin.why]} But {leaves}: neither is believed, unless you add --against-the-car."
    return f"You say {user}; by the VIN's letter it would be {_years(vin)}, which proves nothing outside North America."


def _ask(vin: ModelYear) -> str:
    if vin.year is not None or not vin.candidates:
        return ""
    which = "say so" if len(vin.candidates) == 1 else "say which"
    return f" It may be {_years(vin)}: {which} with --model-year."


def _years(vin: ModelYear) -> str:
    return " or ".join(str(year) for year in vin.candidates)


def _fuel(fuel: str | None) -> str:
    return FUELS.get(fuel or "", "no fuel")


def _holds(by: str | None) -> str:
    return YOURS if by == "user" else HOLDS


def two_words_data(told: TwoWords) -> dict[str, Any]:
    """The same as data: what holds, by whom, and what each of the two says."""
    return {
        "model_year": told.model_year,
        "model_year_by": told.model_year_by,
        "fuel": told.fuel,
        "fuel_by": told.fuel_by,
        "car_says": {
            "model_year": told.vin.year,
            "model_year_candidates": list(told.vin.candidates),
            "model_year_why": told.vin.why,
            "fuel": told.car_fuel,
        },
        "user_says": {
            "model_year": told.user_year,
            "fuel": told.user_fuel,
            "against_the_car": told.against_the_car,
        },
    }
