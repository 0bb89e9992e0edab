"""The values of a profile, each with where it comes from; quantities are written as people write them, and converted.

Every number says where it comes from: `found` in the sources named, `derived` from them, `chosen` inside their spread,
`memory` (common practice, not read) or `our_judgement`; the last two, and a choice without source, must say why.
"""

from collections.abc import Callable
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from coach.drive.quantity import parse_quantity

Basis = Literal["found", "derived", "chosen", "memory", "our_judgement"]


class Strict(BaseModel):
    """A table of the profile: frozen, unknown keys refused."""

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)  # the whole is built once, not each part


class Given(Strict):
    """Where a value comes from. `spread` is what the sources range over, `src` their ids, `why` the reason."""

    basis: Basis
    src: tuple[str, ...] = ()
    spread: str | None = None
    why: str | None = None

    @model_validator(mode="after")
    def _reason(self) -> "Given":
        if self.basis in ("found", "derived") and not self.src:
            raise ValueError(f'basis "{self.basis}" needs src, the sources it was read in')
        if not self.src and not self.why:
            raise ValueError(f'basis "{self.basis}" without src needs why, the reason')
        return self


class Number(Given):
    """One number, inside unit."""

    value: float


class Span(Given):
    """A lowest and a highest number, inside unit."""

    low: float
    high: float

    @model_validator(mode="after")
    def _order(self) -> "Span":
        if self.low >= self.high:
            raise ValueError(f"low {self.low} is not below high {self.high}")
        return self


class Flag(Given):
    """Something that must be so. There is no opposite: what need not be so is left out."""

    value: Literal[True]


class Count(Given):
    """How many."""

    value: int = Field(ge=1, le=100)


def _amount(text: Any, dimension: str) -> float:
    value = parse_quantity(text, dimension)
    if value < 0 and dimension != "temperature":
        raise ValueError(f"{text!r} is below zero")
    if value == 0 and dimension == "time":
        raise ValueError(f"{text!r} is no time at all")
    if value > 100 and dimension == "share":
        raise ValueError(f"{text!r} is more than all")
    return value


def _number(dimension: str) -> Callable[[Any], Any]:
    def read(table: Any) -> Any:
        if isinstance(table, dict) and "value" in table:
            return {**table, "value": _amount(table["value"], dimension)}
        return table

    return read


def _span(dimension: str) -> Callable[[Any], Any]:
    def read(table: Any) -> Any:
        if not isinstance(table, dict):
            return table
        ends = {end: _amount(table[end], dimension) for end in ("low", "high") if end in table}
        return {**table, **ends}

    return read


Speed = Annotated[Number, BeforeValidator(_number("speed"))]
Temperature = Annotated[Number, BeforeValidator(_number("temperature"))]
Difference = Annotated[Number, BeforeValidator(_number("difference"))]
Time = Annotated[Number, BeforeValidator(_number("time"))]
Share = Annotated[Number, BeforeValidator(_number("share"))]
Voltage = Annotated[Number, BeforeValidator(_number("voltage"))]
Rpm = Annotated[Number, BeforeValidator(_number("engine speed"))]
Pressure = Annotated[Number, BeforeValidator(_number("pressure"))]
Speeds = Annotated[Span, BeforeValidator(_span("speed"))]
Temperatures = Annotated[Span, BeforeValidator(_span("temperature"))]
Shares = Annotated[Span, BeforeValidator(_span("share"))]
Torques = Annotated[Span, BeforeValidator(_span("torque"))]
Rpms = Annotated[Span, BeforeValidator(_span("engine speed"))]
