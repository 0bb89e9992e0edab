"""Parts of a hold: a regeneration in a long cruise, the part of an idle in Drive. What the car hides never blocks.

Figures: Ford service information, 6.7 diesel (2012, 2021): 120 s inside a regeneration, catalyst inlet 200 to 500 °C,
100 to 900 Nm; Kia service information, Forte5 (2015): a part of the cold idle in Drive. The speeds are invented.
"""

from coach.car.arrivals import Arrival, Reading
from coach.car.happenings import Happening
from coach.drive.happenings import PartFilled, PhaseDriven
from tests.recordings import played

WARM = (("coolant_c", 88.0), ("ambient_c", 15.0), ("rpm", 1800.0))


def cruise(seconds: int, **more: float) -> list[Arrival]:
    """A long cruise at 100 km/h, one value a second of each signal."""
    signals = (*WARM, *more.items(), ("speed_kmh", 100.0))
    return [Reading(float(t), signal, value) for t in range(seconds) for signal, value in signals]


def driven(happened: list[Happening], phase: str = "diesel_hot_cruise") -> PhaseDriven | None:
    return next((h for h in happened if isinstance(h, PhaseDriven) and h.phase == phase), None)


def test_a_regeneration_nothing_shows_is_unwatched_and_never_blocks() -> None:
    _core, happened = played(cruise(3700), "light_diesel")
    found = driven(happened)
    assert found is not None and found.t == 3600.0
    assert {"regeneration", "torque", "exhaust_temperature", "scr_temperature"} <= set(found.unwatched)
    assert "steady" not in found.unwatched


def test_a_filter_that_stays_cold_keeps_the_phase_open() -> None:
    core, happened = played(cruise(4000, pf_inlet_b1_c=310.0), "light_diesel")
    assert driven(happened) is None
    assert core.trackers["diesel_hot_cruise"].remaining_s() == 120.0


def test_two_minutes_of_a_hot_filter_fill_the_part() -> None:
    cold, hot = cruise(3700, pf_inlet_b1_c=310.0), cruise(130, pf_inlet_b1_c=560.0)
    later: list[Arrival] = [Reading(a.t + 3700, a.signal, a.value) for a in hot if isinstance(a, Reading)]
    _core, happened = played(cold + later, "light_diesel")
    filled = [h for h in happened if isinstance(h, PartFilled) and h.part == "regeneration"]
    assert [(h.t, h.held_s) for h in filled] == [(3820.0, 120.0)]
    found = driven(happened)
    assert found is not None and found.t == 3820.0


def test_the_cars_own_regeneration_flag_alone_proves_nothing() -> None:
    _core, happened = played(cruise(3700, regeneration_active=1.0), "light_diesel")
    found = driven(happened)
    assert found is not None and "regeneration" in found.unwatched


def test_torque_is_counted_as_a_share_of_the_reference_torque() -> None:
    _core, happened = played(cruise(200, actual_torque_pct=40.0, reference_torque_nm=400.0), "light_diesel")
    assert [h.t for h in happened if isinstance(h, PartFilled) and h.part == "torque"] == [120.0]
    _core, happened = played(cruise(200, actual_torque_pct=20.0, reference_torque_nm=400.0), "light_diesel")
    assert not [h for h in happened if isinstance(h, PartFilled) and h.part == "torque"]


def idle(seconds: int, drive_from: int) -> list[Arrival]:
    """A warm idle; in Drive from `drive_from` on."""
    out: list[Arrival] = []
    for t in range(seconds):
        flag = 1.0 if t >= drive_from else 0.0
        out += [Reading(float(t), s, v) for s, v in (*WARM, ("in_drive", flag), ("speed_kmh", 0.0))]
    return out


def test_an_idle_in_neutral_does_not_count_as_one_in_drive() -> None:
    _core, happened = played(idle(400, drive_from=1000))
    assert driven(happened, "idle_in_gear") is None
    _core, happened = played(idle(400, drive_from=200))
    found = driven(happened, "idle_in_gear")
    assert found is not None and found.t == 320.0
