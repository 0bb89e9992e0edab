"""Which question each reply of a recording belongs to, whom it was put to, and the clears that others sent.

All dialogues are invented; identifiers and services as in reference standards.md, section 9, the clear of ISO 14229 and
the adapter's header commands from memory.
"""

from pathlib import Path

import pytest

from coach.car.arrivals import Answer, Arrival, Outcome, Request, Unparsed
from tests.importer.captures import read, read_frames, said

READY, LIT = "0641010007E500", "0641018104000000"


def asked(arrivals: list[Arrival]) -> list[tuple[str, str | None]]:
    return [(a.text, a.to) for a in arrivals if isinstance(a, Request)]


def typed(path: Path, text: str, protocol: str | None = None) -> list[Arrival]:
    (path / "t").write_text(text)
    return read(path / "t", protocol)[0]


# ---------------------------------------------------------------- captures


def test_a_late_answer_of_another_unit_belongs_to_its_own_question_and_not_to_the_open_one(tmp_path: Path) -> None:
    arrivals, _ = read_frames(
        tmp_path,
        (0x7DF, "020101", 0.0),
        (0x7E8, READY, 0.02),
        (0x7DF, "02010C", 0.1),
        (0x7E9, LIT, 0.17),
        (0x7E8, "04410C1AF8", 0.18),
    )
    assert said(arrivals) == [(1, "7E8", "41010007E500"), (1, "7E9", "410181040000"), (2, "7E8", "410C1AF8")]


def test_an_answer_nobody_asked_for_keeps_its_unit_and_belongs_to_no_question(tmp_path: Path) -> None:
    arrivals, imported = read_frames(
        tmp_path, (0x7DF, "02010D", 0.0), (0x7E9, "0443010135", 0.01), (0x7E8, "03410D32", 0.02)
    )
    assert said(arrivals) == [(None, "7E9", "43010135"), (1, "7E8", "410D32")]
    assert imported.report.dialogue.unasked == 1


def test_a_pending_answer_is_an_answer_also_when_nothing_follows(tmp_path: Path) -> None:
    arrivals, _ = read_frames(
        tmp_path, (0x7DF, "0103", 0.0), (0x7E8, "024300", 0.01), (0x7E9, "037F0378", 0.02), (0x7DF, "02010D", 9.0)
    )
    assert said(arrivals) == [(1, "7E8", "4300"), (1, "7E9", "7F0378")]


def test_an_answer_may_come_five_seconds_after_it_was_last_put_off(tmp_path: Path) -> None:
    arrivals, _ = read_frames(
        tmp_path, (0x7DF, "0103", 0.0), (0x7E9, "037F0378", 4.0), (0x7E9, "037F0378", 8.0), (0x7E9, "024300", 12.0)
    )
    assert said(arrivals)[-1] == (1, "7E9", "4300")


def test_two_different_answers_of_one_unit_to_one_question_both_arrive(tmp_path: Path) -> None:
    arrivals, _ = read_frames(tmp_path, (0x7DF, "020101"), (0x7E8, LIT), (0x7E8, READY))
    assert said(arrivals) == [(1, "7E8", "410181040000"), (1, "7E8", "41010007E500")]


def test_a_broken_list_of_a_second_unit_is_unread_under_its_question(tmp_path: Path) -> None:
    arrivals, _ = read_frames(tmp_path, (0x7DF, "020100"), (0x7E8, "064100BE3FA813"), (0x7E9, "064100981800"))
    assert [(a.request_id, a.lines) for a in arrivals if isinstance(a, Unparsed)] == [
        (1, ("7E9 06 41 00 98 18 00",)),
    ]


def test_a_refusal_cut_behind_its_first_byte_is_no_other_diagnostics(tmp_path: Path) -> None:
    arrivals, imported = read_frames(tmp_path, (0x7DF, "0103"), (0x7E8, "017F"))
    assert said(arrivals) == [(None, "7E8", "7F")]
    assert imported.report.dialogue.other == 0


@pytest.mark.parametrize(
    ("tester", "unit", "address"),
    [(0x7E0, 0x7E8, "7E8"), (0x7DF, 0x7E8, None), (0x18DA10F1, 0x18DAF110, "18DAF110"), (0x18DB33F1, 0x18DAF110, None)],
)
@pytest.mark.parametrize(("request_", "reply"), [("0414FFFFFF", "0154"), ("0314FF00", "0154"), ("0104", "0144")])
def test_a_clear_by_another_program_is_a_question_with_its_answer(
    tmp_path: Path, tester: int, unit: int, address: str | None, request_: str, reply: str
) -> None:
    arrivals, imported = read_frames(tmp_path, (tester, request_), (unit, reply))
    assert asked(arrivals) == [(request_[2:], address)]
    assert said(arrivals) == [(1, f"{unit:X}", reply[2:])]
    assert imported.report.dialogue.other == 0


