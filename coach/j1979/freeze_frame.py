"""Service 02: the values frozen when a code was stored. A request and a reply carry the frame number behind the PID."""

from coach.j1979.dtc import decode_dtc
from coach.j1979.errors import UnknownItem, WrongEcho, WrongLength
from coach.j1979.pids import LENGTHS, PIDS, Values

CAUSE = 0x02
"""The PID that names the code which caused the frame."""


def split_freeze_frame(payload: bytes, frame: int = 0) -> tuple[tuple[int, bytes], ...]:
    """(PID, data) pairs of a reply 42 PID frame data … WrongEcho for another service or frame, else WrongLength."""
    if len(payload) < 3:
        raise WrongLength("freeze frame reply", len(payload), "at least 3")
    if payload[0] != 0x42:
        raise WrongEcho(f"reply {payload[:1].hex().upper()} is not of service 02")
    parts: list[tuple[int, bytes]] = []
    at = 1
    while at < len(payload):
        pid = payload[at]
        length = LENGTHS.get(pid)
        if length is None:
            raise UnknownItem(f"freeze frame PID {pid:02X} of unknown length")
        data = payload[at + 2 : at + 2 + length]
        if len(data) != length:
            raise WrongLength(f"freeze frame PID {pid:02X}", len(data), length)
        if payload[at + 1] != frame:
            raise WrongEcho(f"freeze frame {payload[at + 1]}, asked {frame}")
        parts.append((pid, data))
        at += 2 + length
    return tuple(parts)


def decode_cause(data: bytes) -> str | None:
    """The code that caused the frame; none when no frame is stored (00 00)."""
    if len(data) != 2:
        raise WrongLength("freeze frame code", len(data), 2)
    return None if data == b"\0\0" else decode_dtc(data[0], data[1])


def decode_frozen(payload: bytes, frame: int = 0) -> tuple[str | None, Values]:
    """The code (when PID 02 stands in the reply) and the frozen values."""
    cause: str | None = None
    values: list[tuple[str, float]] = []
    for pid, data in split_freeze_frame(payload, frame):
        if pid == CAUSE:
            cause = decode_cause(data)
        elif pid in PIDS:
            values.extend(PIDS[pid].decode(data))
    return cause, tuple(values)
