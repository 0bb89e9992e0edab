"""Adapter transcripts, typed and logged: what was asked, who answered, and what cannot be read, with its line.

The dialogues are invented; payloads with a source name it. Checksums are those of `coach.transport`, which the
adapter's own tests hold against python-OBD's.
"""

from pathlib import Path

import pytest

from coach.car.arrivals import Arrival, ClockStep, Outcome, Reading, Request, Unparsed
from coach.drive.core import make_core
from coach.importer.columns import ImportProblem
from coach.importer.imported import Imported
from coach.session.review import review
from coach.transport.assembly import checksum
from coach.words.imports import report_lines
from coach.words.review import page
from coach.words.units import Units
from tests.importer.captures import read, said
from tests.recordings import a_profile, played

VIN_HEX = "490201" + b"WP0ZZZ99ZTS392124".hex().upper()
"""python-OBD's sample VIN (reference standards.md, section 3)."""


def transcript(path: Path, text: str | bytes, protocol: str | None = None) -> tuple[list[Arrival], Imported]:
    (path / "t").write_bytes(text.encode() if isinstance(text, str) else text)
    arrivals, imported = read(path / "t", protocol)
    assert imported.kind == "transcript"
    return arrivals, imported


def legacy(header: str, data: str, protocol: str) -> str:
    """One line before CAN with its checksum."""
    raw = bytes.fromhex(header + data)
    return (raw + bytes([checksum(raw, protocol)])).hex(" ").upper()


def outcomes(arrivals: list[Arrival]) -> dict[int, str]:
    return {a.request_id: a.outcome for a in arrivals if isinstance(a, Outcome)}


def unread(arrivals: list[Arrival]) -> list[tuple[int | None, tuple[str, ...]]]:
    return [(a.request_id, a.lines) for a in arrivals if isinstance(a, Unparsed)]


# ---------------------------------------------------------------- one dialogue in many spellings

