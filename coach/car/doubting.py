"""What turns a finding into "uncertain", and what ends it: every doubt begins and ends here.

Doubt falls on the finding a frame is about, of the unit that sent it, whatever question was open; what no unit can be
named for falls on all of them. It ends with a clean answer to a later question, of that unit or of all of them.
"""

from collections.abc import Iterable

from coach.car.arrivals import Answer, Damaged, Outcome, Unparsed
from coach.car.concluding import FOREIGN
from coach.car.ecus import ITEMS, READINESS, SUPPORTED, Codes, Ecu
from coach.car.happenings import (
    ClearProved,
    CodeVanished,
    EcuAnsweredAgain,
    EcuFellSilent,
    FindingDoubted,
    FindingSettled,
    Happening,
    MilChanged,
    MonitorChanged,
)
from coach.car.questions import WATCHED, Question, item_key
from coach.car.state import CarState
from coach.j1979.services import RESPONSE_PENDING, Negative

Reason = tuple[str | None, tuple[str, ...]]
IDENTITY = "identity"
"""Whose words they are: told as one finding, since all the others hang on it."""
TOLD_ALREADY = frozenset(
    {
        *("silent", "never_read", "not_heard_again", "not_all_asked", "cleared", "clear_unproved", "silent_to_0A"),
        *(f"identity_{state}" for state in FOREIGN),
    }
)
"""Reasons that a happening of their own tells, or that were there from the beginning."""


def ecu_of(car: CarState, address: str) -> Ecu:
    """The record of this ECU, made on first sight."""
    ecu = car.ecus.get(address)
    if ecu is None:
        ecu = car.ecus[address] = Ecu(address)
        car.changed()
    return ecu


# ---------------------------------------------------------------- what a frame is about


def about(payload: bytes) -> tuple[str, ...]:
    """The watched items a frame is about, by its own bytes, whatever was asked."""
    if not payload:
        return ()
    service = payload[1] if payload[0] == 0x7F and len(payload) > 1 else payload[0] - 0x40
    if service != 0x01:
        return tuple({f"{service:02X}"} & WATCHED)
    if payload[0] == 0x7F:
        return (READINESS,)  # a refusal names no PID: readiness is what a doubt costs least to ask again
    return tuple({item_key(0x01, payload[1])} & WATCHED) if len(payload) > 1 else (READINESS,)


def late(car: CarState, ecu: Ecu, item: str, answer: Answer, out: list[Happening]) -> bool:
    """Whether an answer comes behind a later question's, or behind a clear sent since: it is no word of now."""
    number = car.questions.number(answer.request_id)
    if number >= ecu.latest.get(item, 0) and number > car.clear.number:
        return False
    tell(out, car.count_unusable(answer.t, answer.ecu, item, "late", answer.payload.hex().upper()))
    doubt(car, ecu.address, (item,), "late", answer.t)
    tell_changes(car, answer.t, out)
    return True


def stray(car: CarState, answer: Answer, why: str, out: list[Happening]) -> None:
    """A frame that answers no question we know: what it is about is in doubt, of the unit that sent it."""
    known = car.ecus.get(answer.ecu)
    if answer.payload[:1] != b"\x7f" or (known is not None and known.claims_readiness()):
        doubt(car, answer.ecu, about(answer.payload), why, answer.t)
    tell_changes(car, answer.t, out)


def doubt(car: CarState, address: str, items: Iterable[str], why: str, t: float) -> None:
    """These items of this unit are in doubt; nothing is ever made clean here."""
    for item in items:
        if item in WATCHED:
            ecu_of(car, address).doubt_item(item, why, t, car.questions.count)
            car.changed()


def doubt_all(car: CarState, question: Question | None, why: str) -> None:
    """Any ECU may have said what nobody could make out: the finding is uncertain for the car."""
    for item in question.watched if question is not None else ():
        car.doubt_item(item, why)


# ---------------------------------------------------------------- what went wrong


def malformed(car: CarState, answer: Answer, question: Question | None, detail: str, out: list[Happening]) -> None:
    """An answer that the tables cannot read: counted, told once, and its finding is uncertain."""
    why = "not_asked" if question is None else "malformed"
    tell(out, car.count_unusable(answer.t, answer.ecu, asked(question), why, detail))
    meant = about(answer.payload)
    doubt(car, answer.ecu, meant, why, answer.t)
    if question is not None:
        doubt(car, answer.ecu, question.watched.difference(meant), "said_else", answer.t)
    doubt_all(car, question, why)
    tell_changes(car, answer.t, out)


