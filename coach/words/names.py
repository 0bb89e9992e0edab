"""Names of monitors, conditions and reasons, one table each: every id of the core that a reader meets."""

MONITOR_NAMES = {
    "misfire": "misfire",
    "fuel_system": "fuel system",
    "comprehensive_component": "components",
    "catalyst": "catalyst",
    "heated_catalyst": "heated catalyst",
    "evaporative_system": "evaporative system",
    "secondary_air": "secondary air",
    "ac_or_gpf": "A/C refrigerant or particulate filter (depends on the vehicle's age)",
    "oxygen_sensor": "oxygen sensor",
    "oxygen_sensor_heater": "oxygen sensor heater",
    "egr_vvt": "EGR or VVT",
    "nmhc_catalyst": "NMHC catalyst",
    "nox_aftertreatment": "NOx aftertreatment",
    "boost_pressure": "boost pressure",
    "exhaust_gas_sensor": "exhaust gas sensor",
    "particulate_filter": "particulate filter",
}

GATE_NAMES = {
    "soak_min_s": "time parked with the engine off",
    "coolant_start_c": "coolant at the start",
    "coolant_over_intake_max_c": "coolant above intake air at the start",
    "intake_over_coolant_max_c": "intake air above coolant at the start",
    "fuel_pct": "fuel level",
    "ambient_c": "outside air",
    "ambient_min_c": "outside air",
    "ambient_change_max_c": "change of the outside air since the start",
    "coolant_min_c": "coolant",
    "run_time_min_s": "time since the engine start",
    "run_time_max_s": "time since the engine start",
    "closed_loop": "closed-loop fuel control",
    "intake_min_c": "intake air",
    "refuelled_max_pct": "fuel added since the last shut-off",
    "throttle_open_before_s": "driving with the accelerator pressed before",
    "engine_on": "engine running",
    "not_driven_off": "standing since the engine start",
    "loads_off": "A/C, lights and heaters off",
    "pto_off": "power take-off off",
    "def_ok": "diesel exhaust fluid in order",
    "driven_min_s": "driving before parking",
    "purged": "purge of the canister while driving",
    "baro_min_kpa": "air pressure (altitude)",
    "voltage_min_v": "voltage with the engine running",
}

GATE_KINDS = {
    "soak_min_s": "span",
    "coolant_start_c": "temperature",
    "coolant_over_intake_max_c": "degrees",
    "intake_over_coolant_max_c": "degrees",
    "fuel_pct": "percent",
    "ambient_c": "temperature",
    "ambient_min_c": "temperature",
    "ambient_change_max_c": "degrees",
    "coolant_min_c": "temperature",
    "run_time_min_s": "span",
    "run_time_max_s": "span",
    "closed_loop": "yes_no",
    "intake_min_c": "temperature",
    "refuelled_max_pct": "percent",
    "throttle_open_before_s": "span",
    "engine_on": "yes_no",
    "not_driven_off": "yes_no",
    "loads_off": "yes_no",
    "pto_off": "yes_no",
    "def_ok": "yes_no",
    "driven_min_s": "span",
    "purged": "span",
    "baro_min_kpa": "pressure",
    "voltage_min_v": "voltage",
}

_KIND_UNITS = {"temperature": "°C", "degrees": "°C", "percent": "%", "span": "s", "pressure": "kPa", "voltage": "V"}
GATE_UNITS = {gate: _KIND_UNITS.get(kind) for gate, kind in GATE_KINDS.items()}
"""The unit of each condition's value and limits; none for a yes or no."""

NOT_SO = {
    "not_driven_off": "the car has driven off since the engine start",
    "closed_loop": "the fuel control is not in closed loop",
    "pto_off": "the power take-off is on",
}
"""A condition of the yes-or-no kind that does not hold, in words."""

REPEAT_NAMES = {
    "deceleration": "rolls",
    "load_step": "accelerations",
    "steady": "steady stretches",
    "idle_stop": "stops at idle",
}