def test_a_clear_that_was_refused_put_off_or_not_answered_shows_how_it_ended(tmp_path: Path) -> None:
    arrivals, _ = read_frames(
        tmp_path,
        (0x7E0, "0414FFFFFF", 0.0),
        (0x7E8, "037F1422", 0.1),
        (0x7E1, "0414FFFFFF", 10.0),
        (0x7E9, "037F1478", 10.1),
        (0x7E0, "0414FFFFFF", 20.0),
        (0x7DF, "020101", 30.0),
    )
    assert said(arrivals) == [(1, "7E8", "7F1422"), (2, "7E9", "7F1478")]
    ends = {a.request_id: (a.outcome, a.why) for a in arrivals if isinstance(a, Outcome)}
    assert ends[1] == ("refused", "7E8 7F 22 conditions not correct, or wrong sequence")
    assert ends[2] == ("no_answer", "the answer stayed pending")
    assert ends[3] == ("no_answer", "nobody answered in this capture")


def test_a_clear_that_both_units_confirmed_is_there_with_the_counters_around_it(tmp_path: Path) -> None:
    arrivals, _ = read_frames(
        tmp_path,
        (0x7DF, "020130", 0.0),
        (0x7E8, "03413020", 0.1),
        (0x7DF, "0104", 1.0),
        (0x7E8, "0144", 1.1),
        (0x7E9, "0144", 1.2),
        (0x7DF, "020130", 3.0),
        (0x7E8, "03413000", 3.1),
    )
    assert [hex_ for _, _, hex_ in said(arrivals)] == ["413020", "44", "44", "413000"]


def test_what_else_the_newer_diagnostics_say_stays_other_traffic(tmp_path: Path) -> None:
    arrivals, imported = read_frames(
        tmp_path, (0x7E0, "0319020F"), (0x7E8, "035902FF"), (0x7DF, "02010D"), (0x7E8, "03410D32")
    )
    assert said(arrivals) == [(1, "7E8", "410D32")]
    assert imported.report.dialogue.other == 2


# ---------------------------------------------------------------- transcripts: whom a question reaches

MAP = "7E8 06 41 00 BE 3F A8 13\n"
ONE = "7E8 06 41 01 00 07 E5 00\n"


@pytest.mark.parametrize(
    ("commands", "to"),
    [
        ([], None),
        (["AT SH 7E0"], "7E8"),
        (["ATSH7E1"], "7E9"),
        (["ATSH7DF"], None),
        (["ATSH 7E0", "ATSH 7DF"], None),
        (["ATSH 7E0", "ATZ"], None),
        (["ATSH 7E0", "AT D"], None),
        (["ATSH 7E0", "ATDPN"], "7E8"),
        (["ATSH 7E0", "ATAR"], "7E8"),
        (["ATSH DA 10 F1"], "18DAF110"),
        (["ATSH 18DA18F1"], "18DAF118"),
        (["ATSH DB 33 F1"], None),
        (["ATSH 760"], "760"),
        (["AT CRA 7E9"], "7E9"),
        (["AT CRA 18DAF118"], "18DAF118"),
        (["AT CRA 7E9", "AT CRA"], None),
        (["AT CRA 7E9", "AT AR"], None),
        (["AT CRA 7EX"], None),
        (["ATSH 7DF", "AT CRA 7E8"], "7E8"),
        (["ATCF 7E9", "ATCM 7FF"], "7E9"),
        (["ATCF 7E8", "ATCM 7F8"], None),
        (["ATSH 82 10 F1"], "10"),
        (["ATSH C2 33 F1"], None),
        (["ATSH 68 6A F1"], None),
        (["ATSH 6C 10 F1"], "10"),
    ],
)
def test_a_transcript_tells_by_its_commands_whom_a_question_reaches(
    tmp_path: Path, commands: list[str], to: str | None
) -> None:
    text = "".join(f">{command}\n{'A6' if command.endswith('DPN') else 'OK'}\n" for command in commands)
    arrivals = typed(tmp_path, f">0100\n{MAP}{text}>0101\n{ONE}>")
    assert asked(arrivals) == [("0100", None), ("0101", to)]


def test_a_header_that_the_adapter_refused_changes_nothing(tmp_path: Path) -> None:
    assert asked(typed(tmp_path, f">ATSH7E0\n?\n>0101\n{ONE}>")) == [("0101", None)]


def test_a_request_shown_as_its_frame_tells_by_its_identifier_whom_it_reaches(tmp_path: Path) -> None:
    text = f"7DF 02 01 00 00 00 00 00 00\n{MAP}7E0 02 01 01 00 00 00 00 00\n{ONE}"
    assert asked(typed(tmp_path, text)) == [("0100", None), ("0101", "7E8")]


def test_a_reply_without_a_header_comes_from_the_one_unit_that_was_asked(tmp_path: Path) -> None:
    text = ">ATSH7E0\nOK\n>0101\n41 01 00 07 E5 00\n>ATSH7E1\nOK\n>0101\n41 01 81 04 00 00\n>"
    arrivals = typed(tmp_path, text)
    assert said(arrivals) == [(1, "7E8", "41010007E500"), (2, "7E9", "410181040000")]
    assert not [a for a in arrivals if isinstance(a, Unparsed)]


