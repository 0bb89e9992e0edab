"""Diagnostic trouble codes: two bytes a code, and the replies of services 03, 07 and 0A.

On CAN a count byte stands before the codes; before CAN each message carries three pairs, padded with zeros.
"""

import re

from coach.j1979.errors import J1979Error, UnknownItem, WrongEcho, WrongLength

SYSTEMS = "PCBU"
"""Top two bits: powertrain, chassis, body, network (python-OBD `parse_dtc`, Scapy `OBD_DTC`)."""

CODE_REPLIES = (0x43, 0x47, 0x4A)
_WRITTEN = re.compile(r"[PCBU][0-3][0-9A-F]{3}")
LEGACY_BYTES = 6  # three pairs behind the service byte, before CAN


def decode_dtc(first: int, second: int) -> str:
    """The five characters of a code, such as P0420, from its two bytes (0-255 each)."""
    return f"{SYSTEMS[first >> 6]}{first >> 4 & 3}{first & 15:X}{second:02X}"


def encode_dtc(code: str) -> bytes:
    """The two bytes of a code. UnknownItem for anything that is not one."""
    text = code.strip().upper()
    if not _WRITTEN.fullmatch(text):
        raise UnknownItem(f"{code!r} is not a trouble code such as P0420")
    return ((SYSTEMS.index(text[0]) << 14) | (int(text[1]) << 12) | int(text[2:], 16)).to_bytes(2, "big")


def decode_codes(payload: bytes, can: bool) -> tuple[str, ...]:
    """The codes of one reply of service 03, 07 or 0A. An empty tuple is a well-formed "no codes", nothing less.

    WrongEcho for another service; WrongLength when the count and the bytes disagree, or the service byte stands alone.
    """
    if not payload:
        raise WrongLength("trouble codes", 0, "at least 1")
    if payload[0] not in CODE_REPLIES:
        raise WrongEcho(f"first byte {payload[0]:02X} is no reply of service 03, 07 or 0A")
    return _counted(payload) if can else _padded(payload[1:])


def _counted(payload: bytes) -> tuple[str, ...]:
    if len(payload) < 2:
        raise WrongLength("trouble codes without their count", len(payload), "at least 2")
    count, pairs = payload[1], payload[2:]
    if len(pairs) != 2 * count:
        raise WrongLength(f"{count} trouble codes", len(pairs), 2 * count)
    found = _codes(pairs)
    if len(found) != count:  # 00 00 is no code: the count counts something that is not there
        raise WrongLength(f"{count} trouble codes", 2 * len(found), 2 * count)
    return found


def _padded(pairs: bytes) -> tuple[str, ...]:
    if not pairs or len(pairs) % 2 or len(pairs) > LEGACY_BYTES:
        raise WrongLength("trouble codes before CAN", len(pairs), "2, 4 or 6")
    return _codes(pairs)


def _codes(pairs: bytes) -> tuple[str, ...]:
    """00 00 is padding and no code."""
    found = (pairs[i : i + 2] for i in range(0, len(pairs), 2))
    return tuple(decode_dtc(pair[0], pair[1]) for pair in found if pair != b"\0\0")


def is_code(text: str) -> bool:
    """Whether the text is a trouble code."""
    try:
        encode_dtc(text)
    except J1979Error:
        return False
    return True
