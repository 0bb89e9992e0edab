"""One question and everything that came of it, and how that becomes arrivals for the core. Nothing vanishes here."""

from msgspec import Struct

from coach.car.arrivals import Answer, Arrival, Outcome, Request, Unparsed
from coach.transport.assembly import EcuReply
from coach.transport.frames import OutcomeKind


class Exchange(Struct, frozen=True):
    """A question put to the car and how it ended. Times are the link's clock, in seconds.

    `replies`: all payloads that could be made out, refusals and strays among them; `good`: those that answer;
    `unparsed`: lines that could not be made out; `before`: lines that came in unasked before the question;
    `lines`: the reply as it came.
    """

    text: str
    outcome: OutcomeKind
    why: str
    replies: tuple[EcuReply, ...]
    good: tuple[EcuReply, ...]
    unparsed: tuple[str, ...]
    before: tuple[str, ...]
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

        Unread lines come behind the answers: they may belong to any ECU, so they leave every finding uncertain.
        """
        out: list[Arrival] = []
        if self.before:
            out.append(Unparsed(self.started_t, None, self.before))
        out.append(Request(self.started_t, request_id, self.text))
        out += [Answer(self.heard_t, request_id, reply.ecu, reply.payload) for reply in self.replies]
        if self.unparsed:
            out.append(Unparsed(self.heard_t, request_id, self.unparsed))
        if self.outcome != "value":
            out.append(Outcome(self.ended_t, request_id, self.outcome, self.why))
        return tuple(out)
