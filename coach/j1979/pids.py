"""Service 01: the PIDs a coach needs, each with its length and formula, and the taking apart of a reply.

Formulas stand in at least two of three open sources (python-OBD, Scapy's OBD layer, the OBDb signal table) unless a row
says otherwise; no edition of SAE J1979-DA was read. Sensors that a composite PID marks as not fitted yield nothing.
"""

from collections.abc import Callable, Sequence
from typing import TypeAlias

from msgspec import Struct

from coach.j1979.errors import UnknownItem, WrongEcho, WrongLength

Values: TypeAlias = tuple[tuple[str, float], ...]

TWO_SOURCES = "at least two of python-OBD, Scapy, OBDb"
SCAPY = "Scapy's OBD layer alone"
OBDB = "OBDb signal table alone"


class Pid(Struct, frozen=True):
    """One PID: number, name, exact number of data bytes, formula, source, and what takes the data bytes apart."""

    pid: int
    name: str
    length: int
    formula: str
    source: str
    read: Callable[[bytes], Values]

    def decode(self, data: bytes) -> Values:
        """(signal id, value) pairs. WrongLength for any other number of data bytes."""
        if len(data) != self.length:
            raise WrongLength(f"PID {self.pid:02X}", len(data), self.length)
        return self.read(data)


# ---------------------------------------------------------------- one value each: formula, bytes, function
# The functions take the whole reply, 41 PID data, so that the hot path cuts nothing.

_ONE: dict[str, tuple[str, int, Callable[[bytes], float]]] = {
    "A": ("A", 1, lambda p: float(p[2])),
    "percent": ("100 A / 255", 1, lambda p: p[2] * 100 / 255),
    "celsius": ("A - 40", 1, lambda p: p[2] - 40.0),
    "torque": ("A - 125", 1, lambda p: p[2] - 125.0),
    "word": ("256 A + B", 2, lambda p: float(p[2] << 8 | p[3])),
    "rpm": ("(256 A + B) / 4", 2, lambda p: (p[2] << 8 | p[3]) / 4),
    "hundredth": ("(256 A + B) / 100", 2, lambda p: (p[2] << 8 | p[3]) / 100),
    "milli": ("(256 A + B) / 1000", 2, lambda p: (p[2] << 8 | p[3]) / 1000),
    "hot": ("(256 A + B) / 10 - 40", 2, lambda p: (p[2] << 8 | p[3]) / 10 - 40),
    "load": ("100 (256 A + B) / 255", 2, lambda p: (p[2] << 8 | p[3]) * 100 / 255),
    "odometer": ("(A 2^24 + B 2^16 + C 2^8 + D) / 10", 4, lambda p: int.from_bytes(p[2:6], "big") / 10),
    "bit0": ("A bit 0", 1, lambda p: float(p[2] & 1)),
}