# ---------------------------------------------------------------- transcripts: strays and clears


def test_a_frame_of_another_unit_during_another_question_is_an_unasked_answer(tmp_path: Path) -> None:
    arrivals = typed(tmp_path, f">0100\n{MAP}>010C\n7E9 04 43 01 01 35\n7E8 04 41 0C 1A F8\n>")
    assert said(arrivals)[1:] == [(None, "7E9", "43010135"), (2, "7E8", "410C1AF8")]


def test_a_whole_answer_without_a_header_to_another_question_is_an_unasked_answer(tmp_path: Path) -> None:
    arrivals = typed(tmp_path, ">0101\n41 01 00 07 E5 00\n43 01 01 35\n>")
    assert said(arrivals) == [(1, "unnamed", "41010007E500"), (None, "unnamed", "43010135")]
    spoilt = typed(tmp_path, ">0101\n41 01 00 07 E5 00\n43 01 01\n>")
    assert [a.request_id for a in spoilt if isinstance(a, Unparsed)] == [1], "half a line may be of any reply"


def test_an_answer_of_the_standard_behind_a_question_of_another_kind_is_not_lost(tmp_path: Path) -> None:
    arrivals = typed(tmp_path, f">0100\n{MAP}>22F190\n7E8 03 7F 22 31\n7E9 06 41 01 81 04 00 00\n>")
    assert said(arrivals)[1:] == [(None, "7E9", "410181040000")]


def test_an_answer_behind_the_adapters_voltage_is_not_lost(tmp_path: Path) -> None:
    lines = ["TX 0100", f"RX {MAP.strip()}", "TX ATRV", "RX 12.4V", "RX 7E9 06 41 01 81 04 00 00"]
    text = "\n".join(f"10:00:0{number} {line}" for number, line in enumerate(lines))
    assert said(typed(tmp_path, text))[1:] == [(None, "7E9", "410181040000")]


@pytest.mark.parametrize(
    ("question", "reply", "expected"),
    [
        ("14 FF FF FF", "7E8 01 54", ("14FFFFFF", "7E8", "54")),
        ("14FF00", "7E8 03 54 FF 00", ("14FF00", "7E8", "54FF00")),
        ("14 00 01 02", "7E8 01 54", ("14000102", "7E8", "54")),
        ("14FFFFFF", "7E8 03 7F 14 22", ("14FFFFFF", "7E8", "7F1422")),
        ("14FFFFFF", "18 DA F1 10 01 54", ("14FFFFFF", "18DAF110", "54")),
        ("14FFFFFF", "54", ("14FFFFFF", "unnamed", "54")),
        ("04", "44", ("04", "unnamed", "44")),
    ],
)
def test_a_clear_in_a_transcript_is_a_question_with_its_answer(
    tmp_path: Path, question: str, reply: str, expected: tuple[str, str, str]
) -> None:
    protocol = "can29" if reply.startswith("18") else "can11"
    arrivals = typed(tmp_path, f">{question}\n{reply}\n>0100\n{MAP}>", protocol)
    text, ecu, payload = expected
    assert asked(arrivals)[0] == (text, None)
    assert said(arrivals)[0] == (1, ecu, payload)
    assert not [a for a in arrivals if isinstance(a, Unparsed) and a.request_id == 1]


def test_a_clear_before_can_is_read_with_its_checksum(tmp_path: Path) -> None:
    from tests.importer.test_transcript import legacy

    answer = legacy("83 F1 10", "54 FF 00", "5")
    arrivals = typed(tmp_path, f">14FF00\n{answer}\n>0100\n{legacy('86 F1 10', '41 00 BE 3E B8 11', '5')}\n>")
    assert said(arrivals)[0] == (1, "10", "54FF00")


def test_dots_of_a_slow_search_before_a_reply_are_no_part_of_it(tmp_path: Path) -> None:
    from tests.importer.test_transcript import legacy

    line = legacy("48 6B 10", "41 00 BE 3E B8 11", "3")
    arrivals = typed(tmp_path, f">0100\n.....{line}\n>0100\n{line}\n>")
    assert [hex_ for _, _, hex_ in said(arrivals)] == ["4100BE3EB811"] * 2
    assert not [a for a in arrivals if isinstance(a, Unparsed | Outcome)]


def test_nothing_of_a_foreign_reply_is_taken_for_an_answer(tmp_path: Path) -> None:
    text = f">0100\n{MAP}>1902FF\n7E8 10 0B 59 02 FF 01 35 00\n7E8 21 28 04 20 00 28\n>010D\n7E8 03 41 0D 32\n>"
    arrivals = typed(tmp_path, text)
    assert [a for a in arrivals if isinstance(a, Answer) and a.payload[0] not in (0x41,)] == []
