"""A fault in words or on a screen must not end a drive: it is told in one line, once; coaching and recording go on."""

from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from coach.visible import one_line

Some = TypeVar("Some")
LONGEST = 160  # letters of an error's own words; our judgement: a line


def where(error: BaseException) -> str:
    """The error's kind, its words, and the line of ours it came from."""
    trace, place = error.__traceback__, ""
    while trace is not None:
        file = Path(trace.tb_frame.f_code.co_filename)
        if "coach" in file.parts:
            place = f" in {file.name}, line {trace.tb_lineno}"
        trace = trace.tb_next
    said = one_line(str(error))[:LONGEST]
    return f"{type(error).__name__}{place}" + (f": {said}" if said else "")


def fault_words(error: BaseException) -> str:
    """What is said in the course of a drive."""
    return f"A fault of this program, {where(error)}. Something is not said or shown; coaching and recording go on."


class Guard:
    """Makes what may go wrong, and keeps the words of each fault until somebody takes them; each is told once."""

    def __init__(self) -> None:
        self._told: set[str] = set()
        self._news: list[str] = []

    def make(self, makes: Callable[[], Some], instead: Some) -> Some:
        """What it makes; `instead` where it cannot."""
        try:
            return makes()
        except Exception as error:  # whatever it is, the drive goes on
            self.note(error)
            return instead

    def note(self, error: Exception) -> None:
        """A fault that was met."""
        words = fault_words(error)
        if words not in self._told:
            self._told.add(words)
            self._news.append(words)

    def news(self) -> list[str]:
        """Faults that were not taken yet."""
        news, self._news = self._news, []
        return news
