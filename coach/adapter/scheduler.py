"""What to ask next: every item has a wanted period, the one overdue longest comes first, on CAN up to six at once.

Pure: time is passed in, in seconds. An item is the request in hex: "010D", "0101", "03", "0902". Under overload all
items become late by the same time, so the fast ones stay faster and none starves.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from msgspec import Struct

from coach.j1979.errors import J1979Error
from coach.j1979.pids import LENGTHS, split_current_data
from coach.j1979.services import NOT_OFFERED
from coach.transport.assembly import EcuReply
from coach.transport.frames import OutcomeKind

MOST_PIDS = 6  # SAE J1979 on CAN (from memory; reference standards.md, section 9)
LONGEST_REPLY = 27  # bytes; our judgement: four frames an ECU, so that eight ECUs fit an adapter's small buffer
ALONE = frozenset({0x01, 0x41})
"""PIDs that are findings: asked by themselves, so that silence and refusal concern them alone."""
NEVER_GIVEN_UP = frozenset({"0101", "03", "07"})
"""Law 2 of the design: these are never "not offered"."""
EARLY_SHARE = 0.5  # our judgement: an item rides along from half its period on; a frame more costs less than a turn
SOON_S = 2.0  # our judgement: a seldom item that failed is tried again after this, not after its minute
PATIENCE = 2  # failures that may be chance; our judgement
LONGEST_BACK_OFF_S = 120.0  # our judgement: a car that woke up another control unit is noticed within two minutes
STRIKES = 2  # short answers to a group in a row before it is made smaller; one may be a lost line
NOISE_STRIKES = 4  # garbled groups in a row; noise that bad spoils single questions too, so little is lost
RETRY_GROUP_S = 60.0  # our judgement


class Ask(Struct, frozen=True):
    """One request to send: its text and the items in it. `t`: when it was given out."""

    text: str
    items: tuple[str, ...]
    t: float


@dataclass(slots=True)
class _Item:
    """`due_t`: when it is wanted next; `heard_t`: last value, none when never; `sized`: its reply came alone, whole."""

    text: str
    period_s: float
    due_t: float
    once: bool = False
    failures: int = 0
    heard_t: float | None = None
    sized: bool = False


@dataclass(slots=True)
class Scheduler:
    """Earliest deadline first over what is wanted. `can` allows several PIDs in a request."""

    can: bool = True
    _items: dict[str, _Item] = field(default_factory=dict)
    _once: list[str] = field(default_factory=list)
    _most: int = MOST_PIDS
    _strikes: int = 0
    _small_since_t: float = 0.0

    # ------------------------------------------------------------ what is wanted

    def want(self, periods_s: Mapping[str, float], t: float) -> None:
        """Replace what is wanted: item to period in seconds. What is known of an item that stays is kept."""
        kept = {}
        for text, period_s in periods_s.items():
            item = self._items.get(text) or _Item(text, period_s, t)
            item.period_s, item.due_t = period_s, min(item.due_t, t + self._pause(item, period_s))
            kept[text] = item
        self._items = kept

    def once(self, items: Iterable[str]) -> None:
        """Ask these once, in this order, before everything else; what already waits is not put twice."""
        self._once += [item for item in items if item not in self._once]

    def restart(self, t: float, can: bool) -> None:
        """The link is back: everything is due, nothing is known of who answers what."""
        self.can, self._most, self._strikes = can, MOST_PIDS, 0
        for item in self._items.values():
            item.due_t, item.failures, item.sized = t, 0, False

    # ------------------------------------------------------------ what comes next

    def next(self, t: float) -> Ask | None:
        """The request to send now, none when nothing is due."""
        if self._once:
            return Ask(self._once[0], (self._once[0],), t)
        first = min(self._items.values(), key=_urgency, default=None)
        if first is None or first.due_t > t:
            return None
        group = self._group(first, t)
        return Ask("01" + "".join(item[2:] for item in group) if len(group) > 1 else first.text, group, t)

    def wait_s(self, t: float) -> float | None:
        """Seconds until something is due, 0 when something is, none when nothing is wanted."""
        if self._once:
            return 0.0
        due = min((item.due_t for item in self._items.values()), default=None)
        return None if due is None else max(0.0, due - t)

    def _group(self, first: _Item, t: float) -> tuple[str, ...]:
        if self._most < MOST_PIDS and t - self._small_since_t > RETRY_GROUP_S:
            self._most, self._strikes = MOST_PIDS, STRIKES - 1
        if not self.can or not first.sized or self._most < 2:
            return (first.text,)
        group, reply = [first.text], 1 + _cost(first.text)
        for item in sorted(self._items.values(), key=_urgency):
            if len(group) == self._most:
                break
            near = item.due_t - t <= item.period_s * EARLY_SHARE
            if item is not first and item.sized and near and reply + _cost(item.text) <= LONGEST_REPLY:
                group.append(item.text)
                reply += _cost(item.text)
        return tuple(group)

    # ------------------------------------------------------------ what came of it

    def report(
        self,
        ask: Ask,
        t: float,
        outcome: OutcomeKind,
        lengths: Mapping[str, int],
        refusals: Sequence[int] = (),
        why: str = "",
    ) -> None:
        """How an ask ended at `t`: data bytes of every item that was answered, refusal codes, the adapter's word."""
        if self._once and ask.items == (self._once[0],):
            del self._once[0]
        grouped = len(ask.items) > 1
        if grouped:
            self._judge_group(ask, t, outcome, lengths, why)
        for text in ask.items:
            item = self._items.get(text)
            if item is None:
                continue
            if text in lengths:
                item.failures, item.heard_t, item.due_t = 0, t, ask.t + item.period_s
                item.sized = item.sized or (not grouped and lengths[text] == _groupable(text))
            elif grouped:
                item.sized, item.due_t = item.sized and outcome == "garbled", t  # alone it will tell
            else:
                self._failed(item, t, outcome, refusals)

    def _failed(self, item: _Item, t: float, outcome: OutcomeKind, refusals: Sequence[int]) -> None:
        gone = bool(refusals) and all(code in NOT_OFFERED for code in refusals)
        item.failures += PATIENCE + 2 if gone and item.failures < PATIENCE else 1
        if outcome == "garbled":
            item.failures = min(item.failures, PATIENCE)  # noise says nothing about who answers
        item.due_t = t + self._pause(item, item.period_s)

    @staticmethod
    def _pause(item: _Item, period_s: float) -> float:
        """How long to wait after an ask: the period, sooner after a failure or two, longer and longer after more."""
        if item.failures == 0:
            return period_s
        if item.failures <= PATIENCE or item.text in NEVER_GIVEN_UP:
            return min(period_s, SOON_S)
        return max(period_s, min(LONGEST_BACK_OFF_S, SOON_S * 2.0 ** (item.failures - PATIENCE)))

    def _judge_group(self, ask: Ask, t: float, outcome: OutcomeKind, lengths: Mapping[str, int], why: str) -> None:
        """Learn how many PIDs this car and this adapter take at once."""
        answered = [text for text in ask.items if text in lengths]
        if len(answered) == len(ask.items):
            self._strikes = 0
            return
        self._strikes += 1
        if why == "?":
            most = 1  # the adapter does not take so long a request
        elif "BUFFER FULL" in why:
            most = len(ask.items) // 2
        elif self._strikes < (NOISE_STRIKES if outcome == "garbled" else STRIKES):
            return
        else:
            most = max(1, len(answered)) if tuple(answered) == ask.items[: len(answered)] else len(ask.items) // 2
        self._most, self._strikes, self._small_since_t = most, 0, t


def _urgency(item: _Item) -> tuple[float, float]:
    return item.due_t, item.period_s


def _groupable(text: str) -> int | None:
    """Data bytes of an item that may stand in a group, none for one that may not."""
    if len(text) != 4 or not text.startswith("01"):
        return None
    pid = int(text[2:], 16)
    return None if pid in ALONE or pid % 0x20 == 0 else LENGTHS.get(pid)


def _cost(text: str) -> int:
    return 1 + LENGTHS[int(text[2:], 16)]


def answered_lengths(ask: Ask, good: Iterable[EcuReply]) -> dict[str, int]:
    """Data bytes of every item that some ECU answered, from the good replies."""
    found: dict[str, int] = {}
    for reply in good:
        if not ask.text.startswith("01"):
            found[ask.text] = len(reply.payload) - 1
            continue
        try:
            parts = split_current_data(reply.payload, tuple(bytes.fromhex(ask.text)[1:]))
        except J1979Error:
            continue
        for pid, data in parts:
            found[f"01{pid:02X}"] = len(data)
    return found
