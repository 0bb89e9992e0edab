"""A read-out of the car as data: one documented shape, units in key names, unknown is null."""

from typing import Any

from msgspec import to_builtins

from coach import __version__
from coach.car.ecus import doubt as doubt_of
from coach.car.readout import EcuReadout, units_of
from coach.inspection.next_step import steps_of
from coach.j1979.vehicle_info import PAIR_MONITORS
from coach.words.margins import result_data
from coach.words.names import MONITOR_NAMES
from coach.words.next_step import steps_data
from coach.words.readout import ReadOut, masked
from coach.words.review_data import rounded

SCHEMA, SCHEMA_VERSION = "coach.check", 2
NOW = (
    *("coolant_c", "intake_c", "ambient_c", "fuel_level_pct", "module_v", "baro_kpa", "rpm", "speed_kmh", "run_time_s"),
    *("warm_ups_since_clear", "distance_since_clear_km", "distance_with_mil_km", "run_time_since_clear_min"),
    *("run_time_with_mil_min", "odometer_km", "fuel_type", "obd_standard"),
)


def readout_document(found: ReadOut, show_vin: bool) -> dict[str, Any]:
    """The read-out as data."""
    car = found.car
    states, cycle = car.monitor_states(), car.cycle_states()
    document: dict[str, Any] = rounded(
        {
            "schema": SCHEMA,
            "version": SCHEMA_VERSION,
            "program": __version__,
            "source": found.source,
            "began": found.began,
            "adapter": found.adapter,
            "protocol": found.protocol,
            "engine_running": car.cycle.running,
            "verdict": car.conclude().standing,
            "concluded": to_builtins(car.conclude()),
            "monitors": {monitor: states[monitor] for monitor in MONITOR_NAMES},
            "monitors_this_cycle": {monitor: cycle[monitor] for monitor in MONITOR_NAMES},
            "mil_on": car.mil_on(),
            "codes": {
                kind: {
                    "certain": None if (certain := car.codes(kind)) is None else list(certain),
                    "said": list(car.conclude().codes[kind].said),
                }
                for kind in ("stored", "pending", "permanent")
            },
            "values": {signal: car.values.get(signal) for signal in NOW},
            "adapter_v": found.voltage_v,
            "control_units": {ecu.address: _unit(found, ecu, show_vin) for ecu in units_of(found.car)},
            "next_steps": steps_data(steps_of(car, found.repaired)),
            "unusable_answers": dict(sorted(car.unusable.items())),
        }
    )
    return document


def _unit(found: ReadOut, ecu: EcuReadout, show_vin: bool) -> dict[str, Any]:
    said = found.car.ecus[ecu.address]
    readiness = said.readiness
    supported = sorted(readiness.supported) if readiness is not None else None
    return {
        "name": ecu.name,
        "vin": ecu.vin if show_vin or ecu.vin is None else masked(ecu.vin),
        "calibration_ids": list(ecu.calibration_ids),
        "calibration_verification_numbers": list(ecu.cvns),
        "mil_on": readiness.mil_on if readiness is not None else None,
        "code_count": readiness.code_count if readiness is not None else None,
        "supported": supported,
        "complete": sorted(readiness.complete) if readiness is not None else None,
        "doubt": doubt_of(said),
        "codes": {
            kind: None if (codes := said.codes.get(kind)) is None or codes.codes is None else list(codes.codes)
            for kind in ("stored", "pending", "permanent")
        },
        "freeze_frame": {"code": ecu.frozen_by, "values": dict(ecu.frozen)},
        "in_use": in_use_data(ecu),
        "test_results": [{**to_builtins(test), **result_data(test)} for test in ecu.tests],
        "problems": list(ecu.problems),
    }


def in_use_data(ecu: EcuReadout) -> dict[str, Any] | None:
    """In-use performance counters as data; none where they were not told."""
    if ecu.in_use is None:
        return None
    return {
        "ignition_cycles": ecu.in_use.ignition_cycles,
        "general_denominator": ecu.in_use.general_denominator,
        "counters": [
            {"name": name, "monitor": PAIR_MONITORS[name], "numerator": ran, "denominator": could}
            for name, (ran, could) in ecu.in_use.pairs.items()
        ],
    }
