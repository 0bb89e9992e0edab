"""Worked examples from open sources, each with its source: nothing here was invented for the test.

SCAPY = Scapy's OBD layer tests `obd.uts` (samples of ISO 15031-5); POBD = python-OBD `tests/test_decoders.py`,
`test_uas.py`. DERIVED = arithmetic on a formula found in those.
"""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.j1979.dtc import decode_codes, decode_dtc, encode_dtc
from coach.j1979.errors import J1979Error, WrongEcho, WrongLength
from coach.j1979.monitors import COMPRESSION, CONTINUOUS, MONITORS, SPARK
from coach.j1979.pids import LENGTHS, PIDS, SINGLE, split_current_data
from coach.j1979.readiness import decode_cycle_status, decode_readiness
from coach.j1979.services import Negative, Positive, parse_reply
from coach.j1979.signals import SIGNALS
from coach.j1979.supported import decode_supported
from coach.j1979.vehicle_info import decode_cvns, decode_ecu_name, decode_in_use, decode_vin

READINESS = [
    # bytes, MIL, codes, ignition, not complete, a supported and complete one, source
    ("8333FF63", True, 3, "spark", {"misfire", "fuel_system", "catalyst", "heated_catalyst", "oxygen_sensor",
                                   "oxygen_sensor_heater"}, "egr_vvt"),  # SCAPY "PID 05,01,15,0C,03"
    ("8307FF00", True, 3, "spark", set(), "catalyst"),  # POBD test_status
    ("00790303", False, 0, "compression", {"misfire", "nmhc_catalyst", "nox_aftertreatment"}, None),  # POBD test_status
    ("00076504", False, 0, "spark", {"evaporative_system"}, "catalyst"),  # DERIVED
    ("000FEB00", False, 0, "compression", set(), "particulate_filter"),  # DERIVED
]  # fmt: skip


@pytest.mark.parametrize(("data", "mil", "codes", "ignition", "incomplete", "complete"), READINESS)
def test_readiness_of_the_published_samples(
    data: str, mil: bool, codes: int, ignition: str, incomplete: set[str], complete: str | None
) -> None:
    found = decode_readiness(bytes.fromhex(data))
    assert (found.mil_on, found.code_count, found.ignition) == (mil, codes, ignition)
    assert found.incomplete == incomplete
    assert complete is None or complete in found.complete


@pytest.mark.parametrize("length", [0, 1, 2, 3, 5, 6])
def test_readiness_of_any_other_length_is_an_error_never_all_complete(length: int) -> None:
    with pytest.raises(WrongLength):
        decode_readiness(b"\x00" * length)
    with pytest.raises(WrongLength):
        decode_cycle_status(b"\x00" * length)


def test_this_cycles_status_has_three_states() -> None:
    # 40 CFR 86.010-18(k)(4)(ii)(A)(3): disabled, complete, not complete since the last shut-off
    status = decode_cycle_status(bytes.fromhex("00070504"))
    supported = frozenset({"catalyst", "evaporative_system", "oxygen_sensor"})
    assert status.state("catalyst", supported) == "complete"
    assert status.state("evaporative_system", supported) == "to_run"
    assert status.state("oxygen_sensor", supported) == "disabled"
    assert status.state("egr_vvt", supported) is None


VALUES = [
    ("41056E", "coolant_c", 70.0),  # SCAPY
    ("410C0A6B", "rpm", 666.75),  # SCAPY
    ("410CFFFF", "rpm", 16383.75),  # POBD test_uas
    ("410500", "coolant_c", -40.0),  # POBD
    ("4105FF", "coolant_c", 215.0),  # POBD
    ("411100", "throttle_pct", 0.0),  # POBD percent
    ("4111FF", "throttle_pct", 100.0),  # POBD percent
    ("413C0000", "catalyst_b1s1_c", -40.0),  # POBD test_uas id 16
    ("413C0190", "catalyst_b1s1_c", 0.0),  # POBD test_uas id 16
    ("413CFFFF", "catalyst_b1s1_c", 6513.5),  # POBD test_uas id 16
    ("411F0E10", "run_time_s", 3600.0),  # POBD test_uas id 12
    ("4143FFFF", "absolute_load_pct", 25700.0),  # POBD
    ("41A60001E240", "odometer_km", 12345.6),  # DERIVED
    ("414236B0", "module_v", 14.0),  # DERIVED
]


