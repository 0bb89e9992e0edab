"""Folding of the answers that report findings: readiness, status of this cycle, codes, clears, the rest as read.

Everything here works on a `CarState` and is called by `Car.fold` alone. Nothing that cannot be read is dropped: see
`coach.car.doubting`.
"""

from coach.car.arrivals import Answer
from coach.car.clearing import CLEAR_DONE, all_asked, confirmed, proved_same, refused_clear, traced
from coach.car.clears import CLEAR_SERVICES
from coach.car.concluding import FOREIGN
from coach.car.doubting import (
    answered,
    asked,
    doubt,
    ecu_of,
    late,
    malformed,
    refused,
    stray,
    tell,
    tell_changes,
    tell_vanished,
)
from coach.car.driving import ignition_count
from coach.car.ecus import ITEMS, KINDS, READINESS, Codes, Ecu
from coach.car.happenings import (
    CodeAppeared,
    CycleMonitorChanged,
    CycleStatusDistrusted,
    CycleStatusTrusted,
    Happening,
)
from coach.car.identity import SIGN_ITEMS
from coach.car.questions import Question, item_key
from coach.car.state import CarState
from coach.j1979.dtc import decode_codes
from coach.j1979.errors import J1979Error
from coach.j1979.monitors import CONTINUOUS, MONITORS
from coach.j1979.readiness import Readiness, decode_cycle_status, decode_readiness
from coach.j1979.services import Negative, parse_reply
from coach.j1979.supported import decode_supported
from coach.j1979.vehicle_info import decode_in_use

PID_REPORTS = frozenset({0x01, 0x41, *range(0x00, 0x100, 0x20)})
"""PIDs of service 01 that are findings, not signals."""

MOST_LINES = 256  # lines of a reply are numbered by a byte
MOST_CODES = 512  # our judgement: with two codes a line a reply before CAN has at most as many


# ---------------------------------------------------------------- answers


def take_answer(car: CarState, answer: Answer, question: Question | None, out: list[Happening]) -> None:
    """An answer that is not current data of service 01."""
    if answer.payload[:1] and answer.payload[0] in CLEAR_DONE:
        confirmed(car, answer, out)
        return
    if answer.payload[:1] == b"\x7f" and len(answer.payload) == 3 and answer.payload[1] in CLEAR_SERVICES:
        refused_clear(car, answer, out)
    try:
        reply = parse_reply(answer.payload)
    except J1979Error as error:
        malformed(car, answer, question, str(error), out)
        return
    if isinstance(reply, Negative):
        refused(car, answer, question, reply, out)
        return
    if question is None or reply.service != question.service:
        why = "not_asked" if question is None else "wrong_echo"
        tell(out, car.count_unusable(answer.t, answer.ecu, asked(question), why, answer.payload.hex().upper()))
        stray(car, answer, why, out)
        if question is not None:
            doubt(car, answer.ecu, question.watched, "said_else", answer.t)
            tell_changes(car, answer.t, out)
        return
    if reply.service in KINDS:
        _take_codes(car, answer, question, out)
    else:
        _keep(car, answer, question, out)


def _keep(car: CarState, answer: Answer, question: Question, out: list[Happening]) -> None:
    """Services 02, 06 and 09 are kept as read and decoded when somebody looks; pre-CAN lines stay together."""
    pid = answer.payload[1] if len(answer.payload) > 1 else None
    if pid is None or pid not in question.pids:
        malformed(car, answer, question, f"answer {answer.payload.hex().upper()} to another item", out)
        return
    ecu, key = ecu_of(car, answer.ecu), item_key(question.service, pid)
    same = ecu.kept_request.get(key) == answer.request_id and answer.request_id is not None
    if same and len(ecu.kept.get(key, ())) >= MOST_LINES:
        malformed(car, answer, question, "more lines than any reply has", out)
        return
    ecu.kept[key] = (*ecu.kept.get(key, ()), answer.payload) if same else (answer.payload,)
    ecu.kept_request[key] = answer.request_id
    ecu.kept_t[key] = answer.t
    answered(car, ecu, (key,), answer, out)
    if key in SIGN_ITEMS:
        _sign(car, ecu, key, answer.t, out)
    elif key in ("09 08", "09 0B"):
        _ignition_counter(car, ecu, key, answer.t, out)
    elif pid % 0x20 == 0:
        _take_supported(car, ecu, question.service, pid, answer, out)


