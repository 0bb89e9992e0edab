"""Reads a table of physical values (CSV, plain or gzip) into readings. One pass, bounded memory.

A cell carried forward from an earlier row is not a new reading; a clock that steps back makes an interval of unknown
length; an empty cell is no reading. All of it is counted in the report, nothing is dropped in silence.
"""

import csv
import gzip
import io
import zlib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import islice
from math import isfinite
from pathlib import Path

from coach.car.arrivals import ClockStep, Reading
from coach.importer.columns import TIME_NAMES, Column, ImportProblem, guess, mapped
from coach.j1979.signals import SIGNALS

LOOK_ROWS = 2000  # rows the layout is judged from
TURNS_LIKELY = 0.995  # our judgement: so many changes must obey the turn before cells are taken as carried forward
LEAST_CHANGES = 30  # our judgement: fewer changes prove no pattern
GAP_S = 2.0  # our judgement: an interval at least this long, and five times the usual one, is told as a gap
KEPT = 20
MOST_BYTES = 4 << 30  # our judgement: no drive fills four gigabytes of text


@dataclass(slots=True)
class TableReport:
    """What the table held. Row numbers count the header as 1. Times in seconds."""

    columns: tuple[Column, ...] = ()
    unknown_columns: tuple[str, ...] = ()
    layout: str = "rows"
    rows: int = 0
    readings: dict[str, int] = field(default_factory=dict)
    blank_cells: int = 0
    bad_cells: int = 0
    out_of_range: int = 0
    bad_rows: list[int] = field(default_factory=list)
    bad_row_count: int = 0
    steps_back: list[tuple[int, float]] = field(default_factory=list)
    gaps: list[tuple[int, float, float]] = field(default_factory=list)
    gap_count: int = 0
    resyncs: int = 0
    truncated: bool = False


class Table:
    """An open table: `readings()` gives its arrivals once, `report` fills meanwhile."""

    def __init__(
        self, name: str, rows: Iterator[list[str]], mapping: Mapping[str, str], decimal_comma: bool, cut: list[bool]
    ) -> None:
        self.name = name
        self._cut = cut
        self.report = TableReport()
        self._rows = rows
        self._comma = decimal_comma
        header = next(rows, None)
        if header is None:
            raise ImportProblem(f"{name}: the file is empty; a table begins with a row of column names")
        self._time, columns = _columns(name, header, mapping, self.report)
        self.report.columns = columns
        self._first = list(islice(rows, LOOK_ROWS))
        if not self._first:
            raise ImportProblem(f"{name}: there is a header and no row below it; nothing to import")
        self._turn = _take_turns(self._first, columns)
        self.report.layout = "rows" if self._turn is None else "turns"

    def readings(self) -> Iterator[Reading | ClockStep]:
        """Every new reading in order of time, clock steps between."""
        offset, last, row_s = 0.0, None, 0.0
        start: float | None = None
        turns = _Turns(self.report, self._turn) if self._turn is not None else None
        for number, row in enumerate(_chain(self._first, self._rows), start=2):
            self.report.rows += 1
            at = self._number(row[self._time]) if self._time < len(row) else None
            if at is None:
                self._bad_row(number)
                continue
            start = at if start is None else start
            t = round(at - start + offset, 3)
            if last is not None and t < last:
                back = last - t
                offset += back
                t = last
                self.report.steps_back.append((number, round(back, 3)))
                yield ClockStep(t, round(back, 3))
            if last is not None:
                row_s = self._note_gap(number, last, t, row_s)
            last = t
            yield from self._cells(t, row, turns)
        self.report.truncated = bool(self._cut)

    def _note_gap(self, number: int, last: float, t: float, row_s: float) -> float:
        step = t - last
        if step > GAP_S and row_s > 0 and step > 5 * row_s:
            self.report.gap_count += 1
            if len(self.report.gaps) < KEPT:
                self.report.gaps.append((number, last, t))
            return row_s
        return step if row_s == 0 else row_s * 0.95 + step * 0.05

    def _cells(self, t: float, row: list[str], turns: "_Turns | None") -> Iterator[Reading]:
        columns: Iterable[Column] = self.report.columns
        if turns is not None:
            columns = turns.new_in(row, self.report.columns)
        for column in columns:
            cell = row[column.index].strip() if column.index < len(row) else ""
            if not cell:
                self.report.blank_cells += 1
                continue
            value = self._number(cell)
            if value is None:
                self.report.bad_cells += 1
                continue
            value = value * column.factor + column.offset
            signal = SIGNALS[column.signal]
            if not signal.low <= value <= signal.high:
                self.report.out_of_range += 1
                continue
            self.report.readings[column.signal] = self.report.readings.get(column.signal, 0) + 1
            yield Reading(t, column.signal, round(value, 6))

    def _number(self, cell: str) -> float | None:
        try:
            value = float(cell.replace(",", ".") if self._comma else cell)
        except ValueError:
            return None
        return value if isfinite(value) else None

    def _bad_row(self, number: int) -> None:
        self.report.bad_row_count += 1
        if len(self.report.bad_rows) < KEPT:
            self.report.bad_rows.append(number)


