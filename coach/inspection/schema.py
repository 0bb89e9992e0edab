"""The form of an inspection rule: pydantic models that refuse every unknown key. Reading and wording: `rules.py`.

Every part says how sure it is: `found` (read in the source named), `found-2nd` (read in somebody's account of it) or
`memory` (not read). Whatever is not `found` never leads to "ready". Miles and pounds stand as the sources print them.
"""

from typing import Literal

from pydantic import Field, field_validator, model_validator

from coach.inspection.parts import Date, Fuel, Monitor, Part, Strict, Sure
from coach.inspection.who import Exempt
from coach.inspection.worked import Case

Counting = Literal["non_continuous", "all", "not_stated"]
StoredEffect = Literal["fails", "no_effect", "not_stated"]
LeadsTo = Literal["rejection", "another_test", "nothing", "not_stated"]
OPEN_YEAR = 9999
VERSION = 2


class Limit(Part):
    """How many supported monitors may be incomplete, for these model years (both ends count) and this fuel.

    `allowed` none: not limited by count. `only`: if not empty, only these may be incomplete. `must`: never these.
    `min_complete`: at least so many must be complete. `unread`: some readiness is wanted, which was not read.
    """

    first_model_year: int
    last_model_year: int = OPEN_YEAR
    fuel: Literal["gasoline", "diesel", "any"]
    allowed: int | None = None
    only: tuple[Monitor, ...] = ()
    must: tuple[Monitor, ...] = ()
    min_complete: int | None = None
    unread: bool = False

    @model_validator(mode="after")
    def _order(self) -> "Limit":
        if self.first_model_year > self.last_model_year:
            raise ValueError(f"first_model_year {self.first_model_year} is after {self.last_model_year}")
        if self.allowed is not None and self.allowed < 0:
            raise ValueError("allowed is a count; leave it out where readiness is not counted")
        return self

    @property
    def counts(self) -> bool:
        """Whether it asks for any readiness."""
        return self.allowed is not None or bool(self.must) or self.min_complete is not None or self.unread

    def covers(self, model_year: int | None, fuel: Fuel) -> bool:
        """Whether this limit is for that car; where the model year is not known, whether it is for every one."""
        if self.fuel not in (fuel, "any"):
            return False
        if model_year is None:
            return self.first_model_year <= 0 and self.last_model_year == OPEN_YEAR
        return self.first_model_year <= model_year <= self.last_model_year


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


class NotReady(Part):
    """What not being ready leads to: the car is turned away, it gets another test instead, or nothing comes of it."""

    leads_to: LeadsTo = "not_stated"


class Scope(Strict):
    """Which cars are inspected: all but those that a fact of `exempt` lets go.

    `area`: where it applies, for the reader only. `sources`: address and date by letter. `waiver`: what an owner may
    ask for; it lets no car go by itself. `unknown`: what was looked for and not found.
    """

    area: str = ""
    sources: dict[str, str] = Field(default_factory=dict)
    exempt: tuple[Exempt, ...] = ()
    waiver: tuple[Part, ...] = ()
    unknown: str = ""


class Ended(Part):
    """When a programme ended."""

    date: Date


class Conflict(Strict):
    """A contradiction between sources, shown with every verdict under this rule."""

    id: str
    words: str


class RuleForm(Strict):
    """One jurisdiction's rule. `place`: its name in a sentence. `outdated`: why the text read is not the newest.

    `case`: worked cases, which `coach rules check` holds the rule against.
    """

    schema_version: int
    id: str
    name: str
    place: str
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
    not_ready: NotReady = NotReady(sure="memory")
    reading: tuple[Reading, ...]
    conflict: tuple[Conflict, ...] = ()
    case: tuple[Case, ...] = ()

    @field_validator("schema_version")
    @classmethod
    def _version(cls, version: int) -> int:
        if version != VERSION:
            raise ValueError(
                f"{version} is another form than this program's; it reads {VERSION}, as coach rules show has it"
            )
        return version
