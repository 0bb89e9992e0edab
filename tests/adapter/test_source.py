"""The live source over a pseudo-terminal: asking, loss and return, and what its arrivals look like to the core."""

import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import pytest

from coach.adapter.source import LiveSource, Patience
from coach.car.arrivals import Answer, Arrival, LinkChange, Outcome, Request, Unparsed
from coach.car.car import Car
from coach.car.happenings import DataLost, DataReturned, Happening
from coach.simulator.dialect import Dialect, Trouble
from coach.simulator.port import SimulatedPort
from tests.adapter.cars import EIGHT, ScriptedCar, can_car, old_car
from tests.adapter.conftest import QUICK
from tests.adapter.fakes import FakePort

HASTY = Patience(look_again_s=0.05, first_retry_s=0.05, longest_retry_s=0.2, idle_s=0.02)
LONGEST_S = 5.0  # a test that waits longer has failed


class Watch:
    """Collects what a source gives and waits for what a test names."""

    def __init__(self, source: LiveSource) -> None:
        self.source = source
        self.seen: list[Arrival] = []
        self._looked_at = 0

    def until(self, wanted: Callable[[Arrival], bool]) -> Arrival:
        """The next one that is wanted, behind the one found last."""
        end = time.monotonic() + LONGEST_S
        while time.monotonic() < end:
            while self._looked_at < len(self.seen):
                self._looked_at += 1
                if wanted(self.seen[self._looked_at - 1]):
                    return self.seen[self._looked_at - 1]
            self.seen += self.source.arrivals(0.05)
        raise AssertionError(f"did not come; last {self.seen[-5:]}")

    def state(self, state: str) -> LinkChange:
        found = self.until(lambda arrival: isinstance(arrival, LinkChange) and arrival.state == state)
        assert isinstance(found, LinkChange)
        return found

    def answer(self, prefix: str) -> Arrival:
        return self.until(lambda a: isinstance(a, Answer) and a.payload.hex().upper().startswith(prefix))

    def states(self) -> list[str]:
        return [arrival.state for arrival in self.seen if isinstance(arrival, LinkChange)]


@contextmanager
def live(car: ScriptedCar, periods: dict[str, float] | None = None, **settings: Any) -> Iterator[tuple[Watch, Any]]:
    with SimulatedPort(Dialect(car, settings.pop("trouble", Trouble()))) as port:
        source = LiveSource(port.name, deadlines=QUICK, patience=HASTY, **settings)
        source.want({"010D": 0.02} if periods is None else periods)
        source.start()
        try:
            yield Watch(source), port
        finally:
            source.close()
            assert source.failure is None


def test_the_first_arrivals_are_the_link_and_the_proof_of_the_car() -> None:
    with live(can_car()) as (watch, _):
        watch.answer("410D")
    up, request, *_ = watch.seen
    assert isinstance(up, LinkChange)
    assert up.state == "up"
    assert isinstance(request, Request)
    assert request.text == "0100"
    info = watch.source.info
    assert info is not None
    assert (info.adapter, info.protocol, info.can) == (
        "simulated adapter 1.4",
        "ISO 15765-4, CAN 11 bit 500 kbit/s",
        True,
    )


def test_times_and_request_ids_rise_and_are_whole_milliseconds() -> None:
    with live(can_car(), {**dict.fromkeys(EIGHT, 0.02), "0101": 0.1, "03": 0.2}) as (watch, _):
        for _ in range(20):
            watch.answer("410C")
    times = [arrival.t for arrival in watch.seen]
    assert times == sorted(times)
    assert all(round(t, 3) == t for t in times)
    ids = [arrival.id for arrival in watch.seen if isinstance(arrival, Request)]
    assert ids == list(range(1, len(ids) + 1))


def test_every_answer_stands_behind_its_request() -> None:
    with live(can_car(), {**dict.fromkeys(EIGHT, 0.02), "07": 0.1}) as (watch, _):
        for _ in range(10):
            watch.answer("47")
    asked: set[int] = set()
    for arrival in watch.seen:
        if isinstance(arrival, Request):
            asked.add(arrival.id)
        elif isinstance(arrival, Answer):
            assert arrival.request_id in asked


def test_the_core_hears_all_signals_of_a_grouped_request() -> None:
    car, out = Car(can=True), list[Happening]()
    with live(can_car(), dict.fromkeys(EIGHT, 0.05)) as (watch, port):
        watch.until(lambda a: isinstance(a, Request) and len(a.text) == 14)
        watch.answer("41")
        watch.answer("41")
        assert any(len(text) == 14 for text in port.dialect.sent)
    for arrival in watch.seen:
        car.fold(arrival, out)
    assert len(car.values) >= 8
    assert not car.unusable


