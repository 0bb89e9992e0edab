"""The form of "is this car inspected there at all": which cars the place lets go, or tests in another way.

Each fact holds where all its conditions hold. What the car does not tell is named and never guessed: such a fact leaves
the question open.
"""

from typing import Literal

from pydantic import model_validator

from coach.inspection.parts import Day, DrivenBy, Fuel, Part

Instead = Literal["nothing", "another_test", "not_stated"]
CONDITIONS = (
    "fuel",
    "kinds",
    "except_kinds",
    "under_age",
    "from_age",
    "before_model_year",
    "over_lb",
    "to_lb",
    "under_lb",
    "before_use",
    "below_mi",
    "hangs_on",
    "unclear",
)


class Exempt(Part):
    """Cars the inspection by OBD is not for. `source`: letters of the scope's own sources.

    `under_age`, `from_age`: calendar year minus model year. `over_lb`, `to_lb`: gross weight, above the one and up to
    the other; one not told is taken as a car's. `under_lb`: in a programme of heavy vehicles, where a weight not told
    stays open. `before_use`: first used or built before that day, by the model year. `below_mi`: the odometer.
    `hangs_on`: a condition of the owner's that nothing in the car tells. `unclear`: what no source says; it leaves open
    whether the rule is for such a car. `instead`: what such a car gets.
    """

    fuel: Fuel | None = None
    kinds: tuple[DrivenBy, ...] = ()
    except_kinds: tuple[DrivenBy, ...] = ()
    under_age: int | None = None
    from_age: int | None = None
    before_model_year: int | None = None
    over_lb: float | None = None
    to_lb: float | None = None
    under_lb: float | None = None
    before_use: Day | None = None
    below_mi: float | None = None
    hangs_on: str = ""
    unclear: str = ""
    instead: Instead = "nothing"

    @model_validator(mode="after")
    def _says_something(self) -> "Exempt":
        if not any(getattr(self, key) not in (None, (), "") for key in CONDITIONS):
            raise ValueError(f"names no car; a condition is one of {', '.join(CONDITIONS)}")
        if self.over_lb is not None and self.to_lb is not None and self.over_lb >= self.to_lb:
            raise ValueError(f"over_lb {self.over_lb:g} is not below to_lb {self.to_lb:g}")
        return self

    @property
    def letters(self) -> tuple[str, ...]:
        """The sources it names."""
        return tuple(letter.strip() for letter in self.source.split(",") if letter.strip())
