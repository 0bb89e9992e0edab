"""Whose words they are: one sign that agrees and none that contradicts. Bytes after SAE J1979; all invented."""

import pytest

from coach.car.arrivals import Choice
from coach.car.car import Car
from coach.car.conclusion import Identity
from coach.car.happenings import AnotherCarAnswered, MonitorChanged, UnitChanged
from coach.car.record import Record
from tests.car.told import DONE, OPEN, VIN_A, VIN_B, Talk, calid, told, vin

A = {"0902": vin(VIN_A), "0904": calid("CAL-A")}


def begun(readiness: str = OPEN) -> Talk:
    """Car A told its signs and its readiness."""
    talk = Talk()
    for text, raw in A.items():
        talk.ask(text, ("7E8", raw))
    return talk.everything(("7E8", readiness))


@pytest.mark.parametrize(
    ("signs", "identity"),
    [
        ({"0902": vin(VIN_A)}, "same"),
        ({"0902": vin(VIN_B)}, "another"),
        ({}, "unproved"),
        ({"0904": calid("CAL-A")}, "same"),
        ({"0904": calid("CAL-B")}, "changed"),
        ({"0902": vin(VIN_A), "0904": calid("CAL-B")}, "changed"),
        ({"0902": vin(VIN_B), "0904": calid("CAL-A")}, "another"),
    ],
)
@pytest.mark.parametrize("over", ["a new link", "a new recording"])
def test_a_sign_has_to_agree_after_a_new_link_and_in_a_new_recording(
    signs: dict[str, str], identity: Identity, over: str
) -> None:
    record = Record()
    record.begin("first", can=True)
    first = begun()
    then = Talk() if over == "a new recording" else first.link("lost").link("up")
    for text, raw in signs.items():
        then.ask(text, ("7E8", raw))
    then.everything(("7E8", DONE))
    if over == "a new recording":
        for arrival in first.said:
            record.feed(arrival)
        record.finish()
        record.begin("second", can=True)
    out = [happening for arrival in then.said for happening in record.feed(arrival)]
    found = record.car.conclude()
    assert found.identity == identity
    assert found.monitors["catalyst"].state == ("complete" if identity == "same" else None)
    changed = [h.after for h in out if isinstance(h, MonitorChanged) and h.monitor == "catalyst"]
    assert ("complete" in changed) is (identity == "same")


def test_another_car_is_told_at_once_and_what_it_said_before_its_vin_counts_for_nothing() -> None:
    talk = begun().link("lost").link("up").everything(("7E8", DONE)).ask("0902", ("7E8", vin(VIN_B)))
    car, out = told(talk)
    assert [(h.ecu, h.sign) for h in out if isinstance(h, AnotherCarAnswered)] == [("7E8", "vin")]
    talk.link("lost").link("up").ask("0902", ("7E8", vin(VIN_A)))
    car, _ = told(talk)
    assert (car.conclude().identity, car.monitor_states()["catalyst"]) == ("same", None)
    car, _ = told(talk.everything(("7E8", OPEN)))
    assert car.monitor_states()["catalyst"] == "incomplete"


def test_two_vins_of_one_unit_without_a_new_link_are_two_cars_and_of_two_units_a_question() -> None:
    car, _ = told(begun(DONE).ask("0902", ("7E8", vin(VIN_B))).everything(("7E8", DONE)))
    assert (car.conclude().identity, car.conclude().standing) == ("another", "uncertain")
    car, out = told(
        Talk().ask("0902", ("7E8", vin(VIN_A)), ("7E9", vin(VIN_B))).everything(("7E8", DONE), ("7E9", DONE))
    )
    assert (car.conclude().identity, car.conclude().standing) == ("two_vins", "uncertain")
    assert [h.sign for h in out if isinstance(h, UnitChanged)] == ["vin"]


@pytest.mark.parametrize("choice", [{"same_car": True}, {"unit": {"7E8": "reprogrammed"}}])
def test_the_user_may_say_what_another_calibration_is(choice: dict[str, object]) -> None:
    talk = begun().link("lost").link("up").ask("0902", ("7E8", vin(VIN_A))).ask("0904", ("7E8", calid("CAL-B")))
    car, _ = told(talk.everything(("7E8", DONE)).add(Choice(talk.t + 5, choice)))
    assert (car.conclude().identity, car.conclude().standing) == ("same", "complete")


def test_a_car_that_tells_no_sign_is_taken_at_its_word() -> None:
    car, _ = told(Talk().everything(("7E8", OPEN)).link("lost").link("up").everything(("7E8", DONE)))
    assert (car.conclude().identity, car.conclude().standing) == ("not_told", "complete")


def test_the_signs_that_would_prove_it_are_asked_for() -> None:
    car, _ = told(begun().link("lost").link("up"))
    assert car.conclude().again[:2] == ("0902", "0904")


@pytest.mark.parametrize(("run_s", "kmh", "same"), [(161, 80, True), (161, 0, False), (20, 80, False)])
def test_rolling_on_with_the_run_time_gone_on_is_the_same_car(run_s: int, kmh: int, same: bool) -> None:
    talk = begun().ask("010C", ("7E8", "410C2000")).ask("011F", ("7E8", "411F0096")).ask("010D", ("7E8", "410D50"))
    talk.link("lost").t += 5.0
    talk.link("up").ask("010D", ("7E8", f"410D{kmh:02X}")).ask("011F", ("7E8", f"411F{run_s:04X}"))
    assert (told(talk)[0].conclude().identity == "same") is same


def test_a_unit_that_an_earlier_recording_heard_and_this_one_does_not_leaves_its_findings_open() -> None:
    record = Record()
    record.begin("first", can=True)
    for arrival in Talk().everything(("7E8", OPEN), ("7E9", OPEN), _03="43010420").said:
        record.feed(arrival)
    record.finish()
    record.begin("second", can=True)
    for arrival in Talk().everything(("7E8", DONE)).said:
        record.feed(arrival)
    record.finish()
    found = record.conclude()
    assert (found.standing, found.silent) == ("uncertain", ("7E9",))
    assert found.monitors["catalyst"].units == ("7E9",)


def test_a_recording_of_another_car_changes_nothing_in_the_record() -> None:
    record = Record()
    for name, talk in (
        ("own", begun(DONE)),
        ("other", Talk().ask("0902", ("7E8", vin(VIN_B))).everything(("7E8", OPEN))),
    ):
        record.begin(name, can=True)
        for arrival in talk.said:
            record.feed(arrival)
        record.finish()
    assert (record.foreign, record.conclude().standing) == (("other",), "complete")
    assert isinstance(record.car, Car)
