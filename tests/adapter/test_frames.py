"""Every way a reply can be broken, as python-OBD 0.7.3 was measured to misread it, judged by our frames.

Rows are the fault lists of python-OBD's behaviour (its sections "under faults"), one row each.
"""

import pytest

from coach.simulator.framing import can_lines
from coach.simulator.vehicle import Reply
from coach.transport.assembly import checksum
from coach.transport.frames import Judged, judge, split_lines

CAN, CAN29, ISO, VPW, KWP = "6", "7", "3", "2", "5"


def run(reply: str, request: str, protocol: str = CAN, padding: frozenset[str] = frozenset()) -> Judged:
    lines, prompt = split_lines(reply.replace("|", "\r").encode("latin-1"))
    return judge(lines, request, protocol, prompt=prompt, padding=padding)


def payloads(judged: Judged) -> list[tuple[str, str]]:
    return [(reply.ecu, reply.payload.hex().upper()) for reply in judged.good]


def summed(text: str, protocol: str) -> str:
    raw = bytes.fromhex(text)
    return (raw + bytes([checksum(raw, protocol)])).hex(" ").upper()


# ---------------------------------------------------------------- what is read

READ = {
    "one ECU": ("7E8 04 41 0C 1A F8 |>", "010C", [("7E8", "410C1AF8")]),
    "padded to eight bytes": ("7E8 04 41 0C 1A F8 00 00 00 |>", "010C", [("7E8", "410C1AF8")]),
    "spaces off": ("7E804410C1AF8||>", "010C", [("7E8", "410C1AF8")]),
    "lower case": ("7e8 04 41 0c 1a f8|>", "010C", [("7E8", "410C1AF8")]),
    "line feeds": ("7E8 04 41 0C 1A F8\r\n\r\n>", "010C", [("7E8", "410C1AF8")]),
    "echo on": ("010C|7E8 04 41 0C 1A F8||>", "010C", [("7E8", "410C1AF8")]),
    "two ECUs with different readiness, both kept": (
        "7E8 06 41 01 00 07 E5 00 |7E9 06 41 01 82 04 00 00 |>",
        "0101",
        [("7E8", "41010007E500"), ("7E9", "410182040000")],
    ),
    "only the transmission": ("7E9 04 41 0C 1A F8|>", "010C", [("7E9", "410C1AF8")]),
    "single frame twice": ("7E8 04 41 0C 1A F8|7E8 04 41 0C 1A F8|>", "010C", [("7E8", "410C1AF8")]),
    "pending, then the reply": ("7E8 03 7F 01 78|7E8 04 41 0C 1A F8|>", "010C", [("7E8", "410C1AF8")]),
    "search glued to the data": ("SEARCHING...7E8 06 41 00 BE 3F A8 13|>", "0100", [("7E8", "4100BE3FA813")]),
    "search on a line of its own": ("SEARCHING...|7E8 06 41 00 BE 3F A8 13|>", "0100", [("7E8", "4100BE3FA813")]),
    "no codes on CAN": ("7E8 02 43 00|>", "03", [("7E8", "4300")]),
    "dots in front of the data": ("....7E8 04 41 0C 1A F8|>", "010C", [("7E8", "410C1AF8")]),
    "NUL slipped into a line": ("7E8 04 41 0C 1A \x00F8|>", "010C", [("7E8", "410C1AF8")]),
    "NUL slipped into a byte": ("7E8 04 41 0C 1\0A F8|>", "010C", [("7E8", "410C1AF8")]),
    "NULs slipped in at several places": ("7E8 04\0 41 0C\0 1A F8|>", "010C", [("7E8", "410C1AF8")]),
    "NUL slipped in, spaces off": ("7E80441\x000C1AF8|>", "010C", [("7E8", "410C1AF8")]),
    "NULs in a full frame": ("7E8 04 41 0C 1A\0\0\0 F8 00 00 00|>", "010C", [("7E8", "410C1AF8")]),
}


@pytest.mark.parametrize("name", READ)
def test_a_whole_reply_is_read_as_sent(name: str) -> None:
    reply, request, expected = READ[name]
    judged = run(reply, request)
    assert (judged.outcome, payloads(judged)) == ("value", expected)
    assert not judged.unparsed


VIN_FRAMES = ("10 14 49 02 01 57 30 4C", "21 30 30 30 30 35 31 54", "22 32 31 32 33 34 35 36")
VIN = "490201" + b"W0L000051T2123456".hex().upper()


