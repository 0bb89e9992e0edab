"""A condition of a phase in words: what was seen, and what it needs."""

from collections.abc import Callable

from coach.words.names import GATE_KINDS, GATE_NAMES, NOT_SO
from coach.words.units import Units, span

GATE_FORMS: dict[str, Callable[[Units, float], str]] = {
    "temperature": lambda units, value: units.temperature(value),
    "degrees": lambda units, value: units.degrees(value),
    "percent": lambda _units, value: f"{value:.0f} %",
    "span": lambda _units, value: span(value),
    "pressure": lambda _units, value: f"{value:.0f} kPa",
    "voltage": lambda _units, value: f"{value:.1f} V",
    "yes_no": lambda _units, value: "yes" if value else "no",
}


def gate_words(gate: str, value: float | None, low: float | None, high: float | None, units: Units) -> str:
    """A condition that does not hold: what was seen and what it needs."""
    if GATE_KINDS.get(gate) == "yes_no":
        return NOT_SO.get(gate, f"{GATE_NAMES.get(gate, gate)}: not so")
    return f"{gate_seen(gate, value, units)}, it needs {limits_words(gate, low, high, units)}"


def gate_seen(gate: str, value: float | None, units: Units) -> str:
    """A condition and the value seen."""
    form = GATE_FORMS[GATE_KINDS.get(gate, "percent")]
    return f"{GATE_NAMES.get(gate, gate)} {'unknown' if value is None else form(units, value)}"


def limits_words(gate: str, low: float | None, high: float | None, units: Units) -> str:
    """What a condition asks for."""
    form = GATE_FORMS[GATE_KINDS.get(gate, "percent")]
    if low is not None and high is not None:
        return f"{form(units, low)} to {form(units, high)}"
    if low is not None:
        return f"at least {form(units, low)}"
    return f"at most {form(units, high)}" if high is not None else "unknown"
