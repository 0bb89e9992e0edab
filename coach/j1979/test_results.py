"""Service 06 on CAN: what a monitor measured, between which limits. Records of nine bytes: MID, TID, unit, three words.

Tables as in python-OBD and Scapy's OBD layer. Before CAN the layout is another one and is not decoded.
"""

from msgspec import Struct

from coach.j1979.errors import UnknownItem, WrongEcho, WrongLength

RECORD = 9

TESTS = {
    0x01: "rich to lean sensor threshold voltage",
    0x02: "lean to rich sensor threshold voltage",
    0x03: "low sensor voltage for switch time",
    0x04: "high sensor voltage for switch time",
    0x05: "rich to lean sensor switch time",
    0x06: "lean to rich sensor switch time",
    0x07: "minimum sensor voltage",
    0x08: "maximum sensor voltage",
    0x09: "time between sensor transitions",
    0x0A: "sensor period",
    0x0B: "average misfire count of the last ten driving cycles",
    0x0C: "misfire count of the last or this driving cycle",
}

# unit-and-scaling id: factor, offset, unit; 80 and above are signed
UNITS: dict[int, tuple[float, float, str]] = {
    0x01: (1, 0, ""), 0x02: (0.1, 0, ""), 0x03: (0.01, 0, ""), 0x04: (0.001, 0, ""), 0x05: (0.0000305, 0, ""),
    0x06: (0.000305, 0, ""), 0x07: (0.25, 0, "rpm"), 0x08: (0.01, 0, "km/h"), 0x09: (1, 0, "km/h"),
    0x0A: (0.122, 0, "mV"), 0x0B: (0.001, 0, "V"), 0x0C: (0.01, 0, "V"), 0x0D: (0.00390625, 0, "mA"),
    0x0E: (0.001, 0, "A"), 0x10: (1, 0, "ms"), 0x11: (100, 0, "ms"), 0x12: (1, 0, "s"), 0x14: (1, 0, "ohm"),
    0x16: (0.1, -40, "°C"), 0x17: (0.01, 0, "kPa"), 0x19: (0.079, 0, "kPa"), 0x1A: (1, 0, "kPa"), 0x1B: (10, 0, "kPa"),
    0x1C: (0.01, 0, "°"), 0x1E: (0.0000305, 0, "lambda"), 0x20: (0.00390625, 0, "ratio"), 0x24: (1, 0, "counts"),
    0x25: (1, 0, "km"), 0x27: (0.01, 0, "g/s"), 0x29: (0.25, 0, "Pa/s"), 0x2E: (1, 0, "true or false"),
    0x2F: (0.01, 0, "%"), 0x30: (0.001526, 0, "%"), 0x31: (0.001, 0, "L"), 0x33: (0.00024414, 0, "lambda"),
    0x34: (1, 0, "min"), 0x39: (0.01, -327.68, "%"), 0x81: (1, 0, ""), 0x84: (0.001, 0, ""), 0x8A: (0.122, 0, "mV"),
    0x8B: (0.001, 0, "V"), 0x96: (0.1, 0, "°C"), 0x9C: (0.01, 0, "°"), 0xAF: (0.01, 0, "%"), 0xB0: (0.003052, 0, "%"),
    0xFD: (0.001, 0, "kPa"), 0xFE: (0.25, 0, "Pa"),
}  # fmt: skip

_RANGES: tuple[tuple[int, int, str], ...] = (
    (0x01, 0x10, "oxygen_sensor"),
    (0x21, 0x24, "catalyst"),
    (0x31, 0x38, "egr_vvt"),
    (0x39, 0x3D, "evaporative_system"),
    (0x41, 0x50, "oxygen_sensor_heater"),
    (0x61, 0x64, "heated_catalyst"),
    (0x71, 0x74, "secondary_air"),
    (0x81, 0x84, "fuel_system"),
    (0x85, 0x86, "boost_pressure"),
    (0x90, 0x91, "nox_aftertreatment"),
    (0x98, 0x99, "nox_aftertreatment"),
    (0xA1, 0xAD, "misfire"),
    (0xB0, 0xB1, "particulate_filter"),
)