def vin(*order: int, header: str = "7E8") -> str:
    return "|".join(f"{header} {VIN_FRAMES[i]}" for i in order) + "|>"


def test_a_long_reply_is_put_together_on_both_kinds_of_can() -> None:
    assert payloads(run(vin(0, 1, 2), "0902")) == [("7E8", VIN)]
    assert payloads(run(vin(0, 1, 2, header="18 DA F1 10"), "0902", CAN29)) == [("18DAF110", VIN)]


@pytest.mark.parametrize("order", [(0, 1, 2, 0, 1, 2), (0, 0, 1, 1, 2, 2), (0, 1, 2, 2)])
def test_frames_that_come_twice_are_no_loss(order: tuple[int, ...]) -> None:
    judged = run(vin(*order), "0902")
    assert (payloads(judged), judged.unparsed) == ([("7E8", VIN)], ())


@pytest.mark.parametrize("order", [(0, 1), (0, 2), (1, 2), (0, 2, 1), (0,), (0, 1, 1)])
def test_a_lost_or_shifted_frame_leaves_no_value_and_its_lines_are_kept(order: tuple[int, ...]) -> None:
    judged = run(vin(*order), "0902")
    assert (judged.outcome, judged.good) == ("garbled", ())
    assert judged.unparsed


def test_a_short_last_frame_is_not_filled() -> None:
    assert run("7E8 10 14 49 02 01 57 30 4C|7E8 21 30 30 30 30 35 31 54|7E8 22 32 31 32|>", "0902").outcome == "garbled"


def test_interleaved_ecus_are_kept_apart() -> None:
    both = [f"{ecu} {frame}" for frame in VIN_FRAMES for ecu in ("7E8", "7EA")]
    assert payloads(run("|".join(both) + "|>", "0902")) == [("7E8", VIN), ("7EA", VIN)]


def test_three_ecus_with_long_headers_are_all_kept_by_their_whole_address() -> None:
    reply = "".join(f"18 DA F1 {ecu} 06 41 01 0{i} 07 E5 00|" for i, ecu in enumerate(("10", "18", "28")))
    assert payloads(run(reply + ">", "0101", CAN29)) == [
        ("18DAF110", "41010007E500"),
        ("18DAF118", "41010107E500"),
        ("18DAF128", "41010207E500"),
    ]


def test_no_ecu_is_taken_for_the_engine() -> None:
    """Before CAN python-OBD hears the source 10 alone, or whoever came first; we hear everybody by address."""
    lines = [summed("486B11410D32", ISO), summed("486B28410D33", ISO)]
    assert payloads(run("|".join(lines) + "|>", "010D", ISO)) == [("11", "410D32"), ("28", "410D33")]


def test_more_than_fifteen_frames_count_on_from_zero() -> None:
    data = bytes([0x43, 60]) + bytes(range(120))
    frames = ["10 7A " + data[:6].hex(" ")]
    frames += [f"2{n % 16:X} " + data[6 + 7 * (n - 1) : 6 + 7 * n].ljust(7, b"\0").hex(" ") for n in range(1, 18)]
    judged = run("|".join(f"7E8 {frame}" for frame in frames) + "|>", "03")
    assert payloads(judged) == [("7E8", data.hex().upper())]


# ---------------------------------------------------------------- wrong answers that look right

