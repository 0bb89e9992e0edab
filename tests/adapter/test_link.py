"""The link over a port in memory: law 4, keeping in step, pending responses, what becomes arrivals."""

import time

import pytest

from coach.adapter.allowed import check_allowed
from coach.adapter.errors import (
    Cancelled,
    CarSilent,
    IgnitionOff,
    LinkLost,
    NotAllowed,
    OnlyNewerDiagnostics,
)
from coach.adapter.link import SYNC_TRIES
from coach.adapter.wire import Deadlines
from coach.car.arrivals import Answer, Outcome, Request, Unparsed
from coach.car.car import Car
from coach.car.happenings import Happening
from tests.adapter.fakes import Reply, linked

RPM = "7E8 04 41 0C 1A F8||>"
READY = "7E8 06 41 01 00 07 E5 00||>"
RV = {"ATRV": "12.4V||>"}


# ---------------------------------------------------------------- law 4: read only

REFUSED = [
    "04",
    "0 4",
    "04 ",
    "05",
    "08",
    "0801",
    "10",
    "1003",
    "14FFFFFF",
    "2E",
    "31",
    "3E00",
    "11",
    "22F190",
    "",
    "0",
]
REFUSED += [
    "010C1",
    "01",
    "0100112233445566",
    "02",
    "0902 1",
    "ATSH7E0",
    "ATMA",
    "ATPP0CSV23",
    "ATBRD23",
    "ATLP",
    "ATWM",
]
REFUSED += ["STPX", "ATCRA7E8", "ATSPB", "ATTPA", "AT", "hello", "03\r04", "03\n04"]


@pytest.mark.parametrize("command", REFUSED)
def test_what_is_not_on_the_list_never_reaches_the_port(command: str) -> None:
    link, port = linked()
    with pytest.raises(NotAllowed, match="not sent"):
        link.wire.send(command)
    with pytest.raises(NotAllowed):
        link.ask(command)
    assert port.written == b""


@pytest.mark.parametrize("command", ["0101", "01 0c 0d", "020C00", "03", "06A2", "07", "0902", "0A", "AT RV", "ATSP0"])
def test_reading_services_and_set_up_are_on_the_list(command: str) -> None:
    assert check_allowed(command) == command.replace(" ", "").upper()


def test_an_adapter_command_is_no_question() -> None:
    link, port = linked()
    with pytest.raises(NotAllowed):
        link.ask("ATZ")
    assert port.written == b""


def test_the_clear_goes_out_only_over_a_link_made_for_it() -> None:
    link, port = linked({"04": "7E8 01 44|7E9 01 44||>"}, allow_clear=True)
    assert link.ask("04").payloads() == {"7E8": (b"\x44",), "7E9": (b"\x44",)}
    assert port.written == b"04\r"


def test_every_byte_that_was_ever_written_is_on_the_tape() -> None:
    link, port = linked({"010C": RPM, **RV})
    link.ask("010C")
    link.voltage()
    tape = link.wire.tape
    assert b"".join(piece.data for piece in tape if piece.way == "out") == bytes(port.written) == b"010C\rATRV\r"
    assert b"7E8 04 41 0C 1A F8" in b"".join(piece.data for piece in tape if piece.way == "in")


# ---------------------------------------------------------------- outcomes as arrivals


def test_a_value_becomes_a_request_and_an_answer() -> None:
    link, _ = linked({"010C": RPM})
    assert link.ask("010C").arrivals(7) == (
        Request(1.0, 7, "010C"),
        Answer(1.0, 7, "7E8", bytes.fromhex("410C1AF8")),
    )


def test_silence_becomes_a_request_and_an_outcome_in_the_adapters_word() -> None:
    link, port = linked()
    assert link.ask("03").arrivals(7) == (Request(1.0, 7, "03"), Outcome(1.0, 7, "no_answer", "NO DATA"))
    assert port.commands == ["03"], "a plain silence needs no resynchronising"


def test_a_refusal_is_kept_as_the_ecus_answer_and_as_the_outcome() -> None:
    link, _ = linked({"07": "7E8 03 7F 07 22||>"})
    _, answer, outcome = link.ask("07").arrivals(7)
    assert answer == Answer(1.0, 7, "7E8", bytes.fromhex("7F0722"))
    assert isinstance(outcome, Outcome)
    assert outcome.outcome == "refused"