def test_before_can_nothing_is_grouped() -> None:
    with live(old_car(), dict.fromkeys(EIGHT, 0.02)) as (watch, port):
        for _ in range(5):
            watch.answer("410C")
        assert all(len(text) <= 4 for text in port.dialect.sent if text.startswith("01"))


def test_with_no_wishes_nothing_is_asked() -> None:
    with live(can_car(), {}) as (watch, port):
        watch.state("up")
        count = len(port.dialect.sent)
        time.sleep(0.1)
        assert len(port.dialect.sent) == count
        watch.source.want({"010C": 0.05})
        watch.answer("410C")


def test_what_is_asked_once_comes_once() -> None:
    with live(can_car(), {}) as (watch, port):
        watch.state("up")
        watch.source.once(["0902", "03"])
        watch.answer("4902")
        watch.answer("43")
        time.sleep(0.05)
        assert port.dialect.sent.count("0902") == 1


# ---------------------------------------------------------------- loss and return


def test_a_car_that_refuses_and_then_tells_is_told_as_that_and_its_refusal_is_kept() -> None:
    car = can_car()
    told, car.table["0100"] = car.table["0100"], {"7E8": "7F0122"}
    with live(car) as (watch, _):
        refused = watch.state("refused")
        car.table["0100"] = told
        watch.state("up")
        watch.answer("410D")
    assert "The car answers, but does not tell what it is asked" in refused.why
    assert watch.states()[0] == "refused"
    assert any(isinstance(a, Answer) and a.payload == bytes.fromhex("7F0122") for a in watch.seen)


def test_the_ignition_off_and_on_again() -> None:
    car = can_car()
    with live(car) as (watch, _):
        watch.answer("410D")
        car.ignition_on = False
        off = watch.state("ignition_off")
        assert "key to on" in off.why
        car.ignition_on = True
        watch.state("up")
        watch.answer("410D")
    assert watch.states() == ["up", "ignition_off", "up"]


def test_a_car_that_is_off_from_the_start_is_waited_for() -> None:
    car = old_car()
    car.ignition_on = False
    with live(car) as (watch, _):
        watch.state("ignition_off")
        car.ignition_on = True
        watch.state("up")
        watch.answer("410D")


def test_an_adapter_without_the_cars_power_is_no_car() -> None:
    with live(can_car(ignition_on=False, battery_v=0.1)) as (watch, _):
        assert "fully into the car" in watch.state("no_car").why


def test_an_adapter_that_goes_dead_comes_back_on_a_new_link() -> None:
    with live(can_car()) as (watch, port):
        watch.answer("410D")
        port.dialect.trouble.powered = False
        assert "silent" in watch.state("lost").why
        request, outcome, _ = [arrival for arrival in watch.seen if not isinstance(arrival, Answer)][-3:]
        assert isinstance(request, Request), "the question it happened in is kept too"
        assert isinstance(outcome, Outcome)
        time.sleep(0.3)
        port.dialect.trouble.powered = True
        watch.state("up")
        watch.answer("410D")
    assert watch.states() == ["up", "lost", "up"]


def test_an_adapter_that_is_unplugged_comes_back_at_the_same_port(tmp_path: Any) -> None:
    name = tmp_path / "adapter"
    first = SimulatedPort(Dialect(can_car()))
    first.open()
    name.symlink_to(first.name)
    source = LiveSource(str(name), deadlines=QUICK, patience=HASTY)
    source.want({"010D": 0.02})
    source.start()
    watch = Watch(source)
    watch.answer("410D")
    first.unplug()
    name.unlink()
    watch.state("lost")
    with SimulatedPort(Dialect(can_car())) as second:
        name.symlink_to(second.name)
        watch.state("up")
        watch.answer("410D")
        source.close()
    assert watch.states() == ["up", "lost", "up"]


def test_a_reboot_is_noticed_and_the_drive_goes_on_without_a_new_link() -> None:
    with live(can_car()) as (watch, port):
        watch.answer("410D")
        port.say(port.dialect.reboot())
        watch.until(lambda a: isinstance(a, Unparsed) and any("ELM327" in line for line in a.lines))
        for _ in range(3):
            watch.answer("410D")
    assert watch.states() == ["up"]


