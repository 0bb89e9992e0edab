"""What a column of a table is taken as: names and units of the trade to signals. Nothing ambiguous is guessed."""

import re
from dataclasses import dataclass
from difflib import get_close_matches

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


# unit as written, lower case: (unit of ours, factor, offset)
UNITS: dict[str, tuple[str, float, float]] = {
    "km/h": ("km/h", 1.0, 0.0),
    "kmh": ("km/h", 1.0, 0.0),
    "kph": ("km/h", 1.0, 0.0),
    "mph": ("km/h", 1.609344, 0.0),
    "m/s": ("km/h", 3.6, 0.0),
    "rpm": ("rpm", 1.0, 0.0),
    "1/min": ("rpm", 1.0, 0.0),
    "°c": ("°C", 1.0, 0.0),
    "c": ("°C", 1.0, 0.0),
    "degc": ("°C", 1.0, 0.0),
    "°f": ("°C", 5 / 9, -160 / 9),
    "f": ("°C", 5 / 9, -160 / 9),
    "degf": ("°C", 5 / 9, -160 / 9),
    "%": ("%", 1.0, 0.0),
    "pct": ("%", 1.0, 0.0),
    "kpa": ("kPa", 1.0, 0.0),
    "hpa": ("kPa", 0.1, 0.0),
    "mbar": ("kPa", 0.1, 0.0),
    "psi": ("kPa", 6.894757, 0.0),
    "inhg": ("kPa", 3.386389, 0.0),
    "g/s": ("g/s", 1.0, 0.0),
    "gps": ("g/s", 1.0, 0.0),
    "v": ("V", 1.0, 0.0),
    "mv": ("V", 0.001, 0.0),
    "s": ("s", 1.0, 0.0),
    "min": ("min", 1.0, 0.0),
    "km": ("km", 1.0, 0.0),
    "mi": ("km", 1.609344, 0.0),
}

NAMES: dict[str, str] = {
    "vehicle speed": "speed_kmh",
    "speed": "speed_kmh",
    "vehicle speed sensor": "speed_kmh",
    "engine speed": "rpm",
    "engine rpm": "rpm",
    "rpm": "rpm",
    "coolant": "coolant_c",
    "coolant temperature": "coolant_c",
    "engine coolant temperature": "coolant_c",
    "ect": "coolant_c",
    "intake": "intake_c",
    "intake air temperature": "intake_c",
    "iat": "intake_c",
    "ambient": "ambient_c",
    "ambient air temperature": "ambient_c",
    "map": "map_kpa",
    "intake manifold absolute pressure": "map_kpa",
    "intake manifold pressure": "map_kpa",
    "barometric pressure": "baro_kpa",
    "baro": "baro_kpa",
    "maf": "maf_gps",
    "mass air flow": "maf_gps",
    "air flow rate from mass flow sensor": "maf_gps",
    "throttle": "throttle_pct",
    "absolute throttle position": "throttle_pct",
    "throttle position": "throttle_pct",
    "accelerator pedal position d": "pedal_d_pct",
    "accelerator pedal position e": "pedal_e_pct",
    "calculated load": "load_pct",
    "engine load": "load_pct",
    "fuel level": "fuel_level_pct",
    "fuel tank level": "fuel_level_pct",
    "control module voltage": "module_v",
    "time since engine start": "run_time_s",
    "engine run time": "run_time_s",
}
"""Trade terms, lower case; the unit must stand beside them in the header."""

TIME_NAMES = {"time", "time_s", "t", "elapsed", "elapsed time", "timestamp"}
_BRACKETED = re.compile(r"^(.*?)[\s_]*[(\[]([^)\]]*)[)\]]\s*$")


def guess(index: int, header: str) -> Column | None:
    """The signal a header names with its unit; none when it names none, or leaves the unit open."""
    text = " ".join(header.strip().lower().split())
    if text in SIGNALS:
        return Column(index, header, text)
    found = _BRACKETED.match(text)
    if found is not None:
        return _with_unit(index, header, found[1].strip(), found[2].strip())
    stem, _, suffix = text.rpartition("_")
    if stem:
        return _with_unit(index, header, stem.replace("_", " "), suffix)
    return Column(index, header, "rpm") if text in ("rpm", "engine rpm") else None


def _with_unit(index: int, header: str, name: str, unit: str) -> Column | None:
    signal = NAMES.get(name.replace("_", " "))
    return None if signal is None else _converted(index, header, signal, unit)


def _converted(index: int, header: str, signal: str, unit: str) -> Column | None:
    ours, factor, offset = UNITS.get(unit.lower(), ("", 0.0, 0.0))
    return Column(index, header, signal, factor, offset) if ours == SIGNALS[signal].unit else None


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
