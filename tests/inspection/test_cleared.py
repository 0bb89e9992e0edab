"""A clear is done when every control unit shows it, not when one of them answers. Bytes after SAE J1979."""

import pytest

from coach.car.arrivals import Arrival
from coach.car.car import Car
from coach.inspection.cleared import cleared_ecus, whole
from tests.recordings import ask

DONE, OPEN, ONLY_COMPONENTS = "410100076500", "410100076565", "410100040000"


def car(*arrivals: list[Arrival]) -> Car:
    """A car on CAN that has folded these; the last question is closed."""
    made = Car()
    made.can = True
    for arrival in (one for several in arrivals for one in several):
        made.fold(arrival, [])
    made.end([])
    return made


def both(first: str | None, second: str | None, t: float = 0.0) -> list[Arrival]:
    """Readiness of two units; none is silence."""
    told = [(unit, said) for unit, said in (("7E8", first), ("7E9", second)) if said is not None]
    return ask(t, 1, "0101", *told)


def codes(first: str | None, second: str | None) -> list[Arrival]:
    """Stored codes of the two."""
    told = [(unit, said) for unit, said in (("7E8", first), ("7E9", second)) if said is not None]
    return ask(1.0, 2, "03", *told)


BEFORE = car(both(DONE, DONE), codes("43010420", "4300"))
ALL = frozenset({"7E8", "7E9"})


@pytest.mark.parametrize(
    ("readiness", "stored", "confirmed", "done"),
    [
        ((OPEN, OPEN), ("4300", "4300"), ALL, True),
        ((OPEN, DONE), ("4300", "4300"), ALL, False),
        ((OPEN, OPEN), ("43010420", "4300"), ALL, False),
        ((OPEN, None), ("4300", "4300"), ALL, None),
        ((OPEN, OPEN), ("4300", None), ALL, None),
        ((OPEN, "7F0122"), ("4300", "4300"), ALL, None),
        ((OPEN, "4101000765"), ("4300", "4300"), ALL, None),
        ((OPEN, ONLY_COMPONENTS), ("4300", "4300"), ALL, True),
        ((OPEN, ONLY_COMPONENTS), ("4300", "4300"), frozenset({"7E8"}), None),
        ((OPEN, OPEN), ("4300", "4300"), frozenset({"7E8"}), True),  # its memory shows it, whatever it answered
        ((None, None), (None, None), ALL, None),
    ],
)
def test_every_unit_has_to_show_it(
    readiness: tuple[str | None, str | None],
    stored: tuple[str | None, str | None],
    confirmed: frozenset[str],
    done: bool | None,
) -> None:
    after = car(both(*readiness), codes(*stored))
    assert whole(cleared_ecus(BEFORE, after, confirmed)) is done


def test_the_unit_that_kept_its_readiness_is_named() -> None:
    after = car(both(OPEN, DONE), codes("4300", "4300"))
    kept = {ecu.address: ecu.kept for ecu in cleared_ecus(BEFORE, after, ALL)}
    assert kept == {"7E8": (), "7E9": ("catalyst", "evaporative_system", "oxygen_sensor", "oxygen_sensor_heater")}


def test_where_no_unit_was_known_before_nothing_can_be_said() -> None:
    assert whole(cleared_ecus(Car(), car(both(OPEN, OPEN)), ALL)) is None


EMPTY = car(both(OPEN, OPEN), codes("4300", "4300"))


@pytest.mark.parametrize(("confirmed", "done"), [(ALL, True), (frozenset({"7E8"}), None), (frozenset(), None)])
def test_where_nothing_was_there_to_lose_only_the_units_own_word_says_that_it_was_cleared(
    confirmed: frozenset[str], done: bool | None
) -> None:
    assert whole(cleared_ecus(EMPTY, car(both(OPEN, OPEN), codes("4300", "4300")), confirmed)) is done


def test_a_unit_heard_only_afterwards_that_is_not_cleared_keeps_it_from_being_done() -> None:
    before = car(both(DONE, None), codes("43010420", None))
    assert whole(cleared_ecus(before, car(both(OPEN, DONE), codes("4300", "4300")), ALL)) is False
    assert whole(cleared_ecus(before, car(both(OPEN, OPEN), codes("4300", "43010420")), ALL)) is False
    assert whole(cleared_ecus(before, car(both(OPEN, OPEN), codes("4300", "4300")), ALL)) is True
