"""Folding of the answers that report findings: readiness, status of this cycle, trouble codes, the rest as read.

Everything here works on a `CarState` and is called by `Car.fold` alone. Nothing that cannot be read is dropped: it is
counted, told once, and makes the finding it belonged to uncertain.
"""

from coach.car.arrivals import Answer, Outcome, Unparsed
from coach.car.ecus import KINDS, Codes, Ecu, is_result
from coach.car.happenings import (
    CodeAppeared,
    CodesCleared,
    CodeVanished,
    CycleMonitorChanged,
    CycleStatusDistrusted,
    EcuAnsweredAgain,
    EcuFellSilent,
    Happening,
    MilChanged,
    MonitorChanged,
)
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

SINCE_CLEAR = frozenset({"warm_ups_since_clear", "distance_since_clear_km", "run_time_since_clear_min"})
"""PID 30, 31 and 4E fall back to zero on a clear: 40 CFR 86.010-18(k)(4)(ix); for 4E from memory."""
_CODE_ITEMS = {kind: item_key(service, None) for service, kind in KINDS.items()}
MOST_LINES = 256  # lines of a reply are numbered by a byte
MOST_CODES = 512  # our judgement: with two codes a line a reply before CAN has at most as many
SAME_CLEAR_S = 120.0  # our judgement: counters that fall within two minutes of each other tell of the same clear


def ecu_of(car: CarState, address: str) -> Ecu:
    """The record of this ECU, made on first sight."""
    ecu = car.ecus.get(address)
    if ecu is None:
        ecu = car.ecus[address] = Ecu(address)
    return ecu


# ---------------------------------------------------------------- answers


def take_answer(car: CarState, answer: Answer, question: Question | None, out: list[Happening]) -> None:
    """An answer that is not current data of service 01."""
    try:
        reply = parse_reply(answer.payload)
    except J1979Error as error:
        malformed(car, answer, question, str(error), out)
        return
    if isinstance(reply, Negative):
        _refused(car, answer, question, reply, out)
        return
    if question is None or reply.service != question.service:
        why = "not_asked" if question is None else "wrong_echo"
        _tell(out, car.count_unusable(answer.t, answer.ecu, _asked(question), why, answer.payload.hex().upper()))
        _doubt(car, answer.ecu, question, why)
        return
    if reply.service in KINDS:
        _take_codes(car, answer, question, out)
    elif reply.service == 0x04:
        _cleared(car, answer.t, answer.ecu, "service_04_confirmed", None, None, out)
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
    _answered(car, ecu, (key,), answer, out)
    if key in ("09 08", "09 0B"):
        _ignition_counter(car, ecu, key, answer.t, out)
    elif pid % 0x20 == 0:
        _take_supported(car, ecu, question.service, pid, answer, out)


def _ignition_counter(car: CarState, ecu: Ecu, key: str, t: float, out: list[Happening]) -> None:
    try:
        counters = decode_in_use(ecu.kept[key], key == "09 0B", car.can is not False)
    except J1979Error:
        return  # pre-CAN lines still coming in; a broken one is told when the read-out is decoded
    before = car.ignition_counts.get(ecu.address)
    car.ignition_counts[ecu.address] = counters.ignition_cycles
    if car.cycle.on_ignition_count(t, before, counters.ignition_cycles, out):
        car.new_cycle()


def take_status(car: CarState, answer: Answer, pid: int, data: bytes, out: list[Happening]) -> None:
    """PID 01, PID 41 and the support maps."""
    ecu = ecu_of(car, answer.ecu)
    if pid == 0x01:
        _take_readiness(car, ecu, answer, data, out)
    elif pid == 0x41:
        _take_cycle_status(car, ecu, answer, data, out)
    else:
        ecu.supported[0x01] = ecu.supported.get(0x01, frozenset()) | decode_supported(pid, data)
    _answered(car, ecu, (item_key(0x01, pid),), answer, out)


def _take_supported(car: CarState, ecu: Ecu, service: int, pid: int, answer: Answer, out: list[Happening]) -> None:
    try:
        data = answer.payload[2:] if service == 0x06 or len(answer.payload) == 6 else answer.payload[3:]
        ecu.supported[service] = ecu.supported.get(service, frozenset()) | decode_supported(pid, data)
    except J1979Error as why:
        malformed(car, answer, car.questions.of(answer.request_id), str(why), out)


def _take_readiness(car: CarState, ecu: Ecu, answer: Answer, data: bytes, out: list[Happening]) -> None:
    before = ecu.readiness
    if data == ecu.readiness_raw and ecu.readiness_uncertain is None and not car.doubts and not ecu.silent:
        ecu.readiness_t = answer.t
        return
    ecu.readiness_t, ecu.readiness_uncertain = answer.t, None
    if data != ecu.readiness_raw:
        ecu.readiness, ecu.readiness_raw = decode_readiness(data), data
        if before is not None and _lost(before, ecu.readiness):
            _cleared(car, answer.t, ecu.address, "readiness_reset", None, None, out)
            ecu.readiness_uncertain = None  # this very answer was given after the clear
    tell_changes(car, answer.t, out)


