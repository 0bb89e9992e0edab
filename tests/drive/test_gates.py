"""A gate stops the monitor it belongs to and no other, and only outside the widest published limits.

Limits: 15 to 85 % of fuel (13 CCR 1968.2 (e)(4.3) and makers); 4.4 °C (Ford) to 45 °C (Mitsubishi) for the leak test.
The better windows are the profiles' own, with their sources. The cars are invented.
"""

import pytest

from coach.car.arrivals import Arrival, Reading
from coach.drive.core import Core
from coach.words.before import before_lines
from coach.words.units import Units
from tests.recordings import ask, fed

OPEN = "41010000FFFF"
"""Everything of the spark layout supported and open."""


def cold_morning(**values: float) -> list[Arrival]:
    """Key on at a cold start, everything open; what the car says beside it."""
    said = {"rpm": 0.0, "speed_kmh": 0.0, "coolant_c": 18.0, "intake_c": 18.0, "ambient_c": 18.0, **values}
    readings: list[Arrival] = [Reading(1.0, signal, value) for signal, value in said.items()]
    return [*ask(0.0, 1, "0101", ("7E8", OPEN)), *readings]


def stopped_by(core: Core, gate: str) -> set[str]:
    return {left.monitor for left in core.plan().not_today if gate in [failed.gate for failed in left.failed]}


@pytest.mark.parametrize(
    ("fuel_pct", "stopped"),
    [(80.0, set()), (25.0, set()), (85.0, set()), (88.0, {"evaporative_system"}), (12.0, {"evaporative_system"})],
)
@pytest.mark.parametrize("profile", ["spark_running_leak", "spark_engine_off_leak", "hybrid"])
def test_the_tank_stops_the_leak_test_alone_and_only_outside_15_to_85_percent(
    profile: str, fuel_pct: float, stopped: set[str]
) -> None:
    core, _ = fed(cold_morning(fuel_level_pct=fuel_pct), profile)
    assert stopped_by(core, "fuel_pct") == stopped


@pytest.mark.parametrize(("air_c", "stopped"), [(36.0, set()), (46.0, {"evaporative_system"}), (4.6, set())])
def test_the_weather_stops_the_leak_test_alone(air_c: float, stopped: set[str]) -> None:
    core, _ = fed(cold_morning(ambient_c=air_c), "spark_running_leak")
    assert stopped_by(core, "ambient_c") == stopped
    assert not {left.monitor for left in core.plan().not_today if left.reason == "gate"} - stopped


def test_what_would_be_better_is_told_once_with_the_window_and_stops_nothing() -> None:
    core, _ = fed(cold_morning(fuel_level_pct=80.0), "spark_running_leak")
    lines = list(before_lines(core, Units(), ""))
    assert "Fuel level 80 %: 30 % to 70 % is better for evaporative system; it stops nothing." in lines
    right, _ = fed(cold_morning(fuel_level_pct=50.0), "spark_running_leak")
    assert not [line for line in before_lines(right, Units(), "") if "better" in line]


def test_high_up_only_the_leak_test_waits_for_lower_ground() -> None:
    # 20.5 inHg = 69.4 kPa: Mazda service information, 2003
    core, _ = fed(cold_morning(baro_kpa=66.0), "spark_running_leak")
    waiting = {phase: [failed.gate for failed in tracker.gate.failed] for phase, tracker in core.trackers.items()}
    assert [phase for phase, gates in waiting.items() if "baro_min_kpa" in gates] == ["leak_test_cruise"]


def test_one_reading_of_sloshing_fuel_is_no_reason() -> None:
    drive = cold_morning(fuel_level_pct=78.0)
    for t, level in enumerate((77.0, 79.0, 90.0, 78.0, 91.0, 77.0), start=1):
        drive.append(Reading(30.0 * t, "fuel_level_pct", level))
        assert stopped_by(fed(drive, "spark_running_leak")[0], "fuel_pct") == set()
    drive += [Reading(300.0 + 30.0 * t, "fuel_level_pct", 92.0 + t % 2) for t in range(9)]
    assert stopped_by(fed(drive, "spark_running_leak")[0], "fuel_pct") == {"evaporative_system"}
