"""Transcripts as logs and terminals leave them: prefixes, colours, lost line ends, times since the line before.

The dialogues are invented; the forms of the logs are common practice, from memory.
"""

from pathlib import Path

import pytest

from coach.words.imports import report_lines
from tests.importer.captures import said
from tests.importer.test_transcript import transcript
from tests.recordings import played

LOGS = {
    "a system log": "May  1 12:00:00 host obd[123]: > 0101\nMay  1 12:00:00 host obd[123]: < 7E8 06 41 01 81 07 65 04\n"
    "May  1 12:00:01 host obd[123]: > 03\nMay  1 12:00:01 host obd[123]: < 7E8 04 43 01 01 33\n",
    "a telephone's log": "05-01 12:00:00.123  1234  1250 D Link: TX: 0101\n"
    "05-01 12:00:00.223  1234  1250 D Link: RX: 7E8 06 41 01 81 07 65 04\n"
    "05-01 12:00:01.123  1234  1250 D Link: TX: 03\n05-01 12:00:01.223  1234  1250 D Link: RX: 7E8 04 43 01 01 33\n",
    "a telephone's log, short": "D/Link    ( 1234): TX: 0101\nD/Link    ( 1234): RX: 7E8 06 41 01 81 07 65 04\n"
    "D/Link    ( 1234): TX: 03\nD/Link    ( 1234): RX: 7E8 04 43 01 01 33\n",
    "level and name": "DEBUG:root:Sent: 0101\nDEBUG:root:Received: 7E8 06 41 01 81 07 65 04\n"
    "DEBUG:root:Sent: 03\nDEBUG:root:Received: 7E8 04 43 01 01 33\n",
    "colours of a terminal": "\x1b[32m>0101\x1b[0m\n7E8 06 41 01 81 07 65 04\n\x1b[1;32m>03\x1b[0m\n7E8 04 43 01 01 33",
    "rubbed out": ">0103\b1\n7E8 06 41 01 81 07 65 04\n>0101\b\b\b\b03\n7E8 04 43 01 01 33\n>",
    "line ends lost": "0101 7E8 06 41 01 81 07 65 04 >\n03 7E8 04 43 01 01 33 >",
    "remarks behind the lines": "0101   # readiness\n7E8 06 41 01 81 07 65 04   # engine\n03\n7E8 04 43 01 01 33 ; x",
    "counts of replies and bytes": ">0101 1\r7E880641018107650400\r>031\r7E880443010133AAAAAA\r>",
    "a table of text": "| asked | reply |\n|---|---|\n| 0101 | 7E8 06 41 01 81 07 65 04 |\n| 03 | 7E8 04 43 01 01 33 |",
}


@pytest.mark.parametrize("log", LOGS.values(), ids=LOGS.keys())
def test_the_dialogue_is_found_in_every_dress(tmp_path: Path, log: str) -> None:
    arrivals, _ = transcript(tmp_path, log)
    assert said(arrivals) == [(1, "7E8", "410181076504"), (2, "7E8", "43010133")]


def test_a_count_of_bytes_without_spaces_on_29_bits(tmp_path: Path) -> None:
    arrivals, _ = transcript(tmp_path, ">0101\n18DAF11080641018107650400\n>03\n18DAF110804430101330000AA\n>")
    assert said(arrivals) == [(1, "18DAF110", "410181076504"), (2, "18DAF110", "43010133")]


def test_frames_of_several_on_one_line_are_parted_at_their_headers(tmp_path: Path) -> None:
    text = (
        ">0101\r18 DA F1 10 06 41 01 81 07 65 04 18 DA F1 18 06 41 01 00 04 00 00\r>03\r18 DA F1 10 04 43 01 01 33\r>"
    )
    arrivals, _ = transcript(tmp_path, text)
    assert [(ecu, hex_) for number, ecu, hex_ in said(arrivals) if number == 1] == [
        ("18DAF110", "410181076504"),
        ("18DAF118", "410100040000"),
    ]


def test_a_reply_on_the_requests_line_shows_its_protocol_too(tmp_path: Path) -> None:
    arrivals, imported = transcript(tmp_path, "010141 01 81 07 65 04\n0343 01 01 33\n")
    assert imported.can is True  # codes with their count
    core, _ = played(arrivals)
    assert core.car.codes("stored") == ("P0133",)


def test_a_long_line_of_hex_never_vanishes(tmp_path: Path) -> None:
    text = ">0100\n41 00 BE 3F A8 13\n>03\n43 00\n4300430043004300430043004300\n>"
    arrivals, imported = transcript(tmp_path, text)
    assert [number for number, _ in imported.report.unread] == [5]  # type: ignore[union-attr]
    core, _ = played(arrivals)
    assert core.car.codes("stored") is None


def test_times_since_the_line_before_are_added_up(tmp_path: Path) -> None:
    text = "".join(f"+{500 + 10 * i} ms TX 010D\n+80 ms RX 7E8 03 41 0D 37\n" for i in range(10))
    arrivals, imported = transcript(tmp_path, text)
    assert "times read as milliseconds since the line before" in report_lines(imported.report)
    assert arrivals[-1].t == 9 * 0.08 + sum(0.5 + 0.01 * i for i in range(1, 10)) + 0.08  # the first line is at 0


def test_the_answer_to_a_command_is_no_line_that_could_not_be_read(tmp_path: Path) -> None:
    _, imported = transcript(tmp_path, ">ATDP\nAUTO, ISO 15765-4 (CAN 11/500)\n>0101\n7E8 06 41 01 81 07 65 04\n>")
    assert imported.report.unread == []  # type: ignore[union-attr]


@pytest.mark.parametrize("line", ["DEBUG: ", "INFO DEBUG:", "[TX", "a: ", "[a] ", "7E8 ", "0 ", "tx:-", "in'", "\x1b["])
def test_no_line_takes_for_ever(tmp_path: Path, line: str) -> None:
    arrivals, _ = transcript(tmp_path, f">0101\n7E8 06 41 01 81 07 65 04\n{line * 600}\n>03\n7E8 04 43 01 01 33\n>")
    assert said(arrivals)[0] == (1, "7E8", "410181076504")


# ---------------------------------------------------------------- who was asked, who was silent


@pytest.mark.parametrize("first", ["41 01 00 04 00 00", "41 01 00 07 E5 00"], ids=["other words", "the same words"])
def test_without_headers_one_reply_less_than_before_is_no_finding(tmp_path: Path, first: str) -> None:
    arrivals, imported = transcript(tmp_path, f">03\n43 00\n>0101\n41 01 00 07 E5 00\n{first}\n>07\n47 00\n47 00\n>")
    core, _ = played(arrivals)
    assert core.car.codes("stored") is None
    assert core.car.codes("pending") == ()
    assert any("fewer answered than before" in line for line in report_lines(imported.report))


@pytest.mark.parametrize("command", ["ATSH 7E0", "ATSH DA 10 F1", "ATCRA 7E8"])
def test_it_is_said_when_one_control_unit_alone_was_asked(tmp_path: Path, command: str) -> None:
    asked = "7E8 06 41 01 00 07 E5 00\n>03\n7E8 02 43 00\n"
    _, imported = transcript(tmp_path, f">{command}\nOK\n>0101\n{asked}>ATD\nOK\n>0101\n{asked}>")
    assert [line.rpartition(": ")[2] for line in report_lines(imported.report) if "alone" in line] == ["2"]