GARBLED = {
    "readiness one byte short is not all complete": ("7E8 06 41 01 83 07 E5|>", "0101"),
    "readiness cut to two bytes, well framed": ("7E8 04 41 01 83 07|>", "0101"),
    "readiness cut to one byte, well framed": ("7E8 03 41 01 83|>", "0101"),
    "rpm short by a byte": ("7E8 04 41 0C 14|>", "010C"),
    "rpm short by a byte, well framed": ("7E8 03 41 0C 14|>", "010C"),
    "no data bytes at all": ("7E8 02 41 0C|>", "010C"),
    "odd digits": ("7E8 04 41 0C 1A F|>", "010C"),
    "header cut": ("8 04 41 0C 1A F8|>", "010C"),
    "headers off": ("41 0C 1A F8|>", "010C"),
    "headers off, readiness": ("41 01 83 07 E5 00|>", "0101"),
    "a speed reply to engine speed": ("7E8 03 41 0D 37|>", "010C"),
    "this cycle's bits to since clear": ("7E8 06 41 41 00 07 E5 00|>", "0101"),
    "the support map to readiness": ("7E8 06 41 00 BE 3F A8 13|>", "0101"),
    "a speed reply to stored codes": ("7E8 03 41 0D 37|>", "03"),
    "pending codes to stored codes": ("7E8 02 47 00|>", "03"),
    "a refusal of another service": ("7E8 03 7F 09 12|>", "0101"),
    "43 alone": ("7E8 01 43|>", "03"),
    "43 00 with length one": ("7E8 01 43 00|>", "03"),
    "count and codes disagree": ("7E8 04 43 02 01 33|>", "03"),
    "high-bit rubbish in a line": ("7E8 04 41 0C \xff1A F8|>", "010C"),
    "NUL in place of a digit": ("7E8 04 41 0C 1A \x008|>", "010C"),
    "NULs in place of a data byte": ("7E8 06 41 01 83 \0\0 E5 00|>", "0101"),
    "NULs in place of a data byte and its space": ("7E8 06 41 01 83\0\0\0 E5 00|>", "0101"),
    "NULs in place of two digits, spaces off": ("7E8064101\x003\x007E5610|>", "0101"),
    "NULs in place of a header": ("\0\0\0 04 41 0C 1A F8|>", "010C"),
    "data error behind the line": ("7E8 04 41 0C 1A F8 <DATA ERROR|>", "010C"),
    "receive error behind the line": ("7E8 04 41 0C 1A F8 <RX ERROR|>", "010C"),
    "an unknown header": ("123 04 41 0C 1A F8|>", "010C"),
    "a 29-bit line in an 11-bit session": ("18 DA F1 10 04 41 0C 1A F8|>", "010C"),
    "nine bytes in a frame": ("7E8 04 41 0C 1A F8 00 00 00 00|>", "010C"),
    "a flow control frame": ("7E8 30 00 00|>", "010C"),
    "half a line, no prompt": ("7E8 04 41 0C 1A", "010C"),
    "garbage with a prompt": ("\x81\x92\xa3|>", "03"),
    "a rebooted adapter": ("||ELM327 v1.5||>", "03"),
    "an answer that is an AT reply": ("OK|>", "03"),
}


@pytest.mark.parametrize("name", GARBLED)
def test_what_is_broken_is_garbled_and_brings_no_value(name: str) -> None:
    reply, request = GARBLED[name]
    judged = run(reply, request)
    assert (judged.outcome, judged.good) == ("garbled", ())
    assert judged.unparsed or judged.replies, "nothing vanishes"
    assert judged.why
    assert not judged.clean


WORDS = [
    *("STOPPED", "BUFFER FULL", "?", "DATA ERROR", "<RX ERROR", "ACT ALERT", "LV RESET", "ERR94"),
    *("NO DATA", "UNABLE TO CONNECT", "CAN ERROR", "BUS ERROR", "FB ERROR", "BUS BUSY"),
    *("BUS INIT: ERROR", "BUS INIT: ...ERROR", "BUSINIT: ...ERROR", "SEARCHING...|UNABLE TO CONNECT"),
]


@pytest.mark.parametrize("request_", ["0101", "03", "07", "0A", "0601", "0902", "010C"])
@pytest.mark.parametrize("word", WORDS)
def test_the_adapters_words_are_never_a_value(word: str, request_: str) -> None:
    judged = run(f"{word}||>", request_)
    assert judged.outcome in ("no_answer", "garbled")
    assert (judged.good, judged.replies) == ((), ())


@pytest.mark.parametrize("word", ["NO DATA", "UNABLE TO CONNECT", "CAN ERROR", "BUS INIT: ...ERROR"])
def test_silence_is_told_from_garbage_in_the_adapters_own_word(word: str) -> None:
    judged = run(f"{word}||>", "03")
    assert judged.outcome == "no_answer"
    assert judged.why.replace("...", "") in word.replace("...", "")


@pytest.mark.parametrize("code", ["11", "12", "22", "31", "7F"])
@pytest.mark.parametrize("service", ["01", "03", "07", "0A", "06", "09"])
def test_a_refusal_is_a_refusal_and_not_a_reading(service: str, code: str) -> None:
    request = {"01": "0101", "06": "0601", "09": "0902"}.get(service, service)
    judged = run(f"7E8 03 7F {service} {code}|>", request)
    assert (judged.outcome, judged.good) == ("refused", ())
    assert judged.replies[0].payload == bytes.fromhex(f"7F{service}{code}")
    assert code in judged.why


