"""From a trouble code to the monitor that watches for it: a table of codes, never a range by itself.

Titles: SAE J2012 as python-OBD's `codes.py` prints them (a test reads them again); which bank and sensor, as public
lists print them. Which monitor a fault belongs to: 40 CFR 86.010-18, the federal twin of California's light-duty text
for engines over 14,000 lb, read in the CFR of 2015; each row names its paragraph. There circuits of valves, pumps and
other sensors are comprehensive components and run all the time, heaters of exhaust gas sensors stand with the sensors;
that light-duty readiness has a bit of its own for the heaters is SAE J1979. What is from memory says so.
A code that is not here, and every maker's own (P1…, P30…), is "cannot say".
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Literal

from coach.j1979.dtc import is_code
from coach.j1979.monitors import CONTINUOUS
from coach.j1979.readiness import Ignition

Kind = Literal["run", "all_the_time"]
CFR = "40 CFR 86.010-18"
MEMORY = "from memory"


@dataclass(frozen=True, slots=True)
class Assignment:
    """Which monitor watches for a code. `system`: the monitor whose part it is. `source`: where that stands.

    `circuit`: the check runs all the time, as those of wiring do, or may: then a finished driving cycle is asked for
    too. `mids`: test ids of service 06 that measure just this part; empty: all of the monitor's. `chosen`: by the user,
    in no table.
    """

    code: str
    monitor: str
    system: str
    circuit: bool = False
    mids: frozenset[int] = frozenset()
    chosen: bool = False
    source: str = ""


@dataclass(frozen=True, slots=True)
class _Row:
    codes: str
    monitor: str
    where: str
    kind: Kind = "run"
    mid: int | None = None
    system: str | None = None


# Test ids 41-50: heater bank 1 sensor 1 to bank 4 sensor 4, four a bank; 01-10 the sensors alike (python-OBD
# `commands.py`). Each: the heater's current or resistance, the heater's wiring, the sensor's response, its wiring.
_BANKS = (
    ("P0053 P0135", "P0030-P0032", 0x41, "P0133", "P0130-P0132 P0134", 0x01),
    ("P0054 P0141", "P0036-P0038", 0x42, "P0139", "P0136-P0138 P0140", 0x02),
    ("P0055 P0147", "P0042-P0044", 0x43, "P0145", "P0142-P0144 P0146", 0x03),
    ("P0059 P0155", "P0050-P0052", 0x45, "P0153", "P0150-P0152 P0154", 0x05),
    ("P0060 P0161", "P0056-P0058", 0x46, "P0159", "P0156-P0158 P0160", 0x06),
    ("P0061 P0167", "P0062-P0064", 0x47, "P0165", "P0162-P0164 P0166", 0x07),
)
_HEATER, _SENSOR = "oxygen_sensor_heater", "oxygen_sensor"
_SENSORS = (
    *(_Row(row[0], _HEATER, "(h)(8)(iv)(A)", mid=row[2]) for row in _BANKS),
    *(_Row(row[1], _HEATER, "(h)(8)(iv)(B)", "all_the_time", row[2]) for row in _BANKS),
    *(_Row(row[3], _SENSOR, "(h)(8)(ii)(A)", mid=row[5]) for row in _BANKS),
    *(_Row(row[4], _SENSOR, "(h)(8)(ii)(B)", "all_the_time", row[5]) for row in _BANKS),
    _Row("P2195-P2198 P2270-P2277", _SENSOR, "(h)(8)(ii)(A)"),
    _Row("P2231-P2256 P2297-P2298", _SENSOR, "(h)(8)(ii)(B)", "all_the_time"),
)

_PART = "comprehensive_component"
_ROWS = (
    *_SENSORS,
    _Row("P0300-P0314 P0316 P0363", "misfire", "(h)(2)", "all_the_time"),
    _Row("P0170-P0175 P2177-P2180 P2187-P2194", "fuel_system", "(h)(1)(ii)(B)", "all_the_time"),
    _Row("P2096-P2099", "fuel_system", "(h)(1)(ii)(A)", "all_the_time"),
    _Row("P0420-P0422", "catalyst", "(h)(6)", mid=0x21),
    _Row("P0430-P0432", "catalyst", "(h)(6)", mid=0x22),
    _Row("P0423-P0424", "heated_catalyst", "13 CCR 1968.2(e)(2), its title only", mid=0x61),
    _Row("P0433-P0434", "heated_catalyst", "13 CCR 1968.2(e)(2), its title only", mid=0x62),
    _Row("P0425-P0428 P0435-P0438", _PART, "(i)(3)(i)", "all_the_time", system="catalyst"),
    _Row("P0429 P0439", _PART, MEMORY, "all_the_time", system="heated_catalyst"),
    _Row("P0440-P0442 P0455-P0457 P0497", "evaporative_system", "(h)(7)(ii)"),
    _Row("P0496 P2421-P2422", "evaporative_system", "(h)(7)(i), a valve's own fault or the system's", "all_the_time"),
    _Row(
        "P0443-P0454 P0458-P0459 P0465-P0469 P0498-P0499 P2400-P2412 P2418-P2420",
        _PART,
        "(h)(7)(i)",
        "all_the_time",
        system="evaporative_system",
    ),
    _Row("P0410-P0411 P0491-P0492 P2440-P2447", "secondary_air", "(h)(5)(i)"),
    _Row("P0412-P0419 P2257-P2260 P2430-P2439", _PART, "(h)(5)(i)", "all_the_time", system="secondary_air"),
    _Row("P0400-P0402 P2413", "egr_vvt", "(h)(3)(ii)"),
    _Row("P0403-P0409 P0486-P0490 P2141-P2145 P2425-P2427", _PART, "(h)(3)(i)", "all_the_time", system="egr_vvt"),
    _Row("P0011-P0012 P0014-P0015 P0021-P0022 P0024-P0025", "egr_vvt", "(h)(9)(ii)"),
    _Row("P0010 P0013 P0020 P0023 P2088-P2095", _PART, "(h)(9)(i)", "all_the_time", system="egr_vvt"),
    _Row("P2000-P2001", "nox_aftertreatment", "(g)(7)(ii)(A)"),
    _Row("P2002-P2003", "particulate_filter", "(g)(8)(ii)(A)"),
    _Row("P0234 P0299 P2262-P2263", "boost_pressure", "(g)(4)(ii)", "all_the_time"),
    _Row("P0235-P0249", _PART, "(g)(4)(i), (i)(3)(i)", "all_the_time", system="boost_pressure"),
    _Row("P2201 P2214", "exhaust_gas_sensor", "(g)(9)(iv)(A)"),
    _Row("P2200 P2202-P2213 P2215-P2225", "exhaust_gas_sensor", "(g)(9)(iv)(B), (vi)(B)", "all_the_time"),
    _Row("P0115-P0119 P0125-P0126 P0128", _PART, "(i)(1)", "all_the_time"),
    _Row("P0100-P0114 P0120-P0124", _PART, "(i)(3)(i)", "all_the_time"),
    _Row("P0127 P0129", _PART, MEMORY, "all_the_time"),
    _Row("P0320-P0344 P0385-P0389 P0505-P0507", _PART, "(i)(3)(i)", "all_the_time"),
    _Row("P0350-P0362 P0460-P0464 P0500-P0503 P0560-P0563", _PART, MEMORY, "all_the_time"),
)
"""Wiring and boost are watched all the time, so that a monitor's bit may be complete before the fault shows."""

