"""Law 2, nothing vanishes: whatever could not be made out turns a finding into "uncertain", never into "clean".

Bytes after SAE J1979's layouts (reference in tests/j1979/test_worked_examples.py); the two-ECU car is invented.
"""

import pytest

from coach.car.arrivals import Answer, Arrival, Outcome, Request, Unparsed
from coach.car.happenings import CodeAppeared, CodesCleared, CodeVanished
from coach.drive.core import make_core
from tests.recordings import a_profile, ask, fed

DONE, OPEN = "410100076500", "410100076565"
BOTH = ask(0, 1, "0101", ("7E8", DONE), ("7E9", DONE))


@pytest.mark.parametrize("second", ["7F0122", "41010007", "4101000765"])
def test_an_ecu_that_refuses_or_answers_short_leaves_every_monitor_uncertain(second: str) -> None:
    core, _ = fed(ask(0, 1, "0101", ("7E8", DONE), ("7E9", second)))
    assert core.monitor_states()["catalyst"] is None
    assert core.car.mil_on() is None


def test_an_ecu_whose_own_list_leaves_readiness_out_may_refuse_it() -> None:
    listed = ask(0, 1, "0100", ("7E8", "4100FE3EB813"), ("7E9", "410000180000"))  # the second: 0C and 0D only
    core, _ = fed(listed + ask(1, 2, "0101", ("7E8", DONE), ("7E9", "7F0112")))
    assert core.monitor_states()["catalyst"] == "complete"


def test_silence_on_the_last_question_of_a_recording_counts() -> None:
    core, _ = fed(BOTH + ask(60, 2, "0101", ("7E8", DONE)))
    core.finish(61.0)
    assert core.monitor_states()["catalyst"] is None
    core, _ = fed(BOTH + ask(60, 2, "0101", ("7E8", DONE)))
    core.finish(60.1, answered=False)  # cut short: the question never had its time
    assert core.monitor_states()["catalyst"] == "complete"


def test_no_answer_at_all_is_silence_of_every_ecu() -> None:
    core, _ = fed([*BOTH, Request(60, 2, "0101"), Outcome(61, 2, "no_answer", "NO DATA")])
    assert core.monitor_states()["catalyst"] is None
    core, _ = fed(
        [
            *BOTH,
            Request(60, 2, "0101"),
            Outcome(61, 2, "no_answer", ""),
            *ask(62, 3, "0101", ("7E8", DONE), ("7E9", DONE)),
        ]
    )
    assert core.monitor_states()["catalyst"] == "complete"


@pytest.mark.parametrize(("text", "good"), [("0101", DONE), ("03", "4300"), ("07", "4700")])
@pytest.mark.parametrize("garbage_first", [True, False])
def test_lines_nobody_can_make_out_are_not_washed_out_by_the_answer_beside_them(
    text: str, good: str, garbage_first: bool
) -> None:
    garbage: Arrival = Unparsed(10.02, 2, ("7E9 06 41 01 0? 07",))
    answer: Arrival = Answer(10.02, 2, "7E8", bytes.fromhex(good))
    two = [garbage, answer] if garbage_first else [answer, garbage]
    start = ask(0, 1, "0101", ("7E8", DONE)) if text != "0101" else []
    core, _ = fed([*start, Request(10, 2, text), *two])
    kind = {"03": "stored", "07": "pending"}.get(text)
    assert (core.car.codes(kind) if kind else core.monitor_states()["catalyst"]) is None
    for arrival in ask(20, 3, text, ("7E8", good)):
        core.feed(arrival)
    assert (core.car.codes(kind) if kind else core.monitor_states()["catalyst"]) is not None


def test_after_a_clear_nothing_read_before_it_stands() -> None:
    read = [*ask(0, 1, "0101", ("7E8", DONE)), *ask(1, 2, "03", ("7E8", "43010420")), *ask(1, 3, "07", ("7E8", "4700"))]
    core, happened = fed([*read, *ask(5, 4, "04", ("7E8", "44"))])
    assert [h for h in happened if isinstance(h, CodesCleared)]
    assert core.car.codes("stored") is None
    assert core.monitor_states()["catalyst"] is None
    for arrival in [*ask(6, 5, "0101", ("7E8", OPEN)), *ask(7, 6, "03", ("7E8", "4300"))]:
        core.feed(arrival)
    assert (core.monitor_states()["catalyst"], core.car.codes("stored")) == ("incomplete", ())


