"""Words about the results of service 06: what was measured, between which limits, how much of them is used.

One place for every page, so that a limit is never printed in two ways. Nothing is decided here.
"""

from typing import Any

from coach.j1979.test_results import TESTS, TestResult
from coach.words.names import MONITOR_NAMES

NEAR_LIMIT_PCT = 85.0  # within 15 % of the limit: a training library's note on the margins of service 06, undated
MAKERS_OWN = 0x80  # test ids from here on are the maker's own; from memory
CONSTANT = "a fixed value, no test"


def result_words(test: TestResult) -> str:
    """One result as a sentence."""
    what = name_words(test)
    if test.constant:
        return f"{what}: {measured_words(test)}, {CONSTANT}"
    if test.passed is None:
        return f"{what}: not run since the clear"
    share, judged = share_words(test), {"inside": "", "inside, near its limit": ", near its limit"}
    used = f", {share} of its limit used" if share is not None else ""
    verdict = judged.get(judged_words(test), ", outside its limits")
    return f"{what}: {measured_words(test)}, {limits_words(test)}{used}{verdict}"


def name_words(test: TestResult) -> str:
    """Which monitor and test it is; their ids, which a service manual names, stand behind."""
    name = MONITOR_NAMES[test.monitor] if test.monitor is not None else "maker's own monitor"
    known = TESTS.get(test.tid, "maker's own test" if test.tid >= MAKERS_OWN else "test")
    return f"{name}, {known} (MID {test.mid:02X}, TID {test.tid:02X})"


def measured_words(test: TestResult) -> str:
    """The value with its unit."""
    if test.value is None:
        return f"{test.raw[0]} (unit {test.unit_id:02X} not known)"
    return f"{test.value:g}{_unit(test)}"


def limits_words(test: TestResult) -> str:
    """The limits with their unit; an end of the range is no limit and is not printed as one."""
    _, low, high = test.raw if test.value is None else (test.value, test.low, test.high)
    unit = _unit(test)
    return {
        (False, False): f"limits {low:g} to {high:g}{unit}",
        (True, False): f"at most {high:g}{unit}",
        (False, True): f"at least {low:g}{unit}",
        (True, True): "no limits",
    }[test.open_ends]


def share_words(test: TestResult) -> str | None:
    """The share of the limit that is used; none where there is no limit to use."""
    share = test.share_of_limit_used
    return None if share is None else f"{share * 100:.0f} %"


def judged_words(test: TestResult) -> str:
    """Inside its limits, inside but near one, or outside."""
    share = test.share_of_limit_used
    if test.passed is False:
        return "outside its limits"
    near = share is not None and share * 100 >= NEAR_LIMIT_PCT
    return "inside, near its limit" if near else "inside"


def result_data(test: TestResult) -> dict[str, Any]:
    """What a result says beside its bare numbers: limits that are none where an end is open, the share, no test."""
    at_least, at_most = test.limits
    return {
        "at_least": at_least,
        "at_most": at_most,
        "constant": test.constant,
        "share_of_limit_used": test.share_of_limit_used,
    }


def _unit(test: TestResult) -> str:
    return f" {test.unit}" if test.unit else ""
