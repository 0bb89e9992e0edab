"""A table in long form, one value a row (time, name, value, unit), made wide: each name becomes a column.

The rows stay the rows of the file, each with the one cell that is new in it. Rows that go through one signal after the
other are put in order of time, in a file without a name.
"""

import sqlite3
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing
from dataclasses import dataclass, replace
from itertools import chain, islice, pairwise

from coach.importer.columns import ImportProblem, guess
from coach.importer.names import plain
from coach.importer.text import Text
from coach.importer.times import Reader, choose, is_time

_NAME = frozenset(
    {"name", "signal", "parameter", "pid", "sensor", "channel", "variable", "measurement", "metric", "item", "key"}
    | {"signal name", "pid name", "kanal", "messgrosse", "grosse", "signalname", "parametre", "mesure"}
)
_VALUE = frozenset({"value", "val", "reading", "wert", "messwert", "valeur"})
_UNIT = frozenset({"unit", "units", "einheit", "unite", "unites"})
LOOK_ROWS = 200
MOST_NAMES = 500  # our judgement: no car tells so many signals


@dataclass(frozen=True, slots=True)
class _Places:
    """Where in a row the time, the name, the value and the unit stand; the unit's is none when there is none."""

    time: int
    name: int
    value: int
    unit: int | None


Key = tuple[str, str]
"""A name and the unit beside it, empty for none."""


def widened(text: Text, again: Callable[[], Text], mapping: Mapping[str, str], number: Reader) -> Text | None:
    """The same table made wide; none when it is in no long form. `again` opens it anew, `number` reads a cell."""
    places = _places(text.header, mapping)
    if places is None:
        return None
    spans = _spans(again(), places)
    headers = [name if name in mapping or not unit else f"{name} ({unit})" for name, unit in spans]
    if not any(header in mapping or guess(0, header) is not None for header in headers):
        return None
    at = {key: place for place, key in enumerate(spans, start=1)}
    rows = _wide(text.rows, places, at)
    if _one_after_another(list(spans.values())):
        rows = _sorted(rows, text.header[places.time], number)
    return replace(text, header=[text.header[places.time], *headers], rows=(row for _, row in rows), long=True)


def _places(header: list[str], mapping: Mapping[str, str]) -> _Places | None:
    words = [plain(cell) for cell in header]
    timed = [i for i, cell in enumerate(header) if mapping.get(cell, "").partition(":")[0] == "time"]
    timed = timed or [i for i, cell in enumerate(header) if is_time(cell)]
    name, value, unit = (
        next((i for i, word in enumerate(words) if word in kind), None) for kind in (_NAME, _VALUE, _UNIT)
    )
    return None if not timed or name is None or value is None else _Places(timed[0], name, value, unit)


def _key(row: list[str], places: _Places) -> Key | None:
    if len(row) <= max(places.time, places.name, places.value) or not row[places.name].strip():
        return None
    unit = row[places.unit].strip() if places.unit is not None and places.unit < len(row) else ""
    return row[places.name].strip(), unit


def _spans(text: Text, places: _Places) -> dict[Key, tuple[int, int]]:
    """Every name with its unit, and the first and last of the rows it stands in."""
    spans: dict[Key, tuple[int, int]] = {}
    for number, row in enumerate(text.rows):
        key = _key(row, places)
        if key is not None:
            spans[key] = (spans[key][0] if key in spans else number, number)
            if len(spans) > MOST_NAMES:
                raise ImportProblem(f"more than {MOST_NAMES} names in column {text.header[places.name]!r}")
    return spans


def _wide(rows: Iterator[list[str]], places: _Places, at: Mapping[Key, int]) -> Iterator[tuple[int, list[str]]]:
    """The place of the one column that each row fills, and the row; 0 for a row that fills none."""
    for row in rows:
        key = _key(row, places)
        place = at[key] if key is not None else 0
        wide = [""] * (len(at) + 1)
        wide[0] = row[places.time] if places.time < len(row) else ""
        if place:
            wide[place] = row[places.value]
        yield place, wide


def _one_after_another(spans: list[tuple[int, int]]) -> bool:
    """Whether the rows of one signal end before those of the next begin, for every one."""
    return len(spans) > 1 and all(earlier[1] < later[0] for earlier, later in pairwise(spans))


def _sorted(rows: Iterator[tuple[int, list[str]]], header: str, number: Reader) -> Iterator[tuple[int, list[str]]]:
    """The rows in order of time, sorted on the disk; each signal's clock is read by itself, since each begins anew."""
    sample = list(islice(rows, LOOK_ROWS))
    cells, width = [row[0] for _, row in sample], len(sample[0][1]) if sample else 0
    readers: dict[int, Reader] = {}
    last = 0.0
    with closing(sqlite3.connect("")) as disk:  # a file without a name, gone with it
        disk.execute("create table cell (at real, place integer, time text, value text)")

        def timed() -> Iterator[tuple[float, int, str, str]]:
            nonlocal last
            for place, row in chain(sample, rows):
                if place not in readers:
                    found = choose(header, cells, number)
                    readers[place] = found[1] if found is not None else number
                at = readers[place](row[0])
                last = last if at is None else at
                yield last, place, row[0], row[place] if place else ""

        disk.executemany("insert into cell values (?, ?, ?, ?)", timed())
        for place, time, value in disk.execute("select place, time, value from cell order by at, rowid"):
            wide = [""] * width
            wide[0] = time
            if place:
                wide[place] = value
            yield place, wide
