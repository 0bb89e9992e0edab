"""What comes in beside the replies: of another unit, behind the prompt, before a question; each as what it is.

Bytes invented after the forms of reference standards.md, section 9, and python_obd.md, section 2.
"""

from datetime import UTC, datetime
from pathlib import Path
from random import Random

import pytest

from coach.car.arrivals import Answer, Outcome, Unparsed
from coach.journal.reader import open_journal
from coach.session.clear import _Recorded
from coach.simulator.framing import can_lines
from coach.simulator.vehicle import Reply
from tests.adapter.fakes import Reply as FakeReply
from tests.adapter.fakes import linked

RPM = "7E8 04 41 0C 1A F8||>"
READY = "7E8 06 41 01 00 07 E5 00||>"


def test_lines_that_came_in_unasked_and_cannot_be_read_are_kept_as_they_are() -> None:
    link, port = linked({"010C": RPM})
    port.say("7E9 06 41 01 8|NO DATA|OK|")
    assert link.ask("010C").arrivals(3)[0] == Unparsed(1.0, None, ("7E9 06 41 01 8",))


STRAYS = {
    "in front of the answer": ("7E9 04 43 01 01 35|7E8 04 41 0C 1A F8||>", "43010135"),
    "behind the answer": ("7E8 04 41 0C 1A F8|7E9 06 41 01 81 04 00 00||>", "410181040000"),
    "right behind the prompt": ("7E8 04 41 0C 1A F8||>7E9 04 43 01 01 35||>", "43010135"),
    "cut by the prompt": ("7E8 04 41 0C 1A F8||>|7E9 03 7F 03 78|", "7F0378"),
}


@pytest.mark.parametrize("name", STRAYS)
def test_a_frame_of_another_unit_during_another_question_is_an_answer_to_none(name: str) -> None:
    reply, stray = STRAYS[name]
    link, port = linked({"010C": [reply, RPM]})
    arrivals = link.ask("010C").arrivals(7)
    assert Answer(1.0, 7, "7E8", bytes.fromhex("410C1AF8")) in arrivals
    assert Answer(1.0, None, "7E9", bytes.fromhex(stray)) in arrivals
    assert not [a for a in arrivals if isinstance(a, Unparsed | Outcome)]
    assert port.commands == ["010C", "ATE0"], "both sides start afresh"


@pytest.mark.parametrize("stray", ["7E9 04 43 01 01 35|", "7E9 06 41 01 81 04 00 00|", "7E9 06 41 01 81 04 00 00||>"])
def test_an_answer_behind_the_prompt_keeps_its_unit_whenever_it_is_found(stray: str) -> None:
    """A slow unit, 0.15 s behind the adapter's prompt: found before the next question, or behind a command."""
    payload = bytes.fromhex(stray[6:].strip("|> ").replace(" ", "")[: 2 * int(stray[4:6], 16)])
    waiting, port = linked({"010C": RPM})
    port.say(stray)
    assert waiting.ask("010C").arrivals(7)[0] == Answer(1.0, None, "7E9", payload)
    command, _ = linked({"ATRV": f"{stray.strip('|>')}|12.4V||>", "010C": RPM})
    assert command.voltage() == 12.4
    assert command.ask("010C").arrivals(7)[0] == Answer(1.0, None, "7E9", payload)
    synchronised, _ = linked({"010C": ["\x80>", RPM], "ATE0": [f"{stray.strip('|>')}|OK||>", "OK||>"]})
    assert synchronised.ask("010C").arrivals(7)[-1] == Answer(1.0, None, "7E9", payload)


ASKED = {
    "010C": (("7E8", "410C1AF8"),),
    "0101": (("7E8", "41010007E500"), ("7E9", "410181040000")),
    "03": (("7E8", "4300"), ("7E9", "43010700")),
    "0902": (("7E8", "490201" + b"W0L000051T2123456".hex().upper()),),
}
STRAY_FRAMES = (("7E9", "43010135"), ("7EA", "410181040000"), ("7E9", "7F0778"), ("7EA", "4A010420"))


def lines_of(replies: tuple[tuple[str, str], ...]) -> list[str]:
    return [f"{line.header} {line.data}" for line in can_lines([Reply(e, bytes.fromhex(p)) for e, p in replies])]