_SINGLES: tuple[tuple[int, str, str, str, str], ...] = (
    (0x04, "calculated load", "load_pct", "percent", TWO_SOURCES),
    (0x05, "engine coolant temperature", "coolant_c", "celsius", TWO_SOURCES),
    (0x0B, "intake manifold absolute pressure", "map_kpa", "A", TWO_SOURCES),
    (0x0C, "engine speed", "rpm", "rpm", TWO_SOURCES),
    (0x0D, "vehicle speed", "speed_kmh", "A", TWO_SOURCES),  # OBDb takes 255 as "no value"; the others do not
    (0x0F, "intake air temperature", "intake_c", "celsius", TWO_SOURCES),
    (0x10, "mass air flow", "maf_gps", "hundredth", TWO_SOURCES),
    (0x11, "absolute throttle position", "throttle_pct", "percent", TWO_SOURCES),
    (0x12, "commanded secondary air", "commanded_secondary_air", "A", f"{SCAPY}; bit numbers from memory"),
    (0x1C, "OBD requirements designed to", "obd_standard", "A", TWO_SOURCES),
    (0x1E, "auxiliary input", "pto_active", "bit0", SCAPY),
    (0x1F, "time since engine start", "run_time_s", "word", TWO_SOURCES),
    (0x21, "distance with MIL on", "distance_with_mil_km", "word", TWO_SOURCES),
    (0x2E, "commanded evaporative purge", "purge_pct", "percent", TWO_SOURCES),
    (0x2F, "fuel tank level", "fuel_level_pct", "percent", TWO_SOURCES),
    (0x30, "warm-ups since clear", "warm_ups_since_clear", "A", TWO_SOURCES),
    (0x31, "distance since clear", "distance_since_clear_km", "word", TWO_SOURCES),
    (0x33, "barometric pressure", "baro_kpa", "A", TWO_SOURCES),
    (0x3C, "catalyst temperature B1S1", "catalyst_b1s1_c", "hot", TWO_SOURCES),
    (0x3D, "catalyst temperature B2S1", "catalyst_b2s1_c", "hot", TWO_SOURCES),
    (0x3E, "catalyst temperature B1S2", "catalyst_b1s2_c", "hot", TWO_SOURCES),
    (0x3F, "catalyst temperature B2S2", "catalyst_b2s2_c", "hot", TWO_SOURCES),
    (0x42, "control module voltage", "module_v", "milli", TWO_SOURCES),
    (0x43, "absolute load", "absolute_load_pct", "load", TWO_SOURCES),
    (0x45, "relative throttle position", "relative_throttle_pct", "percent", TWO_SOURCES),
    (0x46, "ambient air temperature", "ambient_c", "celsius", TWO_SOURCES),
    (0x49, "accelerator pedal position D", "pedal_d_pct", "percent", TWO_SOURCES),
    (0x4A, "accelerator pedal position E", "pedal_e_pct", "percent", TWO_SOURCES),
    (0x4B, "accelerator pedal position F", "pedal_f_pct", "percent", TWO_SOURCES),
    (0x4D, "engine run time with MIL on", "run_time_with_mil_min", "word", TWO_SOURCES),
    (0x4E, "engine run time since clear", "run_time_since_clear_min", "word", TWO_SOURCES),
    (0x51, "fuel type", "fuel_type", "A", TWO_SOURCES),
    (0x5A, "relative accelerator pedal position", "relative_pedal_pct", "percent", TWO_SOURCES),
    (0x5C, "engine oil temperature", "oil_c", "celsius", TWO_SOURCES),
    (0x61, "demanded engine torque", "demanded_torque_pct", "torque", SCAPY),
    (0x62, "actual engine torque", "actual_torque_pct", "torque", SCAPY),
    (0x63, "engine reference torque", "reference_torque_nm", "word", SCAPY),
    (0xA6, "odometer", "odometer_km", "odometer", f"{OBDB}; length also Scapy"),
)

Single: TypeAlias = tuple[int, str, Callable[[bytes], float]]

SINGLE: dict[int, Single] = {pid: (2 + _ONE[form][1], signal, _ONE[form][2]) for pid, _, signal, form, _ in _SINGLES}
"""PIDs of one signal: length of the whole reply, signal id, and the function from the whole reply to the value."""


# ---------------------------------------------------------------- several values


def _trims(first: str, second: str) -> Callable[[bytes], Values]:
    def read(data: bytes) -> Values:
        return tuple((name, (byte - 128) * 100 / 128) for name, byte in zip((first, second), data, strict=False))

    return read


def _oxygen(bank: int, sensor: int) -> Callable[[bytes], Values]:
    def read(data: bytes) -> Values:
        volts: Values = ((f"o2_b{bank}s{sensor}_v", data[0] / 200),)
        if data[1] == 0xFF:  # FF: this sensor is not used in trim (SAE J1979, from memory)
            return volts
        return (*volts, (f"o2_b{bank}s{sensor}_trim_pct", (data[1] - 128) * 100 / 128))

    return read


def _fitted(names: tuple[str, ...], width: int) -> Callable[[bytes], Values]:
    """Byte A says which of the sensors are fitted; bytes or words follow."""

    def read(data: bytes) -> Values:
        values = []
        for i, name in enumerate(names):
            if data[0] >> i & 1:
                raw = int.from_bytes(data[1 + i * width : 1 + (i + 1) * width], "big")
                values.append((name, raw - 40.0 if width == 1 else raw / 10 - 40))
        return tuple(values)

    return read


