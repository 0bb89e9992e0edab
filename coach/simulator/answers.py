"""What one control unit answers to a request, on CAN and before it: services 01 to 04, 06, 07, 09 and 0A.

On CAN several PIDs are answered together and what is not there is silence; before CAN one PID a request, codes three a
message, vehicle information in numbered lines of four bytes; KWP refuses where the others keep silent (from memory).
"""

from collections.abc import Callable, Iterable

from coach.j1979.dtc import encode_dtc
from coach.simulator.body import Body
from coach.simulator.ecu import Ecu
from coach.simulator.pid_bytes import encode
from coach.simulator.vehicle import BusProtocol

MOST_PIDS = 6  # in one request on CAN; SAE J1979, from memory
CODES_A_MESSAGE = 3  # before CAN
LINE = 4  # bytes of vehicle information in a line before CAN
NOT_SUPPORTED, NO_SUCH_PID, CONDITIONS = 0x11, 0x12, 0x22  # Scapy `services.py`

Payloads = tuple[bytes, ...]
NONE: Payloads = ()


def is_can(bus: BusProtocol) -> bool:
    """Whether the bus is CAN."""
    return bus.startswith("can")


def support_map(first: int, items: Iterable[int]) -> bytes:
    """The four bytes of map `first`: the 32 items behind it, the last of them the next map where there is more."""
    have = set(items)
    beyond = first + 0x20
    if any(item > beyond for item in have):
        have.add(beyond)
    return sum(1 << (first + 32 - item) for item in have if first < item <= beyond).to_bytes(4, "big")


def maps_of(items: Iterable[int]) -> set[int]:
    """The maps a unit with these items answers: 00 and every one up to the highest item."""
    return set(range(0, max(items, default=1), 0x20))


def answer(ecu: Ecu, body: Body, bus: BusProtocol, request: bytes) -> Payloads:
    """All messages of this unit, in order; empty for silence."""
    service = SERVICES.get(request[0]) if request else None
    found = service(ecu, body, is_can(bus), request) if service is not None else NONE
    if found or not bus.startswith("kwp") or not request:
        return found
    return (bytes((0x7F, request[0], _refusal(ecu, request[0]))),)


def _refusal(ecu: Ecu, service: int) -> int:
    """Before CAN, on KWP: the service is unknown, or only this PID of it (from memory of ISO 14230-4)."""
    return NO_SUCH_PID if service in (0x01, 0x02, 0x09) else NOT_SUPPORTED


def _current(ecu: Ecu, body: Body, can: bool, request: bytes) -> Payloads:
    asked = tuple(dict.fromkeys(request[1:]))
    if not asked or len(asked) > (MOST_PIDS if can else 1) or len(request) > 1 + (MOST_PIDS if can else 1):
        return NONE
    parts = [bytes((pid,)) + data for pid in asked if (data := _pid(ecu, body, pid)) is not None]
    return (b"\x41" + b"".join(parts),) if parts else NONE


def _pid(ecu: Ecu, body: Body, pid: int) -> bytes | None:
    pids = ecu.spec.pids
    if pid % 0x20 == 0:
        return support_map(pid, pids) if pid in maps_of(pids) else None
    return encode(pid, body, ecu) if pid in pids else None


def _frozen(ecu: Ecu, body: Body, can: bool, request: bytes) -> Payloads:
    """PID and frame number by turns; only frame 0 exists. Without a frame only PID 02 answers, with 00 00."""
    pairs = [(request[i], request[i + 1]) for i in range(1, len(request) - 1, 2)]
    if not pairs or len(request) % 2 == 0 or len(pairs) > (3 if can else 1):
        return NONE
    parts = [
        bytes((pid, 0)) + data
        for pid, frame in dict.fromkeys(pairs)
        if frame == 0 and (data := _frozen_pid(ecu, pid)) is not None
    ]
    return (b"\x42" + b"".join(parts),) if parts else NONE


def _frozen_pid(ecu: Ecu, pid: int) -> bytes | None:
    memory = ecu.memory
    held = dict(memory.frame or {})
    if pid % 0x20 == 0:
        items = {0x02, *held}
        return support_map(pid, items) if pid in maps_of(items) else None
    if pid == 0x02:
        return encode_dtc(memory.frame_code) if memory.frame_code else b"\0\0"
    return held.get(pid)


def _codes(service: int, can: bool, codes: Iterable[str]) -> Payloads:
    pairs = [encode_dtc(code) for code in codes]
    head = bytes((service + 0x40,))
    if can:
        return (head + bytes((len(pairs),)) + b"".join(pairs),)
    groups = [pairs[i : i + CODES_A_MESSAGE] for i in range(0, len(pairs), CODES_A_MESSAGE)] or [[]]
    return tuple(head + b"".join(group).ljust(2 * CODES_A_MESSAGE, b"\0") for group in groups)


