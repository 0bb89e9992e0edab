"""The form of an inspection rule: pydantic models that refuse every unknown key. Reading and wording: `rules.py`.

Every part says how sure it is: `found` (read in the source named), `found-2nd` (read in somebody's account of it) or
`memory` (not read). Whatever is not `found` never leads to "ready". Miles and pounds stand as the sources print them.
"""

from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, model_validator

from coach.j1979.errors import UnknownItem
from coach.j1979.monitors import check_monitor

Sure = Literal["found", "found-2nd", "memory"]
Fuel = Literal["gasoline", "diesel"]
Counting = Literal["non_continuous", "all", "not_stated"]
StoredEffect = Literal["fails", "no_effect", "not_stated"]
OPEN_YEAR = 9999


def _known(monitor: str) -> str:
    try:
        return check_monitor(monitor)
    except UnknownItem as error:
        raise ValueError(str(error)) from None


Monitor = Annotated[str, AfterValidator(_known)]
Date = Annotated[str, Field(pattern=r"^\d{4}(-\d{2}(-\d{2})?)?$")]


class Strict(BaseModel):
    """A table of a rule: frozen, unknown keys refused."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Part(Strict):
    """A part of a rule: how sure it is, what the source says in a few words, and where when it is another source."""

    sure: Sure
    words: str = ""
    source: str = ""


class Limit(Part):
    """How many supported monitors may be incomplete, for these model years (both ends count) and this fuel.

    `allowed` none: readiness is not counted. `only`: if not empty, only these may be incomplete. `must`: never these.
    """

    first_model_year: int
    last_model_year: int = OPEN_YEAR
    fuel: Literal["gasoline", "diesel", "any"]
    allowed: int | None = None
    only: tuple[Monitor, ...] = ()
    must: tuple[Monitor, ...] = ()

    @model_validator(mode="after")
    def _order(self) -> "Limit":
        if self.first_model_year > self.last_model_year:
            raise ValueError(f"first_model_year {self.first_model_year} is after {self.last_model_year}")
        if self.allowed is not None and self.allowed < 0:
            raise ValueError("allowed is a count; leave it out where readiness is not counted")
        return self

    def covers(self, model_year: int, fuel: Fuel) -> bool:
        """Whether this limit is for that car."""
        return self.fuel in (fuel, "any") and self.first_model_year <= model_year <= self.last_model_year


class Reading(Strict):
    """One way to read the rule. Several stand where sources contradict each other; none is settled in silence."""

    id: str
    words: str
    since: Date | None = None
    limit: tuple[Limit, ...] = ()


class Counts(Part):
    """Which monitors are counted, by fuel; none: not stated, so both ways are looked at."""

    gasoline: Counting = "not_stated"
    diesel: Counting = "not_stated"


class Mil(Part):
    """`commanded_on` and `dark_at_key_on`: whether the car fails for it; none: not stated."""

    commanded_on: bool | None = None
    dark_at_key_on: bool | None = None
    with_code_only: bool = False


class Codes(Part):
    """What a stored (or a pending) code does by itself, with the MIL not commanded."""

    effect: StoredEffect = "not_stated"


class PermanentException(Part):
    """From when permanent codes are not looked at any more: operation since the clear."""

    warm_ups: int
    distance_mi: float
    needs_both: bool
    mil_off: bool = True


class Permanent(Part):
    """Whether permanent codes count. `min_model_year` and `since`: from which on."""

    considered: bool
    since: Date | None = None
    min_model_year: int | None = None
    min_model_year_sure: Sure | None = None
    exception: PermanentException | None = None


class Operation(Part):
    """Operation since the clear that is enough by itself, any one of them; miles and minutes of engine running.

    The `permanent_` limits say from when a permanent code is not looked at.
    """

    warm_ups: int
    distance_mi: float
    run_time_min: float
    max_incomplete: int
    permanent_warm_ups: int
    permanent_distance_mi: float
    permanent_run_time_min: float
    permanent_max_incomplete: int
    since: Date | None = None


class Retest(Part):
    """At a retest after a failure with such a code, these monitors must be complete; none: no rule was found."""

    must_be_complete: tuple[Monitor, ...] | None = None
    no_bar: bool = False


class FromYear(Part):
    """From which model year on a fuel is inspected; none: the source does not say.

    `alternative_only`: of spark engines only those on natural gas and the like; the car's readiness does not tell.
    """

    model_year: int | None = None
    alternative_only: bool = False


class Weight(Part):
    """Gross vehicle weight rating in pounds, both ends count; none: no end."""

    min_lb: float | None = None
    max_lb: float | None = None


class Band(Strict):
    """A weight band with its own first model year."""

    fuel: Fuel
    first_model_year: int
    min_lb: float | None = None
    max_lb: float | None = None


class Window(Part):
    """Model years inspected, counted back from this year: from `oldest_offset` to `newest_offset` years ago."""

    newest_offset: int
    oldest_offset: int


class Scope(Strict):
    """Which cars the rule is for."""

    gasoline: FromYear
    diesel: FromYear
    weight: Weight | None = None
    bands: tuple[Band, ...] = ()
    window: Window | None = None


class Conflict(Strict):
    """A contradiction between sources, shown with every verdict under this rule."""

    id: str
    words: str


class Ended(Part):
    """When a programme ended."""

    date: Date


class RuleForm(Strict):
    """One jurisdiction's rule. `outdated`: why the text that was read is known not to be the newest."""

    schema_version: Literal[1]
    id: str
    name: str
    status: Literal["active", "ended", "unknown"]
    sure: Sure
    source: str
    source_date: str
    notes: tuple[str, ...] = ()
    outdated: str = ""
    ended: Ended | None = None
    scope: Scope
    counts: Counts
    mil: Mil
    stored: Codes
    pending: Codes
    permanent: Permanent
    operation: Operation | None = None
    retest: Retest
    reading: tuple[Reading, ...]
    conflict: tuple[Conflict, ...] = ()
