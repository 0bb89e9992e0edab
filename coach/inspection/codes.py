"""From a trouble code to the monitor that watches for it: by the table of codes, never by a range by itself.

The rows and their sources stand in `code_table`. A code that is not there, and every maker's own (P1…, P30…), is
"cannot say".
"""

from collections.abc import Iterable, Mapping

from coach.inspection.code_table import TABLES
from coach.inspection.code_table.rows import CFR, MEMORY, Assignment, OwnTest
from coach.j1979.dtc import is_code
from coach.j1979.monitors import CONTINUOUS
from coach.j1979.readiness import Ignition

__all__ = [
    "CFR",
    "MEMORY",
    "TABLES",
    "Assignment",
    "OwnTest",
    "all_the_time",
    "assignment",
    "code_monitors",
    "monitors_of",
    "runs_all_the_time",
]


def assignment(code: str, ignition: Ignition | None = None, chosen: str | None = None) -> Assignment | None:
    """The monitor of a code; none when nobody knows it. `chosen`: the monitor the user names for one in no table.

    What such a code stands for is not known, so it is judged as strictly as a fault in the wiring. The user's word also
    goes before a row from memory. An engine of unknown kind is read as a petrol engine.
    """
    if not is_code(code):
        return None
    known = TABLES[ignition or "spark"].get(code.strip().upper())
    if chosen is None or (known is not None and not known.unread):
        return known
    return Assignment(code, chosen, chosen, circuit=True, chosen=True)


def monitors_of(codes: Iterable[str], ignition: Ignition | None, chosen: Mapping[str, str]) -> dict[str, str]:
    """The monitor of each of these codes that has one; `chosen`: those the user named."""
    known = {code: assignment(code, ignition, chosen.get(code)) for code in codes}
    return {code: found.monitor for code, found in known.items() if found is not None}


def code_monitors(ignition: Ignition) -> dict[str, str]:
    """Every code of the table and the monitor that watches for it, continuous ones left out."""
    return {code: known.monitor for code, known in TABLES[ignition].items() if known.monitor not in CONTINUOUS}


def all_the_time(ignition: Ignition) -> dict[str, str]:
    """Every code of the table whose check runs all the time, continuous monitors and wiring, and its monitor."""
    return {code: known.monitor for code, known in TABLES[ignition].items() if runs_all_the_time(known)}


def runs_all_the_time(assigned: Assignment) -> bool:
    """Whether the check behind a code has no run of its own that a bit would show."""
    return assigned.circuit or assigned.monitor in CONTINUOUS
