"""Every place by a grid of cars, against a second evaluator that reads the facts in a form of their own."""

from collections.abc import Iterator

import pytest

from coach.inspection.findings import Found
from coach.inspection.verdict import judge
from coach.j1979.monitors import COMPRESSION, CONTINUOUS, SPARK
from tests.inspection.makers import a_rule, all_rules, findings, vehicle
from tests.inspection.oracle import FACTS, Car, expected

ON = "2026-11-28"
"""The day on which the facts were compiled."""
EARLIER = "2008-11-28"
"""A day on which the oldest model years of the rules were not yet let go by their age."""
WEIGHTS = (None, 8500.0, 8501.0, 9001.0, 10001.0, 14000.0, 14001.0)
ORDER = ("evaporative_system", "egr_vvt", "catalyst", "oxygen_sensor", "secondary_air")
DIESEL_ORDER = ("egr_vvt", "nmhc_catalyst", "particulate_filter", "boost_pressure", "exhaust_gas_sensor")


def cars(first: int, last: int) -> Iterator[Car]:
    """Every year, fuel and weight, with none to three and all monitors open; the MIL once a year and fuel."""
    for fuel, order, layout in (("gasoline", ORDER, SPARK), ("diesel", DIESEL_ORDER, COMPRESSION)):
        every = (*CONTINUOUS, *layout.values())
        for year in range(first, last + 1):
            for weight in WEIGHTS:
                for number in (0, 2) if weight else (0, 1, 2, 3, 5):
                    yield Car(year, fuel, weight, order[:number], False, len(every) - number)
            yield Car(year, fuel, None, (), True, len(every))
        yield Car(2015, fuel, None, every, False, 0)
        yield from (Car(2015, fuel, None, (one,), False, len(every) - 1) for one in layout.values())


CARS = (*((ON, car) for car in cars(1994, 2027)), *((EARLIER, car) for car in cars(1994, 2009)))
TOLD = {
    (car.fuel, car.incomplete, car.mil_on): findings(
        *car.incomplete,
        diesel=car.fuel == "diesel",
        mil_on=car.mil_on,
        stored=Found(("P0420",)) if car.mil_on else Found(()),
        warm_ups=0.0,
        distance_km=0.0,
        run_time_min=0.0,
    )
    for _, car in CARS
}


@pytest.mark.parametrize("place", sorted(FACTS))
def test_every_car_of_the_grid_is_judged_as_the_facts_say(place: str) -> None:
    rule, differing = a_rule(place), []
    for on, car in CARS:
        told = judge(
            rule,
            TOLD[car.fuel, car.incomplete, car.mil_on],
            vehicle(car.year, car.fuel, gvwr_lb=car.weight_lb, on=on),
        )
        wanted, by_known = expected(place, car, on)
        if told.outcome != wanted or (wanted == "not_ready" and not car.mil_on and told.by_known_readings != by_known):
            differing.append((on, car, told.outcome, told.by_known_readings, wanted, by_known))
    assert not differing, (len(differing), differing[:5])


def test_the_facts_and_the_rules_are_of_the_same_places_and_the_grid_reaches_every_outcome() -> None:
    assert set(FACTS) == {rule.id for rule in all_rules()}
    reached = {expected(place, car, on) for place in FACTS for on, car in CARS}
    assert reached == {
        ("exempt", False),
        ("ready", False),
        ("not_ready", False),
        ("not_ready", True),
        ("cannot_say", False),
    }
    assert len(CARS) > 1000
