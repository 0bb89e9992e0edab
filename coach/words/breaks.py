"""Why a hold was left, in a few words; with figures where they are known."""

from collections.abc import Callable

from coach.words.gates import GATE_FORMS
from coach.words.names import GATE_KINDS, GATE_NAMES, NOT_SO
from coach.words.units import Units, span


def break_words(reason: str, value: float | None, limit: float | None, units: Units) -> str:
    """Why a hold was left, in a few words; without figures where they are not known."""
    if reason.startswith("gate_"):
        return _gate_break(reason.removeprefix("gate_"), value, units)
    if (value is None or limit is None) and reason in WITHOUT_FIGURES:
        return WITHOUT_FIGURES[reason]
    words = BREAKS.get(reason)
    return words(units, value, limit) if words is not None else reason.replace("_", " ")


def _gate_break(gate: str, value: float | None, units: Units) -> str:
    name, kind = GATE_NAMES.get(gate, gate), GATE_KINDS.get(gate, "percent")
    if kind == "yes_no":
        return NOT_SO.get(gate, f"{name}: not so")
    return f"{name} {GATE_FORMS[kind](units, value)}" if value is not None else name


WITHOUT_FIGURES = {
    "below_band": "too slow",
    "above_band": "too fast",
    "foot_moved": "the foot moved",
    "too_firm": "the accelerator was pressed too far",
    "too_gentle": "the accelerator was pressed too little",
    "rpm_low": "the engine speed was too low",
    "rpm_high": "the engine speed was too high",
    "too_short": "it was too short",
    "left_speed": "it left the speed of the cruise",
    "engine_drives": "the engine drove the car",
    "speed_held": "the speed was held",
}
"""Reasons that are told by figures, where the happening has none."""
BREAKS: dict[str, Callable[[Units, float | None, float | None], str]] = {
    "below_band": lambda units, value, limit: f"{units.speed(value)}, below {units.speed(limit)}",
    "above_band": lambda units, value, limit: f"{units.speed(value)}, above {units.speed(limit)}",
    "foot_moved": lambda _units, value, limit: (
        f"the foot moved by {abs(value or 0.0):.1f} points, up to {limit:.0f} is even"
    ),
    "engine_drives": lambda _units, value, limit: (
        f"the engine drove the car (load or manifold pressure {value:.0f}, up to {limit:.0f} rolls)"
    ),
    "speed_held": lambda units, value, _limit: f"the speed was held at {units.speed(value)}",
    "foot_unknown": lambda _units, _value, _limit: "nothing came in about the accelerator",
    "codes_cleared": lambda _units, _value, _limit: "the memory was cleared",
    "too_firm": lambda _units, value, limit: f"the accelerator reached {value:.0f} %, at most {limit:.0f} % is asked",
    "engine_stopped": lambda _units, _value, _limit: "the engine stopped",
    "rpm_unknown": lambda _units, _value, _limit: "no engine speed came in",
    "rpm_low": lambda _units, value, limit: f"{value:.0f} rpm, below {limit:.0f}",
    "rpm_high": lambda _units, value, limit: f"{value:.0f} rpm, above {limit:.0f}",
    "car_moves": lambda units, value, _limit: (
        f"the car moved, {units.speed(value)}" if value is not None else "the car moved"
    ),
    "already_driven_off": lambda _units, _value, _limit: "the car had already driven off",
    "accelerator_pressed": lambda units, value, _limit: (
        f"a touch of the accelerator at {units.speed(value)}" if value is not None else "the accelerator was pressed"
    ),
    "data_gap": lambda _units, _value, limit: (
        f"no speed for more than {span(limit)}" if limit is not None else "no speed came in"
    ),
    "braked": lambda _units, _value, _limit: "it slowed faster than rolling does: braked",
    "too_short": lambda _units, value, limit: f"{span(value)} long, it needs {span(limit)}",
    "gained_speed": lambda _units, _value, _limit: "the speed rose again",
    "too_gentle": lambda _units, value, limit: f"the accelerator reached {value:.0f} %, it needs {limit:.0f} %",
    "left_speed": lambda units, value, limit: f"{units.speed(value)}, the cruise was to be at {units.speed(limit)}",
    "new_driving_cycle": lambda _units, _value, _limit: "a new driving cycle began",
}