@pytest.mark.parametrize(("payload", "signal", "value"), VALUES)
def test_values_of_the_published_samples(payload: str, signal: str, value: float) -> None:
    raw = bytes.fromhex(payload)
    length, name, read = SINGLE[raw[1]]
    assert (length, name) == (len(raw), signal)
    assert read(raw) == pytest.approx(value)
    assert PIDS[raw[1]].decode(raw[2:]) == ((signal, pytest.approx(value)),)


def test_fuel_trims_of_the_published_samples() -> None:
    # POBD: 00, 80, FF are -100, 0, 99.2 %; SCAPY: PID 15 A0 78 is 0.800 V, -6.25 %
    assert PIDS[0x06].decode(b"\x00") == (("short_trim_b1_pct", -100.0),)
    assert PIDS[0x06].decode(b"\x80") == (("short_trim_b1_pct", 0.0),)
    assert PIDS[0x06].decode(b"\xff")[0][1] == pytest.approx(99.2, abs=0.05)
    assert PIDS[0x15].decode(b"\xa0\x78") == (("o2_b1s2_v", 0.8), ("o2_b1s2_trim_pct", -6.25))


def test_supported_pids_of_the_published_sample() -> None:
    # SCAPY: BF BF A8 91 supports 01, 03-09, 0B-10, 11, 13, 15, 19, 1C, 20
    wanted = {1, *range(3, 10), *range(0x0B, 0x11), 0x11, 0x13, 0x15, 0x19, 0x1C, 0x20}
    assert decode_supported(0, bytes.fromhex("BFBFA891")) == wanted


CODES = [
    ("0143", "P0143"), ("0196", "P0196"), ("0234", "P0234"), ("02CD", "P02CD"), ("0357", "P0357"), ("0A24", "P0A24"),
    ("0104", "P0104"), ("4123", "C0123"), ("8003", "B0003"), ("1301", "P1301"), ("C100", "U0100"), ("242F", "P242F"),
    ("0133", "P0133"), ("0420", "P0420"),
]  # fmt: skip
"""SCAPY samples of services 03 and 07, POBD test_decoders, the rest DERIVED."""


@pytest.mark.parametrize(("raw", "code"), CODES)
def test_trouble_codes_both_ways(raw: str, code: str) -> None:
    first, second = bytes.fromhex(raw)
    assert decode_dtc(first, second) == code
    assert encode_dtc(code) == bytes.fromhex(raw)


def test_trouble_codes_on_can_need_their_count() -> None:
    assert decode_codes(bytes.fromhex("43020143 0196".replace(" ", "")), can=True) == ("P0143", "P0196")
    assert decode_codes(bytes.fromhex("4300"), can=True) == ()
    for broken in ("43", "4301", "430101", "4300AA", "43020143"):
        with pytest.raises(WrongLength):
            decode_codes(bytes.fromhex(broken), can=True)


def test_trouble_codes_before_can_start_right_behind_the_service() -> None:
    # standards appendix: 47 03 00 03 02 03 03 is P0300 P0302 P0303, where python-OBD reads it shifted by a byte
    assert decode_codes(bytes.fromhex("47030003020303"), can=False) == ("P0300", "P0302", "P0303")
    assert decode_codes(bytes.fromhex("43000000000000"), can=False) == ()
    with pytest.raises(WrongLength):
        decode_codes(bytes.fromhex("43"), can=False)