SPELLINGS = {
    "terminal, with prompts": ">0100\n7E8 06 41 00 BE 3F A8 13\n\n>010C\n7E8 04 41 0C 1A F8\n\n>",
    "carriage returns only": ">0100\r7E8 06 41 00 BE 3F A8 13 \r\r>010C\r7E8 04 41 0C 1A F8 \r\r>",
    "without prompts": "0100\n7E8 06 41 00 BE 3F A8 13\n010C\n7E8 04 41 0C 1A F8\n",
    "without spaces": ">0100\n7E8064100BE3FA813\n>010C\n7E804410C1AF8\n",
    "lower case": ">0100\n7e8 06 41 00 be 3f a8 13\n>010c\n7e8 04 41 0c 1a f8\n",
    "spaces in requests, awaited count": "> 01 00 1\n7E8 06 41 00 BE 3F A8 13\n> 01 0C 1\n7E8 04 41 0C 1A F8\n",
    "echo": "TX 0100\nRX 0100\nRX 7E8 06 41 00 BE 3F A8 13\nTX 010C\nRX 010C\nRX 7E8 04 41 0C 1A F8\nRX >\n",
    "set-up, search": "ATZ\nELM327 v1.5\n>ATH1\nOK\n"
    ">0100\nSEARCHING...\n7E8 06 41 00 BE 3F A8 13\n>010C\n7E8 04 41 0C 1A F8",
    "search on the same line": ">0100\nSEARCHING...7E8 06 41 00 BE 3F A8 13\n>010C\n7E8 04 41 0C 1A F8\n",
    "search in pieces": "0100\nSEARCH\nING..\n.\n7E8 06 41 00 BE 3F A8 13\n010C\n7E8 04 41 0C 1A F8\n",
    "arrows": "-> 0100\n<- 7E8 06 41 00 BE 3F A8 13\n-> 010C\n<- 7E8 04 41 0C 1A F8\n",
    "double arrows": ">> 0100\n<< 7E8 06 41 00 BE 3F A8 13\n>> 010C\n<< 7E8 04 41 0C 1A F8\n",
    "names": "Request: 0100\nResponse: 7E8 06 41 00 BE 3F A8 13\nRequest: 010C\nResponse: 7E8 04 41 0C 1A F8\n",
    "one line": "0100 -> 7E8 06 41 00 BE 3F A8 13\n010C: 7E8 04 41 0C 1A F8\n",
    "logged bytes": "x write: b'0100\\r'\nx read: b'7E8 06 41 00 BE 3F A8 13 \\r\\r>'\n"
    "x write: b'010C\\r'\nx read: b'7E8 04 41 0C 1A F8 \\r\\r>'\n",
    "logged bytes in chunks": "TX: b'0100\\r'\nRX: b'7E8 06 41 0'\nRX: b'0 BE 3F A8 13 \\r'\nRX: b'\\r>'\n"
    "TX: b'010C\\r'\nRX: b'7E'\nRX: b'8 04 41 0C 1A F8 \\r\\r>'\n",
    "marked line ends": "TX 0100<CR>\nRX 7E8 06 41 00 BE 3F A8 13<CR><CR>>\n"
    "TX 010C<CR>\nRX 7E8 04 41 0C 1A F8<CR><CR>>\n",
    "chunked lines": "TX 0100\nRX 7E8 06 41 00 B\nRX E 3F A8 13\nTX 010C\nRX 7E8 04 41\nRX  0C 1A F8\n",
    "identifiers of eight digits": ">0100\n00 00 07 E8 06 41 00 BE 3F A8 13\n>010C\n00 00 07 E8 04 41 0C 1A F8\n",
    "count of bytes shown": ">0100\n7E8 8 06 41 00 BE 3F A8 13 00\n>010C\n7E8 8 04 41 0C 1A F8 00 00 00\n",
    "frames of the requests": "7DF 02 01 00 00 00 00 00 00\n7E8 06 41 00 BE 3F A8 13 00\n"
    "7DF 02 01 0C 00 00 00 00 00\n7E8 04 41 0C 1A F8 00 00 00\n",
    "a bus monitor's screen": "  can0  7DF   [8]  02 01 00 00 00 00 00 00\n  can0  7E8   [8]  06 41 00 BE 3F A8 13 00\n"
    "  can0  3E9   [2]  06 41\n  can0  7DF   [3]  02 01 0C\n  can0  7E8   [8]  04 41 0C 1A F8 00 00 00\n"
    "  can0  7E0   [8]  30 00 00 00 00 00 00 00\n",
    "comments": "# a warm engine\n>0100\n7E8 06 41 00 BE 3F A8 13\n// next\n>010C\n7E8 04 41 0C 1A F8\n",
    "Windows": "\ufeff>0100\r\n7E8 06 41 00 BE 3F A8 13\r\n\r\n>010C\r\n7E8 04 41 0C 1A F8\r\n\r\n>",
    "NUL bytes of a bad line": ">0100\n7E8 06 41 00 BE\0 3F A8 13\n>010C\n7E8 04 41 0C 1A F8\n",
}


@pytest.mark.parametrize("spelling", SPELLINGS)
def test_one_dialogue_in_every_spelling(tmp_path: Path, spelling: str) -> None:
    arrivals, imported = transcript(tmp_path, SPELLINGS[spelling])
    assert [(a.id, a.text) for a in arrivals if isinstance(a, Request)] == [(1, "0100"), (2, "010C")]
    assert said(arrivals) == [(1, "7E8", "4100BE3FA813"), (2, "7E8", "410C1AF8")]
    assert unread(arrivals) == []
    assert imported.report.unread == []  # type: ignore[union-attr]
    assert (imported.protocol, imported.can) == ("ISO 15765-4, CAN 11 bit", True)


STAMPS = {
    "clock time": ["23:59:59.900", "23:59:59.950", "00:00:01.900", "00:00:01.950"],
    "date and time": [
        "2026-03-01 07:00:00,000",
        "2026-03-01 07:00:00,050",
        "2026-03-01 07:00:02,000",
        "2026-03-01 07:00:02,050",
    ],
    "seconds": ["12.000", "12.050", "14.000", "14.050"],
    "milliseconds since 1970": ["1772348400000", "1772348400050", "1772348402000", "1772348402050"],
    "minutes and seconds": ["00:12.000", "00:12.050", "00:14.000", "00:14.050"],
}


