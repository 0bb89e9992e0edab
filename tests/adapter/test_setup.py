"""Connecting: through python-OBD over our wire, to adapters that are well, odd, or not there at all."""

import errno
import itertools
import logging
import os
import socket
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from coach.adapter import link as link_module
from coach.adapter.errors import (
    NoAdapter,
    NoPermission,
    NoSuchPort,
    PortBusy,
    PortFailed,
)
from coach.adapter.link import Link, connect
from coach.adapter.ports import Port, list_ports, probe
from coach.adapter.setup import has_speed
from coach.adapter.wire import _open_error, open_transport
from coach.simulator.dialect import BUSES, Dialect
from coach.simulator.port import SimulatedPort
from coach.simulator.vehicle import BusProtocol
from tests.adapter.cars import can_car, old_car
from tests.adapter.conftest import QUICK
from tests.adapter.fakes import FakePort, Reply

MAP = "7E8 06 41 00 BE 3F A8 13||>"
WELL: dict[str, Reply | list[Reply]] = {"ATZ": "||ELM327 v1.5||>", "ATDPN": "A6||>", "0100": MAP, "ATRV": "12.4V||>"}


def connected(monkeypatch: pytest.MonkeyPatch, changes: dict[str, Any], **settings: Any) -> tuple[Link, FakePort]:
    port = FakePort({**WELL, **changes})
    monkeypatch.setattr(link_module, "open_transport", lambda _port, _baud: port)
    return connect("/dev/pts/memory", deadlines=QUICK, **settings), port


# ---------------------------------------------------------------- over a pseudo-terminal


@pytest.mark.parametrize("bus", BUSES)
def test_every_transport_is_found_and_its_car_answers(bus: BusProtocol) -> None:
    car = can_car(bus=bus) if bus.startswith("can") else old_car(bus)
    if "29" in bus:
        car.table["0100"] = {"18DAF110": "4100BE3FA813"}
    said: list[str] = []
    with SimulatedPort(Dialect(car)) as port:
        link = connect(port.name, deadlines=QUICK, progress=said.append)
        assert (link.state, link.protocol) == ("car", str(BUSES.index(bus) + 1))
        assert link.can == bus.startswith("can")
        link.close()
    assert said[0].startswith("opening")
    assert any("protocol" in text for text in said)
    assert said[-1] == "the car answers"


def test_only_reading_services_and_set_up_are_ever_sent() -> None:
    with SimulatedPort(Dialect(can_car())) as port:
        link = connect(port.name, deadlines=QUICK)
        for text in ("0101", "03", "07", "0902"):
            link.ask(text)
        link.close()
        time.sleep(0.1)
        assert {command for command in port.dialect.sent if not command.startswith("AT")} == {
            *("0100", "0101", "03", "07", "0902")
        }
        assert port.dialect.sent[-1] == "ATPC"


def test_a_known_protocol_needs_no_search() -> None:
    with SimulatedPort(Dialect(can_car())) as port:
        link = connect(port.name, deadlines=QUICK, protocol="6")
        assert link.state == "car"
        link.close()
        assert "ATSP0" not in port.dialect.sent


def test_a_remembered_protocol_that_is_not_this_cars_is_given_up() -> None:
    with SimulatedPort(Dialect(old_car())) as port:
        link = connect(port.name, deadlines=QUICK, protocol="6")
        assert (link.state, link.protocol) == ("car", "3")
        link.close()


def test_with_the_ignition_off_the_adapter_is_there_and_the_car_is_not_until_the_key_is_on() -> None:
    car = can_car(ignition_on=False)
    with SimulatedPort(Dialect(car)) as port:
        link = connect(port.name, deadlines=QUICK)
        assert link.state == "ignition_off"
        car.ignition_on = True
        assert link.look() == "car"
        assert link.protocol == "6"
        link.close()


def test_a_network_adapter_is_spoken_to_over_its_socket() -> None:
    dialect = Dialect(can_car())
    server = socket.create_server(("127.0.0.1", 0))

    def serve() -> None:
        peer, _ = server.accept()
        with peer:
            while data := peer.recv(1024):
                for piece in dialect.receive(data, 0.0):
                    peer.sendall(piece.data)

    thread = threading.Thread(target=serve, daemon=True)
    thread.start()
    link = connect(f"socket://127.0.0.1:{server.getsockname()[1]}", deadlines=QUICK)
    assert link.state == "car"
    assert link.ask("010D").payloads() == {"7E8": (bytes.fromhex("410D32"),)}
    link.close()
    thread.join(1.0)
    server.close()


# ---------------------------------------------------------------- adapters with manners of their own

