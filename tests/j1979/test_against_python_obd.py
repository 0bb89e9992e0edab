"""Our decoding beside python-OBD 0.7.3's, a general library, over every byte value; each disagreement is listed.

The library pads short data and decodes the first ECU only; here it gets whole, single replies.
"""

import logging
import warnings
from types import SimpleNamespace
from typing import Any

import pytest

from coach.j1979.dtc import decode_dtc
from coach.j1979.monitors import COMPRESSION, CONTINUOUS, SPARK
from coach.j1979.pids import LENGTHS, PIDS
from coach.j1979.readiness import decode_readiness

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import obd
    from obd import decoders

logging.getLogger("obd").handlers.clear()

ONE_BYTE = [pid for pid in sorted(PIDS) if LENGTHS[pid] == 1 and pid <= 0x5F]
TWO_BYTE = [pid for pid in sorted(PIDS) if LENGTHS[pid] == 2 and pid <= 0x5F]

# PIDs whose values the library words, flags or does not know, so that there is no number to compare
NOT_NUMBERS = {
    0x03: "the library words one flag and gives none for several; we keep the flags",
    0x12: "the library words the bits; it raises for bits above 3",
    0x1C: "the library words the code",
    0x1E: "the library takes the top bit of the byte for PTO, Scapy the lowest; we follow Scapy",
    0x51: "the library words the code",
}
# PIDs where the library reads only a part
PARTS = dict.fromkeys(range(20, 28), "the library gives the voltage only, we the trim too")


def library(pid: int, data: bytes) -> Any:
    command = obd.commands[1][pid]
    message = SimpleNamespace(data=bytearray([0x41, pid]) + bytearray(data))
    value = command.decode([message])
    return getattr(value, "magnitude", value)


def ours(pid: int, data: bytes) -> float:
    return PIDS[pid].decode(data)[0][1]


@pytest.mark.parametrize("pid", [pid for pid in ONE_BYTE if pid not in NOT_NUMBERS])
def test_every_value_of_a_one_byte_pid_agrees(pid: int) -> None:
    for byte in range(256):
        data = bytes([byte])
        assert ours(pid, data) == pytest.approx(library(pid, data), abs=1e-6)


@pytest.mark.parametrize("pid", [pid for pid in TWO_BYTE if pid not in NOT_NUMBERS])
def test_a_dense_sweep_of_a_two_byte_pid_agrees(pid: int) -> None:
    for word in (*range(0, 0x10000, 257), *range(0, 0x10000, 251), 0xFFFF):
        data = word.to_bytes(2, "big")
        assert ours(pid, data) == pytest.approx(library(pid, data), abs=1e-6)


def test_the_lists_of_what_cannot_be_compared_are_true() -> None:
    for pid in NOT_NUMBERS:
        said = library(pid, bytes([1] * LENGTHS[pid]))
        assert isinstance(said, bool) or not isinstance(said, int | float)
    assert (library(0x1E, b"\x01"), library(0x1E, b"\x80")) == (False, True)
    assert (ours(0x1E, b"\x01"), ours(0x1E, b"\x80")) == (1.0, 0.0)
    for pid in PARTS:
        assert len(PIDS[pid].decode(b"\x10\x10")) == 2


LIBRARY_NAMES = {
    "misfire": "MISFIRE_MONITORING",
    "fuel_system": "FUEL_SYSTEM_MONITORING",
    "comprehensive_component": "COMPONENT_MONITORING",
    "catalyst": "CATALYST_MONITORING",
    "heated_catalyst": "HEATED_CATALYST_MONITORING",
    "evaporative_system": "EVAPORATIVE_SYSTEM_MONITORING",
    "secondary_air": "SECONDARY_AIR_SYSTEM_MONITORING",
    "ac_or_gpf": None,  # the library keeps bit 4 under the name None
    "oxygen_sensor": "OXYGEN_SENSOR_MONITORING",
    "oxygen_sensor_heater": "OXYGEN_SENSOR_HEATER_MONITORING",
    "egr_vvt": "EGR_VVT_SYSTEM_MONITORING",
    "nmhc_catalyst": "NMHC_CATALYST_MONITORING",
    "nox_aftertreatment": "NOX_SCR_AFTERTREATMENT_MONITORING",
    "boost_pressure": "BOOST_PRESSURE_MONITORING",
    "exhaust_gas_sensor": "EXHAUST_GAS_SENSOR_MONITORING",
    "particulate_filter": "PM_FILTER_MONITORING",
}


@pytest.mark.parametrize("place", range(4))
def test_readiness_agrees_over_every_value_of_each_byte(place: int) -> None:
    for base in ("83070000", "0007FF00", "0077FFFF", "000FEB00"):
        for byte in range(256):
            data = bytearray.fromhex(base)
            data[place] = byte
            found = decode_readiness(bytes(data))
            said = decoders.status([SimpleNamespace(data=bytearray(b"\x41\x01") + data)])
            assert (found.mil_on, found.code_count) == (said.MIL, said.DTC_count)
            table = SPARK if found.ignition == "spark" else COMPRESSION
            for monitor in (*CONTINUOUS, *table.values()):
                name = LIBRARY_NAMES[monitor]
                if name is None:
                    continue
                test = getattr(said, name)
                assert test.available == (monitor in found.supported), (data.hex(), monitor)
                if test.available:
                    assert test.complete == (monitor in found.complete), (data.hex(), monitor)


def test_an_unsupported_monitor_is_complete_for_the_library_and_never_for_us() -> None:
    said = decoders.status([SimpleNamespace(data=bytearray.fromhex("410100000000"))])
    assert said.CATALYST_MONITORING.complete
    assert decode_readiness(bytes(4)).complete == frozenset()


def test_codes_agree_for_every_first_byte() -> None:
    for first in range(256):
        for second in (0x00, 0x01, 0x33, 0x9A, 0xFF):
            if (first, second) != (0, 0):
                # the library writes the hex digits A to F small
                assert decode_dtc(first, second) == decoders.parse_dtc((first, second))[0].upper()
