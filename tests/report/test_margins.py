"""A result of service 06 is said in one way on every page: limits, open ends, the share used, and what is no test.

Records: unit 17 is 0.01 kPa, FE 0.25 Pa signed, 0A 0.122 mV (python-OBD `UnitsAndScaling.py`); values invented but for
the fixed threshold, which is the ISO sample of Scapy's and python-OBD's tests.
"""

import pytest

from coach.j1979.test_results import TestResult, decode_test_results
from coach.words.margins import judged_words, limits_words, result_data, result_words, share_words


def result(record: str) -> TestResult:
    """One record of a reply."""
    (found,) = decode_test_results(bytes.fromhex("46" + record))
    return found


# 200 of at least 145; -1 Pa between -4 and 4; at most 10.00; no limits; failing; near; in an unknown unit
@pytest.mark.parametrize(
    ("record", "limits", "share", "judged"),
    [
        ("31 85 17 00C8 0091 FFFF", "at least 1.45 kPa", "72 %", "inside"),
        ("3C 81 FE FFFC FFF0 0010", "limits -4 to 4 Pa", "25 %", "inside"),
        ("3C 81 FE 0000 8000 0028", "at most 10 Pa", "0 %", "inside"),
        ("3B 92 17 03B6 0000 03E8", "at most 10 kPa", "95 %", "inside, near its limit"),
        ("3B 92 17 0400 0000 03E8", "at most 10 kPa", "102 %", "outside its limits"),
        ("3B 92 17 0400 0000 FFFF", "no limits", None, "inside"),
        ("3C 81 88 0008 0005 0010", "limits 5 to 16", "45 %", "inside"),
    ],
)
def test_limits_share_and_judgement_are_words_of_one_place(
    record: str, limits: str, share: str | None, judged: str
) -> None:
    test = result(record)
    assert (limits_words(test), share_words(test), judged_words(test)) == (limits, share, judged)
    assert limits in result_words(test)
    assert (share or "of its limit used") in result_words(test) or share is None


def test_one_sentence_says_it_all() -> None:
    assert (
        result_words(result("31 85 17 00C8 0091 FFFF"))
        == "EGR or VVT, maker's own test (MID 31, TID 85): 2 kPa, at least 1.45 kPa, 72 % of its limit used"
    )
    assert (
        result_words(result("31 85 17 0000 0000 0000"))
        == "EGR or VVT, maker's own test (MID 31, TID 85): not run since the clear"
    )


def test_a_fixed_value_is_no_test() -> None:
    test = result("01 01 0A 0BB0 0BB0 0BB0")
    assert result_words(test).endswith("365.024 mV, a fixed value, no test")
    assert result_data(test) == {
        "at_least": 365.024,
        "at_most": 365.024,
        "constant": True,
        "share_of_limit_used": None,
    }


def test_an_open_end_is_none_in_the_data() -> None:
    told = result_data(result("31 85 17 00C8 0091 FFFF"))
    assert (told["at_least"], told["at_most"], told["constant"]) == (1.45, None, False)