class _Turns:
    """One channel is refreshed per row, in turn; a change elsewhere means a reply was lost: the turn follows it."""

    def __init__(self, report: TableReport, begin: int) -> None:
        self._report = report
        self._next = begin
        self._before: list[str] | None = None

    def new_in(self, row: list[str], columns: tuple[Column, ...]) -> tuple[Column, ...]:
        """The column that is new in this row."""
        before, self._before = self._before, row
        turn = self._next
        if before is not None:
            changed = [i for i, column in enumerate(columns) if _cell(row, column) != _cell(before, column)]
            if changed and turn not in changed:
                turn = changed[0]
                self._report.resyncs += 1
        self._next = (turn + 1) % len(columns)
        return (columns[turn],)


def _cell(row: list[str], column: Column) -> str:
    return row[column.index] if column.index < len(row) else ""


def _take_turns(rows: list[list[str]], columns: tuple[Column, ...]) -> int | None:
    """Where the turn begins when the first rows obey one: at most one change a row, in cyclic order; else none."""
    count = len(columns)
    if count < 3:
        return None
    starts = [0] * count
    for number in range(1, len(rows)):
        changed = [
            i for i, column in enumerate(columns) if _cell(rows[number], column) != _cell(rows[number - 1], column)
        ]
        if len(changed) > 1:
            return None
        for i in changed:
            starts[(i - number) % count] += 1
    changes = sum(starts)
    begin = max(range(count), key=lambda start: starts[start])
    return begin if changes >= LEAST_CHANGES and starts[begin] >= TURNS_LIKELY * changes else None


def _columns(
    name: str, header: list[str], mapping: Mapping[str, str], report: TableReport
) -> tuple[int, tuple[Column, ...]]:
    for wanted in mapping:
        if wanted not in header:
            raise ImportProblem(f"{name}: the mapping names a column {wanted!r} that is not there")
    times = [i for i, text in enumerate(header) if mapping.get(text) == "time" or _is_time(text)]
    if not times:
        raise ImportProblem(f"{name}: no column of time in seconds; name it with --column 'HEADER=time'")
    columns: list[Column] = []
    unknown: list[str] = []
    for i, text in enumerate(header):
        if i == times[0]:
            continue
        column = mapped(i, text, mapping[text]) if text in mapping else guess(i, text)
        if column is None:
            unknown.append(text)
        else:
            columns.append(column)
    seen: dict[str, str] = {}
    for column in columns:
        if column.signal in seen:
            raise ImportProblem(
                f"{name}: columns {seen[column.signal]!r} and {column.header!r} are both {column.signal}"
            )
        seen[column.signal] = column.header
    if not columns:
        raise ImportProblem(f"{name}: no column is a known signal; name one with --column 'HEADER=speed_kmh'")
    report.unknown_columns = tuple(unknown)
    return times[0], tuple(columns)


def _is_time(text: str) -> bool:
    plain = text.strip().lower()
    return plain in TIME_NAMES or plain in ("time (s)", "time [s]", "time (sec)")


def _chain(first: list[list[str]], rest: Iterator[list[str]]) -> Iterator[list[str]]:
    yield from first
    first.clear()
    yield from rest


def _text_lines(name: str, path: Path, report_truncated: list[bool]) -> Iterator[str]:
    """Lines of text, unpacked when gzip; a damaged end is told, what came before is used."""
    total = 0
    with path.open("rb") as raw:
        packed = raw.read(2) == b"\x1f\x8b"
        raw.seek(0)
        stream = io.TextIOWrapper(gzip.GzipFile(fileobj=raw) if packed else raw, encoding="utf-8-sig", newline="")
        try:
            while line := stream.readline(1 << 20):
                total += len(line)
                if "\0" in line:
                    raise ImportProblem(f"{name}: binary data, not a table")
                if total > MOST_BYTES or (packed and total > 16 << 20 and total > 100 * max(1, raw.tell())):
                    raise ImportProblem(f"{name}: unpacks to far more than a drive holds; not read on")
                yield line
        except (EOFError, zlib.error, gzip.BadGzipFile):
            report_truncated.append(True)
        except UnicodeDecodeError:
            raise ImportProblem(f"{name}: not text in UTF-8; save the table as UTF-8 and try again") from None


def open_table(path: Path, mapping: Mapping[str, str] | None = None) -> Table:
    """Open a table. `mapping`: header to "time", "signal" or "signal:unit". ImportProblem for anything unusable."""
    name = str(path)
    if path.is_dir():
        raise ImportProblem(f"{name}: a folder; name a file in it")
    truncated: list[bool] = []
    try:
        lines = _text_lines(name, path, truncated)
        head = next(lines, "")
    except FileNotFoundError:
        raise ImportProblem(f"{name}: no such file") from None
    except OSError as error:
        raise ImportProblem(f"{name}: cannot be read: {error.strerror or error}") from None
    delimiter = max(",;\t", key=head.count)
    return Table(name, _parse(name, head, lines, delimiter), mapping or {}, delimiter in ";\t", truncated)


def _parse(name: str, head: str, lines: Iterator[str], delimiter: str) -> Iterator[list[str]]:
    def all_lines() -> Iterator[str]:
        if head:
            yield head
        yield from lines

    try:
        for row in csv.reader(all_lines(), delimiter=delimiter):
            if row:
                yield row
    except csv.Error as error:
        raise ImportProblem(f"{name}: not a table: {error}") from None
