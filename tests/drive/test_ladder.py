"""Driven and not confirmed: every published pattern of a monitor is tried before any is driven again.

The ladders are the shipped profiles' own, which carry their sources.
"""

from coach.car.happenings import Happening
from coach.drive.build import build_needs
from coach.drive.happenings import MonitorNotConfirmed
from coach.drive.ladder import Ladder
from tests.recordings import a_profile


def driven_in_vain(monitor: str, profile: str = "spark_running_leak") -> list[tuple[str, ...]]:
    """What is asked for, set after set, of a monitor that never confirms, until it is left for another day."""
    ladder, repeats_max = Ladder(build_needs(a_profile(profile))[monitor]), a_profile(profile).after_hold.repeats.value
    asked: list[tuple[str, ...]] = []
    told: list[Happening] = []
    while not ladder.spent:
        asked.append(ladder.choices()[0])
        for phase in ladder.choices()[0]:
            ladder.driven(phase, 0.0, 60.0)
        assert ladder.wait_until_t == 60.0
        ladder.waited(60.0, repeats_max, told)
    assert [h.next for h in told if isinstance(h, MonitorNotConfirmed)][-1] == "another_day"
    return asked


def test_the_catalyst_gets_rolls_and_town_before_the_same_cruise_again() -> None:
    assert driven_in_vain("catalyst") == [
        ("highway_cruise",),
        ("closed_throttle_decel",),
        ("stop_and_go",),
        ("highway_cruise",),
    ]


def test_egr_gets_its_load_step() -> None:
    assert driven_in_vain("egr_vvt")[:2] == [("closed_throttle_decel",), ("load_step",)]


def test_nobody_is_sent_a_third_time_on_a_road_while_a_pattern_is_untried() -> None:
    for profile in ("spark_running_leak", "spark_engine_off_leak", "hybrid", "light_diesel"):
        for monitor, need in build_needs(a_profile(profile)).items():
            if need.rungs:
                asked = driven_in_vain(monitor, profile)
                first = [phase for choice in asked[: len(need.rungs)] for phase in choice]
                assert len(first) == len(set(first))
                assert len(asked) <= len(need.rungs) + 1


def test_of_patterns_in_any_order_the_other_one_is_next() -> None:
    ladder = Ladder(build_needs(a_profile())["oxygen_sensor_heater"])
    assert ladder.choices() == (("cold_start_idle",), ("sensor_cruise",))
    ladder.driven("sensor_cruise", 0.0, 60.0)
    ladder.waited(60.0, 1, [])
    assert ladder.choices() == (("cold_start_idle",),)


def test_a_pattern_driven_on_the_way_is_not_asked_for_again_as_another() -> None:
    ladder = Ladder(build_needs(a_profile("spark_running_leak"))["catalyst"])
    for phase in ("closed_throttle_decel", "stop_and_go", "highway_cruise"):
        ladder.driven(phase, 0.0, 60.0)
    told: list[Happening] = []
    assert ladder.waited(60.0, 1, told) == ("highway_cruise",)
    assert [h.next for h in told if isinstance(h, MonitorNotConfirmed)] == ["repeat"]