def test_a_clear_that_one_ecu_confirms_leaves_the_other_to_be_read_again() -> None:
    core, _ = fed([*BOTH, *ask(5, 2, "04", ("7E8", "44")), *ask(6, 3, "0101", ("7E8", OPEN), ("7E9", DONE))])
    assert core.monitor_states()["catalyst"] == "incomplete"
    core, _ = fed([*ask(0, 1, "03", ("7E8", "4300"), ("7E9", "43010700")), *ask(5, 2, "04", ("7E8", "44"))])
    found = core.car.conclude()
    assert (found.codes["stored"].certain, found.codes["stored"].said, found.clear.state) == (None, (), "unproved")
    assert core.car.ecus["7E9"].doubts["03"].why == "clear_unproved"


def test_a_distance_since_the_clear_that_falls_back_is_a_clear() -> None:
    read = [*ask(0, 1, "0101", ("7E8", DONE)), *ask(1, 2, "03", ("7E8", "4300"))]
    core, _ = fed([*read, *ask(2, 3, "0131", ("7E8", "41310100")), *ask(9, 4, "0131", ("7E8", "41310000"))])
    assert core.monitor_states()["catalyst"] is None
    assert core.car.codes("stored") is None


def test_a_monitor_that_is_complete_no_more_tells_of_a_clear() -> None:
    read = [*ask(0, 1, "0101", ("7E8", DONE)), *ask(1, 2, "03", ("7E8", "4300"))]
    core, happened = fed([*read, *ask(9, 4, "0101", ("7E8", OPEN))])
    assert [h.evidence for h in happened if isinstance(h, CodesCleared)] == ["readiness_reset"]
    assert core.monitor_states()["catalyst"] == "incomplete"
    assert core.car.codes("stored") is None


def test_no_stored_code_is_not_believed_while_the_count_says_otherwise() -> None:
    core, _ = fed([*ask(0, 1, "03", ("7E8", "4300")), *ask(1, 2, "0101", ("7E8", "410183076500"))])
    assert core.car.mil_on() is True
    assert core.car.codes("stored") is None


def test_a_count_of_padding_is_no_answer_at_all() -> None:
    core, _ = fed([*ask(0, 1, "0101", ("7E8", DONE)), *ask(1, 2, "03", ("7E8", "43010000"))])
    assert core.car.codes("stored") is None


def test_permanent_codes_want_every_ecu_once_one_of_them_offers_the_service() -> None:
    core, _ = fed([*BOTH, *ask(1, 2, "0A", ("7E8", "4A00"))])
    assert core.car.codes("permanent") is None
    core, _ = fed([*BOTH, *ask(1, 2, "0A", ("7E8", "4A00"), ("7E9", "4A00"))])
    assert core.car.codes("permanent") == ()


def test_a_record_from_the_past_is_not_used_and_leaves_its_finding_uncertain() -> None:
    late = ask(99.5, 3, "0101", ("7E8", OPEN))
    core, _ = fed([*ask(0, 1, "0101", ("7E8", DONE)), *ask(100, 2, "010D", ("7E8", "410D00")), *late])
    assert core.monitor_states()["catalyst"] is None


def test_before_can_a_second_message_of_codes_is_told_once() -> None:
    core = make_core(a_profile(), can=False)
    happened = []
    for number, t in ((1, 0.0), (2, 10.0), (3, 20.0)):
        answers = (("10", "43010401330171"), ("10", "43017400000000")) if number < 3 else (("10", "43010401330171"),)
        for arrival in ask(t, number, "03", *answers):
            happened.extend(core.feed(arrival))
    happened.extend(core.finish(30.0))
    assert [(h.t, h.code) for h in happened if isinstance(h, CodeAppeared)] == [
        (0.05, "P0104"),
        (0.05, "P0133"),
        (0.05, "P0171"),
        (0.05, "P0174"),
    ]
    assert [h.code for h in happened if isinstance(h, CodeVanished)] == ["P0174"]


def test_a_sensor_at_its_highest_value_is_no_value() -> None:
    core, _ = fed([*ask(0, 1, "0105", ("7E8", "41055A")), *ask(1, 2, "0105", ("7E8", "4105FF"))])
    assert core.car.values["coolant_c"] == 50.0
    core, _ = fed(ask(0, 1, "010D", ("7E8", "410DFF")))
    assert "speed_kmh" not in core.car.values
