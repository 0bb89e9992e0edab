"""What a simulated car is made of: masses, gears, engine, heat, tank. Numbers only, no behaviour.

All figures are our own inventions of plausible size for the class of car (common engineering values, from memory).
"""

from dataclasses import dataclass
from typing import Literal

Fuel = Literal["spark", "compression"]


@dataclass(frozen=True, slots=True)
class BodySpec:
    """The physical data of one car."""

    fuel: Fuel
    mass_kg: float
    drag_area_m2: float
    """Drag coefficient times frontal area."""
    rolling: float
    """Rolling resistance per weight."""
    kmh_per_1000rpm: tuple[float, ...]
    """Road speed at 1000 rpm in each gear, lowest first."""
    displacement_l: float
    torque_nm: float
    """Highest torque."""
    torque_peak_rpm: float
    idle_rpm: float
    """Warm idle."""
    friction_bar: float
    """Mean effective pressure lost inside the warm engine."""
    efficiency: float
    """Share of the fuel's energy that reaches the pistons, 0-1."""
    coolant_kj_per_k: float
    """Heat to warm engine and coolant by one degree."""
    thermostat_c: float
    """Where the thermostat begins to open."""
    tank_l: float
    throttle_rest_pct: float
    """What PID 11 shows with the foot off: no throttle rests at 0 %."""
    pedal_d_rest_pct: float = 14.5
    pedal_e_rest_pct: float = 29.0
    electronic_throttle: bool = True
    wheel_power_kw: float = 0.0
    """Hybrid only: highest power at the wheels, engine and motor together."""
    engine_power_kw: float = 0.0
    """Hybrid only: highest power of the engine."""
    start_stop: bool = False
    battery_kwh: float = 1.3
    """Hybrid only: the drive battery."""
    electric_kw: float = 11.5
    """Hybrid only: the engine starts for more than this at the wheels."""
    electric_kmh: float = 67.0
    """Hybrid only: the engine starts above this speed."""
    plug_in: bool = False
    """It is charged at home and drives on its battery first, cold engine and all."""
    air_pump: bool = False
    exhaust_fluid: bool = False
    pto_kw: float = 0.0
    """What a power take-off draws when it is engaged; 0: none fitted."""