@pytest.mark.parametrize("form", STAMPS)
@pytest.mark.parametrize("dress", ["{} ", "[{}] ", "({}) ", "{}: ", "[{}]\t"])
def test_times_in_front_of_the_lines_are_taken(tmp_path: Path, form: str, dress: str) -> None:
    texts = ["TX 0100", "RX 7E8 06 41 00 BE 3F A8 13", "TX 010C", "RX 7E8 04 41 0C 1A F8"]
    lines = [dress.format(stamp) + text for stamp, text in zip(STAMPS[form], texts, strict=True)]
    arrivals, imported = transcript(tmp_path, "\n".join(lines))
    assert imported.report.form == form  # type: ignore[union-attr]
    began = {"date and time": "2026-03-01T07:00:00", "milliseconds since 1970": "2026-03-01T07:00:00+00:00"}
    assert imported.began == began.get(form)
    assert [a.t for a in arrivals] == [0.0, 0.05, 2.0, 2.05]
    assert said(arrivals) == [(1, "7E8", "4100BE3FA813"), (2, "7E8", "410C1AF8")]


# ---------------------------------------------------------------- the adapter's own words


@pytest.mark.parametrize(
    ("words", "outcome"),
    [
        ("NO DATA", "no_answer"),
        ("SEARCHING...\nUNABLE TO CONNECT", "no_answer"),
        ("CAN ERROR", "no_answer"),
        ("BUS INIT: ...ERROR", "no_answer"),
        ("BUS INIT: .\n..\nERROR", "no_answer"),
        ("BUS ERROR", "no_answer"),
        ("STOPPED", "garbled"),
        ("BUFFER FULL", "garbled"),
        ("?", "garbled"),
        ("48 6B 10 41 01 00 07 E5 00 <DATA ERROR", "garbled"),
        ("7F 01 12", "refused"),
        ("", "no_answer"),
    ],
)
def test_what_the_adapter_says_instead_of_an_answer_becomes_the_outcome(
    tmp_path: Path, words: str, outcome: str
) -> None:
    arrivals, _ = transcript(tmp_path, f">0101\n{words}\n\n>0100\n41 00 BE 3F A8 13\n>")
    assert outcomes(arrivals) == {1: outcome}


def test_an_inline_word_behind_the_request_is_no_part_of_it(tmp_path: Path) -> None:
    arrivals, _ = transcript(tmp_path, "0101NO DATA\n010C41 0C 1A F8\n0100SEARCHING...41 00 BE 3F A8 13\n0343 01 01 33")
    assert [a.text for a in arrivals if isinstance(a, Request)] == ["0101", "010C", "0100", "03"]
    assert [hex_ for _, _, hex_ in said(arrivals)] == ["410C1AF8", "4100BE3FA813", "43010133"]


def test_the_adapters_voltage_is_a_reading_where_its_time_is_known(tmp_path: Path) -> None:
    text = "10:00:00 TX ATRV\n10:00:00 RX 12.6V\n10:00:01 TX 010D\n10:00:01 RX 41 0D 32\n"
    arrivals, _ = transcript(tmp_path, text)
    assert [(a.t, a.signal, a.value) for a in arrivals if isinstance(a, Reading)] == [(0.0, "adapter_v", 12.6)]


# ---------------------------------------------------------------- several control units, stray lines

FOUR = """>0101
18 DA F1 10 06 41 01 00 07 E5 00
18 DA F1 18 06 41 01 00 04 00 00
!! 3F 18 DA
18 DA F1 28 06 41 01 00 04 00 00
18DAF140064101800400 00
18 DB 33 F1 02 01 01
18 DA F1 28 06 41 01 00
>03
18 DA F1 10 10 08 43 03 01 43 01 96
18 DA F1 18 02 43 00 00 00 00 00 00
18 DA F1 10 21 02 34 00 00 00 00 00
18 DA F1 28 02 43 00 00 00 00 00 00
18 DA F1 40 02 43 00 00 00 00 00 00
>"""
"""The codes are those of the sample message of ISO 15031-5 (reference standards.md, section 2)."""