def test_a_negative_reply_is_never_data() -> None:
    assert parse_reply(bytes.fromhex("7F0122")) == Negative(1, 0x22, "conditions not correct, or wrong sequence")
    assert parse_reply(bytes.fromhex("410D37")) == Positive(1, b"\x0d\x37")
    with pytest.raises(WrongLength):
        parse_reply(bytes.fromhex("7F01"))


def test_five_pids_in_one_reply() -> None:
    # SCAPY test "PID 05,01,15,0C,03" (ISO 15031-5 sample message)
    reply = bytes.fromhex("41 05 6E 01 83 33 FF 63 15 A0 78 0C 0A 6B 03 02 00".replace(" ", ""))
    parts = dict(split_current_data(reply, (0x01, 0x03, 0x05, 0x0C, 0x15)))
    assert parts[0x01] == bytes.fromhex("8333FF63")
    assert PIDS[0x03].decode(parts[0x03]) == (("fuel_system_1", 2.0), ("fuel_system_2", 0.0))
    with pytest.raises(WrongEcho):
        split_current_data(reply, (0x01, 0x03, 0x05, 0x0C))
    with pytest.raises(WrongLength):
        split_current_data(reply[:-1], (0x01, 0x03, 0x05, 0x0C, 0x15))


def test_vehicle_information_of_the_published_samples() -> None:
    # POBD VIN sample; second hand (called ISO examples): CVNs and the in-use counters
    vin = b"WP0ZZZ99ZTS392124"
    assert decode_vin((b"\x49\x02\x01" + vin,), can=True) == vin.decode()
    assert decode_vin((b"\x49\x02\x01" + b"\0" * 3 + vin,), can=True) == vin.decode()
    assert decode_cvns((bytes.fromhex("4906021791BC8216E062BE"),), can=True) == ("1791BC82", "16E062BE")
    counters = bytes.fromhex("490810") + bytes.fromhex("04000D09033803B1") + bytes(24)
    found = decode_in_use((counters,), compression=False, can=True)
    assert (found.general_denominator, found.ignition_cycles, found.pairs["CAT1"]) == (1024, 3337, (824, 945))
    # SCAPY: ECU name
    name = (b"ECM\0-Engine Control").ljust(20, b"\0")
    assert decode_ecu_name((b"\x49\x0a\x01" + name,), can=True) == "ECM -Engine Control"


def test_every_id_in_the_tables_is_in_the_one_list() -> None:
    used = {*SPARK.values(), *COMPRESSION.values(), *CONTINUOUS}
    assert used == set(MONITORS)
    assert {signal for _, signal, _ in SINGLE.values()} <= set(SIGNALS)
    for pid, known in PIDS.items():
        for fill in (0x00, 0xFF):
            assert {name for name, _ in known.decode(bytes([fill]) * LENGTHS[pid])} <= set(SIGNALS)


@pytest.mark.parametrize("pid", sorted(PIDS))
def test_a_pid_of_any_other_length_is_an_error_never_a_value(pid: int) -> None:
    right = {LENGTHS[pid], 2} if pid in (6, 7, 8, 9) else {LENGTHS[pid]}
    for length in range(LENGTHS[pid] + 3):
        if length not in right:
            with pytest.raises(WrongLength):
                PIDS[pid].decode(bytes(length))


@settings(max_examples=300, deadline=None, derandomize=True)
@given(st.binary(max_size=24), st.booleans())
def test_arbitrary_bytes_raise_nothing_but_the_one_error_family(raw: bytes, can: bool) -> None:
    for decode in (
        decode_readiness,
        decode_cycle_status,
        parse_reply,
        split_current_data,
        lambda data: decode_codes(data, can),
        lambda data: decode_vin((data,), can),
        lambda data: decode_in_use((data,), True, can),
        lambda data: decode_ecu_name((data,), can),
    ):
        try:
            decode(raw)
        except J1979Error:
            continue
