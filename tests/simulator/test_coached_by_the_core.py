"""The coach's own core, fed by the simulated car, brings it to complete: thresholds that never saw each other.

What the core says of a monitor is always what the control units answered, never more.
"""

from collections.abc import Iterable
from itertools import pairwise

import pytest

from coach.car.happenings import Happening, MonitorChanged
from coach.drive.happenings import CoachingEnded, HoldPaused, PhaseDriven, TargetReached
from coach.simulator.cars import make_car
from coach.simulator.simulated_car import SimulatedCar
from tests.simulator.coached import Coached, coach
from tests.simulator.helpers import readiness


def completed(happened: Iterable[Happening]) -> dict[str, float]:
    """Monitor to the time when it turned complete in this drive."""
    return {h.monitor: h.t for h in happened if isinstance(h, MonitorChanged) and h.before == "incomplete"}


def agrees(coached: Coached) -> bool:
    """The core's merged states are the units' own, at the end of the drive."""
    car = coached.car
    car.key_on()
    incomplete = set().union(*(readiness(car, number).incomplete for number in range(len(car.ecus))))
    coached.ask("0101")
    said = coached.core.monitor_states()
    return incomplete == {monitor for monitor, state in said.items() if state == "incomplete"}


@pytest.fixture(scope="module")
def small() -> Coached:
    """A coached drive with the small car; the key is off at its end."""
    return coach(make_car("small"), "spark_engine_off_leak")


def test_the_small_car_is_brought_to_all_but_the_leak_test_and_the_night_does_the_rest(small: Coached) -> None:
    assert set(completed(small.happened)) == {"oxygen_sensor_heater", "oxygen_sensor", "catalyst", "egr_vvt"}
    assert [planned.phase for planned in small.core.plan().park] == ["engine_off_leak_soak"]
    assert agrees(small)
    small.car.soak(7)
    small.car.key_on()
    assert readiness(small.car).incomplete == frozenset()


def test_the_coached_drive_has_what_real_ones_have(small: Coached) -> None:
    """A hold that broke, times that rise, nothing that ends coaching, under 40 minutes."""
    assert any(isinstance(h, HoldPaused) for h in small.happened)
    assert not any(isinstance(h, CoachingEnded) for h in small.happened)
    assert small.core.now < 2400
    assert all(a <= b for a, b in pairwise(h.t for h in small.happened if isinstance(h, MonitorChanged)))
    assert small.core.car.ecus.keys() == {"7E8", "7E9"}
    assert not small.core.out_of_order


def test_the_estate_is_brought_to_complete_and_its_leak_test_comes_after_the_oxygen_sensors() -> None:
    coached = coach(make_car("estate"), "spark_running_leak", model_year=2003)
    done = completed(coached.happened)
    assert done["evaporative_system"] > done["oxygen_sensor"] + 390
    assert any(isinstance(h, TargetReached) for h in coached.happened)
    assert agrees(coached)


def test_the_diesel_is_brought_to_complete_through_a_regeneration() -> None:
    coached = coach(make_car("diesel"), "light_diesel")
    done = completed(coached.happened)
    assert coached.car.body.soot.regenerations == 1
    assert done["nmhc_catalyst"] < done["particulate_filter"]
    assert any(isinstance(h, TargetReached) for h in coached.happened)
    assert agrees(coached)


def test_the_hybrid_gives_nothing_away_before_the_key_is_off() -> None:
    coached = coach(make_car("hybrid"), "hybrid", longest_s=1500)
    assert completed(coached.happened) == {}
    assert any(isinstance(h, PhaseDriven) for h in coached.happened)
    assert agrees(coached)
    assert coached.core.monitor_states()["catalyst"] == "complete"


def test_a_pending_code_in_the_drive_ends_coaching() -> None:
    car: SimulatedCar = make_car("small", faults=["misfire"])
    coached = coach(car, "spark_engine_off_leak", longest_s=600)
    ended = [h for h in coached.happened if isinstance(h, CoachingEnded)]
    assert len(ended) >= 1
    assert "P0301" in str(ended[0])
