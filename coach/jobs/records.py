"""The record of a job, `job.json`: what was repaired, its files and what each brought, and what the user said.

What came in stands in the files. The seal of a file is what tells that it is still the same, and what is lost with it.
"""

from typing import Literal, cast, get_args

from msgspec import Struct

from coach.car.conclusion import ClearState

VERSION = 2
Kind = Literal["before", "clear", "drive", "between"]
KINDS: tuple[Kind, ...] = ("before", "clear", "drive", "between")
"""The read-out before the clear, the clear, a drive, a read-out between drives."""

UnitChange = Literal["taken_out", "replaced", "reprogrammed"]
UNIT_CHANGES: tuple[UnitChange, ...] = get_args(UnitChange)
"""What a user may say became of a control unit."""


class Brought(Struct, frozen=True):
    """What a file brought, without a VIN: it is still known when the file is not.

    `units`: the control units that answered. `codes`: by kind, every code seen in it and the second at which it was
    first. `clear`: whether a clear was sent in it. `complete`: the monitors that were complete at its end.
    """

    units: tuple[str, ...] = ()
    codes: dict[str, dict[str, float]] = {}
    clear: ClearState = "none"
    complete: tuple[str, ...] = ()


class Sealed(Struct, frozen=True):
    """A file as it was when it was closed. `when`: wall clock, ISO 8601; `whole`: its last line had been written."""

    sha256: str
    size_bytes: int
    when: str
    whole: bool
    brought: Brought = Brought()


class Entry(Struct, frozen=True):
    """One file of the job. `when`: wall clock at its beginning, ISO 8601.

    `sealed`: none while it may still be written to. `empty`: its name was reserved and nothing was ever written there.
    """

    kind: Kind
    file: str
    when: str
    note: str = ""
    sealed: Sealed | None = None
    empty: bool = False


class Said(Struct, frozen=True):
    """Something the user said of the job, `when` by the wall clock, ISO 8601. It holds for the whole job.

    `what` is "unit": `name` is a control unit's address and `value` a `UnitChange`; or "same_car": `name` is a file of
    the job that tells no sign of its car and is of the same one all the same, `value` is empty.
    """

    when: str
    what: Literal["unit", "same_car"]
    name: str
    value: str = ""


class SignOff(Struct, frozen=True):
    """The end of a job: when, what was said of the repair and by which rule the car was judged.

    `rule_dates` and `rule_sure`: of the rule as it was then; `incomplete`: the monitors open then, none when not told;
    `read_at`: when the car last said so. `anyway`: the user closed the job knowing that the repair was not confirmed.
    """

    when: str
    outcome: str
    rule: str | None = None
    verdict: str | None = None
    note: str = ""
    rule_dates: str | None = None
    rule_sure: str | None = None
    incomplete: tuple[str, ...] | None = None
    read_at: str | None = None
    anyway: bool = False


class JobRecord(Struct, frozen=True):
    """A job. `odometer_km` as the user read it. `chosen`: the monitor the user named for a code nobody knows.

    `rule`, `model_year`, `fuel` ("gasoline" or "diesel"), `gvwr_lb`, `kind` (hybrid and the like), `inspected` (whether
    the place inspects it, where the car alone does not tell): what the user told once for a verdict, else none.
    `against_the_car`: the car's own word on model year or fuel is wrong. `said`: what else the user said, in order.
    """

    job: int
    id: str
    opened: str
    codes: tuple[str, ...] = ()
    part: str = ""
    note: str = ""
    odometer_km: float | None = None
    chosen: dict[str, str] = {}
    profile: str | None = None
    entries: tuple[Entry, ...] = ()
    signed_off: SignOff | None = None
    rule: str | None = None
    model_year: int | None = None
    fuel: Literal["gasoline", "diesel"] | None = None
    gvwr_lb: float | None = None
    against_the_car: bool = False
    said: tuple[Said, ...] = ()
    kind: str | None = None
    inspected: bool | None = None

    @property
    def units_said(self) -> dict[str, UnitChange]:
        """What became of each control unit by the user's last word on it; addresses as the units send them."""
        return {one.name: cast(UnitChange, one.value) for one in self.said if one.what == "unit"}

    @property
    def same_car(self) -> frozenset[str]:
        """Names of files that are of the job's car by the user's word."""
        return frozenset(one.name for one in self.said if one.what == "same_car")