def _stored(ecu: Ecu, body: Body, can: bool, request: bytes) -> Payloads:
    return _codes(0x03, can, ecu.memory.stored) if len(request) == 1 else NONE


def _pending(ecu: Ecu, body: Body, can: bool, request: bytes) -> Payloads:
    return _codes(0x07, can, ecu.memory.pending) if len(request) == 1 else NONE


def _permanent(ecu: Ecu, body: Body, can: bool, request: bytes) -> Payloads:
    if not ecu.spec.permanent or len(request) != 1:
        return NONE
    return _codes(0x0A, can, ecu.memory.permanent)


def _clear(ecu: Ecu, body: Body, can: bool, request: bytes) -> Payloads:
    if len(request) != 1:
        return NONE
    if body.ignition in ("run", "crank"):
        return (bytes((0x7F, 0x04, CONDITIONS)),)
    ecu.clear()
    return (b"\x44",)


def _tests(ecu: Ecu, body: Body, can: bool, request: bytes) -> Payloads:
    """Value and limits of every test of one MID; three zeros until it has run since the clear."""
    if not can or not ecu.spec.has_test_results or not 2 <= len(request) <= 1 + MOST_PIDS:
        return NONE
    measures = [(monitor, measure) for monitor in ecu.monitors.values() for measure in monitor.rule.measures]
    mids = {measure.mid for _, measure in measures}
    asked = [mid for mid in dict.fromkeys(request[1:]) if (mid in maps_of(mids) if mid % 0x20 == 0 else mid in mids)]
    if any(mid % 0x20 for mid in asked) and len(request) > 2:
        return NONE  # several MIDs only for the maps (from memory)
    out = b""
    for mid in asked:
        if mid % 0x20 == 0:
            out += bytes((mid,)) + support_map(mid, mids)
            continue
        for monitor, measure in measures:
            if measure.mid == mid:
                words = monitor.results.get((mid, measure.tid), (0, 0, 0))
                out += bytes((mid, measure.tid, measure.unit_id))
                out += b"".join((word & 0xFFFF).to_bytes(2, "big") for word in words)
    return (b"\x46" + out,) if out else NONE


def _information(ecu: Ecu, body: Body, can: bool, request: bytes) -> Payloads:
    if len(request) != 2:
        return NONE
    infotype, items = request[1], information(ecu, body)
    numbers = set(items) if can else set(items) | {item - 1 for item in items if item % 2 == 0}
    if infotype % 0x20 == 0:
        if infotype not in maps_of(numbers):
            return NONE
        head = bytes((0x49, infotype)) if can else bytes((0x49, infotype, 1))
        return (head + support_map(infotype, numbers),)
    if not can and infotype + 1 in items and infotype % 2:
        return (bytes((0x49, infotype, len(_lines(items[infotype + 1][1])))),)
    if infotype not in items:
        return NONE
    count, data = items[infotype]
    if can:
        return (bytes((0x49, infotype, count)) + data,)
    return tuple(bytes((0x49, infotype, n)) + line for n, line in enumerate(_lines(data), 1))


def _lines(data: bytes) -> list[bytes]:
    """Lines of four bytes; what does not fill the first one is padded in front, as a VIN is."""
    padded = data.rjust(-(-len(data) // LINE) * LINE, b"\0")
    return [padded[i : i + LINE] for i in range(0, len(padded), LINE)]


def information(ecu: Ecu, body: Body) -> dict[int, tuple[int, bytes]]:
    """Infotype to count and data of service 09."""
    spec, items = ecu.spec, {}
    if spec.has_vin:
        items[0x02] = (1, body.vin.encode("ascii"))
    if spec.has_calibration:
        items[0x04] = (1, spec.calibration_id.encode("ascii").ljust(16, b"\0"))
        items[0x06] = (1, spec.cvn.to_bytes(4, "big"))
    if spec.has_name:
        items[0x0A] = (1, spec.name.encode("ascii").ljust(20, b"\0"))
    if spec.in_use:
        words = ecu.counters.words()
        items[0x0B if spec.compression else 0x08] = (len(words), b"".join(word.to_bytes(2, "big") for word in words))
    return items


SERVICES: dict[int, Callable[[Ecu, Body, bool, bytes], Payloads]] = {
    0x01: _current,
    0x02: _frozen,
    0x03: _stored,
    0x04: _clear,
    0x06: _tests,
    0x07: _pending,
    0x09: _information,
    0x0A: _permanent,
}
