"""The simulated adapter's dialect, and python-OBD's own frame parsers on what it writes."""

import logging
import warnings
from typing import Any

import pytest

from coach.simulator.dialect import BUSES, Dialect, Trouble
from coach.simulator.vehicle import BusProtocol, Reply
from coach.transport.frames import judge, split_lines
from tests.adapter.cars import EIGHT, VIN_DATA, ScriptedCar, can_car, old_car

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    from obd import protocols

logging.getLogger("obd").handlers.clear()

PARSERS = {
    "j1850_pwm": protocols.SAE_J1850_PWM,
    "j1850_vpw": protocols.SAE_J1850_VPW,
    "iso_9141": protocols.ISO_9141_2,
    "kwp_slow": protocols.ISO_14230_4_5baud,
    "kwp_fast": protocols.ISO_14230_4_fast,
    "can_11_500": protocols.ISO_15765_4_11bit_500k,
    "can_29_500": protocols.ISO_15765_4_29bit_500k,
    "can_11_250": protocols.ISO_15765_4_11bit_250k,
    "can_29_250": protocols.ISO_15765_4_29bit_250k,
}


def say(dialect: Dialect, command: str) -> str:
    return b"".join(piece.data for piece in dialect.receive(command.encode() + b"\r", 0.0)).decode("latin-1")


def plain(car: ScriptedCar, **trouble: Any) -> Dialect:
    """Set up as our link does: echo off, headers on, the car's protocol fixed and its bus open."""
    dialect = Dialect(car, Trouble(**trouble), seed=7)
    for command in ("ATE0", "ATH1", f"ATSP{BUSES.index(car.bus) + 1}"):
        say(dialect, command)
    rates = dialect.trouble.drop_rate, dialect.trouble.noise_rate
    dialect.trouble.drop_rate = dialect.trouble.noise_rate = 0.0
    say(dialect, "0100")
    dialect.trouble.drop_rate, dialect.trouble.noise_rate = rates
    return dialect


# ---------------------------------------------------------------- commands


def test_after_a_reset_it_echoes_and_shows_no_headers() -> None:
    dialect = Dialect(can_car())
    assert say(dialect, "ATZ") == "ATZ\rELM327 v1.4 simulated\r\r>"
    assert say(dialect, "ATSP6") == "ATSP6\rOK\r\r>"
    assert say(dialect, "010D") == "010D\r41 0D 32 \r\r>"


@pytest.mark.parametrize(
    ("command", "reply"),
    [
        ("ATE0", "OK"),
        ("at h1", "OK"),
        ("AT L0", "OK"),
        ("ATS1", "OK"),
        ("ATAT1", "OK"),
        ("ATST64", "OK"),
        ("ATSH7DF", "OK"),
        ("ATCAF1", "OK"),
        ("ATPC", "OK"),
        ("AT RV", "12.4V"),
        ("AT@1", "simulated adapter 1.4"),
        ("ATI", "simulated adapter 1.4"),
        ("ATDPN", "6"),
        ("ATDP", "ISO 15765-4 (CAN 11/500)"),
        ("ATXYZ", "?"),
        ("hello", "?"),
        ("0", "?"),
    ],
)
def test_each_command_has_its_reply(command: str, reply: str) -> None:
    assert say(plain(can_car()), command) == f"{reply}\r\r>"


def test_headers_spaces_and_line_feeds_follow_their_settings() -> None:
    dialect = plain(can_car())
    assert say(dialect, "010D") == "7E8 03 41 0D 32 00 00 00 00 \r\r>"
    say(dialect, "ATS0")
    assert say(dialect, "010D") == "7E803410D3200000000\r\r>"
    say(dialect, "ATL1")
    assert say(dialect, "010D") == "7E803410D3200000000\r\n\r\n>"
    say(dialect, "ATH0")
    assert say(dialect, "0902").startswith("014\r0:490201573" + "04C\r\n1:")


def test_an_empty_line_repeats_the_last_command() -> None:
    dialect = plain(can_car())
    assert say(dialect, "010D") == say(dialect, "")


def test_a_digit_behind_the_request_limits_the_lines() -> None:
    dialect = plain(can_car())
    assert say(dialect, "0101").count("\r") == 3
    assert say(dialect, "01011").count("\r") == 2


def test_the_search_is_shown_and_its_result_told() -> None:
    dialect = Dialect(old_car())
    say(dialect, "ATE0")
    say(dialect, "ATH1")
    assert say(dialect, "ATSP0") == "OK\r\r>"
    assert say(dialect, "0100").startswith("SEARCHING...\r48 6B 10 41 00")
    assert say(dialect, "ATDPN") == "A3\r\r>"
    assert say(dialect, "ATDP") == "AUTO, ISO 9141-2\r\r>"


