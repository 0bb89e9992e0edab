"""The profile names the signals in order of preference; the first one the car offers is looked at.

Cases are invented; the rule is the product's own (a wrong witness must never count as a condition met).
"""

from coach.car.arrivals import Arrival, Reading
from coach.drive.core import Core, make_core
from coach.drive.profile import parse_profile
from coach.library import profile_text

TEXT = profile_text("spark_engine_off_leak")


def fed(text: str, arrivals: list[Arrival]) -> Core:
    core = make_core(parse_profile(text, "own.toml"))
    for arrival in arrivals:
        core.feed(arrival)
    return core


def warm(signal: str, value: float) -> list[Arrival]:
    return [Reading(0.0, "rpm", 800.0), Reading(1.0, signal, value)]


def test_the_second_coolant_sensor_stands_in_for_the_first() -> None:
    assert fed(TEXT, warm("coolant_2_c", 40.0)).trackers["sensor_cruise"].gate.failed[0].gate == "coolant_min_c"
    assert "coolant_min_c" in fed(TEXT, warm("oil_c", 40.0)).trackers["sensor_cruise"].gate.unwatched


def test_a_signal_the_profile_does_not_name_is_not_looked_at() -> None:
    own = TEXT.replace('coolant = { first = ["coolant_c", "coolant_2_c"]', 'coolant = { first = ["coolant_c"]')
    assert own != TEXT
    assert "coolant_min_c" in fed(own, warm("coolant_2_c", 40.0)).trackers["sensor_cruise"].gate.unwatched


def test_low_voltage_closes_every_gate_while_the_engine_runs_and_only_then() -> None:
    # makers' service information ranges from 10 to 11.5 V with the engine running; only the widest stops
    running = fed(TEXT, [Reading(0.0, "rpm", 800.0), Reading(1.0, "module_v", 9.6)])
    assert "voltage_min_v" in [failed.gate for failed in running.trackers["highway_cruise"].gate.failed]
    standing = fed(TEXT, [Reading(0.0, "rpm", 0.0), Reading(1.0, "module_v", 9.6)])
    assert "voltage_min_v" not in [failed.gate for failed in standing.trackers["highway_cruise"].gate.failed]


def test_the_evidence_follows_the_value_within_seconds() -> None:
    arrivals: list[Arrival] = [Reading(0.0, "rpm", 800.0)]
    arrivals += [Reading(float(t), "coolant_c", 20.0 + t) for t in range(1, 50)]
    failed = fed(TEXT, arrivals).trackers["sensor_cruise"].gate.failed[0]
    assert failed.value is not None and failed.value >= 69.0 - 5.0


def test_an_unknown_signal_is_refused_with_the_nearest() -> None:
    own = TEXT.replace(
        'first = ["fuel_level_pct"], otherwise = "ask", why = "PID 2F',
        'first = ["fuel_levl_pct"], otherwise = "ask", why = "PID 2F',
    )
    try:
        parse_profile(own, "own.toml")
    except ValueError as error:
        assert "own.toml: signals.fuel_level" in str(error) and "fuel_level_pct" in str(error)
    else:
        raise AssertionError("an unknown signal was taken")