def _lost(before: Readiness, after: Readiness) -> frozenset[str]:
    """Monitors that were complete and are not any more; the continuous ones do not tell of a clear."""
    return (before.complete & after.supported).difference(after.complete, CONTINUOUS)


def tell_changes(car: CarState, t: float, out: list[Happening]) -> None:
    """Merge readiness and the MIL anew and tell what changed. Doubt is no change: it is told by what caused it."""
    told = car.reported
    for monitor, state in car.monitor_states().items():
        before = told.monitors.get(monitor)
        if state is not None and state != before:
            told.monitors[monitor] = state
            out.append(MonitorChanged(t, monitor, before, state))
    lit = car.mil_on()
    if lit is not None and lit is not told.mil:
        out.append(MilChanged(t, told.mil, lit))
        told.mil = lit


def _take_cycle_status(car: CarState, ecu: Ecu, answer: Answer, data: bytes, out: list[Happening]) -> None:
    ecu.status_t = answer.t
    if data == ecu.status_raw:
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


def _tell_cycle_state(car: CarState, ecu: Ecu, monitor: str, state: str | None, t: float, out: list[Happening]) -> None:
    key = (ecu.address, monitor)
    before = car.reported.cycle.get(key)
    if state == before:
        return
    car.reported.cycle[key], car.reported.cycle_t[key] = state, t
    out.append(CycleMonitorChanged(t, ecu.address, monitor, before, state))
    if before in ("complete", "disabled") and state == "to_run" and not ecu.status_distrusted:
        _distrust(car, ecu, monitor, t, out)


def _distrust(car: CarState, ecu: Ecu, monitor: str, t: float, out: list[Happening]) -> None:
    """A bit of PID 41 that comes back within a cycle: this ECU does something else with PID 41 (a copy of PID 01)."""
    if not car.cycle.unproved:
        ecu.status_distrusted = monitor
        out.append(CycleStatusDistrusted(t, ecu.address, monitor))


def since_clear(car: CarState, ecu: str, signal: str, value: float, t: float, out: list[Happening]) -> None:
    """A counter of what passed since the clear; when it falls in one ECU, its memory was cleared in between."""
    before = car.counters.get((ecu, signal))
    car.counters[ecu, signal] = (value, t)
    if before is not None and value < before[0]:
        _cleared(car, t, ecu, signal, before[0], value, out)


def _cleared(
    car: CarState, t: float, ecu: str, evidence: str, before: float | None, after: float | None, out: list[Happening]
) -> None:
    """Clears go to every ECU at once; one that confirms speaks for itself alone, a trace found later for all."""
    spoken = evidence == "service_04_confirmed"
    for address, known in car.ecus.items():
        if not spoken or address == ecu:
            _forget(known, t, spoken)
    told = car.reported.cleared_t
    car.reported.cleared_t = t
    if told is None or t - told > SAME_CLEAR_S:
        car.reported.clears += 1
        out.append(CodesCleared(t, ecu, evidence, before, after))


def _forget(ecu: Ecu, t: float, spoken: bool) -> None:
    """What this ECU said before its memory was cleared is not known any more. Permanent codes stay."""
    if ecu.readiness is not None:
        ecu.readiness_uncertain = "cleared"
    for key in [key for key, read_t in ecu.kept_t.items() if is_result(key) and (spoken or read_t < t)]:
        del ecu.kept[key], ecu.kept_t[key]
    for kind, known in ecu.codes.items():
        if kind != "permanent" and (spoken or known.t < t):
            known.uncertain = "cleared"


# ---------------------------------------------------------------- trouble codes


def _take_codes(car: CarState, answer: Answer, question: Question, out: list[Happening]) -> None:
    kind, item = KINDS[question.service], item_key(question.service, None)
    try:
        codes = decode_codes(answer.payload, can=is_can(car, answer.ecu))
    except J1979Error as why:
        malformed(car, answer, question, str(why), out)
        return
    known = ecu_of(car, answer.ecu).codes.setdefault(kind, Codes())
    told = known.codes or ()
    if len(told) > MOST_CODES:
        malformed(car, answer, question, "more codes than any control unit has", out)
        return
    if (answer.ecu, item) not in car.questions.answered_by:  # the first message of this request
        known.before, told = told, ()
    known.t, known.uncertain = answer.t, None
    known.codes = tuple(dict.fromkeys((*told, *codes)))
    _answered(car, ecu_of(car, answer.ecu), (item,), answer, out)
    for code in known.codes:
        if code not in known.before and code not in told:
            out.append(CodeAppeared(answer.t, answer.ecu, kind, code))
    if is_can(car, answer.ecu):
        _tell_vanished(known, answer.ecu, kind, answer.t, out)


def _tell_vanished(known: Codes, address: str, kind: str, t: float, out: list[Happening]) -> None:
    for code in known.before:
        if code not in (known.codes or ()):
            out.append(CodeVanished(t, address, kind, code))
    known.before = known.codes or ()