def test_garbage_is_kept_line_by_line() -> None:
    link, _ = linked({"03": "7E8 02 \xff3 00||>"})
    _, lines, outcome = link.ask("03").arrivals(7)
    assert lines == Unparsed(1.0, 7, ("7E8 02 \xff3 00",))
    assert isinstance(outcome, Outcome)
    assert outcome.outcome == "garbled"


def test_echo_headers_and_case_make_no_difference_to_the_answer() -> None:
    for reply in ("7e804410c1af8||>", "7E8 04 41 0C 1A F8 00 00 00 \r\n\r\n>", "7E804410C1AF8|>"):
        link, _ = linked({"010C": reply})
        assert link.ask("010C").payloads() == {"7E8": (bytes.fromhex("410C1AF8"),)}


# ---------------------------------------------------------------- through the core: never falsely clean

BAD = [
    "NO DATA||>",
    "STOPPED||>",
    "BUFFER FULL||>",
    "CAN ERROR||>",
    "?||>",
    "UNABLE TO CONNECT||>",
    "BUS INIT: ...ERROR||>",
    "7E8 03 7F 01 22||>",
    "7E8 03 7F 03 22||>",
    "7E8 06 41 01 83 07 E5||>",
    "7E8 04 41 01 83 07||>",
    "7E8 03 41 0D 37||>",
    "7E8 01 43||>",
    "7E8 02 47 00||>",
    "\x88\x99||>",
    "41 01 00 07 E5 00||>",
    "43 00||>",
    "OK||>",
    "||>",
    None,
]


def fed(replies: list[tuple[str, str | None]]) -> Car:
    car, out = Car(can=True), list[Happening]()
    for number, (text, reply) in enumerate(replies):
        link, _ = linked({text: reply})
        link.wire.clock = lambda number=number: float(number)
        for arrival in link.ask(text).arrivals(number):
            car.fold(arrival, out)
    return car


@pytest.mark.parametrize("reply", BAD)
def test_no_broken_reply_ever_reads_as_complete_or_as_no_codes(reply: str | None) -> None:
    car = fed([("0101", reply), ("03", reply), ("07", reply), ("010D", "NO DATA||>")])
    assert car.monitor_states()["catalyst"] is None
    assert car.codes("stored") is None
    if reply != "7E8 02 47 00||>":  # which is a whole answer to 07, and to nothing else
        assert car.codes("pending") is None


@pytest.mark.parametrize("reply", BAD)
def test_a_broken_reply_makes_a_clean_finding_uncertain(reply: str | None) -> None:
    good = [("0101", READY), ("03", "7E8 02 43 00||>")]
    assert fed([*good, ("010D", RPM)]).monitor_states()["catalyst"] == "complete"
    car = fed([*good, ("0101", reply), ("03", reply), ("010D", "NO DATA||>")])
    assert car.monitor_states()["catalyst"] is None
    assert car.codes("stored") is None


# ---------------------------------------------------------------- keeping in step


def test_after_garbage_both_sides_start_afresh_before_the_next_question() -> None:
    link, port = linked({"010C": ["7E8 04 41 0C \xff||>", RPM]})
    link.ask("010C")
    assert port.commands == ["010C", "ATE0"]
    assert link.ask("010C").outcome == "value"


def test_a_late_reply_is_never_the_answer_to_the_next_question() -> None:
    """The reply to 010D comes after its deadline, while the adapter is being brought back in step."""
    link, port = linked({"010D": None, "ATE0": ["7E8 03 41 0D 37||>", "OK||>"], "010C": RPM})
    late = link.ask("010D")
    assert late.outcome == "no_answer" or late.outcome == "garbled"
    assert late.arrivals(1)[-1] == Answer(1.0, None, "7E8", bytes.fromhex("410D37"))
    assert link.ask("010C").payloads() == {"7E8": (bytes.fromhex("410C1AF8"),)}
    assert port.commands == ["010D", "ATE0", "ATE0", "010C"]


