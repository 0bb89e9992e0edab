"""CAN frames of a capture to questions and answers: who asked what, who answered, what broke on the way.

It knows no file. Identifiers: reference standards.md, section 9; times from memory of ISO 15765-2 and -4. Messages are
put together by `coach.transport`: can-isotp wants a live bus and timers, and drops what broke; the tests use it.
"""

from collections import deque
from dataclasses import dataclass, field
from functools import lru_cache

from msgspec import Struct

from coach.car.arrivals import Answer, Arrival, Failure, Outcome, Request, Unparsed
from coach.j1979.services import ANSWERED, NEGATIVE_CODES, RESPONSE_PENDING, WITH_ITEM
from coach.transport.assembly import Messages

REQUESTS_11 = {0x7DF: "", **{0x7E0 + i: f"{0x7E8 + i:03X}" for i in range(8)}}
REQUESTS_29 = {0x18DB33F1: "", **{0x18DA00F1 | i << 8: f"18DAF1{i:02X}" for i in range(256)}}
REPLIES_11 = {0x7E8 + i: f"{0x7E8 + i:03X}" for i in range(8)}
REPLIES_29 = {0x18DAF100 | i: f"18DAF1{i:02X}" for i in range(256)}
REQUESTS = {**REQUESTS_11, **REQUESTS_29}
"""Identifier of a request to the ECU that is asked; empty for all of them."""
REPLIES = {**REPLIES_11, **REPLIES_29}
"""Identifier of a reply to the ECU's name."""
DIAGNOSTIC = frozenset({*REQUESTS, *REPLIES})

ANSWER_S = 5.0  # P2* of ISO 15765-4, from memory: an ECU that said "answer to come" has five seconds
FRAME_GAP_S = 1.0  # N_Cr of ISO 15765-2, from memory: a message whose next frame takes longer is given up
ECHO_S = 0.01  # our judgement: the same request again so soon, before any reply, was recorded twice, not asked twice
REMEMBERED = 8  # our judgement: requests that may still be answered
FINDINGS_ASKED = frozenset({"0101", "03", "07", "0A"})
"""Questions whose answer speaks for the whole car only when every control unit was asked."""
_PENDING = bytes([RESPONSE_PENDING])


@dataclass(slots=True)
class DialogueReport:
    """What the diagnostic frames held, counted. `other`: frames of other diagnostics; `broken`: frames of replies.

    `alone`: questions for readiness or codes that were put to one control unit only.
    """

    requests: int = 0
    replies: int = 0
    unasked: int = 0
    refusals: int = 0
    broken: int = 0
    repeated: int = 0
    flow_control: int = 0
    other: int = 0
    unanswered: int = 0
    alone: int = 0
    ecus: set[str] = field(default_factory=set)


class _Asked(Struct, gc=False):
    """A question and what came of it so far. `to`: the ECU asked, empty for all; `until_t`: it may be answered."""

    id: int
    t: float
    until_t: float
    to: str
    service: int
    raw: bytes
    items: bytes
    seen: tuple[tuple[str, bytes], ...] = ()
    refused: tuple[str, ...] = ()
    value: bool = False
    broken: bool = False
    pending: bool = False


@lru_cache(maxsize=1024)
def _read(data: bytes) -> tuple[bytes, str, bytes] | None:
    """The request in a single frame, its text, and the PIDs or items it asks for, empty for a service without."""
    length = data[0]
    if not 1 <= length < min(8, len(data)) or data[1] not in ANSWERED:
        return None
    raw = data[1 : 1 + length]
    items = (raw[1::2] if raw[0] == 0x02 else raw[1:]) if raw[0] in WITH_ITEM else b""
    return raw, raw.hex().upper(), items


