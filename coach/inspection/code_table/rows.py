"""The form of a row of the table of codes, and of what is known of one code."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, NamedTuple

CFR = "40 CFR 86.010-18"
EDITION = "CFR of 2015"
MEMORY = "from memory"
GENERAL = "(i)(3)(i), by its general words"
"""A part the paragraph does not name: whatever gives the computer a value or takes its commands, electronic."""

Title = Literal["list", "maker", "page", "memory"]
"""Where a code's title was read: python-OBD's list, a maker's service information, a public page, or nowhere."""

OwnTest = Literal["warm_up", "cold_start", "cold_soak", "warm_idle", "boost_pull", "fuel_used"]
"""What start and drive a code's own test needs, where a finished drive of the regulated pattern may lack it."""


class Own(NamedTuple):
    """The kind of start and drive that a code's own test needs, and by which source."""

    kind: OwnTest
    told: str


@dataclass(frozen=True, slots=True)
class Assignment:
    """Which monitor watches for a code. `system`: the monitor whose part it is. `source`: where that stands.

    `circuit`: the check runs all the time, as those of wiring do, or may: then a finished driving cycle is asked for
    too. `mids`: test ids of service 06 that measure just this part; empty: all of the monitor's. `chosen`: by the user,
    in no table. `own`: what start and drive its own test needs, none for nothing special; `own_from`: by which source.
    `partner`: the monitor in whose test alone the part is worked. `own_result`: the monitor's bit may stand for another
    of its tests, so that the result of this one has to be seen.
    """

    code: str
    monitor: str
    system: str
    circuit: bool = False
    mids: frozenset[int] = frozenset()
    chosen: bool = False
    source: str = ""
    own: OwnTest | None = None
    own_from: str = ""
    partner: str | None = None
    own_result: bool = False
    title: Title = "list"

    @property
    def unread(self) -> bool:
        """Whether what the code stands for, or whose it is, was read in no source: then it settles nothing alone."""
        return self.title == "memory" or self.source == MEMORY


@dataclass(frozen=True, slots=True)
class Row:
    """Codes of one kind. `codes`: codes and ranges, with spaces between; a range counts in decimals, as the lists do.

    `where`: a paragraph of 40 CFR 86.010-18, or other words. `always`: watched all the time, as wiring is, or may be.
    The other fields are those of `Assignment`; `system` none: the monitor itself.
    """

    codes: str
    monitor: str
    where: str
    always: bool = False
    system: str | None = None
    mids: tuple[int, ...] = ()
    own: Own | None = None
    partner: str | None = None
    own_result: bool = False
    title: Title = "list"


def part(
    codes: str,
    where: str,
    system: str | None = None,
    *,
    own: Own | None = None,
    partner: str | None = None,
    title: Title = "list",
) -> Row:
    """A component: wiring, a sensor or an actuator. Its bit always reads complete, so a finished cycle is asked for."""
    return Row(codes, "comprehensive_component", where, True, system, own=own, partner=partner, title=title)


def codes_of(row: Row) -> Iterator[str]:
    """Every code of a row, ranges written out."""
    for one in row.codes.split():
        first, _, last = one.partition("-")
        if last:
            yield from (f"P{number:04d}" for number in range(int(first[1:]), int(last[1:]) + 1))
        else:
            yield first


def entries(row: Row) -> Iterator[Assignment]:
    """What is known of every code of a row."""
    source = f"{CFR}{row.where}, {EDITION}" if row.where.startswith("(") else row.where
    for code in codes_of(row):
        yield Assignment(
            code,
            row.monitor,
            row.system or row.monitor,
            row.always,
            frozenset(row.mids),
            source=source,
            own=row.own.kind if row.own is not None else None,
            own_from=row.own.told if row.own is not None else "",
            partner=row.partner,
            own_result=row.own_result,
            title=row.title,
        )