REASON_NAMES = {
    "below_band": "too slow",
    "above_band": "too fast",
    "foot_moved": "an uneven foot",
    "engine_stopped": "the engine off",
    "rpm_unknown": "no engine speed",
    "rpm_low": "engine speed too low",
    "rpm_high": "engine speed too high",
    "car_moves": "the car moving",
    "already_driven_off": "already driven off",
    "accelerator_pressed": "a touch of the accelerator",
    "data_gap": "gaps in the data",
    **{f"gate_{gate}": name for gate, name in GATE_NAMES.items()},
}

PART_NAMES = {
    "engine_on": "whether the engine runs",
    "rpm_band": "the engine speed",
    "even_foot": "an even foot",
    "accelerator_released": "the accelerator",
    "accelerator_firm": "how firm the foot was",
    "in_drive": "the part in Drive",
    "steady": "the steady part",
    "regeneration": "the part inside a regeneration",
    "torque": "the part under load",
    "exhaust_temperature": "the part with a hot catalyst inlet",
    "scr_temperature": "the part with a warm SCR catalyst",
}

WITNESS_NAMES = {
    "accelerator_closed": "accelerator released",
    "throttle_steady": "an even foot",
    "coolant": "coolant",
    "intake": "intake air",
    "ambient": "outside air",
    "fuel_level": "fuel level",
    "voltage": "voltage",
    "altitude": "altitude",
    "run_time": "time since the engine start",
    "closed_loop": "closed-loop fuel control",
    "purge": "purge",
    "pto": "power take-off",
    "in_drive": "transmission in Drive",
    "torque": "engine torque",
    "exhaust_temperature": "exhaust temperature",
    "scr_temperature": "SCR catalyst temperature",
    "regeneration": "regeneration",
    "soak": "cold soak",
    "refuelled": "fuel added",
    "brake": "brake",
    "loads_off": "A/C, lights and heaters",
    "hard_turn": "hard turns",
    "hill": "hills",
    "cruise_control": "speed holder",
    "def_ok": "diesel exhaust fluid",
}

SIGNAL_NAMES = {
    "ambient_c": "outside air",
    "baro_kpa": "air pressure",
    "rpm": "engine speed",
    "accelerator": "the accelerator at rest",
}

NOT_TODAY = {
    "gate": "a condition does not hold",
    "skipped": "set aside: not on this road",
    "above_speed_limit": "above the speed limit you set",
    "code": "a code of it came up on this drive: the repair did not hold, or more is wrong; repair first",
    "given_up": "asked for long enough on this drive without coming about: leave it for another day",
    "key_off": "driven; this car may show it only after the key was off and on: park, turn it off, on, and read again",
    "ran": "done: the car says it ran on this drive, and shows it after the key was off",
    "off_this_cycle": "the car has switched its test off for this drive (PID 41); the next cold start decides anew",
    "stays_cold": "the engine stays too cold for it: have the thermostat or the coolant sensor seen to first",
    "spent": "driven as often as makes sense today, and the car has not confirmed: leave it for another day",
    "no_known_phase": "no published driving pattern found; ordinary driving may complete it",
    "no_order": "its time since the engine start runs out before it could be driven",
}

PAIR_NAMES = {
    "CAT1": "catalyst, bank 1",
    "CAT2": "catalyst, bank 2",
    "O2S1": "oxygen sensor, bank 1",
    "O2S2": "oxygen sensor, bank 2",
    "EGR": "EGR or VVT",
    "AIR": "secondary air",
    "EVAP": "evaporative system",
    "SO2S1": "rear oxygen sensor, bank 1",
    "SO2S2": "rear oxygen sensor, bank 2",
    "HCCAT": "NMHC catalyst",
    "NCAT": "NOx catalyst",
    "NADS": "NOx adsorber",
    "PM": "particulate filter",
    "EGS": "exhaust gas sensor",
    "BP": "boost pressure",
    "FUEL": "fuel system",
}
"""In-use performance counters (service 09, 08 and 0B) by the standard's short names."""