def test_four_ecus_on_29_bits_with_stray_lines_between(tmp_path: Path) -> None:
    arrivals, imported = transcript(tmp_path, FOUR)
    assert imported.protocol == "ISO 15765-4, CAN 29 bit"
    assert [(ecu, hex_) for number, ecu, hex_ in said(arrivals) if number == 1] == [
        ("18DAF110", "41010007E500"),
        ("18DAF118", "410100040000"),
        ("18DAF128", "410100040000"),
        ("18DAF140", "410180040000"),
    ]
    assert (2, "18DAF110", "4303014301960234") in said(arrivals)
    numbers = [number for number, _ in imported.report.unread]  # type: ignore[union-attr]
    assert sorted(numbers) == [4, 7, 8]
    assert {number for number, _ in unread(arrivals)} == {1}
    core, _ = played(arrivals)
    assert core.monitor_states()["catalyst"] is None  # a line nobody can make out: never "complete"
    assert core.car.codes("stored") is not None


def test_two_ecus_that_disagree_are_kept_apart_by_their_headers(tmp_path: Path) -> None:
    text = ">0101\n7E8 06 41 01 00 07 E5 00\n7E9 06 41 01 82 07 E5 E5\n>"
    arrivals, _ = transcript(tmp_path, text)
    core, _ = played(arrivals)
    assert core.car.mil_on() is True
    assert core.monitor_states()["catalyst"] == "incomplete"


def test_two_ecus_that_disagree_without_headers_leave_it_uncertain(tmp_path: Path) -> None:
    arrivals, imported = transcript(tmp_path, ">0101\n41 01 00 07 E5 00\n41 01 82 07 E5 E5\n>03\n43 00\n43 01 04 20\n>")
    core, _ = played(arrivals)
    assert core.monitor_states()["catalyst"] is None
    assert core.car.mil_on() is None
    assert core.car.codes("stored") is None
    assert outcomes(arrivals)[1] == "garbled"
    assert any("several control units answered without a name" in line for line in report_lines(imported.report))
    assert "what the recording holds of readiness cannot be made out" in page(
        review(tmp_path / "t"), Units(False), False
    )


def test_one_ecu_without_headers_has_no_name_and_is_believed(tmp_path: Path) -> None:
    arrivals, imported = transcript(tmp_path, ">0101\n41 01 00 07 E5 00\n>03\n43 00\n>")
    assert {ecu for _, ecu, _ in said(arrivals)} == {"unnamed"}
    assert imported.can is True  # codes with their count
    core, _ = played(arrivals)
    assert core.monitor_states()["catalyst"] == "complete"
    assert core.car.codes("stored") == ()


def test_numbered_lines_without_headers_are_one_message(tmp_path: Path) -> None:
    text = ">0902\n014\n0: 49 02 01 57 50 30\n1: 5A 5A 5A 39 39 5A 54\n2: 53 33 39 32 31 32 34\n>"
    arrivals, _ = transcript(tmp_path, text)
    assert said(arrivals) == [(1, "unnamed", VIN_HEX)]


def test_numbered_lines_of_two_ecus_mixed_cannot_be_told_apart(tmp_path: Path) -> None:
    text = ">0902\n014\n0: 49 02 01 57 50 30\n0: 49 02 01 57 50 31\n1: 5A 5A 5A 39 39 5A 54\n2: 53 33 39 32 31 32 34\n>"
    arrivals, imported = transcript(tmp_path, text)
    assert said(arrivals) == []
    assert outcomes(arrivals) == {1: "garbled"}
    assert len(imported.report.unread) == 5  # type: ignore[union-attr]


def test_a_lost_line_of_a_long_reply_is_no_reply(tmp_path: Path) -> None:
    text = ">0902\n7E8 10 14 49 02 01 57 50 30\n7E8 22 53 33 39 32 31 32 34\n>0100\n7E8 06 41 00 BE 3F A8 13"
    arrivals, _ = transcript(tmp_path, text)
    assert said(arrivals) == [(2, "7E8", "4100BE3FA813")]
    assert outcomes(arrivals) == {1: "garbled"}


