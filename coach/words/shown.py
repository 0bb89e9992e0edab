"""Which of the lines said stands on the screen: one at a time, each for its least time, the weightier one first.

Time is the reader's own, in seconds of any steady clock: a recording may be played fast, a reader is not.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field

from coach.words.announce import LEAST_SHOWN_S, PRIORITY, Said

LONGEST_TIMES = 2.0  # our judgement: a line that nothing follows goes after twice its least time
WAITS_S = 12.0  # our judgement: a line that could not be shown for so long is no news any more
NOT_SHOWN = ("instruction", "progress")
"""These stand on the page already."""
TAKES_BACK = {
    "LinkChanged": ("LinkChanged", "DataLost"),
    "DataReturned": ("LinkChanged", "DataLost"),
    "HoldResumed": ("HoldPaused",),
}
"""Lines that are not so any more once another is said: they do not stand out their time."""


@dataclass(slots=True)
class Board:
    """The place for one line."""

    _now: Said | None = None
    _since_s: float = 0.0
    _waiting: list[tuple[float, Said]] = field(default_factory=list)

    def put(self, lines: Iterable[Said], now_s: float) -> None:
        """Lines that were said."""
        for said in lines:
            self._take_back(TAKES_BACK.get(said.cue, ()))
            if said.cue not in NOT_SHOWN:
                self._waiting.append((now_s, said))

    def _take_back(self, cues: tuple[str, ...]) -> None:
        self._waiting = [(t, said) for t, said in self._waiting if said.cue not in cues]
        if self._now is not None and self._now.cue in cues:
            self._now = None

    def shown(self, now_s: float) -> Said | None:
        """What stands there now; none when there is nothing to say."""
        self._waiting = [(t, said) for t, said in self._waiting if now_s - t <= WAITS_S]
        if self._waiting:
            best = min(self._waiting, key=lambda entry: (_weight(entry[1]), -entry[0]))
            if self._may_replace(best[1], now_s):
                self._waiting.remove(best)
                self._now, self._since_s = best[1], now_s
        if self._now is not None and now_s - self._since_s > LEAST_SHOWN_S[self._now.level] * LONGEST_TIMES:
            self._now = None
        return self._now

    def clear(self) -> None:
        """Nothing is said any more."""
        self._now, self._waiting = None, []

    def _may_replace(self, said: Said, now_s: float) -> bool:
        if self._now is None or now_s - self._since_s >= LEAST_SHOWN_S[self._now.level]:
            return True
        return _weight(said) < _weight(self._now)


def _weight(said: Said) -> int:
    return PRIORITY.get(said.cue, len(PRIORITY))