def _sign(car: CarState, ecu: Ecu, key: str, t: float, out: list[Happening]) -> None:
    """VIN, CALID or CVN: another car's words of a moment ago count for nothing."""
    was = car.signs.state
    if not car.signs.hear(ecu, key, car.can is not False, t, out):
        return
    if car.signs.state == "another" != was:
        for address, known in car.ecus.items():
            doubt(car, address, known.answered, "another_car", t)
    elif was in FOREIGN and car.signs.state not in FOREIGN:
        proved_same(car)
    car.changed()
    tell_changes(car, t, out)


def _ignition_counter(car: CarState, ecu: Ecu, key: str, t: float, out: list[Happening]) -> None:
    try:
        counters = decode_in_use(ecu.kept[key], key == "09 0B", car.can is not False)
    except J1979Error:
        return  # pre-CAN lines still coming in; a broken one is told when the read-out is decoded
    ignition_count(car, ecu.address, counters.ignition_cycles, t, out)


def take_status(car: CarState, answer: Answer, pid: int, data: bytes, out: list[Happening]) -> None:
    """PID 01, PID 41 and the support maps."""
    ecu, item = ecu_of(car, answer.ecu), item_key(0x01, pid)
    if pid in (0x01, 0x41) and late(car, ecu, item, answer, out):
        return
    if pid == 0x01:
        _take_readiness(car, ecu, answer, data, out)
    elif pid == 0x41:
        _take_cycle_status(car, ecu, answer, data, out)
    else:
        listed = ecu.supported.get(0x01)
        ecu.supported[0x01] = (listed or frozenset()) | decode_supported(pid, data)
        if ecu.supported[0x01] != listed:
            car.changed()
    answered(car, ecu, (item,), answer, out)
    if item == READINESS:
        _looked(car, ecu, item)
    if pid != 0x41:
        tell_changes(car, answer.t, out)


def _looked(car: CarState, ecu: Ecu, item: str) -> None:
    """What a clean answer shows of a clear, once it is known to be this car's."""
    if not car.clear.seen or car.signs.state in FOREIGN or not all_asked(car):
        return
    if ecu.why_not(item) is None:
        before = car.clear.units.get(ecu.address)
        car.clear.look(ecu, item)
        if car.clear.units.get(ecu.address) != before:
            car.changed()


def _take_supported(car: CarState, ecu: Ecu, service: int, pid: int, answer: Answer, out: list[Happening]) -> None:
    try:
        data = answer.payload[2:] if service == 0x06 or len(answer.payload) == 6 else answer.payload[3:]
        ecu.supported[service] = ecu.supported.get(service, frozenset()) | decode_supported(pid, data)
    except J1979Error as why:
        malformed(car, answer, car.questions.of(answer.request_id), str(why), out)


def _take_readiness(car: CarState, ecu: Ecu, answer: Answer, data: bytes, out: list[Happening]) -> None:
    """A clean reading, unless this unit has just said something else to the same question."""
    before, before_t, ecu.readiness_t = ecu.readiness, ecu.readiness_t, answer.t
    if data == ecu.readiness_raw:
        return
    twice = answer.request_id == car.questions.open_id and (ecu.address, READINESS) in car.questions.answered_by
    ecu.readiness, ecu.readiness_raw = decode_readiness(data), data
    car.changed()
    if twice:
        _contradicted(car, ecu, READINESS, answer)
    elif before is not None and ecu.why_not(READINESS) != "contradicted" and _lost(before, ecu.readiness):
        traced(car, ecu.address, "readiness_reset", before_t, answer.t, out)
        ecu.doubts.pop(READINESS, None)  # this very answer was given after the clear
    if ecu.readiness.code_count > (before.code_count if before is not None else 0):
        _stored_since(car, ecu, answer.t)


def _contradicted(car: CarState, ecu: Ecu, item: str, answer: Answer) -> None:
    """This unit has just said something else to the same question: what its first word showed of a clear is undone."""
    doubt(car, ecu.address, (item,), "contradicted", answer.t)
    if car.clear_then is not None and answer.request_id == car.questions.open_id:
        car.clear = car.clear_then.copy()


def _stored_since(car: CarState, ecu: Ecu, t: float) -> None:
    """A code was stored: the permanent codes as read before it are of a time without it."""
    if "permanent" in ecu.codes:
        doubt(car, ecu.address, (ITEMS["permanent"],), "stored_since", t)


def _lost(before: Readiness, after: Readiness) -> frozenset[str]:
    """Monitors that were complete and are not any more; the continuous ones do not tell of a clear."""
    return (before.complete & after.supported).difference(after.complete, CONTINUOUS)


