"""Service 06 and service 02 against the published samples.

Sources: the ISO sample record set stands in Scapy's `obd.uts` and python-OBD's tests, freeze frame bytes in Scapy's.
"""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.j1979.errors import J1979Error, WrongEcho, WrongLength
from coach.j1979.freeze_frame import decode_cause, decode_frozen, split_freeze_frame
from coach.j1979.monitors import MONITORS
from coach.j1979.test_results import decode_test_results, monitor_of

SAMPLE = bytes.fromhex("46 01010A0BB00BB00BB0 0105100048 00000064 0185240096004BFFFF".replace(" ", ""))


def test_the_published_record_set_reads_as_published() -> None:
    threshold, switch, maker = decode_test_results(SAMPLE)
    assert threshold.value == pytest.approx(365.024)
    assert (threshold.unit, threshold.passed) == ("mV", True)  # equality passes
    assert (switch.value, switch.low, switch.high, switch.unit, switch.passed) == (72, 0, 100, "ms", True)
    assert switch.share_of_limit_used == pytest.approx(0.72)
    assert (maker.value, maker.low, maker.high, maker.passed) == (150, 75, 65535, True)
    assert (maker.open_ends, maker.share_of_limit_used) == ((False, True), 0.5)  # twice its lowest limit
    assert {threshold.monitor, switch.monitor, maker.monitor} == {"oxygen_sensor"}


def test_three_zeros_are_no_result_yet_and_no_pass() -> None:
    # 40 CFR 86.010-18(k)(4)(v)(D)
    (found,) = decode_test_results(bytes.fromhex("46218024000000000000"))
    assert found.passed is None
    assert found.share_of_limit_used is None
    assert found.monitor == "catalyst"


def test_a_value_beyond_its_limit_fails_and_uses_more_than_the_limit() -> None:
    (found,) = decode_test_results(bytes.fromhex("46218024006500000064"))
    assert found.passed is False
    assert found.share_of_limit_used == pytest.approx(1.01)


def test_signed_units_and_unknown_units() -> None:
    (signed,) = decode_test_results(bytes.fromhex("463C81FEFFFCFFF00010"))
    assert (signed.value, signed.low, signed.high, signed.unit) == (-1.0, -4.0, 4.0, "Pa")
    (unknown,) = decode_test_results(bytes.fromhex("463C8188000500000010"))
    assert (unknown.value, unknown.unit, unknown.passed) == (None, None, True)


@pytest.mark.parametrize("length", [1, 2, 9, 11, 18, 20])
def test_test_results_of_another_length_are_an_error(length: int) -> None:
    with pytest.raises(WrongLength):
        decode_test_results(b"\x46" + bytes(length - 1))


def test_every_mid_leads_to_a_known_monitor_or_none() -> None:
    assert {monitor_of(mid) for mid in range(256)} - {None} <= set(MONITORS)


def test_frozen_values_of_the_published_sample() -> None:
    # Scapy, service 02: 0C 20 80 is 2080 rpm, 04 80 is 50.196 %, 05 28 is 0 °C
    cause, values = decode_frozen(bytes.fromhex("42 0C00 2080 0400 80 0500 28 0200 0133".replace(" ", "")))
    assert cause == "P0133"
    assert dict(values) == {"rpm": 2080.0, "load_pct": pytest.approx(50.196, abs=0.001), "coolant_c": 0.0}


def test_no_frame_is_none_and_another_frame_is_an_error() -> None:
    assert decode_cause(b"\0\0") is None
    with pytest.raises(WrongEcho):
        split_freeze_frame(bytes.fromhex("420C012080"))
    with pytest.raises(WrongLength):
        split_freeze_frame(bytes.fromhex("420C0020"))


@settings(max_examples=200, deadline=None, derandomize=True)
@given(st.binary(max_size=30))
def test_arbitrary_bytes_raise_nothing_but_the_one_error_family(raw: bytes) -> None:
    for decode in (decode_test_results, decode_frozen, lambda data: decode_test_results(b"\x46" + data)):
        try:
            decode(raw)
        except J1979Error:
            continue
