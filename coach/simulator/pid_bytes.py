"""The car's state as data bytes of service 01, the other way round of `coach.j1979.pids`: rounded, never invented.

A PID that the car lacks is not asked here; values beyond a PID's range stand at its end.
"""

from collections.abc import Callable

from coach.j1979.monitors import COMPRESSION, CONTINUOUS, SPARK
from coach.simulator.body import Body
from coach.simulator.ecu import Ecu

Encode = Callable[[Body, Ecu], bytes]


def _number(value: float, width: int) -> bytes:
    top: int = (1 << 8 * width) - 1
    return max(0, min(top, round(value))).to_bytes(width, "big")


def _scaled(width: int, factor: float, offset: float, value: Callable[[Body, Ecu], float]) -> Encode:
    return lambda body, ecu: _number((value(body, ecu) + offset) * factor, width)


def _percent(value: Callable[[Body, Ecu], float]) -> Encode:
    return _scaled(1, 2.55, 0, value)


def _celsius(value: Callable[[Body, Ecu], float]) -> Encode:
    return _scaled(1, 1, 40, value)


def _trim(value: Callable[[Body, Ecu], float]) -> Encode:
    return _scaled(1, 1.28, 100, value)


def _pedal(rest: Callable[[Body], float], travel_pct: float) -> Encode:
    return _percent(lambda body, _: rest(body) + travel_pct * body.accelerator)


def _whole(width: int, value: Callable[[Body, Ecu], float]) -> Encode:
    """Counters show what is full, not what is rounded up."""
    return lambda body, ecu: _number(int(value(body, ecu)), width)


def _oxygen(front: bool) -> Encode:
    def encode_sensor(body: Body, _: Ecu) -> bytes:
        sensors = body.oxygen
        if not front:  # FF: this sensor is not used in trim (SAE J1979, from memory)
            return _number(sensors.rear_v * 200, 1) + b"\xff"
        return _number(sensors.front_v * 200, 1) + _number((sensors.short_trim_pct + 100) * 1.28, 1)

    return encode_sensor


def _exhaust(body: Body, _: Ecu) -> bytes:
    """PID 78: two sensors fitted, before and after the oxidation catalyst."""
    hot = body.catalyst_c
    words = (_number((value + 40) * 10, 2) for value in (hot, max(body.ambient_c, hot - 35)))
    return b"\x03" + b"".join(words) + bytes(4)


def _filter(body: Body, _: Ecu) -> bytes:
    """PID 7C: inlet and outlet of bank 1."""
    hot = max(body.ambient_c, body.catalyst_c - 20)
    return (
        b"\x03" + b"".join(_number((value + 40) * 10, 2) for value in (hot, max(body.ambient_c, hot - 25))) + bytes(4)
    )


def _aftertreatment(body: Body, _: Ecu) -> bytes:
    """PID 8B: regeneration status and how near the next one is."""
    return bytes((0x05, int(body.soot.regenerating))) + _number(body.soot.trigger_pct * 2.55, 1) + bytes(4)


def readiness_bytes(ecu: Ecu) -> bytes:
    """PID 01 of this unit."""
    codes = len(ecu.memory.stored)
    return bytes((0x80 * ecu.memory.mil_on | codes,)) + status_bytes(ecu, set(ecu.monitors) - ecu.shown_complete())


def cycle_bytes(ecu: Ecu) -> bytes:
    """PID 41 of this unit: enabled and not complete in this driving cycle."""
    states = ecu.shown_cycle()
    enabled = {name for name, state in states.items() if state != "disabled"}
    return b"\0" + status_bytes(ecu, {name for name in enabled if states[name] == "to_run"}, enabled)


def status_bytes(ecu: Ecu, flagged: set[str], supported: set[str] | None = None) -> bytes:
    """Bytes B, C, D from the monitors that are not complete and those supported (or enabled)."""
    first = set(ecu.monitors) if supported is None else supported
    table = COMPRESSION if ecu.spec.compression else SPARK
    b = 0x08 if ecu.spec.compression else 0
    for bit, name in enumerate(CONTINUOUS):
        b |= (name in first) << bit | (name in flagged) << (bit + 4)
    c = sum(1 << bit for bit, name in table.items() if name in first)
    d = sum(1 << bit for bit, name in table.items() if name in flagged)
    return bytes((b, c, d))