@pytest.mark.parametrize(
    "spoilt",
    [
        "#E9 06 41 01 00 04 00 00",
        "; E9 06 41 01 00 04 00 00",
        "7E9 06 41 01 00 04 00",
        "7E9 06 41 01 00 04 00 0",
        "7E9 06 41 01 DATA ERROR",
        "7?9 06 41 01 00 04 00 00",
        "E9 06 41 01 00 04 00 00",
        "7E9",
        "6 41 01 00 04 00 00",
        "\x80\x81\x82",
    ],
)
def test_a_spoilt_line_among_good_ones_never_leaves_the_finding_clean(tmp_path: Path, spoilt: str) -> None:
    good = ">0100\n7E8 06 41 00 BE 3F A8 13\n"
    text = f"{good}>0101\n7E8 06 41 01 00 07 E5 00\n{spoilt}\n{good}>"
    arrivals, imported = transcript(tmp_path, text)
    core, _ = played(arrivals)
    assert core.monitor_states()["catalyst"] is None
    assert 5 in [number for number, _ in imported.report.unread]  # type: ignore[union-attr]


def test_a_reply_behind_a_command_is_not_swallowed(tmp_path: Path) -> None:
    arrivals, _ = transcript(tmp_path, ">ATE0\nOK\n41 01 00 07 E5 00\n>0100\n41 00 BE 3F A8 13\n>")
    assert said(arrivals)[0] == (None, "unnamed", "41010007E500")


# ---------------------------------------------------------------- before CAN

OLD = {
    "1": ("41 6B 10", "SAE J1850 PWM"),
    "2": ("48 6B 10", "SAE J1850 VPW"),
    "3": ("48 6B 10", "ISO 9141-2"),
    "5": ("86 F1 10", "ISO 14230-4"),
}


@pytest.mark.parametrize("protocol", OLD)
def test_the_checksum_tells_the_protocol_before_can(tmp_path: Path, protocol: str) -> None:
    header, name = OLD[protocol]
    line = legacy(header, "41 01 00 07 E5 00", protocol)
    arrivals, imported = transcript(tmp_path, f">0101\n{line}\n>0101\n{line.replace(' ', '').lower()}\n>")
    assert (imported.protocol, imported.can) == (name, False)
    assert said(arrivals) == [(1, "10", "41010007E500"), (2, "10", "41010007E500")]


@pytest.mark.parametrize(
    "init",
    [
        "BUS INIT: ...OK",
        "BUS INIT: OK",
        "BUS INIT: .\n..\nOK",
        "BUS INIT: \n...\nOK",
        "BUS IN\nIT: ...O\nK",
        "BUSINIT: ...OK",
    ],
)
def test_bus_init_in_pieces_is_no_answer_and_no_rubbish(tmp_path: Path, init: str) -> None:
    line = legacy("48 6B 10", "41 00 BE 3E B8 11", "3")
    arrivals, imported = transcript(tmp_path, f">0100\n{init}\n{line}\n\n>0100\n{line}\n>")
    assert said(arrivals) == [(1, "10", "4100BE3EB811"), (2, "10", "4100BE3EB811")]
    assert unread(arrivals) == []
    assert imported.protocol == "ISO 9141-2"


def test_a_line_whose_checksum_is_wrong_is_not_believed_and_is_listed(tmp_path: Path) -> None:
    good = legacy("48 6B 10", "41 01 00 07 E5 00", "3")
    bad = legacy("48 6B 11", "41 01 00 04 00 00", "3").replace("04", "0C")
    arrivals, imported = transcript(tmp_path, f">0101\n{good}\n{bad}\n>0100\n{good}\n")
    assert said(arrivals)[0] == (1, "10", "41010007E500")
    assert imported.report.unread[0] == (3, bad)  # type: ignore[union-attr]
    core, _ = played(arrivals)
    assert core.monitor_states()["catalyst"] is None


