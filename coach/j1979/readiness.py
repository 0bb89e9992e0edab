"""PID 01, monitor status since the clear, and PID 41, monitor status of this driving cycle: four bytes A B C D each.

Byte D says 1 for "not complete". "Complete" never means "passed": a monitor that found a fault is complete too.
"""

from typing import Literal

from msgspec import Struct

from coach.j1979.errors import WrongLength
from coach.j1979.monitors import COMPRESSION, CONTINUOUS, SPARK

Ignition = Literal["spark", "compression"]
CycleState = Literal["disabled", "to_run", "complete"]


class Readiness(Struct, frozen=True):
    """PID 01 of one ECU. `complete` is a part of `supported`; `odd` names bits set that should be zero.

    `code_count` is 0 to 127 confirmed codes of this ECU.
    """

    mil_on: bool
    code_count: int
    ignition: Ignition
    supported: frozenset[str]
    complete: frozenset[str]
    odd: tuple[str, ...]

    @property
    def incomplete(self) -> frozenset[str]:
        """Supported monitors that have not run to the end since the clear."""
        return self.supported - self.complete


class CycleStatus(Struct, frozen=True):
    """PID 41 of one ECU. It carries neither MIL nor code count: byte A is always zero."""

    ignition: Ignition
    enabled: frozenset[str]
    not_complete: frozenset[str]
    odd: tuple[str, ...]

    def state(self, monitor: str, supported: frozenset[str]) -> CycleState | None:
        """Disabled for the rest of this driving cycle, still to run, or complete; none when PID 01 lacks the monitor.

        Three states by regulation: 40 CFR 86.010-18(k)(4)(ii)(A)(3). That "disabled" is enable bit 0, whatever the
        other bit, is from memory.
        """
        if monitor not in supported:
            return None
        if monitor not in self.enabled:
            return "disabled"
        return "to_run" if monitor in self.not_complete else "complete"


def decode_readiness(data: bytes) -> Readiness:
    """PID 01 from its four data bytes. WrongLength for any other number: one byte short reads as "all complete"."""
    _four("PID 01", data)
    ignition, table = _layout(data[1])
    supported, flagged = _bits(data, table)
    odd = _odd(data, table)
    return Readiness(
        mil_on=bool(data[0] & 0x80),
        code_count=data[0] & 0x7F,
        ignition=ignition,
        supported=supported,
        complete=supported - flagged,
        odd=odd,
    )


def decode_cycle_status(data: bytes) -> CycleStatus:
    """PID 41 from its four data bytes. WrongLength for any other number."""
    _four("PID 41", data)
    ignition, table = _layout(data[1])
    enabled, flagged = _bits(data, table)
    odd = tuple(f"A{bit}" for bit in range(8) if data[0] >> bit & 1)
    if data[1] & 0x80:
        odd = (*odd, "B7")
    return CycleStatus(ignition, enabled, flagged, odd)


def _four(what: str, data: bytes) -> None:
    if len(data) != 4:
        raise WrongLength(what, len(data), 4)


def _layout(byte_b: int) -> tuple[Ignition, dict[int, str]]:
    return ("compression", COMPRESSION) if byte_b & 0x08 else ("spark", SPARK)


def _bits(data: bytes, table: dict[int, str]) -> tuple[frozenset[str], frozenset[str]]:
    """The monitors whose support (or enable) bit is set, and those whose not-complete bit is set."""
    first = {CONTINUOUS[bit] for bit in range(3) if data[1] >> bit & 1}
    second = {CONTINUOUS[bit] for bit in range(3) if data[1] >> (bit + 4) & 1}
    first |= {monitor for bit, monitor in table.items() if data[2] >> bit & 1}
    second |= {monitor for bit, monitor in table.items() if data[3] >> bit & 1}
    return frozenset(first), frozenset(second)


def _odd(data: bytes, table: dict[int, str]) -> tuple[str, ...]:
    """Bits that are set though reserved, or "not complete" though unsupported (from memory: they must be zero)."""
    odd = ["B7"] if data[1] & 0x80 else []
    odd += [f"B{bit + 4}" for bit in range(3) if data[1] >> (bit + 4) & 1 and not data[1] >> bit & 1]
    for bit in range(8):
        if data[2] >> bit & 1 and bit not in table:
            odd.append(f"C{bit}")
        if data[3] >> bit & 1 and not data[2] >> bit & 1:
            odd.append(f"D{bit}")
    return tuple(odd)
