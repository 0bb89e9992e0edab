"""Service 09: VIN, calibration ids and verification numbers, ECU name, in-use performance counters.

On CAN one reply carries a count and the items. Before CAN the same data come as numbered lines of four bytes.
"""

from collections.abc import Sequence

from msgspec import Struct

from coach.j1979.errors import NotAVin, UnknownItem, WrongEcho, WrongLength

SPARK_PAIRS = ("CAT1", "CAT2", "O2S1", "O2S2", "EGR", "AIR", "EVAP", "SO2S1", "SO2S2")
"""Infotype 08 behind the two common counters: numerator and denominator each. Second hand; memory agrees."""
COMPRESSION_PAIRS = ("HCCAT", "NCAT", "NADS", "PM", "EGS", "EGR", "BP", "FUEL")
"""Infotype 0B, likewise."""
PAIR_MONITORS = {
    "CAT1": "catalyst",
    "CAT2": "catalyst",
    "O2S1": "oxygen_sensor",
    "O2S2": "oxygen_sensor",
    "SO2S1": "oxygen_sensor",
    "SO2S2": "oxygen_sensor",
    "EGR": "egr_vvt",
    "AIR": "secondary_air",
    "EVAP": "evaporative_system",
    "HCCAT": "nmhc_catalyst",
    "NCAT": "nox_aftertreatment",
    "NADS": "nox_aftertreatment",
    "PM": "particulate_filter",
    "EGS": "exhaust_gas_sensor",
    "BP": "boost_pressure",
    "FUEL": "fuel_system",
}
COUNTS = (16, 18, 20)
VIN_LETTERS = frozenset("ABCDEFGHJKLMNPRSTUVWXYZ0123456789")  # ISO 3779: no I, O, Q


class InUse(Struct, frozen=True):
    """In-use performance counters, 0-65535 each. `pairs`: name to (numerator, denominator); `surplus` items unread."""

    general_denominator: int
    ignition_cycles: int
    pairs: dict[str, tuple[int, int]]
    surplus: int


def item_bytes(payloads: Sequence[bytes], infotype: int, can: bool) -> tuple[int | None, bytes]:
    """Count (none before CAN) and the data of one infotype from whole replies 49 xx.

    WrongEcho for another item, WrongLength for a missing or doubled line or more than one reply on CAN.
    """
    if not payloads:
        raise WrongLength(f"infotype {infotype:02X}", 0, "at least 1")
    for payload in payloads:
        if len(payload) < 3:
            raise WrongLength(f"infotype {infotype:02X}", len(payload), "at least 3")
        if payload[0] != 0x49 or payload[1] != infotype:
            raise WrongEcho(f"reply {payload[:2].hex().upper()} is not infotype {infotype:02X}")
    if can:
        if len(payloads) != 1:
            raise WrongLength(f"replies of infotype {infotype:02X} on CAN", len(payloads), 1)
        return payloads[0][2], payloads[0][3:]
    lines = {payload[2]: payload[3:] for payload in payloads}
    if sorted(lines) != list(range(1, len(payloads) + 1)) or any(len(line) != 4 for line in lines.values()):
        raise WrongLength(f"numbered lines of infotype {infotype:02X}", len(lines), f"1 to {max(lines)} of 4 bytes")
    return None, b"".join(lines[number] for number in sorted(lines))


def _items(payloads: Sequence[bytes], infotype: int, width: int, can: bool) -> tuple[bytes, ...]:
    count, data = item_bytes(payloads, infotype, can)
    if not data or len(data) % width or (count is not None and len(data) != count * width):
        raise WrongLength(f"items of infotype {infotype:02X}", len(data), f"{count or 'n'} x {width}")
    return tuple(data[i : i + width] for i in range(0, len(data), width))


def decode_vin(payloads: Sequence[bytes], can: bool) -> str:
    """The 17 characters of infotype 02. Only padding zeros before it are taken off. NotAVin for other characters."""
    _, data = item_bytes(payloads, 0x02, can)
    text = data.lstrip(b"\0")
    if len(text) != 17:
        raise WrongLength("VIN", len(text), 17)
    vin = text.decode("latin-1")
    if not set(vin) <= VIN_LETTERS:
        raise NotAVin(f"{vin!r} has characters no VIN has")
    return vin


def decode_calibration_ids(payloads: Sequence[bytes], can: bool) -> tuple[str, ...]:
    """Infotype 04: 16 characters each, padding zeros behind taken off."""
    return tuple(item.rstrip(b"\0").decode("latin-1") for item in _items(payloads, 0x04, 16, can))


def decode_cvns(payloads: Sequence[bytes], can: bool) -> tuple[str, ...]:
    """Infotype 06: four bytes each as eight hex digits, in the order of the calibration ids."""
    return tuple(item.hex().upper() for item in _items(payloads, 0x06, 4, can))


def decode_ecu_name(payloads: Sequence[bytes], can: bool) -> str:
    """Infotype 0A: 20 characters; the zeros that part short and long name become one space."""
    items = _items(payloads, 0x0A, 20, can)
    if len(items) != 1:
        raise UnknownItem(f"{len(items)} control unit names; one is known")
    item = items[0]
    return " ".join(part.decode("latin-1") for part in item.split(b"\0") if part)


def decode_in_use(payloads: Sequence[bytes], compression: bool, can: bool) -> InUse:
    """Infotype 08 (spark) or 0B (compression): 16, 18 or 20 counters. UnknownItem for fewer; more are surplus."""
    words = [int.from_bytes(item, "big") for item in _items(payloads, 0x0B if compression else 0x08, 2, can)]
    if len(words) < COUNTS[0] or len(words) % 2:
        raise UnknownItem(f"{len(words)} in-use counters; 16, 18 or 20 are known")
    names = COMPRESSION_PAIRS if compression else SPARK_PAIRS
    known = (len(words) - 2) // 2
    pairs = {name: (words[2 + 2 * i], words[3 + 2 * i]) for i, name in enumerate(names[:known])}
    return InUse(words[0], words[1], pairs, len(words) - 2 - 2 * len(pairs))
