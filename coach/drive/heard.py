"""Signals the core itself listens to, and what each does beside gates and trackers. Called by the core alone."""

from collections.abc import Callable
from typing import TYPE_CHECKING

from coach.car.happenings import Happening
from coach.drive.happenings import PhaseGivenUp
from coach.drive.patience import may_come_about

if TYPE_CHECKING:
    from coach.drive.core import Core


def _speed(core: "Core", kmh: float, out: list[Happening]) -> None:
    bridge_s = core.built.bridge_s
    core.facts.on_speed(core.now, core.car.accelerator.released(core.now), bridge_s)
    phase = core.planned[0] if core.planned else None
    asked = core.built.phases[phase] if phase is not None else None
    if asked is not None and not may_come_about(asked.regime, kmh, core.car.cycle.running):
        asked = None
    expected_s = asked.expected_s if asked is not None else 0.0
    if core.patience.asked(core.now, phase if asked is not None else None, expected_s, bridge_s) and phase:
        out.append(PhaseGivenUp(core.now, phase, round(core.patience.asked_s[phase], 3)))


def _coolant(core: "Core", coolant_c: float, out: list[Happening]) -> None:
    core.stop.coolant(core.now, coolant_c, out)


def _voltage(core: "Core", volts: float, out: list[Happening]) -> None:
    core.stop.voltage(core.car, volts, out)


def _purge(core: "Core", purge_pct: float, _out: list[Happening]) -> None:
    core.facts.on_purge(core.now, purge_pct, core.built.slow_bridge_s)


def _fuel(core: "Core", fuel_pct: float, _out: list[Happening]) -> None:
    core.facts.on_fuel(fuel_pct)


def _engine(core: "Core", _value: float, out: list[Happening]) -> None:
    """Engine speed or load: how near the freeze frame it is."""
    if core.clean.chosen:
        core.clean.on_load(core.car, core.wanted)
        core.judge_cycle(out)


SPECIAL: dict[str, Callable[["Core", float, list[Happening]], None]] = {
    "speed_kmh": _speed,
    "coolant_c": _coolant,
    "module_v": _voltage,
    "purge_pct": _purge,
    "fuel_level_pct": _fuel,
    "rpm": _engine,
    "load_pct": _engine,
}
"""By the signal's id."""
