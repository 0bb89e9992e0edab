"""Which ports there are, and what answers on one. Opens a port only when asked to."""

import time
from collections.abc import Callable
from pathlib import Path

from msgspec import Struct

from coach.adapter.errors import AdapterError, NoCar
from coach.adapter.face import Progress
from coach.adapter.link import CarState, connect
from coach.adapter.wire import Deadlines

PATTERNS = ("rfcomm*", "ttyUSB*", "ttyACM*", "cu.*")
"""Adapters on Bluetooth serial, USB serial chips and USB modems; the last on macOS. python-OBD knows the first two."""


class Port(Struct, frozen=True):
    """A port this computer has: what to write behind --port, and what the system says it is."""

    name: str
    description: str


class Found(Struct, frozen=True):
    """What a port answered. `state` none: no adapter; `why` then says what to do. `voltage_v` none when not told."""

    port: str
    state: CarState | None
    adapter: str
    protocol: str | None
    voltage_v: float | None
    why: str


def list_ports(devices: Path = Path("/dev")) -> tuple[Port, ...]:
    """Ports that exist now, sorted by name; built-in serial ports that are not wired up are left out."""
    from serial.tools import list_ports as system

    found = {
        str(info.device): str(info.description or "")
        for info in system.comports()
        if info.hwid != "n/a" or "ttyS" not in str(info.device)
    }
    for pattern in PATTERNS:
        for path in devices.glob(pattern):
            found.setdefault(str(path), "Bluetooth serial" if "rfcomm" in pattern else "")
    return tuple(Port(name, "" if text == "n/a" else text) for name, text in sorted(found.items()))


def probe(
    port: str,
    *,
    baud: int | None = None,
    progress: Progress | None = None,
    deadlines: Deadlines | None = None,
    clock: Callable[[], float] = time.monotonic,
) -> Found:
    """Open one port, say what answers, close it again. Never raises for what is or is not there."""
    try:
        link = connect(port, baud=baud, progress=progress, deadlines=deadlines, clock=clock)
    except AdapterError as error:
        return Found(port, None, "", None, None, str(error))
    try:
        adapter, voltage_v = link.identify(), link.voltage()
        why = ""
        try:
            link.require_car()
        except NoCar as error:
            why = str(error)
        return Found(port, link.state, adapter, link.protocol if link.state == "car" else None, voltage_v, why)
    except AdapterError as error:
        return Found(port, None, "", None, None, str(error))
    finally:
        link.close()
