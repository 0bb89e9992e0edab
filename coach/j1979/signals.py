"""The one list of signals: physical values that PIDs or recordings bring, each with its unit in its name and its range.

The range is what the PID can express, not what is plausible; imports refuse what lies outside.
"""

from msgspec import Struct


class Signal(Struct, frozen=True):
    """One signal: id, what it is, unit, lowest and highest value."""

    id: str
    name: str
    unit: str
    low: float
    high: float


_PCT = ("%", 0.0, 100.0)
_TRIM = ("%", -100.0, 99.22)
_TEMP = ("°C", -40.0, 215.0)
_HOT = ("°C", -40.0, 6513.5)
_VOLT = ("V", 0.0, 1.275)
_FLAG = ("", 0.0, 1.0)

_ROWS: tuple[tuple[str, str, tuple[str, float, float]], ...] = (
    ("speed_kmh", "vehicle speed", ("km/h", 0, 255)),
    ("rpm", "engine speed", ("rpm", 0, 16383.75)),
    ("coolant_c", "engine coolant temperature", _TEMP),
    ("coolant_2_c", "engine coolant temperature, sensor 2", _TEMP),
    ("intake_c", "intake air temperature", _TEMP),
    ("ambient_c", "ambient air temperature", _TEMP),
    ("oil_c", "engine oil temperature", _TEMP),
    ("load_pct", "calculated load", _PCT),
    ("absolute_load_pct", "absolute load", ("%", 0, 25700)),
    ("map_kpa", "intake manifold absolute pressure", ("kPa", 0, 255)),
    ("baro_kpa", "barometric pressure", ("kPa", 0, 255)),
    ("maf_gps", "mass air flow", ("g/s", 0, 655.35)),
    ("throttle_pct", "absolute throttle position", _PCT),
    ("relative_throttle_pct", "relative throttle position", _PCT),
    ("pedal_d_pct", "accelerator pedal position D", _PCT),
    ("pedal_e_pct", "accelerator pedal position E", _PCT),
    ("pedal_f_pct", "accelerator pedal position F", _PCT),
    ("relative_pedal_pct", "relative accelerator pedal position", _PCT),
    ("fuel_level_pct", "fuel tank level", _PCT),
    ("module_v", "control module voltage", ("V", 0, 65.535)),
    ("adapter_v", "voltage at the connector, the adapter's own reading", ("V", 0, 99.9)),
    ("run_time_s", "time since engine start", ("s", 0, 65535)),
    ("warm_ups_since_clear", "warm-up cycles since the clear", ("", 0, 255)),
    ("distance_since_clear_km", "distance since the clear", ("km", 0, 65535)),
    ("distance_with_mil_km", "distance with the MIL on", ("km", 0, 65535)),
    ("run_time_since_clear_min", "engine run time since the clear", ("min", 0, 65535)),
    ("run_time_with_mil_min", "engine run time with the MIL on", ("min", 0, 65535)),
    ("odometer_km", "odometer", ("km", 0, 429496729.5)),
    ("catalyst_b1s1_c", "catalyst temperature, bank 1 sensor 1", _HOT),
    ("catalyst_b2s1_c", "catalyst temperature, bank 2 sensor 1", _HOT),
    ("catalyst_b1s2_c", "catalyst temperature, bank 1 sensor 2", _HOT),
    ("catalyst_b2s2_c", "catalyst temperature, bank 2 sensor 2", _HOT),
    ("short_trim_b1_pct", "short term fuel trim, bank 1", _TRIM),
    ("long_trim_b1_pct", "long term fuel trim, bank 1", _TRIM),
    ("short_trim_b2_pct", "short term fuel trim, bank 2", _TRIM),
    ("long_trim_b2_pct", "long term fuel trim, bank 2", _TRIM),
    ("short_trim_b3_pct", "short term fuel trim, bank 3", _TRIM),
    ("long_trim_b3_pct", "long term fuel trim, bank 3", _TRIM),
    ("short_trim_b4_pct", "short term fuel trim, bank 4", _TRIM),
    ("long_trim_b4_pct", "long term fuel trim, bank 4", _TRIM),
    *((f"o2_b{bank}s{sensor}_v", f"oxygen sensor voltage, bank {bank} sensor {sensor}", _VOLT)
      for bank in (1, 2) for sensor in (1, 2, 3, 4)),
    *((f"o2_b{bank}s{sensor}_trim_pct", f"short term trim of oxygen sensor, bank {bank} sensor {sensor}", _TRIM)
      for bank in (1, 2) for sensor in (1, 2, 3, 4)),
    ("fuel_system_1", "fuel system 1", ("", 0, 255)),
    ("fuel_system_2", "fuel system 2", ("", 0, 255)),
    ("fuel_type", "fuel type, code of PID 51", ("", 0, 255)),
    ("obd_standard", "OBD requirements designed to, code of PID 1C", ("", 0, 255)),
    ("commanded_secondary_air", "commanded secondary air, flags of PID 12", ("", 0, 255)),
    ("pto_active", "power take-off active", _FLAG),
    ("in_drive", "automatic transmission in drive", _FLAG),
    ("in_gear", "manual transmission in gear", _FLAG),
    ("purge_pct", "commanded evaporative purge", _PCT),
    ("demanded_torque_pct", "demanded engine torque", ("%", -125, 130)),
    ("actual_torque_pct", "actual engine torque", ("%", -125, 130)),
    ("reference_torque_nm", "engine reference torque", ("Nm", 0, 65535)),
    *((f"exhaust_b{bank}_{sensor}_c", f"exhaust gas temperature, bank {bank} sensor {sensor}", _HOT)
      for bank in (1, 2) for sensor in (1, 2, 3, 4)),
    ("pf_inlet_b1_c", "particulate filter inlet temperature, bank 1", _HOT),
    ("pf_outlet_b1_c", "particulate filter outlet temperature, bank 1", _HOT),
    ("pf_inlet_b2_c", "particulate filter inlet temperature, bank 2", _HOT),
    ("pf_outlet_b2_c", "particulate filter outlet temperature, bank 2", _HOT),
    ("regeneration_active", "particulate filter regeneration reported active", _FLAG),
    ("regeneration_trigger_pct", "particulate filter regeneration trigger, reported", _PCT),
)  # fmt: skip

SIGNALS: dict[str, Signal] = {
    name: Signal(name, words, unit, float(low), float(high)) for name, words, (unit, low, high) in _ROWS
}
"""Every signal by its id."""