@pytest.mark.parametrize("bus", ["iso_9141", "kwp_slow", "kwp_fast"])
def test_a_slow_bus_is_opened_once_and_says_so(bus: BusProtocol) -> None:
    dialect = Dialect(old_car(bus))
    for command in ("ATE0", "ATH1", f"ATSP{BUSES.index(bus) + 1}"):
        say(dialect, command)
    assert say(dialect, "0100").startswith("BUS INIT: ...OK\r")
    assert not say(dialect, "0100").startswith("BUS")
    say(dialect, "ATPC")
    assert say(dialect, "0100").startswith("BUS INIT")


def test_with_the_ignition_off_nobody_answers() -> None:
    for car, word in ((can_car(), "NO DATA"), (old_car(), "NO DATA")):
        dialect = plain(car)
        car.ignition_on = False
        assert say(dialect, "010D") == f"{word}\r\r>"
    fresh = Dialect(can_car(ignition_on=False))
    say(fresh, "ATE0")
    assert say(fresh, "0100") == "SEARCHING...\rUNABLE TO CONNECT\r\r>"
    slow = Dialect(old_car())
    slow.vehicle.ignition_on = False  # type: ignore[misc]
    for command in ("ATE0", "ATSP3"):
        say(slow, command)
    assert say(slow, "0100") == "BUS INIT: ...ERROR\r\r>"


def test_the_wrong_protocol_finds_no_car() -> None:
    dialect = Dialect(can_car())
    for command in ("ATE0", "ATSP8"):
        say(dialect, command)
    assert say(dialect, "0100") == "CAN ERROR\r\r>"


def test_without_power_it_says_nothing_and_after_a_reboot_it_has_forgotten() -> None:
    dialect = plain(can_car())
    dialect.trouble.powered = False
    assert say(dialect, "010D") == ""
    dialect.trouble.powered = True
    assert b"ELM327" in dialect.reboot()
    assert say(dialect, "ATE1").startswith("ATE1\r"), "echo is on again"


def test_trouble_is_the_same_each_time_and_no_noise_makes_a_value() -> None:
    runs = []
    for _ in range(2):
        dialect = plain(can_car(), drop_rate=0.2, noise_rate=0.5)
        runs.append([say(dialect, "0101") for _ in range(200)])
    assert runs[0] == runs[1]
    assert len(set(runs[0])) > 20
    whole = {bytes.fromhex("41018307E561"), bytes.fromhex("410100040000")}
    for reply in runs[0]:
        lines, prompt = split_lines(reply.encode("latin-1"))
        judged = judge(lines, "0101", "6", prompt=prompt, padding=frozenset({"7E8", "7E9"}))
        assert {said.payload for said in judged.good} <= whole


def test_delays_stand_before_the_answer() -> None:
    dialect = plain(can_car(), delay_s=0.03)
    assert [piece.after_s for piece in dialect.receive(b"010D\r", 0.0)] == [0.03]


# ---------------------------------------------------------------- a second opinion: python-OBD's parsers


@pytest.mark.parametrize("bus", PARSERS)
@pytest.mark.parametrize("request_", [*EIGHT, "0100", "0101", "0902", "010C0D05041111"[:12]])
def test_python_obds_parser_reads_the_same_as_ours(bus: BusProtocol, request_: str) -> None:
    car = can_car(bus=bus) if bus.startswith("can") else old_car(bus)
    if "29" in bus:
        for said in car.table.values():
            for short, long in (("7E8", "18DAF110"), ("7E9", "18DAF118")):
                if short in said:
                    said[long] = said.pop(short)
    if bus.startswith("can") or len(request_) == 4:
        text = say(plain(car), request_)
        lines, _ = split_lines(text.encode())
        ours = judge(lines, request_, str(BUSES.index(bus) + 1))
        parser = PARSERS[bus](list(lines) if request_ == "0100" else [])
        theirs = [bytes(message.data) for message in parser(list(lines))]
        assert ours.outcome == "value"
        assert theirs == _as_the_library_joins(ours.good, bus)


def _as_the_library_joins(good: tuple[Reply, ...] | Any, bus: str) -> list[bytes]:
    """Numbered lines before CAN: the library drops the numbers and joins them, we hand them on as sent."""
    payloads = [reply.payload for reply in good]
    if bus.startswith("can") or len(payloads) == 1:
        return payloads
    return [payloads[0][:2] + b"".join(payload[3:] for payload in payloads)]


def test_the_vin_of_an_old_car_comes_in_numbered_lines() -> None:
    lines, _ = split_lines(say(plain(old_car()), "0902").encode())
    joined = b"".join(reply.payload[3:] for reply in judge(lines, "0902", "3").good)
    assert joined == VIN_DATA.rjust(20, b"\0")


def test_the_library_joins_codes_of_an_old_car_as_they_were_sent() -> None:
    text = say(plain(old_car()), "03")
    lines, _ = split_lines(text.encode())
    (message,) = protocols.ISO_9141_2([])(list(lines))
    assert bytes(message.data)[2:] == b"".join(reply.payload[1:] for reply in judge(lines, "03", "3").good)
