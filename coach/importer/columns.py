"""What a column of a table is taken as: a header's name and unit to a signal. Nothing ambiguous is guessed."""

import re
from dataclasses import dataclass
from difflib import get_close_matches

from coach.importer.names import NAMES, UNITLESS, plain, unit_of
from coach.j1979.signals import SIGNALS
from coach.visible import one_line


class ImportProblem(ValueError):
    """A file or a mapping that cannot be imported; one line that says what is wrong and what to do."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its place, header, signal, and value = factor * cell + offset."""

    index: int
    header: str
    signal: str
    factor: float = 1.0
    offset: float = 0.0


_BRACKETED = re.compile(r"^(.*?)[\s_]*[(\[]([^()\[\]]*)[)\]]\s*$")
_SIGNED = re.compile(r"^(.*?\S)(?:\s+in\s+|\s*[:|]\s*|\s+/\s+)(\S.*)$")
_NOISE = frozenset({"obd", "obd2", "obdii", "ecu", "ecm", "pcm", "can"})
_NUMBER_OF_PID = re.compile(r"^(?:0x)?(?:01)?[0-9a-f]{2}$")
_CELL = re.compile(r"^([+-]?\d[\d.,]*(?:e[+-]?\d+)?)\s*([^\d\s.,].*)$", re.IGNORECASE)


def named(text: str) -> str | None:
    """The signal some words name; who says it, and the number of its PID before it, do not matter."""
    words = plain(text)
    if words in NAMES:
        return NAMES[words]
    rest = [word for word in words.split() if word not in _NOISE]
    while len(rest) > 1 and _NUMBER_OF_PID.match(rest[0]):
        del rest[0]
    return NAMES.get(" ".join(rest))


def guess(index: int, header: str) -> Column | None:
    """The signal a header names with its unit; none when it names none, or leaves the unit open."""
    text = header.strip().lower()
    if text in SIGNALS:
        return Column(index, header, text)
    for name, unit in _splits(header):
        signal = named(name)
        if signal is not None:
            column = converted(index, header, signal, unit)
            if column is not None:
                return column
    signal = named(header)
    return Column(index, header, signal) if signal is not None and SIGNALS[signal].unit in UNITLESS else None


def _splits(header: str) -> list[tuple[str, str]]:
    """The ways a header may part into name and unit: in brackets, behind a sign, or as its last word or two."""
    text = header.strip()
    found = _BRACKETED.match(text)
    if found is not None:
        return [(found[1], found[2].strip())]
    parts = []
    signed = _SIGNED.match(text)
    if signed is not None:
        parts.append((signed[1], signed[2]))
    for joint in ("_", " ", ","):
        name, split, unit = text.rpartition(joint)
        if split:
            parts.append((name, unit))
            name, split, before = name.rpartition(joint)
            if split:
                parts.append((name, f"{before}/{unit}"))
    return parts


def converted(index: int, header: str, signal: str, unit: str) -> Column | None:
    """The column with values in this unit; none when the unit is none of this signal's."""
    ours, factor, offset = unit_of(unit)
    return Column(index, header, signal, factor, offset) if ours and ours == SIGNALS[signal].unit else None


def parted(cell: str) -> tuple[str, str]:
    """A cell that says its unit, as "40 km/h", in number and unit; the unit empty where there is none."""
    found = _CELL.match(cell.strip())
    return (found[1], found[2].strip()) if found is not None else (cell, "")


def column_option(header: str) -> str:
    """How to name the unit of a column whose name is known."""
    signal = named(header)
    return f"--column '{on_a_line(header)}={signal}:{SIGNALS[signal].unit}'" if signal is not None else "--column"


def on_a_line(header: str) -> str:
    """A header as a message shows it: in one line, and no longer than one."""
    return one_line(header)[:60]


def mapped(index: int, header: str, wanted: str) -> Column:
    """A column as the user wants it: "speed_kmh" or "speed_kmh:mph". ImportProblem for an unknown signal or unit."""
    signal, _, unit = wanted.partition(":")
    if signal not in SIGNALS:
        near = get_close_matches(signal, SIGNALS, n=1, cutoff=0.4)
        hint = f"; the nearest is {near[0]}" if near else ""
        raise ImportProblem(f"column {header!r}: no signal {signal!r}{hint}")
    if not unit:
        return Column(index, header, signal)
    column = converted(index, header, signal, unit)
    if column is None:
        raise ImportProblem(f"column {header!r}: {unit!r} is no unit of {signal} ({SIGNALS[signal].unit})")
    return column
