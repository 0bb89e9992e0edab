"""What may be concluded of the car now: one value, read by every page, headline, exit code and document.

Nothing here decides: `coach.car.concluding` does. None is unknown or uncertain everywhere, and then `why` says why.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from coach.car.happenings import MonitorState

Kind = Literal["stored", "pending", "permanent"]
KINDS_OF_CODES: tuple[Kind, ...] = ("stored", "pending", "permanent")

Identity = Literal["first", "same", "not_told", "unproved", "changed", "another", "two_vins"]
"""Who answers, beside who answered before.

first      nothing was known of the car before
same       a sign agrees (VIN, or the CALID or CVN of a unit) and none contradicts
not_told   nothing was known that could agree, and nothing contradicts: a car that tells no sign
unproved   signs were known, and since the last link or plug-in none of them was told
changed    a unit tells another CALID or CVN than before: reprogrammed, replaced, or another car
another    another VIN: another car
two_vins   the units of one car tell different VINs
"""

ClearState = Literal["none", "unproved", "refused", "proved"]
"""none: no clear was seen. unproved: sent, and not every unit has shown it. proved: every unit has."""

Standing = Literal["complete", "incomplete", "fault", "uncertain"]
"""complete    every monitor the car has is complete, the MIL is off, no code of any kind
incomplete  a monitor is surely incomplete, and no fault is known
fault       the MIL is commanded, or a unit beyond doubt reports a code
uncertain   nothing of these can be said for certain
"""


@dataclass(frozen=True, slots=True)
class MonitorFinding:
    """One monitor: complete, incomplete, unsupported, or none. `units`: who says so, or whose word is doubted.

    `since_t`: since when this stands, or since when it cannot be said; seconds of this recording, none before it.
    """

    state: MonitorState
    why: str | None = None
    units: tuple[str, ...] = ()
    since_t: float | None = None


@dataclass(frozen=True, slots=True)
class LampFinding:
    """The MIL's command; none when it cannot be said."""

    on: bool | None
    why: str | None = None
    units: tuple[str, ...] = ()
    since_t: float | None = None


@dataclass(frozen=True, slots=True)
class CodesFinding:
    """Codes of one kind. `certain` none unless every unit that should have answered did; `said` by any unit last,
    `sure` those of them that a unit beyond doubt said.

    `offered`: false only where the car is known to be older than the service; none where nobody can say.
    """

    certain: tuple[str, ...] | None
    said: tuple[str, ...] = ()
    sure: tuple[str, ...] = ()
    offered: bool | None = True
    why: str | None = None
    units: tuple[str, ...] = ()
    since_t: float | None = None


@dataclass(frozen=True, slots=True)
class ClearFinding:
    """The last clear. `t` in seconds of this recording, none when it was before it. `units`: who has not shown it."""

    state: ClearState
    t: float | None = None
    units: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Conclusion:
    """All that may be said of the car now. `silent`: units that answered before and do not now.

    `odd`: what readiness holds that it should not, as (unit, bit); `again`: questions that would end a doubt.
    """

    identity: Identity
    monitors: Mapping[str, MonitorFinding]
    mil: LampFinding
    codes: Mapping[str, CodesFinding]
    clear: ClearFinding
    standing: Standing
    silent: tuple[str, ...] = ()
    odd: tuple[tuple[str, str], ...] = ()
    again: tuple[str, ...] = ()
