"""What one ECU said besides readiness and codes, decoded: identity, calibrations, counters, tests, frozen values.

What cannot be read is kept as a problem in words and never as a value.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TypeVar

from coach.car.ecus import Ecu, is_result
from coach.car.state import CarState
from coach.j1979.errors import J1979Error
from coach.j1979.freeze_frame import decode_frozen
from coach.j1979.test_results import TestResult, decode_test_results
from coach.j1979.vehicle_info import (
    InUse,
    decode_calibration_ids,
    decode_cvns,
    decode_ecu_name,
    decode_in_use,
    decode_vin,
)

Found = TypeVar("Found")


@dataclass(slots=True)
class EcuReadout:
    """One ECU's own data; none or empty where it was not asked, not offered, or could not be read (see `problems`).

    `tests_t`: when the results of each test id were read, in seconds of the recording.
    """

    address: str
    name: str | None = None
    vin: str | None = None
    calibration_ids: tuple[str, ...] = ()
    cvns: tuple[str, ...] = ()
    in_use: InUse | None = None
    tests: tuple[TestResult, ...] = ()
    tests_t: dict[int, float] = field(default_factory=dict)
    frozen_by: str | None = None
    frozen: dict[str, float] = field(default_factory=dict)
    problems: list[str] = field(default_factory=list)


def read_ecu(ecu: Ecu, can: bool) -> EcuReadout:
    """Decode everything kept of this ECU."""
    out = EcuReadout(ecu.address)

    def item(key: str, decode: Callable[[tuple[bytes, ...]], Found]) -> Found | None:
        payloads = ecu.kept.get(key)
        if payloads is None:
            return None
        try:
            return decode(payloads)
        except J1979Error as why:
            out.problems.append(f"{key}: {why}")
            return None

    out.vin = item("09 02", lambda said: decode_vin(said, can))
    out.calibration_ids = item("09 04", lambda said: decode_calibration_ids(said, can)) or ()
    out.cvns = item("09 06", lambda said: decode_cvns(said, can)) or ()
    out.name = item("09 0A", lambda said: decode_ecu_name(said, can))
    out.in_use = item("09 08", lambda said: decode_in_use(said, False, can))
    out.in_use = out.in_use or item("09 0B", lambda said: decode_in_use(said, True, can))
    for key in sorted(ecu.kept):
        if is_result(key):
            out.tests_t[int(key[3:], 16)] = ecu.kept_t.get(key, 0.0)
            out.tests += item(key, lambda said: decode_test_results(said[-1], can)) or ()
        elif key.startswith("02 ") and int(key[3:], 16) % 0x20:
            cause, values = item(key, lambda said: decode_frozen(said[-1])) or (None, ())
            out.frozen_by = out.frozen_by or cause
            out.frozen.update(values)
    return out


def units_of(car: CarState) -> tuple[EcuReadout, ...]:
    """Every control unit's own data, in order of their addresses."""
    return tuple(read_ecu(ecu, car.can is not False) for _, ecu in sorted(car.ecus.items()))


def vins_of(car: CarState) -> tuple[str, ...]:
    """Every VIN a control unit told, each once."""
    return tuple(dict.fromkeys(unit.vin for unit in units_of(car) if unit.vin is not None))