def _auxiliary(data: bytes) -> Values:
    """PID 65: A says what is supported; B bit 0 PTO, bit 1 automatic in drive, bit 2 manual in gear."""
    values: list[tuple[str, float]] = []
    if data[0] & 1:
        values.append(("pto_active", float(data[1] & 1)))
    if data[0] & 0b10:  # that 1 means in drive, and in gear, is from memory
        values.append(("in_drive", float(data[1] >> 1 & 1)))
    if data[0] & 0b100:
        values.append(("in_gear", float(data[1] >> 2 & 1)))
    return tuple(values)


def _regeneration(data: bytes) -> Values:
    """PID 8B, meaning from memory: shown as reported, never acted on alone."""
    values: list[tuple[str, float]] = []
    if data[0] & 1:
        values.append(("regeneration_active", float(data[1] & 1)))
    if data[0] & 4:
        values.append(("regeneration_trigger_pct", data[2] * 100 / 255))
    return tuple(values)


_EXHAUST_1 = tuple(f"exhaust_b1_{sensor}_c" for sensor in range(1, 5))
_EXHAUST_2 = tuple(f"exhaust_b2_{sensor}_c" for sensor in range(1, 5))
_FILTER = ("pf_inlet_b1_c", "pf_outlet_b1_c", "pf_inlet_b2_c", "pf_outlet_b2_c")
_INTAKE = ("intake_c",)  # of six sensors the first stands for the intake air; the rest is not used

