"""Which question an answer belongs to. Without its request neither a silence nor a stray frame can be judged.

Keys of items are service and PID in hex: "01 0D", "03", "09 08".
"""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from functools import lru_cache

from coach.car.arrivals import Request

KEPT = 32  # our judgement: an answer later than 32 questions is not an answer any more
WITH_PID = frozenset({0x01, 0x02, 0x06, 0x09})
WATCHED = frozenset({"01 01", "01 41", "03", "07", "0A"})
"""Items whose silence changes a finding: readiness, this cycle's status, and the trouble codes."""


@dataclass(frozen=True, slots=True)
class Question:
    """What one request asked: service, the PIDs in it, and its watched items."""

    service: int
    pids: frozenset[int]
    items: frozenset[str]
    watched: frozenset[str]


@lru_cache(maxsize=512)
def read_question(text: str) -> Question | None:
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
    return Question(service, pids, items, items & WATCHED)


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
    """The open question and the latest ones before it."""

    recent: dict[int, Question] = field(default_factory=dict)
    open_id: int | None = None
    open: Question | None = None
    answered_by: set[tuple[str, str]] = field(default_factory=set)

    def copy(self) -> "Questions":
        """An independent copy."""
        return replace(self, recent=dict(self.recent), answered_by=set(self.answered_by))

    def ask(self, request: Request) -> None:
        """Note a new question; the one before it is closed by the caller first."""
        question = read_question(request.text)
        self.open_id, self.open = request.id, question
        self.answered_by.clear()
        if question is None:
            self.recent.pop(request.id, None)
            return
        self.recent[request.id] = question
        if len(self.recent) > KEPT:
            del self.recent[next(iter(self.recent))]

    def of(self, request_id: int | None) -> Question | None:
        """The question with this id, none when it was never asked or too long ago."""
        return None if request_id is None else self.recent.get(request_id)

    def note_answer(self, request_id: int | None, ecu: str, items: Iterable[str]) -> None:
        """This ECU answered these items of the open question."""
        if request_id == self.open_id:
            self.answered_by.update((ecu, item) for item in items)
