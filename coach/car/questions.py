"""Which question an answer belongs to. Without its request neither a silence nor a stray frame can be judged.

Keys of items are service and PID in hex: "01 0D", "03", "09 08".
"""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from functools import lru_cache

from coach.car.arrivals import Request

KEPT = 32  # our judgement: an answer later than 32 questions is not an answer any more
WITH_PID = frozenset({0x01, 0x02, 0x06, 0x09})
WATCHED = frozenset({"01 00", "01 01", "01 41", "03", "07", "0A"})
"""Items whose trouble changes a finding: who is there, readiness, this cycle's status, and the trouble codes."""


@dataclass(frozen=True, slots=True)
class Question:
    """What one request asked: service, the PIDs in it, its watched items, and the one unit asked; none for all."""

    service: int
    pids: frozenset[int]
    items: frozenset[str]
    watched: frozenset[str]
    to: str | None = None


@lru_cache(maxsize=512)
def read_question(text: str, to: str | None = None) -> Question | None:
    """Take a request's hex apart; none when it is not one (an adapter command, say)."""
    try:
        raw = bytes.fromhex(text)
    except ValueError:
        return None
    if not raw:
        return None
    service = raw[0]
    pids = _pids(service, raw[1:])
    items = frozenset(item_key(service, pid) for pid in pids) if pids else frozenset({item_key(service, None)})
    return Question(service, pids, items, items & WATCHED, to)


def _pids(service: int, rest: bytes) -> frozenset[int]:
    if service not in WITH_PID:
        return frozenset()
    if service == 0x02:
        return frozenset(rest[::2])  # PID and frame number by turns
    return frozenset(rest)


def item_key(service: int, pid: int | None) -> str:
    """The key of an item: "01 0D", or "03" for a service without PID."""
    return f"{service:02X}" if pid is None else f"{service:02X} {pid:02X}"


@dataclass(slots=True)
class Questions:
    """The open question and the latest ones before it.

    `pending`: units that said their answer to the open question is still to come. `last`: the one asked last. `count`:
    how many were asked; `numbers`: the number of each recent one, for what is later than what.
    """

    recent: dict[int, Question] = field(default_factory=dict)
    open_id: int | None = None
    open: Question | None = None
    answered_by: set[tuple[str, str]] = field(default_factory=set)
    pending: set[str] = field(default_factory=set)
    last: Question | None = None
    count: int = 0
    numbers: dict[int, int] = field(default_factory=dict)

    def copy(self) -> "Questions":
        """An independent copy."""
        return replace(
            self,
            recent=dict(self.recent),
            answered_by=set(self.answered_by),
            pending=set(self.pending),
            numbers=dict(self.numbers),
        )

    def ask(self, request: Request) -> None:
        """Note a new question; the one before it is closed by the caller first."""
        question = read_question(request.text, request.to)
        self.open_id, self.open = request.id, question
        self.count += 1
        self.answered_by.clear()
        self.pending.clear()
        self.last = question or self.last
        if question is None:
            self.recent.pop(request.id, None)
            return
        self.recent[request.id] = question
        self.numbers[request.id] = self.count
        if len(self.recent) > KEPT:
            oldest = next(iter(self.recent))
            del self.recent[oldest], self.numbers[oldest]

    def of(self, request_id: int | None) -> Question | None:
        """The question with this id, none when it was never asked or too long ago."""
        return None if request_id is None else self.recent.get(request_id)

    def number(self, request_id: int | None) -> int:
        """The number of a question, counted from 1; 0 when it is not known."""
        return 0 if request_id is None else self.numbers.get(request_id, 0)

    def note_answer(self, request_id: int | None, ecu: str, items: Iterable[str]) -> None:
        """This ECU answered these items of the open question."""
        if request_id == self.open_id:
            self.answered_by.update((ecu, item) for item in items)
