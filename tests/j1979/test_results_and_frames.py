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
    assert (threshold.unit, threshold.passed, threshold.constant) == ("mV", None, True)  # its own limits: no test
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


# equality with a limit passes: 40 CFR 86.010-18(k)(4)(v)(B)
@pytest.mark.parametrize(
    ("record", "passed", "constant"),
    [
        ("21 80 24 0064 0000 0064", True, False),
        ("21 80 24 0010 0010 0064", True, False),
        ("21 80 24 0064 0064 0064", None, True),
        ("21 80 24 0000 0000 0000", None, False),
    ],
)
def test_equality_passes_but_a_value_that_is_both_its_limits_is_no_test(
    record: str, passed: bool | None, constant: bool
) -> None:
    (found,) = decode_test_results(bytes.fromhex("46" + record))
    assert (found.passed, found.constant) == (passed, constant)
    assert passed or found.share_of_limit_used is None


# Units: 24 counts (unsigned), FE 0.25 Pa (signed), 39 0.01 % with zero at 8000 (python-OBD `UnitsAndScaling.py`).
# Words: value, lowest, highest. Shares by hand.
@pytest.mark.parametrize(
    ("unit", "words", "share"),
    [
        (0x24, (50, 0, 100), 0.5),  # only a highest limit
        (0x24, (150, 75, 0xFFFF), 0.5),  # only a lowest one
        (0x24, (75, 75, 0xFFFF), 1.0),
        (0x24, (60, 50, 90), 0.5),  # the middle is 70, half the width 20
        (0x24, (3, 0, 0xFFFF), None),  # no limits
        (0xFE, (0, -16, 16), 0.0),  # zero is farthest from both
        (0xFE, (-4, -16, 16), 0.25),
        (0xFE, (0, -400, 8), 0.0),  # the limits stand unevenly about zero
        (0xFE, (4, -400, 8), 0.5),
        (0xFE, (-100, -400, 8), 0.25),
        (0xFE, (2, 0, 100), 0.02),
        (0xFE, (1, -0x8000, 10), 0.1),  # an open lower end: not 99.97 %
        (0xFE, (-5, -0x8000, 10), 0.0),
        (0xFE, (1, -16, 0x7FFF), 0.0),  # an open upper end
        (0xFE, (-8, -16, 0x7FFF), 0.5),
        (0xFE, (20, 10, 0x7FFF), 0.5),
        (0xFE, (-20, -0x8000, -10), 0.5),
        (0xFE, (-30, -16, 0x7FFF), 30 / 16),
        (0xFE, (5, 0, 0x7FFF), None),  # at least zero: nothing to be a share of
        (0xFE, (-25, -40, -10), 0.0),
        (0x39, (0x8000, 0, 0x8400), 0.0),  # 0 % of at most 10.24 %, not 97 %
        (0x39, (0x8200, 0, 0x8400), 0.5),
        (0x39, (0x7E00, 0x7C00, 0x8400), 0.5),
    ],
)
def test_the_share_of_a_limit_is_counted_from_zero_or_the_middle(
    unit: int, words: tuple[int, int, int], share: float | None
) -> None:
    data = b"".join((word & 0xFFFF).to_bytes(2, "big") for word in words)
    (found,) = decode_test_results(bytes([0x46, 0x3C, 0x81, unit]) + data)
    assert found.share_of_limit_used == (pytest.approx(share) if share is not None else None)
    assert (share or 0.0) <= 1.0 or found.passed is False


@given(st.sampled_from([0x01, 0x24, 0x39, 0x81, 0xFE]), st.binary(min_size=6, max_size=6))
def test_a_share_above_one_and_a_failed_test_are_the_same(unit: int, words: bytes) -> None:
    (found,) = decode_test_results(bytes([0x46, 0x3C, 0x81, unit]) + words)
    low, high = found.raw[1:]
    share = found.share_of_limit_used
    if share is None or low > high:
        return
    assert share >= 0.0
    assert found.passed is (share <= 1.0 + 1e-9)


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
