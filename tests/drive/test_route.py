"""The planner's order is exact: checked against trying every permutation, the textbook definition of optimal."""

from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.drive.route import WAYS, Leg, best_route, transition_s

NAMES = ("a", "b", "c", "d", "e", "f")


@st.composite
def some_legs(draw: st.DrawFn) -> list[Leg]:
    count = draw(st.integers(1, 6))
    legs = []
    for i, name in enumerate(NAMES[:count]):
        earlier = NAMES[:i]
        legs.append(
            Leg(
                name,
                float(draw(st.integers(10, 900) | st.sampled_from((60, 300)))),
                draw(st.sampled_from(WAYS[:4])),
                frozenset(draw(st.lists(st.sampled_from(earlier), max_size=2))) if earlier else frozenset(),
                draw(st.none() | st.integers(100, 3000).map(float)),
                frozenset(draw(st.lists(st.sampled_from(NAMES[:count]), max_size=1))) - {name},
                draw(st.booleans()),
            )
        )
    return legs


def drive(order: tuple[Leg, ...], here: str | None) -> tuple[float, float] | None:
    """The time of one order worked out step by step, and the finishing times of those wanted first, added up.

    None when the order breaks a rule.
    """
    total, firsts, done, where = 0.0, 0.0, {}, here
    for leg in order:
        if any(name not in done for name in leg.after):
            return None
        shared = max((done[name].drive_s for name in leg.shared_with if name in done), default=0.0)
        total += transition_s(where, leg.regime) + max(0.0, leg.drive_s - shared)
        if leg.finish_by_s is not None and total > leg.finish_by_s:
            return None
        firsts += total if leg.first else 0.0
        done[leg.phase], where = leg, leg.regime
    return total, firsts


@settings(max_examples=120, deadline=None, derandomize=True)
@given(some_legs(), st.none() | st.sampled_from(WAYS[:4]))
def test_no_permutation_is_quicker_nor_as_quick_with_the_repaired_monitors_phases_sooner(
    legs: list[Leg], here: str | None
) -> None:
    times = [time for order in permutations(legs) if (time := drive(order, here)) is not None]
    route = best_route(legs, here)
    if not times:
        assert route is None
        return
    assert route is not None
    by_id = {leg.phase: leg for leg in legs}
    assert drive(tuple(by_id[phase] for phase in route.phases), here) == pytest.approx(min(times))
    assert route.driving_s == pytest.approx(min(times)[0])


def test_a_shared_cruise_is_driven_once() -> None:
    legs = [
        Leg("leak", 600.0, "highway", shared_with=frozenset({"catalyst"})),
        Leg("catalyst", 600.0, "highway", shared_with=frozenset({"leak"})),
    ]
    route = best_route(legs)
    assert route is not None
    assert route.driving_s == pytest.approx(600.0 + transition_s("highway", "highway"))


def test_nothing_to_drive_takes_no_time() -> None:
    route = best_route([])
    assert route is not None
    assert route.driving_s == 0.0


def test_more_than_a_dozen_phases_are_refused_not_ordered_badly() -> None:
    with pytest.raises(ValueError, match="13 phases"):
        best_route([Leg(str(i), 1.0, "town") for i in range(13)])