ODD: dict[str, dict[str, Any]] = {
    "small letters everywhere": {"ATE0": "ok||>", "ATH1": "ok||>", "ATL0": "ok||>", "ATSP0": "ok||>", "ATDPN": "a6||>"},
    "no line feeds to switch off": {"ATL0": "?||>"},
    "an extra line before OK": {"ATH1": "|ATH1|OK||>"},
    "one reply lost to noise": {"ATH1": ["\x80K||>", "OK||>"]},
    "does not know its protocol": {"ATDPN": "?||>"},
    "protocol without the A": {"ATDPN": "6||>"},
    "no voltage pin": {"ATRV": "?||>"},
    "decimal comma": {"ATRV": "12,8V||>"},
    "search printed before the data": {"0100": "SEARCHING...|7E8 06 41 00 BE 3F A8 13||>"},
    "search glued to the data": {"0100": "SEARCHING...7E8 06 41 00 BE 3F A8 13||>"},
    "two ECUs": {"0100": "7E8 06 41 00 BE 3F A8 13|7E9 06 41 00 98 18 00 01||>"},
}


@pytest.mark.parametrize("name", ODD)
def test_an_adapter_with_manners_of_its_own_is_connected_all_the_same(
    monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    link, _ = connected(monkeypatch, ODD[name])
    assert (link.state, link.protocol) == ("car", "6")


def test_an_echo_that_stays_is_taken_off(monkeypatch: pytest.MonkeyPatch) -> None:
    commands = ("ATE0", "ATH1", "ATL0", "ATSP0", "ATTP6")
    echo: dict[str, Any] = {command: f"{command}|OK||>" for command in commands}
    echo |= {"ATZ": "ATZ|ELM327 v1.5||>", "ATDPN": "ATDPN|A6||>", "0100": "0100|" + MAP, "ATRV": "ATRV|12.4V||>"}
    link, port = connected(monkeypatch, {**echo, "010D": "010D|7E8 03 41 0D 32||>"})
    assert link.state == "car"
    port.commands.clear()
    assert link.ask("010D").payloads() == {"7E8": (bytes.fromhex("410D32"),)}
    assert port.commands == ["010D"], "a steady echo is no sign of a reboot"


def test_a_search_that_never_ends_leaves_the_adapter_in_step(monkeypatch: pytest.MonkeyPatch) -> None:
    link, port = connected(monkeypatch, {"0100": ["SEARCHING...", MAP]})
    assert link.state == "ignition_off"
    assert link.look() == "car"
    assert "ATE0" in port.commands[port.commands.index("0100") :]


def test_a_car_before_can_is_not_taken_for_can_when_the_adapter_cannot_name_its_protocol(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    line = "48 6B 10 41 00 BE 3E B8 11 FA||>"
    link, _ = connected(monkeypatch, {"ATDPN": "?||>", "0100": line})
    assert (link.state, link.protocol) == ("car", "2")


# ---------------------------------------------------------------- nobody there


@pytest.mark.parametrize(
    "changes",
    [
        {"ATZ": None},
        {"ATZ": "gibberish without a prompt", "ATE0": None},
        {"ATE0": None},
        {"ATH1": "?||>"},
        {"ATH1": None},
    ],
)
def test_a_port_without_a_usable_adapter_is_told_within_the_deadline(
    monkeypatch: pytest.MonkeyPatch, changes: dict[str, Any]
) -> None:
    began = time.monotonic()
    with pytest.raises(NoAdapter, match=r"answers on /dev/pts/memory.*connector"):
        connected(monkeypatch, changes)
    assert time.monotonic() - began < 2.0


def test_an_adapter_that_dies_during_the_search_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    from coach.adapter.errors import LinkLost

    with pytest.raises(LinkLost, match="fell silent"):
        connected(monkeypatch, {"0100": None})
    with pytest.raises(LinkLost, match="plugged in"):
        connected(monkeypatch, {"0100": OSError("gone")})


def test_a_failed_connect_closes_the_port(monkeypatch: pytest.MonkeyPatch) -> None:
    port = FakePort({"ATZ": None})
    monkeypatch.setattr(link_module, "open_transport", lambda _port, _baud: port)
    with pytest.raises(NoAdapter):
        connect("/dev/pts/memory", deadlines=QUICK)
    assert not port.open


@pytest.mark.parametrize(
    ("number", "kind", "remedy"),
    [
        (errno.ENOENT, NoSuchPort, "coach ports"),
        (errno.EACCES, NoPermission, "dialout"),
        (errno.EBUSY, PortBusy, "Close the other program"),
        (errno.EAGAIN, PortBusy, "Close the other program"),
        (errno.EIO, PortFailed, "switched on"),
    ],
)
def test_each_reason_a_port_does_not_open_has_its_remedy(number: int, kind: type, remedy: str) -> None:
    error = _open_error("/dev/ttyUSB0", OSError(number, os.strerror(number)))
    assert type(error) is kind
    assert "/dev/ttyUSB0" in str(error)
    assert remedy in error.remedy


def test_a_port_that_is_not_there_and_one_that_is_taken_are_told_apart(tmp_path: Path) -> None:
    with pytest.raises(NoSuchPort):
        connect(str(tmp_path / "ttyUSB7"))
    with SimulatedPort(Dialect(can_car())) as port:
        first = open_transport(port.name, 38400)
        with pytest.raises(PortBusy):
            connect(port.name)
        first.close()
    with pytest.raises(PortFailed):
        connect("nonsense://x")


@pytest.fixture
def closed_port() -> Iterator[int]:
    with socket.create_server(("127.0.0.1", 0)) as server:
        number = server.getsockname()[1]
    yield number


def test_a_network_adapter_that_is_off_is_told(closed_port: int) -> None:
    with pytest.raises(PortFailed, match="network"):
        connect(f"socket://127.0.0.1:{closed_port}")


# ---------------------------------------------------------------- speed, ports, the library's log


def test_the_right_speed_is_found_by_its_readable_prompt(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    port = FakePort(WELL)
    port.on_write = lambda _text: port.replies.__setitem__(
        "ATI", "ELM327 v1.5||>" if port.baudrate == 9600 else b"\xf8\x80\x86\x00"
    )
    monkeypatch.setattr(link_module, "open_transport", lambda _port, _baud: port)
    link = connect("/dev/ttyUSB0", deadlines=QUICK)
    assert (link.state, port.baudrate) == ("car", 9600)
    port.on_write = None
    port.replies["ATI"] = None
    with pytest.raises(NoAdapter, match="speed"):
        connect("/dev/ttyUSB0", deadlines=QUICK)


def test_only_real_serial_ports_have_a_speed(tmp_path: Path) -> None:
    assert has_speed("/dev/ttyUSB0")
    assert has_speed("/dev/ttyACM0")
    assert not has_speed("socket://192.0.2.1:35000")
    assert not has_speed("/dev/rfcomm0")
    with SimulatedPort(Dialect(can_car())) as port:
        (tmp_path / "adapter").symlink_to(port.name)
        assert not has_speed(str(tmp_path / "adapter"))


def test_ports_are_listed_and_probed(tmp_path: Path) -> None:
    for name in ("rfcomm0", "ttyACM0", "null"):
        (tmp_path / name).touch()
    listed = list_ports(tmp_path)
    assert Port(str(tmp_path / "rfcomm0"), "Bluetooth serial") in listed
    assert Port(str(tmp_path / "ttyACM0"), "") in listed
    assert not any(port.name.endswith("null") for port in listed)
    car = can_car()
    with SimulatedPort(Dialect(car)) as port:
        found = probe(port.name, deadlines=QUICK)
        assert (found.state, found.protocol, found.voltage_v, found.why) == ("car", "6", 12.4, "")
        assert found.adapter == "simulated adapter 1.4"
        car.ignition_on = False
        off = probe(port.name, deadlines=QUICK)
        assert (off.state, off.protocol) == ("ignition_off", None)
        assert "key to on" in off.why
    nobody = probe("/dev/does-not-exist", deadlines=QUICK)
    assert nobody.state is None
    assert "There is no port" in nobody.why


def test_python_obd_prints_nothing(monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]) -> None:
    connected(monkeypatch, {"0100": "NO DATA||>"})
    logging.getLogger("obd.elm327").error("this must not be seen")
    assert capfd.readouterr() == ("", "")


def test_a_long_search_says_every_second_how_long_it_has_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    """A car before CAN whose bus takes long to wake: the adapter prints SEARCHING... and is silent for 20 s."""
    ticks = itertools.count()
    monkeypatch.setattr("coach.adapter.wire.time", SimpleNamespace(monotonic=lambda: next(ticks) * 0.1))
    said: list[str] = []
    with pytest.MonkeyPatch.context() as patch:
        port = FakePort({**WELL, "0100": "SEARCHING..."})
        patch.setattr(link_module, "open_transport", lambda _port, _baud: port)
        reads = itertools.count()

        def read(size: int = 1) -> bytes:
            if port.commands[-1] == "0100" and not port.buffer and next(reads) == 200:
                port.replies["0100"] = MAP
                return b"\r7E8 06 41 00 BE 3F A8 13\r\r>"
            return FakePort.read(port, size)

        port.read = read  # type: ignore[method-assign]
        link = connect("/dev/pts/memory", progress=said.append)
    assert link.state == "car"
    seconds = [text for text in said if text.endswith("of at most 30 s")]
    assert len(seconds) > 15
    assert seconds[0] == "asking the car, 1 s of at most 30 s"
