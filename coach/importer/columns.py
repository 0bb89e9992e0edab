"""What a column of a table is taken as: a header's name and unit to a signal. Nothing ambiguous is guessed."""

import re
from dataclasses import dataclass
from difflib import get_close_matches

from coach.importer.names import NAMES, UNITLESS, UNITS
from coach.j1979.signals import SIGNALS


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
_HUMP = re.compile(r"(?<=[a-z])(?=[A-Z])")
_JOINTS = re.compile(r"[\s_\-.:/]+")


def plain(text: str) -> str:
    """A header's words in lower case, one space between: "EngineCoolant_Temp." is "engine coolant temp"."""
    return _JOINTS.sub(" ", _HUMP.sub(" ", text.strip())).strip().lower()


def guess(index: int, header: str) -> Column | None:
    """The signal a header names with its unit; none when it names none, or leaves the unit open."""
    text = header.strip().lower()
    if text in SIGNALS:
        return Column(index, header, text)
    for name, unit in _splits(header):
        signal = NAMES.get(plain(name))
        if signal is not None:
            column = _converted(index, header, signal, unit)
            if column is not None:
                return column
    signal = NAMES.get(plain(header))
    return Column(index, header, signal) if signal is not None and SIGNALS[signal].unit in UNITLESS else None


def _splits(header: str) -> list[tuple[str, str]]:
    """The ways a header may part into name and unit: in brackets, or as its last word."""
    found = _BRACKETED.match(header.strip())
    if found is not None:
        return [(found[1], found[2].strip())]
    parts = []
    for joint in ("_", " ", ","):
        name, split, unit = header.strip().rpartition(joint)
        if split:
            parts.append((name, unit))
    return parts


def _converted(index: int, header: str, signal: str, unit: str) -> Column | None:
    ours, factor, offset = UNITS.get(unit.strip().lower(), ("", 0.0, 0.0))
    return Column(index, header, signal, factor, offset) if ours and ours == SIGNALS[signal].unit else None


def mapped(index: int, header: str, wanted: str) -> Column:
    """A column as the user wants it: "speed_kmh" or "speed_kmh:mph". ImportProblem for an unknown signal or unit."""
    signal, _, unit = wanted.partition(":")
    if signal not in SIGNALS:
        near = get_close_matches(signal, SIGNALS, n=1, cutoff=0.4)
        hint = f"; the nearest is {near[0]}" if near else ""
        raise ImportProblem(f"column {header!r}: no signal {signal!r}{hint}")
    if not unit:
        return Column(index, header, signal)
    column = _converted(index, header, signal, unit)
    if column is None:
        raise ImportProblem(f"column {header!r}: {unit!r} is no unit of {signal} ({SIGNALS[signal].unit})")
    return column