def test_rubbish_on_the_line_is_kept_and_never_becomes_a_value() -> None:
    with live(can_car(), trouble=Trouble()) as (watch, port):
        watch.answer("410D")
        port.dialect.trouble.noise_rate = 0.3
        watch.until(lambda a: isinstance(a, Unparsed))
        watch.until(lambda a: isinstance(a, Outcome) and a.outcome == "garbled")
        port.dialect.trouble.noise_rate = 0.0
        for _ in range(3):
            watch.answer("410D")
    speeds = {a.payload.hex() for a in watch.seen if isinstance(a, Answer) and a.payload[:2] == b"\x41\x0d"}
    assert speeds == {"410d32"}


def test_a_slow_answer_is_not_taken_for_the_next_one() -> None:
    """For a while every answer takes longer than its deadline; each one then belongs to nothing."""
    with live(can_car(), {"010D": 0.01, "010C": 0.01}) as (watch, port):
        watch.answer("410D")
        port.dialect.trouble.delay_s = 0.4
        watch.until(lambda a: isinstance(a, Outcome))
        port.dialect.trouble.delay_s = 0.0
        for _ in range(5):
            watch.answer("41")
    texts = {a.id: a.text for a in watch.seen if isinstance(a, Request)}
    for arrival in watch.seen:
        if isinstance(arrival, Answer) and arrival.request_id is not None:
            assert texts[arrival.request_id].find(f"{arrival.payload[1]:02X}") >= 2


def test_a_night_asleep_is_a_lost_link_and_no_time_is_counted() -> None:
    slept = 0.0

    def clock() -> float:
        return time.monotonic() + slept

    car, out = Car(can=True), list[Happening]()
    with live(can_car(), clock=clock) as (watch, _):
        watch.answer("410D")
        slept = 30000.0
        assert "asleep" in watch.state("lost").why
        watch.state("up")
        watch.answer("410D")
    for arrival in watch.seen:
        car.expire(arrival.t, out)
        car.fold(arrival, out)
    assert sum(isinstance(told, DataLost) for told in out) == 1
    assert [told.silent_s > 29000 for told in out if isinstance(told, DataReturned)] == [True]


def test_a_port_that_is_not_there_is_told_once_and_tried_again(tmp_path: Any) -> None:
    name = tmp_path / "adapter"
    source = LiveSource(str(name), deadlines=QUICK, patience=HASTY)
    source.want({"010D": 0.02})
    source.start()
    watch = Watch(source)
    assert "coach ports" in watch.state("lost").why
    time.sleep(0.3)
    with SimulatedPort(Dialect(can_car())) as port:
        name.symlink_to(port.name)
        watch.state("up")
        source.close()
    assert watch.states() == ["lost", "up"]


def test_a_fault_of_this_program_is_told_and_not_swallowed(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_args: Any, **_settings: Any) -> Any:
        raise ZeroDivisionError("a fault")

    monkeypatch.setattr(threading, "excepthook", lambda _args: None)
    source = LiveSource("nowhere", connect=broken)
    source.start()
    assert "ZeroDivisionError" in Watch(source).state("lost").why
    source.close()
    assert isinstance(source.failure, ZeroDivisionError)


# ---------------------------------------------------------------- closing


@pytest.mark.parametrize("dead", [True, False])
def test_closing_takes_no_longer_than_a_second(dead: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """Even while a question hangs that has its whole three seconds left."""
    port = FakePort(
        {"ATZ": None if dead else "ELM327 v1.5||>", "ATDPN": "A6||>", "0100": "7E8 06 41 00 BE 3F A8 13||>"}
    )
    port.replies["010D"] = None
    monkeypatch.setattr("coach.adapter.link.open_transport", lambda _port, _baud: port)
    source = LiveSource("/dev/pts/memory")
    source.want({"010D": 0.1})
    source.start()
    time.sleep(0.2)
    began = time.monotonic()
    source.close()
    assert time.monotonic() - began < 1.0
    assert not source._thread.is_alive()


def test_closing_in_the_middle_of_a_drive_lets_the_bus_go_to_sleep() -> None:
    with live(can_car(), {"010D": 0.01}, trouble=Trouble(delay_s=0.03)) as (watch, port):
        watch.answer("410D")
        watch.source.close()
        time.sleep(0.1)
        assert port.dialect.sent[-1] == "ATPC"


def test_closing_before_starting_is_no_error() -> None:
    LiveSource("nowhere").close()