_SEVERAL: tuple[tuple[int, str, int, str, str, Callable[[bytes], Values]], ...] = (
    (
        0x03,
        "fuel system status",
        2,
        "A, B flags: 1 open loop, cold; 2 closed loop; 4 open loop by driving; 8 open by fault; 16 closed with fault",
        OBDB,
        lambda data: (("fuel_system_1", float(data[0])), ("fuel_system_2", float(data[1]))),
    ),
    (
        0x67,
        "engine coolant temperature, two sensors",
        3,
        "A bits 0, 1 fitted; B - 40, C - 40",
        SCAPY,
        _fitted(("coolant_c", "coolant_2_c"), 1),
    ),
    (0x68, "intake air temperature, six sensors", 7, "A bits 0-5 fitted; X - 40", SCAPY, _fitted(_INTAKE, 1)),
    (0x65, "auxiliary inputs and outputs", 2, "A supported; B flags", SCAPY, _auxiliary),
    (0x78, "exhaust gas temperature bank 1", 9, "A fitted; words / 10 - 40", SCAPY, _fitted(_EXHAUST_1, 2)),
    (0x79, "exhaust gas temperature bank 2", 9, "A fitted; words / 10 - 40", SCAPY, _fitted(_EXHAUST_2, 2)),
    (0x7C, "particulate filter temperature", 9, "A fitted; words / 10 - 40", SCAPY, _fitted(_FILTER, 2)),
    (
        0x8B,
        "diesel aftertreatment",
        7,
        "A supported; B bit 0 regeneration; 100 C / 255",
        f"{SCAPY}, length",
        _regeneration,
    ),
    *(
        (
            pid,
            f"oxygen sensor B{bank}S{sensor}",
            2,
            "A / 200 V; (B - 128) 100 / 128 %",
            TWO_SOURCES,
            _oxygen(bank, sensor),
        )
        for pid, bank, sensor in ((0x14 + i, 1 + i // 4, 1 + i % 4) for i in range(8))
    ),
)

# Trims have one data byte, or two where a third or fourth bank exists (the second byte is that bank).
_TRIM_ROWS = (
    (0x06, "short term fuel trim bank 1", "short_trim_b1_pct", "short_trim_b3_pct"),
    (0x07, "long term fuel trim bank 1", "long_trim_b1_pct", "long_trim_b3_pct"),
    (0x08, "short term fuel trim bank 2", "short_trim_b2_pct", "short_trim_b4_pct"),
    (0x09, "long term fuel trim bank 2", "long_trim_b2_pct", "long_trim_b4_pct"),
)
TRIM_PIDS = frozenset(pid for pid, *_ in _TRIM_ROWS)


class TrimPid(Pid, frozen=True):
    """A fuel trim PID: one data byte, or two where a third or fourth bank exists."""

    def decode(self, data: bytes) -> Values:
        """One or two trims. WrongLength for any other number of data bytes."""
        if len(data) not in (1, 2):
            raise WrongLength(f"PID {self.pid:02X}", len(data), "1 or 2")
        return self.read(data)


def _single_pid(pid: int, name: str, form: str, signal: str, source: str) -> Pid:
    formula, length, value = _ONE[form]
    return Pid(pid, name, length, formula, source, lambda data: ((signal, value(b"\0\0" + data)),))


PIDS: dict[int, Pid] = {
    **{pid: _single_pid(pid, name, form, signal, source) for pid, name, signal, form, source in _SINGLES},
    **{pid: Pid(pid, name, length, formula, source, read) for pid, name, length, formula, source, read in _SEVERAL},
    **{
        pid: TrimPid(pid, name, 1, "(A - 128) 100 / 128", TWO_SOURCES, _trims(first, second))
        for pid, name, first, second in _TRIM_ROWS
    },
}
"""Every PID that brings signals, by number."""

LENGTHS: dict[int, int] = {
    **{pid: known.length for pid, known in PIDS.items()},
    **dict.fromkeys(range(0, 256, 32), 4),  # maps of supported PIDs
    0x01: 4,  # monitor status since clear
    0x02: 2,  # code that caused the freeze frame
    0x41: 4,  # monitor status this driving cycle
}
"""Data bytes of every PID whose length is known; what splits a reply of several PIDs."""


def split_current_data(payload: bytes, asked: Sequence[int] | None = None) -> tuple[tuple[int, bytes], ...]:
    """Take a reply of service 01 apart into (PID, data bytes); several PIDs may stand in one reply on CAN.

    The order of the data is free, so it is walked by PID and known length. WrongEcho when it is not a reply of service
    01 or holds a PID that was not asked or stands twice; WrongLength when bytes are missing or left over; UnknownItem
    when a PID of unknown length stands among several. A single PID of unknown length is returned as it is.
    """
    if len(payload) < 2:
        raise WrongLength("service 01 reply", len(payload), "at least 2")
    if payload[0] != 0x41:
        raise WrongEcho(f"reply {payload[:2].hex().upper()} is not of service 01")
    single = _whole(payload, asked)
    return single if single is not None else _walk(payload, asked)


def _whole(payload: bytes, asked: Sequence[int] | None) -> tuple[tuple[int, bytes], ...] | None:
    """The reply as one PID, when it can be nothing else."""
    pid = payload[1]
    alone = asked is not None and len(asked) == 1
    if pid not in LENGTHS and (asked is None or alone):
        _check_asked(pid, asked)
        return ((pid, payload[2:]),)
    if pid in TRIM_PIDS and alone and len(payload) == 4:
        _check_asked(pid, asked)
        return ((pid, payload[2:]),)
    return None


def _check_asked(pid: int, asked: Sequence[int] | None) -> None:
    if asked is not None and pid not in asked:
        raise WrongEcho(f"PID {pid:02X} answered, asked {' '.join(f'{want:02X}' for want in asked)}")


def _walk(payload: bytes, asked: Sequence[int] | None) -> tuple[tuple[int, bytes], ...]:
    parts: list[tuple[int, bytes]] = []
    at = 1
    while at < len(payload):
        pid = payload[at]
        _check_asked(pid, asked)
        length = LENGTHS.get(pid)
        if length is None:
            raise UnknownItem(f"PID {pid:02X} of unknown length among several")
        data = payload[at + 1 : at + 1 + length]
        if len(data) != length:
            raise WrongLength(f"PID {pid:02X}", len(data), length)
        if any(pid == seen for seen, _ in parts):
            raise WrongEcho(f"PID {pid:02X} stands twice in one reply")
        parts.append((pid, data))
        at += 1 + length
    return tuple(parts)
