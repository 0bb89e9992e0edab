"""What every table of an inspection rule is made of: how sure it is, its source, and the words the tables share."""

from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

from coach.j1979.errors import UnknownItem
from coach.j1979.monitors import check_monitor

Sure = Literal["found", "found-2nd", "memory"]
SUREST: tuple[Sure, ...] = ("found", "found-2nd", "memory")
"""From the surest on."""
Fuel = Literal["gasoline", "diesel"]
DrivenBy = Literal["plain", "hybrid", "plug_in", "gas", "flexible", "electric"]
"""What drives the car beside its fuel. `plain`: nothing else; `gas`: natural gas and the like alone; `flexible`: both
this and petrol or diesel."""


def _known(monitor: str) -> str:
    try:
        return check_monitor(monitor)
    except UnknownItem as error:
        raise ValueError(str(error)) from None


Monitor = Annotated[str, AfterValidator(_known)]
Date = Annotated[str, Field(pattern=r"^\d{4}(-\d{2}(-\d{2})?)?$")]
Day = Annotated[str, Field(pattern=r"^\d{4}-\d{2}-\d{2}$")]


class Strict(BaseModel):
    """A table of a rule: frozen, unknown keys refused."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Part(Strict):
    """A part of a rule: how sure it is, what the source says in a few words, and where when it is another source."""

    sure: Sure
    words: str = ""
    source: str = ""