def unparsed(car: CarState, arrival: Unparsed, out: list[Happening]) -> None:
    """Raw lines nobody could make out: any ECU may have said them, so every ECU's finding is uncertain.

    Lines that belong to no question came behind the one asked last.
    """
    question = car.questions.of(arrival.request_id) if arrival.request_id is not None else car.questions.last
    detail = " / ".join(arrival.lines)[:120]
    tell(out, car.count_unusable(arrival.t, None, asked(question), "unparsed", detail))
    doubt_all(car, question, "unparsed")
    tell_changes(car, arrival.t, out)


def damaged(car: CarState, arrival: Damaged, out: list[Happening]) -> None:
    """A line of the recording that cannot be read may have been the only word of a unit, of anything."""
    tell(out, car.count_unusable(arrival.t, None, None, "line_lost", str(arrival.line)))
    doubt_everything(car, "line_lost")
    tell_changes(car, arrival.t, out)


def doubt_everything(car: CarState, why: str) -> None:
    """Every finding of every unit is uncertain."""
    for item in sorted(WATCHED):
        car.doubt_item(item, why)


def take_outcome(car: CarState, arrival: Outcome, out: list[Happening]) -> None:
    """A request that brought no value: refused, no answer or garbled."""
    question = car.questions.of(arrival.request_id)
    happening = car.count_unusable(arrival.t, None, asked(question), arrival.outcome, arrival.why)
    if question is not None and question.watched:
        tell(out, happening)
        if arrival.outcome == "garbled":
            doubt_all(car, question, "garbled")
        if arrival.request_id == car.questions.open_id:
            close_question(car, out)
    tell_changes(car, arrival.t, out)


def refused(car: CarState, answer: Answer, question: Question | None, reply: Negative, out: list[Happening]) -> None:
    """A negative reply of one unit; "the answer is still to come" is looked at again when the question closes."""
    if question is None or reply.service != question.service:
        tell(out, car.count_unusable(answer.t, answer.ecu, asked(question), "not_asked", answer.payload.hex().upper()))
        stray(car, answer, "not_asked", out)
        return
    if reply.code == RESPONSE_PENDING:
        if answer.request_id == car.questions.open_id:
            car.questions.pending.add(ecu_of(car, answer.ecu).address)
        return
    ecu = ecu_of(car, answer.ecu)
    for item in question.items:
        ecu.refused[item] = reply.code
    detail = f"{reply.code:02X} {reply.meaning}"
    tell(out, car.count_unusable(answer.t, answer.ecu, asked(question), "refused", detail))
    answered(car, ecu, tuple(question.items), answer, out)
    doubt(car, answer.ecu, question.watched, "refused", answer.t)
    tell_changes(car, answer.t, out)


# ---------------------------------------------------------------- clean answers, and the end of a question


def answered(car: CarState, ecu: Ecu, items: tuple[str, ...], answer: Answer, out: list[Happening]) -> None:
    """This unit gave a proper answer to these items: its silence and its older doubts are over."""
    car.questions.note_answer(answer.request_id, ecu.address, items)
    number = car.questions.number(answer.request_id)
    for item in items:
        ecu.latest[item] = max(number, ecu.latest.get(item, 0))
        if item in ecu.expected:
            ecu.expected -= {item}
            car.changed()
        if item in ecu.doubts and ecu.settle(item, number):
            car.changed()
        if item not in ecu.answered:
            ecu.answered |= {item}
            car.changed()
        if item in ecu.silent:
            ecu.silent -= {item}
            car.changed()
            if item != SUPPORTED:
                out.append(EcuAnsweredAgain(answer.t, ecu.address, item))
        if item in car.doubts and _put_to_all(car, answer):
            _all_clean(car, item, number)


def _put_to_all(car: CarState, answer: Answer) -> bool:
    question = car.questions.of(answer.request_id)
    return question is not None and question.to is None