_NEWER = {"P20EE": "nox_aftertreatment", "P20EF": "nox_aftertreatment"}
"""SCR NOx catalyst efficiency, banks 1 and 2: newer than the list above. The title of the first stands in the service
information of two makers, of 2011 and later; the second by its neighbour. Conversion efficiency: (g)(6)(ii)(A)."""

_DIESEL = {
    "catalyst": "nmhc_catalyst",
    "oxygen_sensor": "exhaust_gas_sensor",
    "oxygen_sensor_heater": "exhaust_gas_sensor",
}
"""With compression ignition the same bits of PID 01 name other monitors (SAE J1979); (g)(5), (g)(9)."""
_DIESEL_ONLY = frozenset({"nox_aftertreatment", "boost_pressure", "exhaust_gas_sensor"})


def _expand(codes: str) -> list[str]:
    out: list[str] = []
    for part in codes.split():
        first, _, last = part.partition("-")
        low, high = int(first[1:]), int((last or first)[1:])
        out += [f"P{number:04d}" for number in range(low, high + 1)]
    return out


def _row(code: str, row: _Row) -> Assignment:
    mids = frozenset() if row.mid is None else frozenset({row.mid})
    source = f"{CFR}{row.where}" if row.where.startswith("(") else row.where
    return Assignment(code, row.monitor, row.system or row.monitor, row.kind == "all_the_time", mids, source=source)


TABLE: dict[str, Assignment] = {
    **{code: _row(code, row) for row in _ROWS for code in _expand(row.codes)},
    **{code: Assignment(code, monitor, monitor, source=f"{CFR}(g)(6)(ii)(A)") for code, monitor in _NEWER.items()},
}
"""Every code with a known monitor, as a spark-ignition car reports it."""


def assignment(code: str, ignition: Ignition | None = None, chosen: str | None = None) -> Assignment | None:
    """The monitor of a code; none when nobody knows it. `chosen`: the monitor the user names for one in no table.

    What such a code stands for is not known, so it is judged as strictly as a fault in the wiring. With compression
    ignition catalyst and oxygen sensors become the diesel's own; boost, NOx and exhaust gas sensor have a monitor of
    their own only there.
    """
    if not is_code(code):
        return None
    known = TABLE.get(code.strip().upper())
    if known is not None and ignition == "compression":
        monitor = _DIESEL.get(known.monitor, known.monitor)
        return replace(known, monitor=monitor, system=_DIESEL.get(known.system, known.system))
    if known is not None and known.monitor not in _DIESEL_ONLY:
        return known
    return None if chosen is None else Assignment(code, chosen, chosen, circuit=True, chosen=True)


def monitors_of(codes: Iterable[str], ignition: Ignition | None, chosen: Mapping[str, str]) -> dict[str, str]:
    """The monitor of each of these codes that has one; `chosen`: those the user named."""
    known = {code: assignment(code, ignition, chosen.get(code)) for code in codes}
    return {code: found.monitor for code, found in known.items() if found is not None}


def code_monitors(ignition: Ignition) -> dict[str, str]:
    """Every code of the table and the monitor that watches for it, continuous ones left out."""
    known = {code: assignment(code, ignition) for code in TABLE}
    return {code: found.monitor for code, found in known.items() if found and found.monitor not in CONTINUOUS}
