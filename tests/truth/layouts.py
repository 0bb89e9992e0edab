"""Bytes of a modelled car: PID 01 and 41, trouble codes, vehicle information, after SAE J1979 as open sources tell it.

An encoder of its own, so that a mistake in the decoders of `coach` is not repeated here. Sources: PID 01 and 41, codes
and numbered lines as python-OBD's tests and the OBDb signal table have them; from memory where those are silent.
Eleven bits stand for the monitors of a unit: 0 to 2 are byte B's, 3 to 10 are bits 0 to 7 of bytes C and D.
"""

CONTINUOUS = 0b111
SPARK = (
    "misfire",
    "fuel_system",
    "comprehensive_component",
    "catalyst",
    "heated_catalyst",
    "evaporative_system",
    "secondary_air",
    "ac_or_gpf",
    "oxygen_sensor",
    "oxygen_sensor_heater",
    "egr_vvt",
)
COMPRESSION = (
    "misfire",
    "fuel_system",
    "comprehensive_component",
    "nmhc_catalyst",
    "nox_aftertreatment",
    "",
    "boost_pressure",
    "",
    "exhaust_gas_sensor",
    "particulate_filter",
    "egr_vvt",
)
LAYOUTS = (SPARK, COMPRESSION)
BITS = tuple({name: 1 << bit for bit, name in enumerate(names) if name} for names in LAYOUTS)
"""The bit of each monitor, by layout: 0 spark, 1 compression."""

CODES = ("P0420", "P0301", "P0128", "P0135", "P0455", "P0700", "U0100", "P0171")
_YEARS = "ABCDEFGHJKLMNPRSTVWXY123456789"
_FIRST_YEAR = 1980


def year_letter(year: int) -> str:
    """The tenth character of a VIN; the letters come round every thirty years (ISO 3779)."""
    return _YEARS[(year - _FIRST_YEAR) % 30]


def vin_of(number: int, year: int) -> bytes:
    """An invented VIN: no region begins with 0 (ISO 3780). A letter in the seventh place from 2010 on."""
    return f"0ZZAA0{'A' if year >= 2010 else '0'}00{year_letter(year)}0{number:06d}".encode()


def code_bytes(code: str) -> bytes:
    """Two bytes of a trouble code."""
    return bytes([("PCBU".index(code[0]) << 6) | (int(code[1]) << 4) | int(code[2], 16), int(code[3:], 16)])


_PAIRS = {code: code_bytes(code) for code in CODES}


def status(pid: int, first: int, layout: int, supported: int, unfinished: int, odd: int = 0) -> bytes:
    """PID 01 or 41. `odd`: bits of byte D of monitors that are not supported; bit 11 of it is B7."""
    byte_b = (unfinished & 7) << 4 | layout << 3 | (supported & 7) | (odd >> 11 & 1) << 7
    return bytes([0x41, pid, first, byte_b, supported >> 3 & 0xFF, (unfinished | odd) >> 3 & 0xFF])


def codes(service: int, found: tuple[str, ...], can: bool) -> list[bytes]:
    """A unit's whole answer to 03, 07 or 0A: counted on CAN, before it three to a message and padded."""
    pairs = [_PAIRS[code] for code in found]
    if can:
        return [bytes([service + 0x40, len(pairs)]) + b"".join(pairs)]
    pairs += [b"\0\0"] * (-len(pairs) % 3 or (0 if pairs else 3))
    return [bytes([service + 0x40]) + b"".join(pairs[at : at + 3]) for at in range(0, len(pairs), 3)]


def information(infotype: int, data: bytes, can: bool, count: int = 1) -> list[bytes]:
    """A unit's whole answer to one item of service 09: with its count on CAN, numbered lines of four bytes before."""
    if can:
        return [bytes([0x49, infotype, count]) + data]
    data = bytes(-len(data) % 4) + data
    return [bytes([0x49, infotype, 1 + at // 4]) + data[at : at + 4] for at in range(0, len(data), 4)]


def support(pid: int, offered: tuple[int, ...]) -> bytes:
    """A support map of service 01 that begins behind `pid`."""
    bits = sum(1 << (32 - (one - pid)) for one in offered if pid < one <= pid + 32)
    return bytes([0x41, pid]) + bits.to_bytes(4, "big")
