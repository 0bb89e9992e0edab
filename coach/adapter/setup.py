"""Adapter set-up: the speed of a serial port by our own try, protocol negotiation by python-OBD over our wire.

The only module that imports python-OBD, inside a function, since that takes a quarter of a second.
"""

import logging
import os
import re
from typing import Any

from coach.adapter import protocol_coachwire
from coach.adapter.errors import NoAdapter
from coach.adapter.face import Face, Progress
from coach.adapter.wire import Wire
from coach.transport.frames import split_lines

BAUDS = (38400, 115200, 9600, 57600, 230400, 500000, 19200)
"""38400 and 9600 are the adapters' own defaults, the others their settings (python-OBD, elm327.py:106; plus 500000)."""
HANDLERS = "coach.adapter"


def has_speed(port: str) -> bool:
    """Whether the port is one whose speed matters: no pseudo-terminal, no network, no Bluetooth serial."""
    real = os.path.realpath(port)
    return "://" not in port and not re.match(r"/dev/(pts/|rfcomm|ttys\d{3}$)", real)


def probe_baud(wire: Wire, port: str, progress: Progress) -> int:
    """Try the usual speeds until the adapter's prompt comes back readable. NoAdapter when it never does."""
    heard = b""
    for baud in BAUDS:
        progress(f"trying {baud} baud")
        wire.set_baud(baud)
        raw = wire.exchange("ATI", wire.deadlines.baud_s)
        lines, prompt = split_lines(raw.data)
        if prompt and lines and all(line.isascii() and line.isprintable() for line in lines):
            return baud
        heard += raw.data
    raise NoAdapter(port, "nothing readable at any usual speed" if heard else "nothing came back at any usual speed")


def negotiate(wire: Wire, port: str, protocol: str | None, progress: Progress) -> tuple[Face, str | None]:
    """Let python-OBD reset the adapter, set it up and find the protocol; returns the face and the protocol's number."""
    elm = _library()
    url = f"coachwire://{id(wire):x}"
    face = Face(wire, port, progress)
    protocol_coachwire.FACES[url] = face
    try:
        interface = elm.ELM327(url, 38400, protocol, timeout=0.1, check_voltage=False)
        connected = interface.status() == "Car Connected"
        found = str(interface.protocol_id()) if connected else protocol
    finally:
        del protocol_coachwire.FACES[url]
    if face.error is not None:
        raise face.error
    if interface.status() == "Not Connected":
        raise NoAdapter(port, "it does not do what every adapter does")
    return face, found


def _library() -> Any:
    """python-OBD's adapter module, its log kept off the screen, our handler made known to pyserial."""
    import serial
    from obd import elm327

    log = logging.getLogger("obd")
    log.handlers.clear()
    log.addHandler(logging.NullHandler())
    log.propagate = False
    if HANDLERS not in serial.protocol_handler_packages:
        serial.protocol_handler_packages.append(HANDLERS)
    return elm327
