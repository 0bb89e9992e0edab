"""The timeline of a recording: where holds counted, where they broke, what was completed; and the place one is at."""

from collections.abc import Iterable

from textual.content import Content
from textual.events import Click
from textual.message import Message
from textual.reactive import reactive

from coach.car.happenings import Happening, MonitorChanged
from coach.drive.happenings import (
    CoachingEnded,
    HoldPaused,
    HoldReset,
    HoldResumed,
    HoldStarted,
    PhaseDriven,
    RepeatCounted,
)
from coach.screen.plain import Drawn
from coach.words.units import clock

LABEL = 12  # columns
HELD, BROKE, DONE, ENDED, HERE, ELSE = "━", "x", "●", "■", "▲", "╌"
Stretch = tuple[float, float]


def stretches(happenings: Iterable[Happening]) -> tuple[Stretch, ...]:
    """When some hold counted: from its beginning to its break or to the phase driven."""
    open_at: dict[str, float] = {}
    found: list[Stretch] = []
    for happening in happenings:
        if isinstance(happening, HoldStarted | HoldResumed):
            open_at[happening.phase] = happening.since_t
        elif isinstance(happening, HoldPaused | HoldReset | PhaseDriven):
            began = open_at.pop(happening.phase, None)
            if began is not None:
                found.append((began, happening.t))
        elif isinstance(happening, RepeatCounted):
            found.append((happening.t - happening.lasted_s, happening.t))
    return tuple(found)


def breaks(happenings: Iterable[Happening]) -> tuple[float, ...]:
    """When a hold was broken."""
    return tuple(h.since_t for h in happenings if isinstance(h, HoldPaused))


def completed(happenings: Iterable[Happening]) -> tuple[tuple[float, str], ...]:
    """When a monitor became complete or coaching ended, with its shape."""
    done = [(h.t, DONE) for h in happenings if isinstance(h, MonitorChanged) and h.before and h.after == "complete"]
    ended = [(h.t, ENDED) for h in happenings if isinstance(h, CoachingEnded)]
    return tuple(sorted(done + ended))


class Timeline(Drawn):
    """Four lines over the whole recording. A click jumps there."""

    at: reactive[float] = reactive(0.0)

    class Jumped(Message):
        """Somebody pointed at a moment."""

        def __init__(self, t: float) -> None:
            super().__init__()
            self.t = t

    def __init__(self, id: str | None = None) -> None:
        super().__init__(id=id, markup=False)
        self._end_t = 0.0
        self._held: tuple[Stretch, ...] = ()
        self._breaks: tuple[float, ...] = ()
        self._done: tuple[tuple[float, str], ...] = ()

    def take(self, happenings: list[Happening], end_t: float) -> None:
        """A whole recording."""
        self._end_t = end_t
        self._held, self._breaks, self._done = stretches(happenings), breaks(happenings), completed(happenings)
        self.refresh()

    @property
    def _room(self) -> int:
        return max(10, self.size.width - LABEL)

    def _column(self, t: float) -> int:
        return min(self._room - 1, max(0, int(t / self._end_t * (self._room - 1)))) if self._end_t else 0

    def draw(self) -> Content:
        """held, broken, complete, and the place."""
        held, broke, done, here = ([ELSE] * self._room, *([" "] * self._room for _ in range(3)))
        for began, ended in self._held:
            for column in range(self._column(began), self._column(ended) + 1):
                held[column] = HELD
        for t in self._breaks:
            broke[self._column(t)] = BROKE
        for t, shape in self._done:
            done[self._column(t)] = shape
        here[self._column(self.at)] = HERE
        rows = [("━ held", held, "$band"), ("x broken", broke, "$notice"), ("● complete", done, "$ink")]
        lines = [_row(label, "".join(marks), style) for label, marks, style in rows]
        return Content("\n").join([*lines, _row(clock(self.at), "".join(here), "$ink bold")])

    def on_click(self, event: Click) -> None:
        """Jump to where the pointer is."""
        column = event.get_content_offset_capture(self).x - LABEL
        if column >= 0:
            self.post_message(self.Jumped(column / max(1, self._room - 1) * self._end_t))


def _row(label: str, marks: str, style: str) -> Content:
    return Content.assemble((label.ljust(LABEL), "$quiet"), (marks, style))