def test_one_ecu_without_codes_and_one_refusing_are_both_kept() -> None:
    judged = run("7E8 02 43 00|7E9 03 7F 03 11|>", "03")
    assert payloads(judged) == [("7E8", "4300")]
    assert [reply.payload.hex() for reply in judged.replies] == ["4300", "7f0311"]


def test_a_pending_response_alone_is_no_answer_and_says_who() -> None:
    judged = run("7E8 03 7F 01 78|>", "0101")
    assert (judged.outcome, judged.pending, judged.clean) == ("no_answer", ("7E8",), False)


def test_an_empty_reply_is_no_answer_and_without_a_prompt_calls_for_resynchronising() -> None:
    assert (run("||>", "010C").outcome, run("||>", "010C").clean) == ("no_answer", True)
    assert (run("", "010C").outcome, run("", "010C").clean) == ("no_answer", False)


def test_a_good_line_beside_garbage_is_a_value_and_the_garbage_is_kept() -> None:
    judged = run("7E8 06 41 01 83 07 E5 00|7E9 06 41 01 \xff2 04 00 00|>", "0101")
    assert (judged.outcome, judged.unparsed, judged.clean) == ("value", ("7E9 06 41 01 \xff2 04 00 00",), False)


def test_a_stray_frame_beside_the_answer_is_kept_and_calls_for_resynchronising() -> None:
    judged = run("7E8 03 41 0D 37|7E8 06 41 01 83 07 E5 00|>", "0101")
    assert payloads(judged) == [("7E8", "41018307E500")]
    assert len(judged.replies) == 2
    assert [reply.payload.hex().upper() for reply in judged.strays] == ["410D37"]
    assert not judged.clean


STRAYS = {
    "codes during readiness": ("0101", "43010135", True),
    "readiness during codes": ("03", "410181040000", True),
    "another item of the same service": ("0902", "490401" + "41" * 3, True),
    "a refusal of another service": ("0101", "7F0911", True),
    "a clear's answer": ("0101", "54", True),
    "a refusal of this service": ("0101", "7F0122", False),
    "an answer to this question that is too short": ("0101", "41018107", False),
    "a first byte of no service": ("0101", "0101830000", False),
    "newer diagnostics, perhaps a spoilt answer": ("0101", "62F190", False),
}


@pytest.mark.parametrize("name", STRAYS)
def test_what_answers_another_question_is_told_from_a_broken_answer_to_this_one(name: str) -> None:
    request, said, stray = STRAYS[name]
    judged = run(f"7E9 {len(said) // 2:02X} {bytes.fromhex(said).hex(' ')}|>", request)
    assert [(reply.ecu, reply.payload.hex().upper()) for reply in judged.replies] == [("7E9", said)]
    assert judged.strays == (judged.replies if stray else ())


def test_buffer_full_behind_a_good_line_is_kept() -> None:
    judged = run("7E8 06 41 01 83 07 E5 00|BUFFER FULL|>", "0101")
    assert (judged.outcome, judged.unparsed) == ("value", ("BUFFER FULL",))


def test_a_missing_prompt_keeps_whole_lines_and_says_so() -> None:
    judged = run("7E8 04 41 0C 1A F8|", "010C")
    assert judged.outcome == "value"
    assert judged.unparsed
    assert not judged.clean


def test_an_ecu_that_fills_its_frames_is_not_believed_when_one_is_short() -> None:
    """06 41 01 A B C D filled with one zero; when D is lost the zero would stand in its place: all complete."""
    learned = run("7E8 03 41 0D 37 00 00 00 00|>", "010D").padding
    assert learned == {"7E8"}
    assert run("7E8 06 41 01 83 07 E5 00|>", "0101", padding=learned).outcome == "garbled"
    assert run("7E8 06 41 01 83 07 E5 61 00|>", "0101", padding=learned).outcome == "value"


def test_signs_of_a_reboot_are_seen() -> None:
    for reply in ("ELM327 v1.5|>", "0101|7E8 06 41 01 83 07 E5 00|>", "41 01 83 07 E5 00|>"):
        assert run(reply, "0101").reset
    assert not run("7E8 06 41 01 83 07 E5 00|>", "0101").reset


# ---------------------------------------------------------------- before CAN


def test_the_published_line_of_a_j1850_car_has_the_checksum_we_compute() -> None:
    """48 6B 10 41 00 BE 3E B8 11 FA: the example line of the trade's adapter data sheet (from memory)."""
    judged = run("48 6B 10 41 00 BE 3E B8 11 FA|>", "0100", VPW)
    assert payloads(judged) == [("10", "4100BE3EB811")]


