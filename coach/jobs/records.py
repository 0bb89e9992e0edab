"""The record of a job, `job.json`: what was repaired and which files belong to it. What came in stands in the files."""

from typing import Literal

from msgspec import Struct

VERSION = 1
Kind = Literal["before", "clear", "drive", "between"]
KINDS: tuple[Kind, ...] = ("before", "clear", "drive", "between")
"""The read-out before the clear, the clear, a drive, a read-out between drives."""


class Entry(Struct, frozen=True):
    """One file of the job. `when`: wall clock at its beginning, ISO 8601."""

    kind: Kind
    file: str
    when: str
    note: str = ""


class SignOff(Struct, frozen=True):
    """The end of a job: when, what was said of the repair and by which rule the car was judged.

    `rule_dates` and `rule_sure`: of the rule as it was then; `incomplete`: the monitors open then, none when not told;
    `read_at`: when the car last said so.
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


class JobRecord(Struct, frozen=True):
    """A job. `odometer_km` as the user read it. `chosen`: the monitor the user named for a code nobody knows."""

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
