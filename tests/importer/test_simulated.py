"""A simulated drive written as a capture or a transcript and read again says the same as its own record."""

from functools import lru_cache
from pathlib import Path

import pytest

from coach.car.arrivals import Answer, Arrival, Outcome, Request
from coach.car.happenings import Happening
from coach.drive.core import make_core
from coach.importer.imported import open_import
from coach.session.review import review
from coach.simulator.answers import is_can
from coach.simulator.cars import CARS, make_car
from coach.simulator.dialect import Dialect
from coach.simulator.driver import Cue, Driver
from coach.simulator.simulated_car import SimulatedCar
from tests.importer.captures import Frame, a_log, frames_of, read, said
from tests.recordings import a_profile

STAGES = ((Cue("idle"), 40), (Cue("warm_up", 40, 70), 80), (Cue("cruise", 62, 80), 100), (Cue("roll", 40, 80), 40))
FAST = ("010D0C1149", "01050F042E2F46", "011F0333423C")
SELDOM = ("0101", "0141", "03", "07", "0A", "0902", "0904", "0908", "0601")
READ_OUT = ("0100", "0120", "0140", "0101", "0141", "03", "07", "0A", "0902", "0904", "0906", "010C", "010D", "0105")


def drive_record(car: SimulatedCar) -> list[Arrival]:
    """What a source would have recorded of a drive: every answer 30 ms and more behind its question."""
    driver, out, number, ticks = Driver(car, 1), [], 0, 0
    car.key_on()
    for cue, seconds in STAGES:
        driver.follow(cue)
        for _ in range(seconds):
            driver.advance(car.clock_s + 1)
            for i, text in enumerate((*FAST, *(SELDOM if ticks % 20 == 0 else ()))):
                number += 1
                out += exchange(car, round(car.clock_s + i * 0.06, 3), number, text)
            ticks += 1
    return out


def exchange(car: SimulatedCar, t: float, number: int, text: str) -> list[Arrival]:
    """One question and its answers."""
    answers: list[Arrival] = [
        Answer(round(t + 0.03, 3), number, reply.ecu, reply.payload) for reply in car.ask(bytes.fromhex(text))
    ]
    return [Request(t, number, text), *answers]


def with_outcomes(arrivals: list[Arrival]) -> list[Arrival]:
    """The record with an outcome where nobody gave a value, told when the next question is asked."""
    out: list[Arrival] = []
    open_: Request | None = None
    value = False
    for arrival in arrivals:
        if isinstance(arrival, Request):
            if open_ is not None and not value:
                out.append(Outcome(arrival.t, open_.id, "no_answer", "nobody answered in this capture"))
            open_, value = arrival, False
        elif isinstance(arrival, Answer):
            value = value or arrival.payload[0] != 0x7F
        out.append(arrival)
    return out


@lru_cache
def recorded(name: str) -> tuple[SimulatedCar, tuple[Arrival, ...]]:
    """One drive for all tests."""
    car = make_car(name)
    return car, tuple(with_outcomes(drive_record(car)))


def happenings(arrivals: list[Arrival]) -> list[Happening]:
    """What the core makes of it."""
    core = make_core(a_profile(), can=True)
    happened = [happening for arrival in arrivals for happening in core.feed(arrival)]
    return [*happened, *core.finish(core.now)]


CAN_CARS = [name for name in CARS if is_can(make_car(name).bus)]


@pytest.mark.parametrize("name", CAN_CARS)
def test_a_drive_as_a_candump_log_has_the_same_happenings_as_its_record(tmp_path: Path, name: str) -> None:
    car, record = recorded(name)
    begin = Frame(0.0, 0x123, b"\x00")  # the record's clock began before the first question
    width = 3 if car.bus.startswith("can_11") else 8
    log = a_log(tmp_path / "log", [begin, *frames_of(record, width)])
    arrivals, imported = read(log)
    assert len(arrivals) > 1500
    assert arrivals == list(record)
    mine, other = happenings(arrivals), happenings(list(record))
    assert len(mine) > 20
    assert mine == other
    assert imported.report.dialogue.broken == 0  # type: ignore[union-attr]


def test_a_review_takes_the_capture_itself(tmp_path: Path) -> None:
    car, record = recorded(CAN_CARS[0])
    log = a_log(tmp_path / "log", [Frame(0.0, 0x123, b"\x00"), *frames_of(record, 3 if car.bus[4:6] == "11" else 8)])
    reviewed = review(log)
    assert reviewed.header.source == "imported"
    assert reviewed.arrivals == len(record)
    assert reviewed.core.monitor_states() == make_judged(record)


def make_judged(record: tuple[Arrival, ...]) -> dict[str, object]:
    """Monitor states by the record itself."""
    core = make_core(a_profile(), can=True)
    for arrival in record:
        core.feed(arrival)
    core.finish(core.now)
    return dict(core.monitor_states())


# ---------------------------------------------------------------- transcripts, by the simulated adapter


def typed(car: SimulatedCar, headers: bool, echo: bool, spaces: bool) -> bytes:
    """A terminal's record of a read-out through the simulated adapter, prompts and all."""
    dialect = Dialect(car)
    out = b""
    setup = ["ATZ", f"ATE{int(echo)}", f"ATH{int(headers)}", f"ATS{int(spaces)}"]
    for text in (*setup, *READ_OUT):
        reply = b"".join(piece.data for piece in dialect.receive(text.encode() + b"\r", car.clock_s))
        out += reply if echo and text != "ATZ" else text.encode() + b"\r" + reply
    return out


@pytest.mark.parametrize("name", CARS)
@pytest.mark.parametrize("echo", [True, False])
@pytest.mark.parametrize("spaces", [True, False])
def test_a_read_out_typed_with_headers_says_what_each_control_unit_said(
    tmp_path: Path, name: str, echo: bool, spaces: bool
) -> None:
    car = make_car(name)
    car.key_on()
    (tmp_path / "t").write_bytes(typed(car, headers=True, echo=echo, spaces=spaces))
    arrivals, imported = read(tmp_path / "t")
    assert imported.can is is_can(car.bus)
    wanted = [(reply.ecu, reply.payload.hex().upper()) for text in READ_OUT for reply in car.ask(bytes.fromhex(text))]
    assert sorted((ecu, hex_) for _, ecu, hex_ in said(arrivals)) == sorted(set(wanted))
    assert imported.report.unread == []  # type: ignore[union-attr]


@pytest.mark.parametrize("name", CARS)
def test_a_read_out_without_headers_never_says_more_than_the_car_did(tmp_path: Path, name: str) -> None:
    car = make_car(name)
    car.key_on()
    (tmp_path / "t").write_bytes(typed(car, headers=False, echo=True, spaces=True))
    arrivals = list(open_import(tmp_path / "t").arrivals())
    wanted = {reply.payload.hex().upper() for text in READ_OUT for reply in car.ask(bytes.fromhex(text))}
    answered = {hex_ for _, _, hex_ in said(arrivals)}
    assert answered
    assert answered <= wanted
    if len(car.ecus) == 1:
        assert answered == wanted