class TestResult(Struct, frozen=True):
    """One result. `value`, `low`, `high` are none when the unit is not in the table; `raw` always holds the words.

    `passed` is none when there is no result: the monitor has not run since the clear, value and both limits read zero
    until then (40 CFR 86.010-18(k)(4)(v)(D)); or the value is its own two limits, see `constant`. Equality with one
    limit passes (same paragraph, (B)).
    """

    __test__ = False

    mid: int
    tid: int
    unit_id: int
    raw: tuple[int, int, int]
    value: float | None
    low: float | None
    high: float | None
    unit: str | None
    monitor: str | None
    passed: bool | None

    @property
    def constant(self) -> bool:
        """Whether value and both limits are one number other than zero: a setting such as a threshold, and no test."""
        value, low, high = self.raw
        return value == low == high != 0

    @property
    def open_ends(self) -> tuple[bool, bool]:
        """Whether the lowest limit is none (the bottom of the range), and the highest (its top)."""
        _, low, high = self.raw
        bottom, _, top = _range(self.unit_id)
        return low == bottom, high == top

    @property
    def limits(self) -> tuple[float | None, float | None]:
        """Lowest and highest limit in the result's unit; none where that end is open, or the unit is not known."""
        open_low, open_high = self.open_ends
        return None if open_low else self.low, None if open_high else self.high

    @property
    def share_of_limit_used(self) -> float | None:
        """How near the value stands to the nearer limit: 0 farthest from it, 1 the limit, above 1 beyond.

        Farthest is zero where it lies within the limits, else the middle. With the end that leads away from zero open
        it is the limit's part of the value: half of it used at twice the limit. None without result or limit, and
        where the only limit is zero, which nothing can be a share of.
        """
        if self.passed is None:
            return None
        _, zero, _ = _range(self.unit_id)
        value, low, high = (word - zero for word in self.raw)
        open_low, open_high = self.open_ends
        if open_low and open_high:
            return None
        if open_high:
            return _one_sided(value, low)
        if open_low:
            return _one_sided(-value, -high)
        return _two_sided(value, low, high)


def _range(unit_id: int) -> tuple[int, int, int]:
    """Lowest word, the word that means zero, highest word. Unit 39 is unsigned with its zero in the middle."""
    if unit_id >= 0x80:
        return -0x8000, 0, 0x7FFF
    return 0, 0x8000 if unit_id == 0x39 else 0, 0xFFFF


def _one_sided(value: int, low: int) -> float | None:
    """The share where the value must be at least `low` and the other end is open."""
    if low == 0:
        return None
    return low / max(value, 1) if low > 0 else max(0.0, value / low)


def _two_sided(value: int, low: int, high: int) -> float:
    """The share between two limits."""
    if low <= 0 <= high:
        limit = high if value >= 0 else low
        return value / limit if limit else float(abs(value))
    half = (high - low) / 2
    return abs(value - (low + high) / 2) / half if half > 0 else 1.0 + abs(value - low)


def monitor_of(mid: int) -> str | None:
    """The monitor a MID belongs to, none for a maker's own or an unlisted one."""
    return next((monitor for first, last, monitor in _RANGES if first <= mid <= last), None)


def decode_test_results(payload: bytes, can: bool = True) -> tuple[TestResult, ...]:
    """The records of a reply 46 … UnknownItem before CAN, WrongEcho for another service, else WrongLength."""
    if not can:
        raise UnknownItem("test results before CAN have another layout, which this program does not read")
    if not payload or payload[0] != 0x46:
        raise WrongEcho(f"reply {payload[:1].hex().upper()} is not of service 06")
    body = payload[1:]
    if not body or len(body) % RECORD:
        raise WrongLength("test results", len(body), f"n x {RECORD}")
    return tuple(_record(body[i : i + RECORD]) for i in range(0, len(body), RECORD))


def _record(data: bytes) -> TestResult:
    mid, tid, unit_id = data[0], data[1], data[2]
    signed = unit_id >= 0x80
    value, low, high = (int.from_bytes(data[i : i + 2], "big", signed=signed) for i in (3, 5, 7))
    scale = UNITS.get(unit_id)
    passed = None if value == low == high else low <= value <= high

    def scaled(word: int) -> float | None:
        return None if scale is None else round(word * scale[0] + scale[1], 6)

    unit = scale[2] if scale is not None else None
    raw = (value, low, high)
    return TestResult(mid, tid, unit_id, raw, scaled(value), scaled(low), scaled(high), unit, monitor_of(mid), passed)
