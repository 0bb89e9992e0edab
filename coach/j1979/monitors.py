"""The one list of monitor ids, and where each stands in the bytes of PID 01 and PID 41."""

from difflib import get_close_matches

from coach.j1979.errors import UnknownItem

MONITORS = (
    "misfire",
    "fuel_system",
    "comprehensive_component",
    "catalyst",
    "heated_catalyst",
    "evaporative_system",
    "secondary_air",
    "ac_or_gpf",
    "oxygen_sensor",
    "oxygen_sensor_heater",
    "egr_vvt",
    "nmhc_catalyst",
    "nox_aftertreatment",
    "boost_pressure",
    "exhaust_gas_sensor",
    "particulate_filter",
)

CONTINUOUS = ("misfire", "fuel_system", "comprehensive_component")
"""Bits 0, 1 and 2 of byte B in this order. On gasoline engines they always read complete: 40 CFR 86.010-18(k)(4)(i)."""

SPARK = {
    0: "catalyst",
    1: "heated_catalyst",
    2: "evaporative_system",
    3: "secondary_air",
    4: "ac_or_gpf",
    5: "oxygen_sensor",
    6: "oxygen_sensor_heater",
    7: "egr_vvt",
}
"""Bit of bytes C and D with spark ignition. Order: python-OBD `codes.py` and the OBDb signal table agree.

Bit 4 is the A/C refrigerant in older editions and the gasoline particulate filter since ISO 15031-5:2015 (second hand).
"""

COMPRESSION = {
    0: "nmhc_catalyst",
    1: "nox_aftertreatment",
    3: "boost_pressure",
    5: "exhaust_gas_sensor",
    6: "particulate_filter",
    7: "egr_vvt",
}
"""The same with compression ignition; bits 2 and 4 are reserved."""


def check_monitor(monitor: str) -> str:
    """The id itself. UnknownItem, with the nearest known one, when it is not in the one list."""
    if monitor in MONITORS:
        return monitor
    near = get_close_matches(monitor, MONITORS, n=1, cutoff=0.5)
    hint = f"; the nearest is {near[0]}" if near else f"; known: {', '.join(MONITORS)}"
    raise UnknownItem(f"no monitor {monitor!r}{hint}")