def _take_cycle_status(car: CarState, ecu: Ecu, answer: Answer, data: bytes, out: list[Happening]) -> None:
    ecu.status_t = answer.t
    if data == ecu.status_raw:
        _weigh_cycle_status(car, ecu, answer.t, out)
        return
    ecu.status = decode_cycle_status(data)
    if ecu.readiness is None:
        return  # which monitors there are only PID 01 tells; the same bytes are judged again after it
    ecu.status_raw = data
    supported = ecu.readiness.supported
    for monitor in MONITORS:
        if monitor in supported:
            state = ecu.status.state(monitor, supported)
            _tell_cycle_state(car, ecu, monitor, state, answer.t, out)
    _weigh_cycle_status(car, ecu, answer.t, out)


def _weigh_cycle_status(car: CarState, ecu: Ecu, t: float, out: list[Happening]) -> None:
    """One answer more by which PID 41 of a unit earns trust; told when that takes monitors out of this cycle."""
    if ecu.status is None or ecu.readiness is None or ecu.status_distrusted:
        return
    before = ecu.status_trust.earned
    running = car.cycle.running is True
    ecu.status_trust = ecu.status_trust.heard(t, ecu.status, ecu.readiness, ecu.readiness_t, running)
    off = ecu.readiness.incomplete - ecu.status.enabled
    if ecu.status_trust.earned and not before and off:
        out.append(CycleStatusTrusted(t, ecu.address, tuple(m for m in MONITORS if m in off)))


def _tell_cycle_state(car: CarState, ecu: Ecu, monitor: str, state: str | None, t: float, out: list[Happening]) -> None:
    key = (ecu.address, monitor)
    before = car.reported.cycle.get(key)
    if state == before:
        return
    car.reported.cycle[key], car.reported.cycle_t[key] = state, t
    out.append(CycleMonitorChanged(t, ecu.address, monitor, before, state))
    back = before == "complete" or (before == "disabled" and ecu.status_trust.earned)
    if back and state == "to_run" and not ecu.status_distrusted:
        _distrust(car, ecu, monitor, t, out)


def _distrust(car: CarState, ecu: Ecu, monitor: str, t: float, out: list[Happening]) -> None:
    """A bit of PID 41 that comes back within a cycle: this ECU does something else with PID 41 (a copy of PID 01).

    What a unit enables in the first minute of a start only keeps it from being believed sooner.
    """
    if not car.cycle.unproved:
        ecu.status_distrusted = monitor
        out.append(CycleStatusDistrusted(t, ecu.address, monitor))


# ---------------------------------------------------------------- trouble codes


def _take_codes(car: CarState, answer: Answer, question: Question, out: list[Happening]) -> None:
    """On CAN one unit gives one reply; before CAN it may give several lines that belong together."""
    kind, item, can = KINDS[question.service], item_key(question.service, None), is_can(car, answer.ecu)
    try:
        codes = decode_codes(answer.payload, can=can)
    except J1979Error as why:
        malformed(car, answer, question, str(why), out)
        return
    ecu = ecu_of(car, answer.ecu)
    if late(car, ecu, item, answer, out):
        return
    known = ecu.codes.setdefault(kind, Codes())
    told = known.codes or ()
    if len(told) > MOST_CODES:
        malformed(car, answer, question, "more codes than any control unit has", out)
        return
    more = (answer.ecu, item) in car.questions.answered_by
    if not more:  # the first message of this request
        known.before, told = told, ()
    now = tuple(dict.fromkeys((*told, *codes)))
    if now != known.codes:
        car.changed()
    known.t, known.codes = answer.t, now
    answered(car, ecu, (item,), answer, out)
    if more and can and set(codes) != set(told):
        _contradicted(car, ecu, item, answer)
    new = [code for code in known.codes if code not in known.before and code not in told]
    out.extend(CodeAppeared(answer.t, answer.ecu, kind, code) for code in new)
    if new and kind == "stored":
        _stored_since(car, ecu, answer.t)
    if can:
        tell_vanished(known, answer.ecu, kind, answer.t, out)
    if kind == "stored":
        _looked(car, ecu, item)
    tell_changes(car, answer.t, out)


def is_can(car: CarState, address: str) -> bool:
    """Whether the ECU is on CAN: by the journal's header, else by its address (three or eight digits)."""
    return car.can if car.can is not None else len(address) in (3, 8)