def _all_clean(car: CarState, item: str, number: int) -> None:
    """A doubt about any unit is over when a later question was answered by every unit that should."""
    begun = car.doubts[item].number
    if number > begun and all(ecu.latest.get(item, 0) > begun for ecu in car.ecus.values() if _should(ecu, item)):
        del car.doubts[item]
        car.changed()


def _should(ecu: Ecu, item: str) -> bool:
    """Whether this unit should answer: it did before, here or in an earlier recording, or it has a say in readiness."""
    return item in ecu.answered or item in ecu.expected or (item == READINESS and ecu.claims_readiness())


def close_question(car: CarState, out: list[Happening]) -> None:
    """The open question is over: ECUs that used to answer a watched item and did not are silent from here."""
    question = car.questions.open
    if question is None:
        return
    items = sorted(question.watched - {SUPPORTED})
    for ecu in car.ecus.values():
        if question.to is not None and ecu.address != question.to:
            continue
        for item in items:
            if (ecu.address, item) not in car.questions.answered_by:
                _left_out(car, ecu, item, out)
        for kind, known in ecu.codes.items():
            if (ecu.address, ITEMS[kind]) in car.questions.answered_by:
                tell_vanished(known, ecu.address, kind, car.now, out)
    car.questions.open = None
    tell_changes(car, car.now, out)


def _left_out(car: CarState, ecu: Ecu, item: str, out: list[Happening]) -> None:
    """This unit did not answer the question that is over."""
    if ecu.address in car.questions.pending:
        ecu.doubt_item(item, "pending", car.now, car.questions.count)
        car.changed()
    if item in ecu.answered and item not in ecu.silent:
        ecu.silent |= {item}
        car.changed()
        out.append(EcuFellSilent(car.now, ecu.address, item))


# ---------------------------------------------------------------- what is told


def tell_vanished(known: Codes, address: str, kind: str, t: float, out: list[Happening]) -> None:
    """The codes of the request before that this one does not name any more."""
    for code in known.before:
        if code not in (known.codes or ()):
            out.append(CodeVanished(t, address, kind, code))
    known.before = known.codes or ()


def tell_changes(car: CarState, t: float, out: list[Happening]) -> None:
    """Tell what changed of the merged readiness, the MIL, the doubts and a clear. Doubt itself is no change."""
    if not car.untold:
        return
    car.untold = False
    told, now = car.reported, car.conclude()
    for monitor, found in now.monitors.items():
        before, state = told.monitors.get(monitor), found.state
        if state is not None and state != before:
            told.monitors[monitor], told.since_t[monitor] = state, t
            out.append(MonitorChanged(t, monitor, before, state))
    lit = now.mil.on
    if lit is not None and lit is not told.mil:
        out.append(MilChanged(t, told.mil, lit))
        told.mil, told.since_t["mil"] = lit, t
    _tell_doubts(car, t, out)
    if now.clear.state == "proved" and not told.proved:
        out.append(ClearProved(t))
    told.proved = now.clear.state == "proved"


def _tell_doubts(car: CarState, t: float, out: list[Happening]) -> None:
    told, now = car.reported, car.conclude()
    foreign = "identity_unproved" if now.identity == "unproved" else None  # the others have happenings of their own
    reasons: dict[str, Reason] = {IDENTITY: (foreign, ()), READINESS: (now.mil.why, now.mil.units)}
    reasons.update({ITEMS[kind]: (found.why, found.units) for kind, found in now.codes.items()})
    for item, (why, units) in reasons.items():
        if why is not None and item in told.sure:
            told.unsure_t[item] = t
        if why is None:
            told.unsure_t.pop(item, None)
            began = told.doubted.pop(item, None)
            if began is not None:
                out.append(FindingSettled(t, item, round(t - began, 3)))
        elif item in told.sure and (item == IDENTITY or why not in TOLD_ALREADY):
            told.doubted[item] = t
            out.append(FindingDoubted(t, item, why, units))
    told.sure = frozenset(item for item, (why, _) in reasons.items() if why is None)


def asked(question: Question | None) -> str | None:
    """The items of a question, for the count of what could not be used."""
    return " ".join(sorted(question.items)) if question is not None else None


def tell(out: list[Happening], happening: Happening | None) -> None:
    """A happening that may not be one."""
    if happening is not None:
        out.append(happening)