@pytest.mark.parametrize("seed", range(60))
def test_wherever_a_stray_frame_comes_in_it_arrives_once_as_its_units_answer_to_nothing(seed: int) -> None:
    """Between the lines of the reply, behind its prompt at once, or before the next question."""
    random = Random(seed)
    stray = random.choice(STRAY_FRAMES)
    about = stray[1][2:4] if stray[1].startswith("7F") else f"{int(stray[1][:2], 16) - 0x40:02X}"
    first, second = random.choices([text for text in ASKED if text[:2] != about], k=2)  # else it is told from no answer
    lines, waits = lines_of(ASKED[first]), random.random() < 0.3
    lines = [*lines, "", ">"]
    if not waits:
        lines.insert(random.randrange(len(lines) + 1), *lines_of((stray,)))
    replies: list[FakeReply] = ["\r".join(lines) + "\r", "\r".join([*lines_of(ASKED[second]), "", ">"])]
    link, port = linked({first: replies, second: replies[1:]} if first != second else {first: [replies[0], replies[1]]})
    arrivals = list(link.ask(first).arrivals(1))
    if waits:
        port.say(lines_of((stray,))[0] + "\r")
    arrivals += link.ask(second).arrivals(2)
    told = [(a.request_id, a.ecu, a.payload.hex().upper()) for a in arrivals if isinstance(a, Answer)]
    assert [one for one in told if one[0] is None] == [(None, *stray)]
    assert [one[1:] for one in told if one[0] == 1] == list(ASKED[first])
    assert [one[1:] for one in told if one[0] == 2] == list(ASKED[second])
    assert not [a for a in arrivals if isinstance(a, Unparsed | Outcome)]


def test_what_came_in_last_is_not_lost_with_the_link() -> None:
    link, _ = linked({"ATRV": "7E9 04 43 01 01 35|12.4V||>"})
    link.voltage()
    assert link.beside().replies[0].ecu == "7E9"
    assert link.beside().replies == ()


def test_two_different_answers_of_one_unit_to_one_question_both_arrive() -> None:
    link, _ = linked({"0101": f"7E8 06 41 01 81 04 00 00|{READY}"})
    answers = [a for a in link.ask("0101").arrivals(7) if isinstance(a, Answer)]
    assert [(a.request_id, a.payload.hex()) for a in answers] == [(7, "410181040000"), (7, "41010007e500")]


def test_a_broken_list_of_a_second_unit_is_unread_under_its_question() -> None:
    link, _ = linked({"0100": "7E8 06 41 00 BE 3F A8 13|7E9 06 41 00 98 18 00||>"})
    arrivals = link.ask("0100").arrivals(7)
    assert [a for a in arrivals if isinstance(a, Unparsed)] == [Unparsed(1.0, 7, ("7E9 06 41 00 98 18 00",))]


def test_garbled_looks_for_the_car_are_kept_with_the_one_that_found_it() -> None:
    link, _ = linked({"0100": ["7E8 06 41 00 BE \xff|7E9 02 43 00||>", "7E8 06 41 00 BE 3F A8 13||>"]})
    assert link.look() == "car"
    assert [exchange.outcome for exchange in link.heard] == ["garbled", "value"]
    assert link.heard[0].arrivals(1)[1] == Answer(1.0, None, "7E9", bytes.fromhex("4300"))


def test_a_unit_that_only_puts_its_answer_off_beside_one_that_answers_is_heard() -> None:
    link, _ = linked({"03": "7E8 02 43 00|7E9 03 7F 03 78||>"})
    assert [(a.request_id, a.ecu, a.payload.hex()) for a in link.ask("03").arrivals(7) if isinstance(a, Answer)] == [
        (7, "7E8", "4300"),
        (7, "7E9", "7f0378"),
    ]


def test_a_clear_keeps_what_came_in_while_the_car_was_looked_for(tmp_path: Path) -> None:
    link, _ = linked({"0100": ["7E8 06 41 00 BE \xff|7E9 02 43 00||>", "7E8 06 41 00 BE 3F A8 13||>"]})
    link.look()
    with _Recorded(link, tmp_path / "j", "live", datetime(2026, 1, 1, tzinfo=UTC)):
        pass
    kept = [(type(a).__name__, getattr(a, "ecu", None)) for a in open_journal(tmp_path / "j").arrivals()]
    assert kept == [
        ("LinkChange", None),
        ("Request", None),
        ("Answer", "7E9"),
        ("Unparsed", None),
        ("Outcome", None),
        ("Request", None),
        ("Answer", "7E8"),
    ]