class Dialogue:
    """Takes the frames of one bus in order of time; gives arrivals. `finish` closes what is open."""

    def __init__(self) -> None:
        self.report = DialogueReport()
        self._t = 0.0
        self._last_id = 0
        self._asked: deque[_Asked] = deque(maxlen=REMEMBERED)
        self._last: _Asked | None = None
        self._open: list[_Asked] = []
        self._messages: dict[str, Messages] = {}
        self._under_way: dict[str, tuple[_Asked | None, float]] = {}
        self._foreign: set[str] = set()

    def take(self, t: float, identifier: int, data: bytes, out: list[Arrival]) -> None:
        """One frame with a diagnostic identifier, arrivals into `out`; `t` in seconds, never falling."""
        self._t = t
        ecu = REPLIES.get(identifier)
        if not data:
            self.report.other += 1
            return
        if self._under_way:
            self._give_up(t, out)
        if ecu is None:
            self._request(t, REQUESTS[identifier], data, out)
        elif data[0] < 0x10:
            self._single(t, ecu, data, out)
        else:
            self._part(t, ecu, data, out)

    def spoilt(self, what: str, out: list[Arrival]) -> None:
        """Something in the capture could not be read: it may have been a reply to the question before it."""
        asked = self._last
        if asked is not None and self._t - asked.t <= ANSWER_S:
            asked.broken = True
            out.append(Unparsed(self._t, asked.id, (f"{what} cannot be read",)))

    def finish(self) -> list[Arrival]:
        """The capture is over: messages under way are broken, questions without a value are closed."""
        out: list[Arrival] = []
        self._give_up(float("inf"), out)
        self._close_those("", out)
        return out

    # ------------------------------------------------------------ requests

    def _request(self, t: float, to: str, data: bytes, out: list[Arrival]) -> None:
        read = _read(data)
        if read is None:
            if data[0] >> 4 == 3:
                self.report.flow_control += 1
            else:
                self.report.other += 1
            return
        raw, text, items = read
        last = self._last
        if last is not None and t - last.t <= ECHO_S and last.raw == raw and last.to == to and not last.seen:
            self.report.repeated += 1
            return
        if self._open:
            self._close_those(to, out)
        if self._foreign:
            self._foreign = {ecu for ecu in self._foreign if to and ecu != to}
        self._last_id += 1
        self._last = asked = _Asked(self._last_id, t, t + ANSWER_S, to, raw[0], raw, items)
        self._asked.append(asked)
        self._open.append(asked)
        self.report.requests += 1
        self.report.alone += bool(to) and text in FINDINGS_ASKED
        out.append(Request(t, asked.id, text, to or None))

    def _close_those(self, to: str, out: list[Arrival]) -> None:
        """A new question ends the ones before it, but for those put to another ECU."""
        if len(self._open) == 1 and not to:  # the usual case, quickly
            asked = self._open.pop()
            if not asked.value:
                self._close(asked, out)
            return
        still = []
        for asked in self._open:
            if to and asked.to and asked.to != to:
                still.append(asked)
            elif not asked.value:
                self._close(asked, out)
        self._open = still

    def _close(self, asked: _Asked, out: list[Arrival]) -> None:
        """Tell how a question ended that brought no value."""
        outcome: Failure = "no_answer"
        why = "nobody answered in this capture"
        if asked.broken:
            outcome, why = "garbled", "the reply is not whole in this capture"
        elif asked.refused:
            outcome, why = "refused", ", ".join(asked.refused)
        elif asked.pending:
            why = "the answer stayed pending"
        self.report.unanswered += outcome == "no_answer"
        out.append(Outcome(self._t, asked.id, outcome, why))

    # ------------------------------------------------------------ replies

    def _single(self, t: float, ecu: str, data: bytes, out: list[Arrival]) -> None:
        length = data[0]
        if not 1 <= length < len(data):
            self._break(t, self._last, (f"{ecu} {data.hex(' ').upper()}",), out)
            return
        payload = data[1 : 1 + length]
        asked = self._match(t, ecu, payload)
        if asked is None and self._is_foreign(payload):
            self.report.other += 1
            return
        self._reply(t, ecu, asked, payload, out)

    def _part(self, t: float, ecu: str, data: bytes, out: list[Arrival]) -> None:
        """A frame of a longer message, or one that is no message at all."""
        kind = data[0] >> 4
        if kind == 3:
            self.report.flow_control += 1
            return
        if kind == 1 and self._begins_foreign(t, ecu, data):
            return
        if kind == 2 and ecu in self._foreign:
            self.report.other += 1
            return
        messages = self._messages.get(ecu)
        if messages is None:
            messages = self._messages[ecu] = Messages([], pads=False)
        asked, _ = self._under_way.get(ecu, (None, 0.0))
        payload = messages.take(f"{ecu} {data.hex(' ').upper()}", data)
        if messages.broken:
            self._break(t, asked or self._last, tuple(messages.broken), out)
            messages.broken.clear()
        if kind == 1 and len(data) > 2:
            asked = self._match(t, ecu, data[2:])
        if messages.waiting:
            self._under_way[ecu] = (asked, t)
        else:
            self._under_way.pop(ecu, None)
        if payload is not None:
            self._reply(t, ecu, asked, payload, out)

    def _begins_foreign(self, t: float, ecu: str, data: bytes) -> bool:
        """A long message of another kind of diagnostics: its frames are counted and left."""
        if len(data) > 2 and self._match(t, ecu, data[2:]) is None and self._is_foreign(data[2:]):
            self._foreign.add(ecu)
            self.report.other += 1
            return True
        self._foreign.discard(ecu)
        return False

    @staticmethod
    def _is_foreign(payload: bytes) -> bool:
        if payload == b"\x7f":
            return False  # a refusal of nobody knows what
        service = payload[1] if payload[0] == 0x7F else payload[0] - 0x40
        return service not in ANSWERED

    def _match(self, t: float, ecu: str, payload: bytes) -> _Asked | None:
        """The latest question this reply can belong to."""
        first = payload[0]
        item = payload[1] if len(payload) > 1 else -1
        service = item if first == 0x7F else first - 0x40
        for asked in reversed(self._asked):
            if asked.service != service or (asked.to and asked.to != ecu) or t > asked.until_t:
                continue
            if first == 0x7F or not asked.items or (item >= 0 and item in asked.items):
                return asked
        return None

    def _reply(self, t: float, ecu: str, asked: _Asked | None, payload: bytes, out: list[Arrival]) -> None:
        report = self.report
        if asked is None:
            report.unasked += 1
        else:
            if payload[0] == 0x7F and payload[2:] == _PENDING:
                asked.pending, asked.until_t = True, t + ANSWER_S
            if (ecu, payload) in asked.seen:
                report.repeated += 1
                return
            asked.seen += ((ecu, payload),)
            if payload[0] == 0x7F:
                self._refused(asked, ecu, payload)
            else:
                asked.value = True
        report.replies += 1
        if ecu not in report.ecus:
            report.ecus.add(ecu)
        out.append(Answer(t, asked.id if asked is not None else None, ecu, payload))

    def _refused(self, asked: _Asked, ecu: str, payload: bytes) -> None:
        if payload[2:] == _PENDING:
            return
        code = payload[2] if len(payload) > 2 else 0
        self.report.refusals += 1
        asked.refused += (f"{ecu} 7F {code:02X} {NEGATIVE_CODES.get(code, 'unlisted code')}",)

    # ------------------------------------------------------------ what broke

    def _give_up(self, t: float, out: list[Arrival]) -> None:
        for ecu, (asked, last_t) in tuple(self._under_way.items()):
            if t - last_t > FRAME_GAP_S:
                del self._under_way[ecu]
                messages = self._messages[ecu]
                messages.drop()
                self._break(self._t, asked, tuple(messages.broken), out)
                messages.broken.clear()

    def _break(self, t: float, asked: _Asked | None, lines: tuple[str, ...], out: list[Arrival]) -> None:
        self.report.broken += len(lines)
        if asked is not None:
            asked.broken = True
        out.append(Unparsed(t, asked.id if asked is not None else None, lines))
