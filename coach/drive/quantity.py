"""Quantities as people write them ("50 mph", "75 °C", "5 min"), converted once on reading to the unit used inside.

Inside: km/h, °C, kelvins for differences, s, %, V, rpm, m, kPa, Nm. Pure text to number.
"""

import re

Scale = tuple[float, float]  # factor, then offset: inside = factor * written + offset

DIMENSIONS: dict[str, dict[str, Scale]] = {
    "speed": {"km/h": (1.0, 0.0), "mph": (1.609344, 0.0)},
    "temperature": {"°C": (1.0, 0.0), "C": (1.0, 0.0), "°F": (5 / 9, -160 / 9), "F": (5 / 9, -160 / 9)},
    "difference": {"°C": (1.0, 0.0), "K": (1.0, 0.0), "°F": (5 / 9, 0.0)},
    "time": {"s": (1.0, 0.0), "min": (60.0, 0.0), "h": (3600.0, 0.0)},
    "share": {"%": (1.0, 0.0)},
    "voltage": {"V": (1.0, 0.0)},
    "engine speed": {"rpm": (1.0, 0.0)},
    "length": {"m": (1.0, 0.0), "km": (1000.0, 0.0), "ft": (0.3048, 0.0)},
    "pressure": {"kPa": (1.0, 0.0), "inHg": (3.386389, 0.0), "psi": (6.894757, 0.0)},
    "torque": {"Nm": (1.0, 0.0)},
}
"""Units by dimension. mph, ft: exact by definition; °F by definition; inHg and psi to seven digits."""

_WRITTEN = re.compile(r"^\s*([+-]?\d+(?:\.\d+)?)\s*(\S.*?)\s*$")


LARGEST = 1e9  # our judgement: in any unit used here more than a car or a drive has; 31 years in seconds


def told_number(value: object) -> float | None:
    """A number that somebody wrote into a file; none for what is no number, or beyond all measure."""
    return float(value) if isinstance(value, int | float) and -LARGEST <= value <= LARGEST else None


def parse_quantity(text: object, dimension: str) -> float:
    """The number inside for a written quantity. ValueError, in one plain sentence, for anything else."""
    units = DIMENSIONS[dimension]
    example = f'a {dimension} such as "10 {next(iter(units))}"'
    found = _WRITTEN.match(text) if isinstance(text, str) else None
    if not isinstance(text, str) or found is None:
        raise ValueError(f"{text!r} is not {example}")
    number, unit = told_number(float(found[1])), found[2]
    if number is None:
        raise ValueError(f"{text[:40]!r}: no {dimension} is so large")
    if unit not in units:
        raise ValueError(f"{text!r} is not {example}; the unit may be {', '.join(units)}")
    factor, offset = units[unit]
    return round(number * factor + offset, 6)
