"""Model year and fuel by two mouths: what the car says and what the user says, both kept, and whose word holds.

The car's own word holds unless the user says that it is wrong. Where the VIN leaves several years open, the user's word
chooses among them; a year that is none of them is not believed, and then nobody's is. Outside North America the year's
letter binds no maker, so that there the user's word holds, and both are told.
"""

from dataclasses import dataclass
from typing import Literal

from coach.inspection.parts import Fuel
from coach.j1979.model_year import ModelYear

By = Literal["car", "user"]
LETTER_BINDS = ("check_digit", "ambiguous")
"""Why a VIN proves no year although its letter is one of a year, where only the years of that letter are possible."""


@dataclass(frozen=True, slots=True)
class TwoWords:
    """`vin`, `car_fuel`: what the car says. `user_year`, `user_fuel`: what the user says. None: nothing.

    `against_the_car`: the user says that the car's own word is wrong.
    """

    vin: ModelYear
    car_fuel: Fuel | None = None
    user_year: int | None = None
    user_fuel: Fuel | None = None
    against_the_car: bool = False

    @property
    def model_year(self) -> int | None:
        """The model year that holds; none when nobody's does."""
        return {"car": self.vin.year, "user": self.user_year, None: None}[self.model_year_by]

    @property
    def model_year_by(self) -> By | None:
        """Whose word on the model year holds."""
        if self.user_year is not None and (self.against_the_car or (self.vin.year is None and not self.open_dispute)):
            return "user"
        return "car" if self.vin.year is not None else None

    @property
    def open_dispute(self) -> bool:
        """The user says a year the VIN has no room for, and the VIN proves none: nobody's word holds."""
        binds = self.vin.year is None and self.vin.why in LETTER_BINDS
        return binds and not self.against_the_car and self._user_outside()

    @property
    def years_differ(self) -> bool:
        """The user and the VIN cannot both be right."""
        if self.user_year is None:
            return False
        return self.user_year != self.vin.year if self.vin.year is not None else self._user_outside()

    @property
    def fuel(self) -> Fuel | None:
        """The fuel that holds."""
        return self.user_fuel if self.fuel_by == "user" else self.car_fuel

    @property
    def fuel_by(self) -> By | None:
        """Whose word on the fuel holds."""
        if self.user_fuel is not None and (self.against_the_car or self.car_fuel is None):
            return "user"
        return "car" if self.car_fuel is not None else None

    @property
    def fuels_differ(self) -> bool:
        """The user and the car cannot both be right."""
        return None not in (self.user_fuel, self.car_fuel) and self.user_fuel != self.car_fuel

    def _user_outside(self) -> bool:
        """What the user says is none of the years the VIN leaves; a VIN that leaves none says nothing."""
        years = self.vin.candidates
        return self.user_year is not None and bool(years) and self.user_year not in years