def is_can(car: CarState, address: str) -> bool:
    """Whether the ECU is on CAN: by the journal's header, else by its address (three or eight digits)."""
    return car.can if car.can is not None else len(address) in (3, 8)


# ---------------------------------------------------------------- what went wrong


def malformed(car: CarState, answer: Answer, question: Question | None, detail: str, out: list[Happening]) -> None:
    """An answer that the tables cannot read: counted, told once, and its finding is uncertain."""
    why = "not_asked" if question is None else "malformed"
    _tell(out, car.count_unusable(answer.t, answer.ecu, _asked(question), why, detail))
    _doubt(car, answer.ecu, question, why)
    doubt_all(car, question, answer.request_id)
    tell_changes(car, answer.t, out)


def unparsed(car: CarState, arrival: Unparsed, out: list[Happening]) -> None:
    """Raw lines nobody could make out: any ECU may have said them, so every ECU's finding is uncertain."""
    question = car.questions.of(arrival.request_id)
    detail = " / ".join(arrival.lines)[:120]
    _tell(out, car.count_unusable(arrival.t, None, _asked(question), "unparsed", detail))
    doubt_all(car, question, arrival.request_id)
    tell_changes(car, arrival.t, out)


def take_outcome(car: CarState, arrival: Outcome, out: list[Happening]) -> None:
    """A request that brought no value: refused, no answer or garbled."""
    question = car.questions.of(arrival.request_id)
    happening = car.count_unusable(arrival.t, None, _asked(question), arrival.outcome, arrival.why)
    if question is not None and question.watched:
        _tell(out, happening)
        if arrival.outcome == "garbled":
            doubt_all(car, question, arrival.request_id)
        if arrival.request_id == car.questions.open_id:
            close_question(car, out)
    tell_changes(car, arrival.t, out)


def doubt_all(car: CarState, question: Question | None, request_id: int | None) -> None:
    """Any ECU may have said what nobody could make out: the finding is uncertain for the car."""
    for item in question.watched if question is not None else ():
        car.doubt_item(item, request_id)


def _refused(car: CarState, answer: Answer, question: Question | None, reply: Negative, out: list[Happening]) -> None:
    asked = _asked(question)
    if question is None or reply.service != question.service:
        _tell(out, car.count_unusable(answer.t, answer.ecu, asked, "not_asked", answer.payload.hex().upper()))
        return
    if reply.code == 0x78:  # response pending: the answer is still to come (SAE J1979 on ISO 15765-4)
        return
    ecu = ecu_of(car, answer.ecu)
    for item in question.items:
        ecu.refused[item] = reply.code
    _tell(out, car.count_unusable(answer.t, answer.ecu, asked, "refused", f"{reply.code:02X} {reply.meaning}"))
    _doubt(car, answer.ecu, question, "refused")
    _answered(car, ecu, tuple(question.items), answer, out)
    tell_changes(car, answer.t, out)


def _doubt(car: CarState, address: str, question: Question | None, why: str) -> None:
    """Mark the findings this question asks of this ECU as uncertain; nothing is ever made clean here."""
    if question is None or not question.watched:
        return
    ecu = ecu_of(car, address)
    if "01 01" in question.items:
        ecu.readiness_uncertain = why
    kind = KINDS.get(question.service)
    if kind is not None:
        ecu.codes.setdefault(kind, Codes()).uncertain = why


def _answered(car: CarState, ecu: Ecu, items: tuple[str, ...], answer: Answer, out: list[Happening]) -> None:
    car.questions.note_answer(answer.request_id, ecu.address, items)
    for item in items:
        if car.doubts:
            car.answered_item(item, answer.request_id)
        if item not in ecu.answered:
            ecu.answered |= {item}
        if item in ecu.silent:
            ecu.silent -= {item}
            out.append(EcuAnsweredAgain(answer.t, ecu.address, item))
            if item == "01 01":
                tell_changes(car, answer.t, out)


def close_question(car: CarState, out: list[Happening]) -> None:
    """The open question is over: ECUs that used to answer a watched item and did not are silent from here."""
    question = car.questions.open
    if question is None:
        return
    fell = False
    for ecu in car.ecus.values():
        for item in sorted(question.watched & (ecu.answered - ecu.silent)):
            if (ecu.address, item) not in car.questions.answered_by:
                ecu.silent |= {item}
                fell = True
                out.append(EcuFellSilent(car.now, ecu.address, item))
        for kind, known in ecu.codes.items():
            if (ecu.address, _CODE_ITEMS[kind]) in car.questions.answered_by:
                _tell_vanished(known, ecu.address, kind, car.now, out)
    if "01 01" in question.watched and fell:
        tell_changes(car, car.now, out)
    car.questions.open = None


def _asked(question: Question | None) -> str | None:
    return " ".join(sorted(question.items)) if question is not None else None


def _tell(out: list[Happening], happening: Happening | None) -> None:
    if happening is not None:
        out.append(happening)