@pytest.mark.parametrize(("protocol", "header"), [(ISO, "486B10"), (VPW, "486B10"), ("1", "416B10"), (KWP, "86F110")])
def test_before_can_a_line_counts_only_with_its_checksum(protocol: str, header: str) -> None:
    line = summed(header + "41018307E561", protocol)
    assert payloads(run(line + "|>", "0101", protocol)) == [("10", "41018307E561")]
    without = run(line[:-3] + "|>", "0101", protocol)
    assert (without.outcome, without.good) == ("garbled", ())
    wrong = run(line[:-2] + "00|>", "0101", protocol)
    assert (wrong.outcome, wrong.good) == ("garbled", ())


@pytest.mark.parametrize(
    "opened", ["....", "BUS INIT: ...OK|", "BUS INIT: .|.OK", "BUS INIT:|...|OK|", "SEARCHING..|.."]
)
@pytest.mark.parametrize("nul", ["", "\0", "\0\0"])
def test_before_can_a_line_whose_checksum_holds_counts_whatever_stands_before_it(opened: str, nul: str) -> None:
    """Forms of the opening as in the reference's section 2; NULs as the chips of adapters slip them in."""
    line = summed("486B10410D32", ISO)
    judged = run(f"{opened}{line[:9]}{nul}{line[9:]}|>", "010D", ISO)
    assert (payloads(judged), judged.unparsed, judged.clean) == ([("10", "410D32")], (), True)
    wrong = run(f"{opened}{line[:-2]}00|>", "010D", ISO)
    assert (wrong.outcome, wrong.good) == ("garbled", ())


def test_an_opening_of_the_bus_that_failed_on_a_second_line_is_silence() -> None:
    judged = run("BUS INIT: ..|.ERROR||>", "010D", ISO)
    assert (judged.outcome, judged.why, judged.unparsed) == ("no_answer", "BUS INIT: ERROR", ())


def test_a_search_that_did_not_end_is_silence_and_half_a_reply_behind_it_is_not() -> None:
    searching = run("SEARCHING.....", "010D")
    assert (searching.outcome, searching.why, searching.clean) == (
        "no_answer",
        "the opening of the bus did not end",
        False,
    )
    assert run("SEARCHING.....7E8 03 41", "010D").outcome == "garbled"


def test_before_can_codes_of_several_lines_stay_apart_and_every_service_keeps_its_bytes() -> None:
    lines = [summed("486B10" + said, ISO) for said in ("47010003020303", "47040000000000")]
    assert payloads(run("|".join(lines) + "|>", "07", ISO)) == [("10", "47010003020303"), ("10", "47040000000000")]


def test_before_can_numbered_lines_are_handed_on_as_sent() -> None:
    lines = [summed("87F110" + said, KWP) for said in ("49020100000057", "490202304C3030")]
    assert payloads(run("BUS INIT: ...OK|" + "|".join(lines) + "|>", "0902", KWP)) == [
        ("10", "49020100000057"),
        ("10", "490202304C3030"),
    ]


def test_before_can_a_refusal_is_no_engine_speed() -> None:
    judged = run(summed("83F1107F0112", KWP) + "|>", "010C", KWP)
    assert (judged.outcome, judged.good) == ("refused", ())


def test_a_kwp_header_must_say_the_right_length() -> None:
    assert run(summed("87F110410D32", KWP) + "|>", "010D", KWP).outcome == "garbled"


# ---------------------------------------------------------------- transcripts of others


PUBLISHED = {
    "0101": "41018333FF63",
    "0100": "4100BFBFA891",
    "0601": "4601010A0BB00BB00BB00105100048000000640185240096004BFFFF",
    "03": "4306014301960234" + "02CD03570A24",
}
"""Payloads of Scapy's test file (samples of ISO 15031-5), as in reference standards.md, sections 1.1 to 5."""


@pytest.mark.parametrize("request_", PUBLISHED)
def test_published_worked_examples_come_through_as_they_stand(request_: str) -> None:
    raw = bytes.fromhex(PUBLISHED[request_])
    lines = [f"{line.header} {line.data}" for line in can_lines([Reply("7E8", raw)])]
    assert payloads(run("|".join(lines) + "|>", request_)) == [("7E8", PUBLISHED[request_])]