ENCODERS: dict[int, Encode] = {
    0x01: lambda _, ecu: readiness_bytes(ecu),
    0x03: lambda body, _: bytes((body.oxygen.status, 0)),
    0x04: _percent(lambda body, _: body.load_pct),
    0x05: _celsius(lambda body, _: body.coolant_c),
    0x06: _trim(lambda body, _: body.oxygen.short_trim_pct),
    0x07: _trim(lambda body, _: body.oxygen.long_trim_pct),
    0x08: _trim(lambda body, _: body.oxygen.short_trim_pct),  # the two banks of our six-cylinder swing together
    0x09: _trim(lambda body, _: body.oxygen.long_trim_pct),
    0x0B: _scaled(1, 1, 0, lambda body, _: body.powertrain.map_kpa),
    0x0C: _scaled(2, 4, 0, lambda body, _: body.rpm),
    0x0D: _scaled(1, 1, 0, lambda body, _: body.speed_kmh),
    0x0F: _celsius(lambda body, _: body.intake_c),
    0x10: _scaled(2, 100, 0, lambda body, _: body.maf_gps),
    0x11: _percent(lambda body, _: body.powertrain.throttle_pct),
    0x12: lambda body, _: bytes((1 if body.air.on else 4,)),  # upstream of the catalyst, or off; bits from memory
    0x13: lambda _, ecu: bytes((sum(1 << pid - 0x14 for pid in range(0x14, 0x1C) if pid in ecu.spec.pids),)),
    0x14: _oxygen(front=True),
    0x15: _oxygen(front=False),
    0x18: _oxygen(front=True),
    0x19: _oxygen(front=False),
    0x1C: lambda _, ecu: bytes((9 if ecu.spec.permanent else 3,)),
    0x1E: lambda body, _: bytes((int(body.pto_on),)),
    0x1F: _whole(2, lambda body, _: body.run_time_s),
    0x21: _whole(2, lambda _, ecu: ecu.since_clear.mil_km),
    0x2E: _percent(lambda body, _: body.purge_pct),
    0x2F: _percent(lambda body, _: body.fuel_pct),
    0x30: _whole(1, lambda _, ecu: ecu.since_clear.warm_ups),
    0x31: _whole(2, lambda _, ecu: ecu.since_clear.distance_km),
    0x33: _scaled(1, 1, 0, lambda body, _: body.baro_kpa),
    0x3C: _scaled(2, 10, 40, lambda body, _: body.catalyst_c),
    0x41: lambda _, ecu: cycle_bytes(ecu),
    0x42: _scaled(2, 1000, 0, lambda body, _: body.module_v),
    0x43: _scaled(2, 2.55, 0, lambda body, _: body.powertrain.absolute_load_pct),
    0x45: _percent(lambda body, _: body.powertrain.throttle_pct - body.spec.throttle_rest_pct),
    0x46: _celsius(lambda body, _: body.ambient_c),
    0x49: _pedal(lambda body: body.spec.pedal_d_rest_pct, 71.0),
    0x4A: _pedal(lambda body: body.spec.pedal_e_rest_pct, 62.0),
    0x4D: _whole(2, lambda _, ecu: ecu.since_clear.mil_s / 60),
    0x4E: _whole(2, lambda _, ecu: ecu.since_clear.run_s / 60),
    0x51: lambda body, _: bytes((_fuel_type(body),)),
    0x78: _exhaust,
    0x7C: _filter,
    0x8B: _aftertreatment,
    0xA6: _scaled(4, 10, 0, lambda body, _: body.odometer_km),
}
"""Data bytes of each PID from body and control unit; maps of supported PIDs are made in `answers.py`."""

FRAME_PIDS = frozenset((0x03, 0x04, 0x05, 0x06, 0x07, 0x0B, 0x0C, 0x0D, 0x0F, 0x10, 0x11, 0x1F, 0x2F, 0x42))
"""What a freeze frame keeps, where the unit has it."""


def _fuel_type(body: Body) -> int:
    """PID 51: 1 gasoline, 4 diesel, 17 hybrid gasoline (python-OBD, OBDb)."""
    if body.spec.fuel == "compression":
        return 4
    return 17 if body.spec.wheel_power_kw else 1


def encode(pid: int, body: Body, ecu: Ecu) -> bytes:
    """The data bytes of a PID this unit has."""
    return ENCODERS[pid](body, ecu)


def frame_of(body: Body, ecu: Ecu) -> dict[int, bytes]:
    """What a freeze frame of this unit holds at this moment, by PID."""
    return {pid: encode(pid, body, ecu) for pid in sorted(FRAME_PIDS & ecu.spec.pids)}