def test_a_line_cut_in_two_is_joined_when_its_checksum_proves_it(tmp_path: Path) -> None:
    line = legacy("48 6B 10", "41 01 00 07 E5 00", "3")
    whole = legacy("48 6B 10", "41 00 BE 3E B8 11", "3")
    arrivals, _ = transcript(tmp_path, f">0100\n{whole}\n>0101\n{line[:14]}\n{line[14:]}\n>")
    assert said(arrivals)[-1] == (2, "10", "41010007E500")
    assert unread(arrivals) == []


def test_codes_on_several_lines_before_can_are_one_finding(tmp_path: Path) -> None:
    lines = "\n".join(legacy("48 6B 10", data, "3") for data in ("43 01 43 01 96 02 34", "43 02 CD 03 57 0A 24"))
    arrivals, imported = transcript(tmp_path, f">03\n{lines}\n>")
    core = make_core(a_profile(), can=imported.can)
    happened = [happening for arrival in arrivals for happening in core.feed(arrival)]
    told = [h.code for h in happened if type(h).__name__ == "CodeAppeared"]  # type: ignore[attr-defined]
    assert told == [
        "P0143",
        "P0196",
        "P0234",
        "P02CD",
        "P0357",
        "P0A24",
    ]  # ISO 15031-5's sample, standards.md section 2


def test_the_protocol_may_be_named_and_a_wrong_name_is_told(tmp_path: Path) -> None:
    line = legacy("48 6B 10", "41 01 00 07 E5 00", "3")
    _, imported = transcript(tmp_path, f">0101\n{line}\n>", protocol="iso9141")
    assert imported.protocol == "ISO 9141-2"
    with pytest.raises(ImportProblem, match="can11, can29"):
        read(tmp_path / "t", protocol="morse")


def test_the_adapters_own_word_for_the_protocol_is_taken(tmp_path: Path) -> None:
    text = ">ATDPN\nA8\n>0100\n7E8 06 41 00 BE 3F A8 13\n>"
    assert transcript(tmp_path, text)[1].protocol == "ISO 15765-4, CAN 11 bit 250 kbit/s"


# ---------------------------------------------------------------- what else stands in such files


def test_questions_of_other_kinds_are_passed_over(tmp_path: Path) -> None:
    arrivals, imported = transcript(tmp_path, ">22F190\n62 F1 90 57 50\n>3E00\n7E 00\n>010D\n41 0D 32\n>")
    assert said(arrivals) == [(1, "unnamed", "410D32")]
    assert imported.report.other == 2  # type: ignore[union-attr]


def test_a_reply_whose_request_is_missing_is_an_unasked_one(tmp_path: Path) -> None:
    arrivals, _ = transcript(tmp_path, "7E8 06 41 01 00 07 E5 00\n>0100\n7E8 06 41 00 BE 3F A8 13\n>")
    assert said(arrivals)[0] == (None, "7E8", "41010007E500")


def test_sentences_between_are_listed_with_their_lines_and_spoil_nothing(tmp_path: Path) -> None:
    text = "Now the codes were read again.\n03\n43 00\nThen the readiness of this car.\n0101\n41 01 00 07 E5 00\n"
    arrivals, imported = transcript(tmp_path, text)
    assert "lines in words, no part of the dialogue (1, 4): 2" in report_lines(imported.report)
    assert imported.report.unread == []  # type: ignore[union-attr]
    assert unread(arrivals) == []


def test_a_transcript_without_times_never_times_anything(tmp_path: Path) -> None:
    """Speeds of ten minutes of highway, without times: no hold, no denominator, no phase."""
    rows = [f"010D\n41 0D {speed:02X}\n010C\n41 0C 1F 40\n0111\n41 11 40" for speed in [95, 96, 94] * 400]
    rows += [f"010D\n41 0D {speed:02X}\n010C\n41 0C 1F 40\n0111\n41 11 00" for speed in range(100, 20, -2)]
    arrivals, imported = transcript(tmp_path, "\n".join(rows))
    assert any(isinstance(a, ClockStep) for a in arrivals)
    core, happened = played(arrivals)
    assert not {"PhaseDriven", "GeneralDenominatorMet", "RepeatCounted"} & {type(h).__name__ for h in happened}
    assert core.car.denominator.timed_s == 0
    assert "no times in it: nothing in it can be timed, no hold counts" in report_lines(imported.report)