def test_what_came_in_unasked_is_kept_and_is_no_answer() -> None:
    link, port = linked({"010C": RPM})
    port.say("7E8 03 41 0D 37||>")
    exchange = link.ask("010C")
    assert exchange.payloads() == {"7E8": (bytes.fromhex("410C1AF8"),)}
    assert exchange.arrivals(3) == (
        Answer(1.0, None, "7E8", bytes.fromhex("410D37")),
        Request(1.0, 3, "010C"),
        Answer(1.0, 3, "7E8", bytes.fromhex("410C1AF8")),
    )


def test_answers_one_behind_are_noticed_at_once_and_read_as_nothing() -> None:
    link, port = linked({"010C": "7E8 03 41 0D 37||>", "010D": "7E8 04 41 0C 1A F8||>"})
    assert [link.ask(text).outcome for text in ("010C", "010D")] == ["garbled", "garbled"]
    assert port.commands.count("ATE0") == 2


def test_a_rebooted_adapter_is_set_up_again() -> None:
    link, port = linked({"010C": ["|ELM327 v1.5||>", RPM]})
    assert link.ask("010C").outcome == "garbled"
    assert port.commands[1:] == ["ATE0", "ATE0", "ATL0", "ATH1", "ATTP6"]
    assert link.ask("010C").outcome == "value"


def test_an_adapter_that_lost_its_headers_is_set_up_again() -> None:
    link, port = linked({"010C": ["41 0C 1A F8||>", RPM]})
    assert link.ask("010C").good == ()
    assert "ATH1" in port.commands


def test_an_adapter_that_answers_rubbish_for_ever_is_given_up_in_time() -> None:
    link, _ = linked({"010C": "\x80\x81>", "ATE0": "\x90\x91>"})
    began = time.monotonic()
    with pytest.raises(LinkLost, match="rubbish") as lost:
        link.ask("010C")
    assert lost.value.exchange is not None
    assert lost.value.exchange.unparsed[0] == "\x80\x81"
    assert time.monotonic() - began < 2.0


def test_a_silent_adapter_is_given_up_after_its_deadlines() -> None:
    link, _ = linked({"010C": None, "ATE0": None})
    began = time.monotonic()
    with pytest.raises(LinkLost, match="silent"):
        link.ask("010C")
    assert time.monotonic() - began < 0.25 + 3 * 0.25 + 0.5


def test_a_port_that_trickles_without_a_prompt_is_given_up() -> None:
    link, port = linked({"010C": "7", "ATE0": "4"})

    def trickle(_size: int = 1) -> bytes:
        time.sleep(0.01)
        return b"7"

    port.read = trickle  # type: ignore[method-assign]
    with pytest.raises(LinkLost):
        link.ask("010C")


def test_a_port_that_vanishes_is_lost_with_a_remedy() -> None:
    link, _ = linked({"010C": OSError("device reports readiness to read but returned no data")})
    with pytest.raises(LinkLost, match="plugged in"):
        link.ask("010C")


def test_a_cancel_from_outside_ends_the_wait() -> None:
    link, port = linked({"010C": None})
    port.on_write = lambda _text: link.cancel()
    with pytest.raises(Cancelled):
        link.ask("010C")


def test_an_answer_that_took_a_night_is_not_a_reading() -> None:
    link, _ = linked({"010C": RPM})
    ticks = iter([0.0, 0.0, 30000.0, 30000.0, 30000.0] + [30000.0] * 20)
    link.wire.clock = lambda: next(ticks)
    exchange = link.ask("010C")
    assert (exchange.outcome, exchange.good) == ("garbled", ())
    assert exchange.unparsed


def test_the_deadlines_are_those_the_driver_was_promised() -> None:
    """No query holds the link over 3 s, 5 s with a response pending; a search 30 s; a dead port 10 s in all."""
    limits = Deadlines()
    assert (limits.query_s, limits.pending_s, limits.search_s, limits.dead_s) == (3.0, 5.0, 30.0, 10.0)
    silent_port_s = limits.query_s + SYNC_TRIES * (1.0 + 10 * limits.quiet_s) + 10 * limits.quiet_s
    assert silent_port_s <= limits.dead_s


# ---------------------------------------------------------------- response pending


