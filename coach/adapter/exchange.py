"""One question and everything that came of it, and how that becomes arrivals for the core. Nothing vanishes here."""

from msgspec import Struct

from coach.car.arrivals import Answer, Arrival, Outcome, Request, Unparsed
from coach.transport.assembly import EcuReply
from coach.transport.frames import OutcomeKind, Unasked


class Exchange(Struct, frozen=True):
    """A question put to the car and how it ended. Times are the link's clock, in seconds.

    `replies`: all payloads that could be made out, refusals and strays among them; `good`: those that answer;
    `strays`: those that answer another question; `unparsed`: lines that could not be made out; `before`: what came in
    unasked before the question; `late`: payloads that came in behind the prompt; `lines`: the reply as it came.
    """

    text: str
    outcome: OutcomeKind
    why: str
    replies: tuple[EcuReply, ...]
    good: tuple[EcuReply, ...]
    strays: tuple[EcuReply, ...]
    unparsed: tuple[str, ...]
    before: Unasked
    late: tuple[EcuReply, ...]
    lines: tuple[str, ...]
    started_t: float
    heard_t: float
    ended_t: float

    def payloads(self) -> dict[str, tuple[bytes, ...]]:
        """Good payloads by ECU."""
        found: dict[str, tuple[bytes, ...]] = {}
        for reply in self.good:
            found[reply.ecu] = (*found.get(reply.ecu, ()), reply.payload)
        return found

    def arrivals(self, request_id: int) -> tuple[Arrival, ...]:
        """What the core is fed: what came unasked, the request, answers, unread lines, the outcome if no value came.

        A payload that answers another question, or came behind the prompt, is an answer to nothing that was asked.
        Unread lines come behind the answers: they may belong to any ECU, so they leave every finding uncertain.
        """
        out = unasked_arrivals(self.started_t, self.before)
        out.append(Request(self.started_t, request_id, self.text))
        for reply in self.replies:
            out.append(Answer(self.heard_t, None if reply in self.strays else request_id, reply.ecu, reply.payload))
        if self.unparsed:
            out.append(Unparsed(self.heard_t, request_id, self.unparsed))
        if self.outcome != "value":
            out.append(Outcome(self.ended_t, request_id, self.outcome, self.why))
        out += unasked_arrivals(self.ended_t, Unasked(self.late))
        return tuple(out)


def unasked_arrivals(t: float, came: Unasked) -> list[Arrival]:
    """What came in outside any exchange: answers that nobody asked for, and lines that could not be made out."""
    out: list[Arrival] = [Answer(t, None, reply.ecu, reply.payload) for reply in came.replies]
    if came.lines:
        out.append(Unparsed(t, None, came.lines))
    return out
