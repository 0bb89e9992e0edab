"""Bit maps of supported items: PID, MID or infotype 00, 20, 40 … each lists the 32 that follow it."""

from coach.j1979.errors import UnknownItem, WrongLength


def decode_supported(first: int, data: bytes) -> frozenset[int]:
    """The items listed by the map `first` (a multiple of 20 hex), from its four bytes; the first bit is `first` + 1."""
    if first % 0x20 or not 0 <= first <= 0xE0:
        raise UnknownItem(f"{first:02X} is not a map of supported items")
    if len(data) != 4:
        raise WrongLength(f"map {first:02X}", len(data), 4)
    bits = int.from_bytes(data, "big")
    return frozenset(first + 1 + i for i in range(32) if bits >> (31 - i) & 1)
