"""How replies look on the bus and in the adapter's lines: ISO-TP frames on CAN, header and checksum lines before it.

Layouts as in reference standards.md, section 9, and python-OBD's protocol comments; lengths before CAN from memory.
"""

from collections.abc import Callable, Sequence
from typing import NamedTuple, TypeAlias

from coach.simulator.vehicle import BusProtocol, Reply

PADDING = 0x00
"""Fills CAN frames to eight bytes; ISO 15765-4 wants eight (from memory)."""


class Line(NamedTuple):
    """One line: header, data as shown with headers on, and the line as shown with headers off."""

    header: str
    data: str
    plain: str


def _hex(data: bytes) -> str:
    return data.hex(" ").upper()


# ---------------------------------------------------------------- CAN


def can_lines(replies: Sequence[Reply]) -> list[Line]:
    """Frames of all ECUs, interleaved as they share the bus: each ECU's first frames, then the second, and so on."""
    queues = [_can_frames(reply) for reply in replies]
    lines: list[Line] = []
    while any(queues):
        for queue in queues:
            if queue:
                lines.append(queue.pop(0))
    return lines


def _can_frames(reply: Reply) -> list[Line]:
    payload, header = reply.payload, _can_header(reply.ecu)
    if len(payload) <= 7:
        frame = bytes([len(payload)]) + payload
        return [Line(header, _hex(frame.ljust(8, bytes([PADDING]))), _hex(payload) + " ")]
    first = bytes([0x10 | len(payload) >> 8, len(payload) & 0xFF]) + payload[:6]
    # with headers off the length comes on a line of its own, then numbered lines
    lines = [Line(header, _hex(first), f"{len(payload):03X}\r0: {_hex(payload[:6])} ")]
    for number, at in enumerate(range(6, len(payload), 7), start=1):
        part = payload[at : at + 7].ljust(7, bytes([PADDING]))
        lines.append(Line(header, _hex(bytes([0x20 | number & 0x0F]) + part), f"{number & 0x0F:X}: {_hex(part)} "))
    return lines


def _can_header(ecu: str) -> str:
    return ecu if len(ecu) == 3 else " ".join(ecu[i : i + 2] for i in range(0, 8, 2))


# ---------------------------------------------------------------- before CAN


def sum_checksum(raw: bytes) -> int:
    """ISO 9141-2 and ISO 14230: the sum of all bytes."""
    return sum(raw) & 0xFF


_CRC_TABLE: list[int] = []
for _value in range(256):
    for _ in range(8):
        _value = (_value << 1) ^ 0x11D if _value & 0x80 else _value << 1
    _CRC_TABLE.append(_value & 0xFF)


def crc_checksum(raw: bytes) -> int:
    """SAE J1850: CRC-8 with polynomial 1D, all ones before and after."""
    crc = 0xFF
    for byte in raw:
        crc = _CRC_TABLE[crc ^ byte]
    return crc ^ 0xFF


Framer: TypeAlias = Callable[[Sequence[Reply]], list[Line]]


def _legacy(header: Callable[[int, int], bytes], check: Callable[[bytes], int]) -> Framer:
    """A framer for a bus without frames: each reply is one line; a vehicle splits long answers as its bus does."""

    def lines(replies: Sequence[Reply]) -> list[Line]:
        made = []
        for reply in replies:
            head, payload = header(int(reply.ecu, 16), len(reply.payload)), reply.payload
            end = check(head + payload)
            made.append(Line(_hex(head), _hex(payload + bytes([end])), _hex(payload) + " "))
        return made

    return lines


FRAMERS: dict[BusProtocol, Framer] = {
    "j1850_pwm": _legacy(lambda source, n: bytes([0x41, 0x6B, source]), crc_checksum),
    "j1850_vpw": _legacy(lambda source, n: bytes([0x48, 0x6B, source]), crc_checksum),
    "iso_9141": _legacy(lambda source, n: bytes([0x48, 0x6B, source]), sum_checksum),
    "kwp_slow": _legacy(lambda source, n: bytes([0x80 | n, 0xF1, source]), sum_checksum),
    "kwp_fast": _legacy(lambda source, n: bytes([0x80 | n, 0xF1, source]), sum_checksum),
    "can_11_500": can_lines,
    "can_29_500": can_lines,
    "can_11_250": can_lines,
    "can_29_250": can_lines,
}
