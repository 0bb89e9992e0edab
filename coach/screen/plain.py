"""The way of every text onto a screen: no markup is read in it, and what is hidden in it is shown by its number.

Whatever a widget draws all the same passes `HarmlessLines` before the terminal, those of Textual itself too.
"""

import re

from rich.cells import cell_len
from rich.segment import Segment
from textual.color import Color
from textual.content import Content
from textual.filter import LineFilter
from textual.widgets import Static

from coach.visible import HIDDEN, visible

UNKNOWN = "\N{REPLACEMENT CHARACTER}"


def plain(text: str, style: str = "") -> Content:
    """A text as it is, in one style."""
    shown = visible(text)
    return Content.styled(shown, style) if style else Content(shown)


class Plain(Static):
    """A text that may say what it likes."""

    def __init__(self, text: str = "", *, id: str | None = None, classes: str | None = None) -> None:
        super().__init__(plain(text), id=id, classes=classes, markup=False)

    def put(self, text: str) -> None:
        """Show it."""
        self.update(plain(text))


class Drawn(Static):
    """A drawing. One that cannot be made stays empty and is told once: the rest of the page is shown."""

    def draw(self) -> Content:
        """The drawing."""
        raise NotImplementedError

    def render(self) -> Content:
        """The drawing, or nothing."""
        try:
            return self.draw()
        except Exception as error:  # whatever it is, the drive goes on
            self.app.call_later(self.app.fault, error)  # type: ignore[attr-defined]
            return Content("")


class HarmlessLines(LineFilter):
    """The last thing before the terminal: a character that would steer it is left out, at the same width."""

    def apply(self, segments: list[Segment], background: Color) -> list[Segment]:
        """The segments of one line."""
        if not any(HIDDEN.search(text) for text, _, _ in segments):
            return segments
        return [Segment(HIDDEN.sub(self._instead, text), style, control) for text, style, control in segments]

    @staticmethod
    def _instead(found: re.Match[str]) -> str:
        return UNKNOWN * cell_len(found[0])
