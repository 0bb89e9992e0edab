"""The page of a report as pure data: sections of facts, lines, tables and plots, the same for every form.

Every text on it is already in words and units. The writers in `coach/report/` set it and decide nothing.
"""

from collections.abc import Callable
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import TypeVar

Pieces = tuple[tuple[tuple[float, float], ...], ...]
Some = TypeVar("Some")


@dataclass(frozen=True, slots=True)
class Share:
    """A share in words, and as a number where it can be drawn: 1 is the whole limit; none when it is not known."""

    words: str
    value: float | None


Cell = str | Share


@dataclass(frozen=True, slots=True)
class Facts:
    """Short facts: what it is, and what was found."""

    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Lines:
    """Sentences, each by itself."""

    items: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """A table; the first cell of each row names the row. `plain`: figures to be compared letter by letter.

    `marked`: the first column holds the numbers of marks in the plots, and means nothing where there are none.
    """

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    plain: bool = False
    marked: bool = False

    def unmarked(self) -> "Table":
        """For a form without plots."""
        if not self.marked:
            return self
        return Table(self.caption, self.head[1:], tuple(row[1:] for row in self.rows), self.plain)


@dataclass(frozen=True, slots=True)
class Panel:
    """One reading over time: its name and unit, its lowest and highest value, and its line in pieces."""

    name: str
    unit: str
    low: float
    high: float
    pieces: Pieces


@dataclass(frozen=True, slots=True)
class Strip:
    """When a phase was held: stretches from and to, seconds; `done_t`: when it was driven, none when it was not."""

    name: str
    stretches: tuple[tuple[float, float], ...]
    done_t: float | None


@dataclass(frozen=True, slots=True)
class Figure:
    """Plots over one drive. `words` says what they show; `marks`: (seconds, number in the list beneath)."""

    title: str
    words: str
    end_t: float
    panels: tuple[Panel, ...]
    strips: tuple[Strip, ...]
    marks: tuple[tuple[float, int], ...]


Block = Facts | Lines | Table | Figure


@dataclass(frozen=True, slots=True)
class Section:
    """A heading and what stands beneath it. `level` 2 is a part of the page, 3 a part of such a part."""

    title: str
    blocks: tuple[Block, ...]
    level: int = 2


@dataclass(frozen=True, slots=True)
class Page:
    """The whole page. `label` says that it is of no real car, else empty; `short` is what it comes to."""

    title: str
    label: str
    made: str
    short: Facts
    sections: tuple[Section, ...]
    last: str


def over_texts(value: Some, change: Callable[[str], str]) -> Some:
    """The same page with every text changed."""
    if isinstance(value, str):
        return change(value)  # type: ignore[return-value]
    if isinstance(value, tuple):
        return tuple(over_texts(inner, change) for inner in value)  # type: ignore[return-value]
    if is_dataclass(value) and not isinstance(value, type):
        return replace(value, **{f.name: over_texts(getattr(value, f.name), change) for f in fields(value)})
    return value


def broken(text: str, at: int, mark: str) -> str:
    """A text whose words of more than twice `at` letters may be broken at `mark`; a form sets its own mark."""
    if len(text) <= 2 * at:
        return text
    return " ".join(
        mark.join(word[i : i + at] for i in range(0, len(word), at)) if len(word) > 2 * at else word
        for word in text.split(" ")
    )