def test_a_pending_response_is_waited_for_and_both_lines_are_kept() -> None:
    link, _ = linked({"0101": "7E8 03 7F 01 78|7E8 06 41 01 00 07 E5 00||>"})
    exchange = link.ask("0101")
    assert [reply.payload.hex() for reply in exchange.replies] == ["7f0178", "41010007e500"]
    assert exchange.outcome == "value"


def test_a_pending_response_without_its_answer_is_asked_again() -> None:
    link, port = linked({"0902": ["7E8 03 7F 09 78||>", "7E8 04 49 02 01 31||>"]})
    exchange = link.ask("0902")
    assert exchange.outcome == "value"
    assert port.commands[:2] == ["0902", "0902"]


def test_a_response_that_stays_pending_ends_as_no_answer_within_its_deadline() -> None:
    link, _ = linked({"0101": "7E8 03 7F 01 78||>"})
    link.wire.clock = time.monotonic
    began = time.monotonic()
    assert link.ask("0101").outcome == "no_answer"
    assert time.monotonic() - began < 1.0


# ---------------------------------------------------------------- the car and its power


def test_the_car_answers_only_by_a_whole_41_00() -> None:
    for reply, state in (
        ("7E8 06 41 00 BE 3F A8 13||>", "car"),
        ("NO DATA||>", "ignition_off"),
        ("7E8 05 41 00 BE 3F A8||>", "unreadable"),
        ("BUS INIT: ...ERROR||>", "ignition_off"),
        ("OK||>", "adapter_error"),
    ):
        link, _ = linked({"0100": reply, **RV})
        assert link.look() == state


def test_without_the_cars_power_there_is_no_car() -> None:
    for volts in ("0.2V", "?", "5.0V"):
        link, _ = linked({"ATRV": f"{volts}||>"})
        assert link.look() == "no_car"
        with pytest.raises(CarSilent, match="key to on"):
            link.require_car()


@pytest.mark.parametrize(("said", "volts"), [("12.4V", 12.4), ("12,8V", 12.8), ("14.1", 14.1), ("?", None)])
def test_the_voltage_is_read_as_adapters_write_it(said: str, volts: float | None) -> None:
    link, _ = linked({"ATRV": f"{said}||>"})
    assert link.voltage() == volts


def test_every_state_without_a_car_names_its_remedy() -> None:
    link, _ = linked(RV)
    link.look()
    with pytest.raises(IgnitionOff, match=r"12\.4 V.*key to on.*newer"):
        link.require_car()
    refusing, _ = linked({"0100": "7E8 03 7F 01 11||>", **RV})
    refusing.look()
    with pytest.raises(OnlyNewerDiagnostics, match="newer"):
        refusing.require_car()


def test_a_padding_ecu_is_remembered_from_the_first_answer() -> None:
    link, _ = linked({"0100": "7E8 06 41 00 BE 3F A8 13 00||>", "0101": "7E8 06 41 01 83 07 E5 00||>"})
    link.look()
    assert link.ask("0101").outcome == "garbled", "seven bytes from an ECU that sends eight: one was lost"


def test_an_ecu_that_fills_only_some_frames_is_believed_the_second_time() -> None:
    link, port = linked({"0100": "7E8 06 41 00 BE 3F A8 13 00||>", "010D": "7E8 03 41 0D 32||>"})
    link.look()
    assert [link.ask("010D").outcome for _ in range(3)] == ["garbled", "value", "value"]
    port.replies["0101"] = ["7E8 06 41 01 83 07 E5 00||>", "7E8 06 41 01 83 07 E5 61||>"]
    assert link.ask("0101").outcome == "value"


def test_two_different_losses_are_not_taken_for_a_habit() -> None:
    replies: list[Reply] = ["7E8 06 41 01 83 07 E5 00||>", "7E8 06 41 01 83 E5 61 00||>"]
    link, _ = linked({"0100": "7E8 06 41 00 BE 3F A8 13 00||>", "0101": replies})
    link.look()
    assert [link.ask("0101").outcome for _ in range(2)] == ["garbled", "garbled"]


def test_closing_lets_the_bus_go_to_sleep_even_after_a_cancel() -> None:
    link, port = linked()
    link.cancel()
    link.close()
    assert port.commands == ["ATPC"]
    assert not port.open
