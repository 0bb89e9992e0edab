"""Clears as they come in: sent, confirmed, refused, or traced by a counter that fell. Called by the folding alone."""

from coach.car.arrivals import Answer, Request
from coach.car.clears import CLEAR_SERVICES, as_before, is_clear, shown_by
from coach.car.concluding import FOREIGN
from coach.car.doubting import ecu_of, tell_changes
from coach.car.ecus import ITEMS, READINESS, Ecu, is_result
from coach.car.happenings import ClearSent, CodesCleared, Happening
from coach.car.state import CarState
from coach.j1979.services import RESPONSE_PENDING

SINCE_CLEAR = frozenset({"warm_ups_since_clear", "distance_since_clear_km", "run_time_since_clear_min"})
"""PID 30, 31 and 4E fall back to zero on a clear: 40 CFR 86.010-18(k)(4)(ix); for 4E from memory."""
SAME_CLEAR_S = 120.0  # our judgement: counters that fall within two minutes of each other tell of the same clear
CLEAR_DONE = tuple(service + 0x40 for service in CLEAR_SERVICES)
"""First bytes of a reply that confirms a clear."""


def clear_asked(car: CarState, request: Request, out: list[Happening]) -> None:
    """A clear is sent: whatever comes back, what was read before does not stand until it is read again."""
    if not is_clear(request.text):
        return
    car.clear.begin(request.t, car.ecus, request.id, car.questions.count)
    for ecu in car.ecus.values():
        _forget(car, ecu, request.t, "clear_unproved", spoken=True)
    out.append(ClearSent(request.t, request.to))
    car.changed()
    tell_changes(car, request.t, out)


def confirmed(car: CarState, answer: Answer, out: list[Happening]) -> None:
    """44 or 54: this unit says that it cleared, whether we know the question or not."""
    if not car.clear.seen or (answer.request_id != car.clear.request_id and answer.ecu in car.clear.confirmed):
        car.clear.begin(answer.t, car.ecus, answer.request_id, car.questions.number(answer.request_id))
    ecu = ecu_of(car, answer.ecu)
    car.clear.confirm(answer.ecu)
    _forget(car, ecu, answer.t, "cleared", spoken=True)
    _tell_cleared(car, answer.ecu, "service_04_confirmed", answer.t, out)


def refused_clear(car: CarState, answer: Answer, out: list[Happening]) -> None:
    if answer.payload[2] != RESPONSE_PENDING and car.clear.seen:
        car.clear.refuse(answer.ecu)
        car.changed()
        tell_changes(car, answer.t, out)


def since_clear(car: CarState, ecu: str, signal: str, value: float, t: float, out: list[Happening]) -> None:
    """A counter of what passed since the clear; when it falls in one ECU, its memory was cleared in between."""
    before = car.counters.get((ecu, signal))
    car.counters[ecu, signal] = (value, t)
    if before is not None and value < before[0]:
        traced(car, ecu, signal, before[1], t, out, before[0], value)


def traced(
    car: CarState,
    ecu: str,
    evidence: str,
    before_t: float,
    t: float,
    out: list[Happening],
    before: float | None = None,
    after: float | None = None,
) -> None:
    """A unit shows that it was cleared since `before_t`: by the clear we know of, else by one that nobody saw.

    Clears go to every ECU at once; a trace found later speaks for all.
    """
    known = car.clear.explains(ecu, before_t)
    if not known and before_t < 0 and car.clear.t is not None:
        return  # it was cleared before this recording began, and the last clear, which it refused, came after that
    if not known and before_t < 0:  # read in an earlier recording: it was cleared in between, before this one began
        car.clear.begin(0.0, {address: as_before(unit) for address, unit in car.ecus.items()})
        if car.signs.state not in FOREIGN and all_asked(car):
            shown_by(car.ecus.values(), car.clear)
    elif not known:
        car.clear.begin(t, car.ecus)
        for unit in car.ecus.values():
            _forget(car, unit, t, "cleared", spoken=False)
    if ecu and car.signs.state in FOREIGN:
        car.clear.perhaps |= {ecu}
    elif ecu:
        car.clear.confirm(ecu)
    car.changed()
    if not known or car.reported.cleared_t is None or car.reported.cleared_t < (car.clear.t or 0.0):
        _tell_cleared(car, ecu, evidence, t, out, before, after)
    tell_changes(car, t, out)


def _tell_cleared(
    car: CarState,
    ecu: str,
    evidence: str,
    t: float,
    out: list[Happening],
    before: float | None = None,
    after: float | None = None,
) -> None:
    told = car.reported.cleared_t
    car.reported.cleared_t = t
    if told is None or t - told > SAME_CLEAR_S:
        car.reported.clears += 1
        out.append(CodesCleared(t, ecu, evidence, before, after))
    tell_changes(car, t, out)


def _forget(car: CarState, ecu: Ecu, t: float, why: str, spoken: bool) -> None:
    """What this ECU said before its memory was cleared is not known any more. Permanent codes stay."""
    number = car.questions.count - (not spoken)  # what is still to come of this question was said after a trace
    now = not spoken and (ecu.address, READINESS) in car.questions.answered_by
    if (ecu.readiness is not None or READINESS in ecu.expected) and not now:
        ecu.doubt_item(READINESS, why, t, number)
    for key in [key for key, read_t in ecu.kept_t.items() if is_result(key) and (spoken or read_t < t)]:
        del ecu.kept[key], ecu.kept_t[key]
    for kind, known in ecu.codes.items():
        if kind != "permanent" and (spoken or known.t < t):
            ecu.doubt_item(ITEMS[kind], why, t, number)
    car.changed()


def proved_same(car: CarState) -> None:
    """It is this car after all: what it told since the link came up shows what became of a clear."""
    for address in car.clear.perhaps:
        car.clear.confirm(address)
    car.clear.perhaps = frozenset()
    if all_asked(car):
        shown_by(car.ecus.values(), car.clear)


def all_asked(car: CarState) -> bool:
    """Whether all units were asked at once: what some of them show alone, says nothing of a clear of all."""
    return READINESS in car.asked_all or not car.asked_alone
