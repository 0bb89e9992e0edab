"""A clear is proved when every unit has shown it. Bytes after SAE J1979, 14 after ISO 14229; cars invented."""

import pytest

from coach.car.happenings import ClearProved, ClearSent, CodesCleared
from coach.car.record import Record
from tests.car.told import DONE, OPEN, Talk, told

BOTH_DONE = (("7E8", DONE), ("7E9", DONE))
BOTH_OPEN = (("7E8", OPEN), ("7E9", OPEN))


@pytest.mark.parametrize(
    ("said", "state"),
    [
        ((("7E8", "44"), ("7E9", "44")), "unproved"),
        ((("7E8", "44"), ("7E9", "7F0422")), "unproved"),
        ((("7E8", "7F0422"), ("7E9", "7F0422")), "refused"),
        ((("7E8", "7F0478"),), "unproved"),
        ((), "unproved"),
    ],
)
@pytest.mark.parametrize("request_hex", ["04", "14FFFFFF"])
def test_whatever_comes_back_nothing_read_before_a_clear_stands(
    said: tuple[tuple[str, str], ...], state: str, request_hex: str
) -> None:
    if request_hex != "04":
        said = tuple((unit, raw.replace("44", "54").replace("7F04", "7F14")) for unit, raw in said)
    car, out = told(Talk().everything(*BOTH_DONE).ask(request_hex, *said))
    found = car.conclude()
    assert (found.clear.state, found.standing, found.monitors["catalyst"].state) == (state, "uncertain", None)
    assert [h.to for h in out if isinstance(h, ClearSent)] == [None]


@pytest.mark.parametrize(
    ("after", "stored", "state"),
    [
        (BOTH_OPEN, "4300", "proved"),
        ((("7E8", OPEN), ("7E9", DONE)), "4300", "unproved"),
        (BOTH_OPEN, "43010420", "unproved"),
        ((("7E8", OPEN),), "4300", "unproved"),
    ],
)
@pytest.mark.parametrize("answered", [(), (("7E8", "44"),)])
def test_it_is_proved_when_every_unit_shows_it_whatever_it_answered(
    after: tuple[tuple[str, str], ...], stored: str, state: str, answered: tuple[tuple[str, str], ...]
) -> None:
    talk = Talk().everything(*BOTH_DONE).ask("04", *answered).everything(*after, _03=stored)
    car, out = told(talk)
    assert car.conclude().clear.state == state
    assert any(isinstance(h, ClearProved) for h in out) is (state == "proved")


def test_one_that_was_sent_in_an_earlier_recording_is_proved_by_a_later_one() -> None:
    record = Record()
    for name, talk in (
        ("before", Talk().everything(*BOTH_DONE)),
        ("clear", Talk().ask("04", outcome="no_answer")),
        ("later", Talk().everything(*BOTH_OPEN)),
    ):
        record.begin(name, can=True)
        for arrival in talk.said:
            record.feed(arrival)
        record.finish()
        if name == "clear":
            assert (record.conclude().clear.state, record.conclude().standing) == ("unproved", "uncertain")
    assert record.conclude().clear.state == "proved"


def test_a_counter_that_falls_behind_a_clear_tells_of_that_clear_and_of_no_second_one() -> None:
    talk = Talk().everything(*BOTH_DONE).ask("0130", ("7E8", "413020"))
    talk.ask("04", ("7E8", "44"), ("7E9", "44")).everything(*BOTH_OPEN).ask("0130", ("7E8", "413000"))
    car, out = told(talk)
    assert (car.conclude().standing, car.conclude().clear.state) == ("incomplete", "proved")
    assert sum(isinstance(h, CodesCleared) for h in out) == 1


def test_a_counter_that_fell_between_two_recordings_is_a_clear_by_something_else() -> None:
    record = Record()
    for name, warm_ups, readiness in (("first", "20", DONE), ("second", "01", OPEN)):
        record.begin(name, can=True)
        for arrival in Talk().everything(("7E8", readiness)).ask("0130", ("7E8", f"4130{warm_ups}")).said:
            record.feed(arrival)
        record.finish()
    assert record.conclude().clear.state == "proved"
    assert record.conclude().standing == "incomplete"


def test_a_clear_put_to_one_unit_leaves_all_of_them_to_be_read_again() -> None:
    car, out = told(Talk().everything(*BOTH_DONE).ask("04", ("7E8", "44"), to="7E8"))
    assert [h.to for h in out if isinstance(h, ClearSent)] == ["7E8"]
    assert car.conclude().standing == "uncertain"
