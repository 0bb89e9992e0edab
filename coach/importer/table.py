"""Reads a table of physical values (CSV, plain or gzip) into readings. One pass, bounded memory.

A clock that steps back makes an interval of unknown length; an empty cell is no reading. All of it is counted in the
report, nothing is dropped in silence.
"""

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import chain, islice
from math import isfinite
from pathlib import Path

from coach.car.arrivals import ClockStep, Reading
from coach.importer.columns import (
    Column,
    ImportProblem,
    column_option,
    converted,
    guess,
    mapped,
    named,
    on_a_line,
    parted,
)
from coach.importer.layout import LOOK_ROWS, Frozen, Held, Layout, Row, Turns, in_order, judge
from coach.importer.long_form import widened
from coach.importer.names import plain
from coach.importer.text import Text, open_text
from coach.importer.times import MINUTES, UNITS, Reader, are_grouped, began, choose, grouped, is_time
from coach.j1979.signals import SIGNALS

GAP_S = 2.0  # our judgement: an interval at least this long, and five times the usual one, is told as a gap
KEPT = 20
LOOK_CELLS = 200
MOST_LOOK_CELLS, MOST_LOOK_LETTERS = 100_000, 2 << 20
"""Our judgement: 2,000 rows of fifty columns, some megabytes of memory."""
MISSING = frozenset({"", "-", "--", "n/a", "na", "nan", "null", "none", "no data", "nodata", "?"})
AT_THE_RAIL = {"speed_kmh": (255.0,), "coolant_c": (-40.0, 215.0), "intake_c": (-40.0, 215.0), "ambient_c": (215.0,)}
"""What a sensor or a control unit without a value shows, as for answers; no road car shows it: our judgement."""
_DOTTED = re.compile(r"^\d{1,2}\.\d{3}$")  # "1.527": our judgement: no engine turns so slowly, so exactly told
_THOUSANDS = re.compile(r"^[+-]?\d{1,3}(,\d{3})+(\.\d+)?$")


@dataclass(slots=True)
class TableReport:
    """What the table held. Row numbers are those of the file, its first line being 1. Times in seconds."""

    columns: tuple[Column, ...] = ()
    unknown_columns: tuple[str, ...] = ()
    doubled_columns: tuple[str, ...] = ()
    without_unit: tuple[str, ...] = ()
    time_header: str = ""
    time_form: str = "seconds"
    layout: str = "rows"
    refresh_s: float | None = None
    encoding: str = "utf-8"
    notes: int = 0
    rows: int = 0
    readings: dict[str, int] = field(default_factory=dict)
    blank_cells: int = 0
    bad_cells: int = 0
    out_of_range: int = 0
    at_the_rail: int = 0
    bad_rows: list[int] = field(default_factory=list)
    bad_row_count: int = 0
    steps_back: list[tuple[int, float]] = field(default_factory=list)
    back_count: int = 0
    gaps: list[tuple[int, float, float]] = field(default_factory=list)
    gap_count: int = 0
    frozen: list[tuple[int, float, float]] = field(default_factory=list)
    resyncs: int = 0
    truncated: bool = False


def decimal(text: str) -> float | None:
    """A number with a decimal point or comma."""
    try:
        return float(text.replace(",", "."))
    except ValueError:
        return None


class Table:
    """An open table: `readings()` gives its arrivals once, `report` fills meanwhile."""

    def __init__(self, name: str, text: Text, mapping: Mapping[str, str]) -> None:
        self.name = name
        self.report = TableReport(encoding=text.encoding, notes=text.notes)
        self._state = text.state
        self._comma_decimal = text.delimiter != ","
        self._long = text.long
        self._first_row = text.first_row
        self._unit = ""
        self.began: str | None = None
        first = _first_rows(text.rows)
        header = _with_units_row(text.header, first)
        self._first_row += header != text.header
        self._time, self._reader = self._find_time(header, first, mapping)
        self.report.columns = _columns(name, header, self._time, mapping, self.report, first)
        if not first:
            raise ImportProblem(f"{name}: there is a header and no row below it; nothing to import")
        self._layout = Layout() if text.long else judge(self._sample(first), self.report.columns)
        self.report.layout = "long" if text.long else self._layout.kind
        self.report.refresh_s = self._layout.refresh_s or None
        self._rows = chain(first, text.rows)

    # ------------------------------------------------------------ rows

    def arrivals(self) -> Iterator[Reading | ClockStep]:
        """The same, as every import names it."""
        return self.readings()

    def readings(self) -> Iterator[Reading | ClockStep]:
        """Every new reading in order of time, clock steps between."""
        columns = self.report.columns
        frozen = Frozen(columns, self._layout.refresh_s)
        carried = _carried(self._layout, columns)
        steps: list[ClockStep] = []
        for _number, t, row in frozen.sieve(self._timed(steps)):
            yield from steps
            steps.clear()
            fresh: Sequence[Column] = columns if carried is None else carried.new_in(t, row)
            for column in fresh:
                reading = self._reading(t, column, row)
                if reading is not None:
                    yield reading
        yield from steps
        self._judge_whole()
        self.report.resyncs = carried.resyncs if carried is not None else 0
        self.report.frozen = frozen.stretches
        self.report.truncated = self._state.truncated

    def _judge_whole(self) -> None:
        """A table that brought nothing is a mistake somewhere, not an empty drive."""
        report = self.report
        if report.back_count * 2 > report.rows > 2:
            raise ImportProblem(f"{self.name}: the time in column {report.time_header!r} runs backwards; sort the rows")
        if not report.readings:
            raise ImportProblem(
                f"{self.name}: {report.rows} rows and not one value in range;"
                f" column {report.time_header!r} was read as {report.time_form}"
            )

    def _timed(self, steps: list[ClockStep]) -> Iterator[Row]:
        """Rows with their time since the first one; steps of the clock go to `steps`."""
        offset, start, last, usual_s = 0.0, None, None, 0.0
        for number, at, row in in_order(self._dated()):
            start = at if start is None else start
            t = round(at - start + offset, 3)
            if last is not None and t < last:
                back = round(last - t, 3)
                offset, t = offset + last - t, last
                self.report.back_count += 1
                if len(self.report.steps_back) < KEPT:
                    self.report.steps_back.append((number, back))
                steps.append(ClockStep(t, back))
            if last is not None:
                usual_s = self._note_gap(number, last, t, usual_s)
            last = t
            yield number, t, row

    def _dated(self) -> Iterator[Row]:
        """Rows with the time that stands in them; those without one are counted."""
        for number, row in enumerate(self._rows, start=self._first_row):
            self.report.rows += 1
            at = self._reader(row[self._time]) if self._time < len(row) else None
            if at is None:
                self._bad_row(number)
            else:
                yield number, at, row

    def _note_gap(self, number: int, last: float, t: float, usual_s: float) -> float:
        step = t - last
        if step > GAP_S and usual_s > 0 and step > 5 * usual_s:
            self.report.gap_count += 1
            if len(self.report.gaps) < KEPT:
                self.report.gaps.append((number, last, t))
            return usual_s
        return step if usual_s == 0 else usual_s * 0.95 + step * 0.05

    def _bad_row(self, number: int) -> None:
        self.report.bad_row_count += 1
        if len(self.report.bad_rows) < KEPT:
            self.report.bad_rows.append(number)

    # ------------------------------------------------------------ cells

    def _reading(self, t: float, column: Column, row: list[str]) -> Reading | None:
        text = row[column.index].strip() if column.index < len(row) else ""
        if text.lower() in MISSING:
            self.report.blank_cells += not (self._long and not text)
            return None
        value = self._value(text, column)
        if value is None:
            self.report.bad_cells += 1
            return None
        signal = SIGNALS[column.signal]
        if not signal.low <= value <= signal.high:
            self.report.out_of_range += 1
            return None
        if value in AT_THE_RAIL.get(column.signal, ()):
            self.report.at_the_rail += 1
            return None
        self.report.readings[column.signal] = self.report.readings.get(column.signal, 0) + 1
        return Reading(t, column.signal, round(value, 6))

    def _value(self, text: str, column: Column) -> float | None:
        """A cell in the unit of ours; a unit in the cell itself goes before the header's."""
        if column.signal == "rpm" and _DOTTED.match(text):
            text = text.replace(".", "")
        value = self._number(text, thousands=column.signal == "rpm")
        if value is None:
            bare, unit = parted(text)
            own = converted(column.index, column.header, column.signal, unit) if unit else None
            value = self._number(bare) if own is not None else None
            column = own or column
        return None if value is None else value * column.factor + column.offset

    def _number(self, text: str, thousands: bool = False) -> float | None:
        """A number with a decimal point or comma; a comma parts thousands where it is the delimiter, or is said to."""
        if "," in text:
            parted = _THOUSANDS.match(text) and (thousands or not self._comma_decimal)
            if "." not in text and not parted:
                text = text.replace(",", ".")
            elif parted:
                text = text.replace(",", "")
        try:
            value = float(text)
        except ValueError:
            return None
        return value if isfinite(value) else None

    # ------------------------------------------------------------ the beginning

    def _find_time(self, header: list[str], first: list[list[str]], mapping: Mapping[str, str]) -> tuple[int, Reader]:
        """The column of time and how it is read: the one the user named, else the first that reads as time."""
        told = [i for i, text in enumerate(header) if mapping.get(text, "").partition(":")[0] == "time"]
        for wanted in mapping:
            if wanted not in header:
                raise ImportProblem(f"{self.name}: the mapping names a column {wanted!r} that is not there")
        likely = told or [i for i, text in enumerate(header) if is_time(text)]
        for i in likely:
            cells = [row[i] for row in first[:200] if i < len(row)]
            if not cells:
                return i, self._number
            unit = mapping.get(header[i], "").partition(":")[2]
            if unit and unit not in (*UNITS, MINUTES):
                raise ImportProblem(f"{self.name}: {unit!r} is no unit of time; {', '.join((*UNITS, MINUTES))} are")
            found = choose(header[i], cells, grouped if are_grouped(cells) else self._number, unit)
            if found is not None and not told and len(likely) > 1 and len(set(cells)) == 1 < len(cells):
                continue  # a clock that stands still, beside another one
            if found is not None:
                self.report.time_header, self.report.time_form = header[i], found[0]
                self.began = began(*found, cells)
                self._unit = unit
                return i, found[1]
        if likely:
            raise ImportProblem(
                f"{self.name}: column {header[likely[0]]!r} does not read as time: seconds, milliseconds, clock time"
                f" or ISO 8601; its unit may be named with --column '{on_a_line(header[likely[0]])}=time:ms'"
            )
        raise ImportProblem(f"{self.name}: no column of time; name it with --column 'HEADER=time'")

    def _sample(self, first: list[list[str]]) -> list[Row]:
        """The first rows with their time, for judging the layout; the reader's memory is not touched by it."""
        cells = [row[self._time] for row in first if self._time < len(row)]
        found = choose(
            self.report.time_header, cells, grouped if are_grouped(cells[:200]) else self._number, self._unit
        )
        reader = found[1] if found is not None else self._number
        rows = ((row, reader(row[self._time])) for row in first if self._time < len(row))
        return [(0, at, row) for row, at in rows if at is not None]


def _first_rows(rows: Iterator[list[str]]) -> list[list[str]]:
    """The rows a table is judged by: many, but of wide ones no more than a small computer holds."""
    first: list[list[str]] = []
    cells = letters = 0
    for row in islice(rows, LOOK_ROWS):
        first.append(row)
        cells += len(row)
        letters += sum(map(len, row))
        if cells > MOST_LOOK_CELLS or letters > MOST_LOOK_LETTERS:
            break
    return first


def _carried(layout: Layout, columns: tuple[Column, ...]) -> Turns | Held | None:
    if layout.kind == "turns":
        return Turns(columns, layout.begin)
    return Held(columns, layout.refresh_s) if layout.kind == "held" else None


def _with_units_row(header: list[str], first: list[list[str]]) -> list[str]:
    """A row of units below the header is taken into it: "Speed" over "km/h" is "Speed (km/h)"."""
    if not first or len(first[0]) != len(header):
        return header
    units = [text.strip().strip("()[]").strip() for text in first[0]]
    if any(any(letter.isdigit() for letter in text) and text != "1/min" for text in units):
        return header
    both = [f"{text} ({unit})" if unit else text for text, unit in zip(header, units, strict=True)]
    if sum(guess(0, text) is not None for text in both) <= sum(guess(0, text) is not None for text in header):
        return header
    del first[0]
    return both


def _columns(
    name: str,
    header: list[str],
    time: int,
    mapping: Mapping[str, str],
    report: TableReport,
    first: Sequence[Sequence[str]],
) -> tuple[Column, ...]:
    taken: dict[str, Column] = {}
    unknown: list[str] = []
    unitless: list[str] = []
    doubled: list[str] = []
    for i, text in enumerate(header):
        if i == time:
            continue
        cells = [row[i].strip() for row in first if i < len(row) and row[i].strip().lower() not in MISSING]
        column = mapped(i, text, mapping[text]) if text in mapping else _guessed(i, text, cells)
        if column is None:
            (unknown if named(text) is None else unitless).append(text)
            continue
        other = taken.get(column.signal)
        if other is None:
            taken[column.signal] = column
            continue
        if text in mapping and other.header in mapping:
            raise ImportProblem(f"{name}: columns {other.header!r} and {text!r} are both {column.signal}")
        better = text in mapping or (other.header not in mapping and bool(cells) and _is_empty(other, first))
        doubled.append(other.header if better else text)
        taken[column.signal] = column if better else other
    report.unknown_columns, report.doubled_columns = tuple(unknown), tuple(doubled)
    report.without_unit = tuple(unitless)
    if not taken:
        raise ImportProblem(f"{name}: {_none_known(header, unitless)}")
    return tuple(sorted(taken.values(), key=lambda column: column.index))


def _none_known(header: Sequence[str], unitless: Sequence[str]) -> str:
    words = {plain(text) for text in header}
    if words & {"id", "can id", "arbitration id", "identifier"} and words & {"data", "d1", "b1", "dlc", "len"}:
        return "a table of CAN frames in a form not known here; save it as a candump log, ASC, BLF or TRC"
    if unitless:
        return f"no unit shows in {', '.join(map(on_a_line, unitless[:5]))}; name it, as {column_option(unitless[0])}"
    return "no column is a known signal; name one with --column 'HEADER=speed_kmh'"


def _is_empty(column: Column, first: Sequence[Sequence[str]]) -> bool:
    cells = (row[column.index].strip().lower() for row in first if column.index < len(row))
    return all(text in MISSING for text in cells)


def _guessed(index: int, header: str, cells: Sequence[str]) -> Column | None:
    """By the header, else by its name and the unit that its cells say; a share between 0 and 1 is no percentage."""
    column = guess(index, header)
    if column is None:
        signal = named(header)
        found = [converted(index, header, signal, parted(text)[1]) for text in cells[:LOOK_CELLS]] if signal else []
        return found[0] if found and None not in found else None
    if SIGNALS[column.signal].unit == "%" and SIGNALS[column.signal].low == 0 and "%" not in header:
        return None if _are_shares(cells) and header.strip().lower() not in SIGNALS else column
    return column


def _are_shares(cells: Sequence[str]) -> bool:
    """Whether all numbers lie within 0 and 1, some between."""
    try:
        numbers = [float(text.replace(",", ".")) for text in cells]
    except ValueError:
        return False
    return all(0 <= number <= 1 for number in numbers) and any(0 < number < 1 for number in numbers)


def open_table(
    path: Path,
    mapping: Mapping[str, str] | None = None,
    *,
    name: str | None = None,
    tick: Callable[[int, int], None] | None = None,
) -> Table:
    """Open a table. `mapping`: header to "time", "signal" or "signal:unit". ImportProblem for anything unusable.

    `name`: how the file is called in messages; `tick` is told bytes read and bytes in all.
    """
    given, called = mapping or {}, name or str(path)
    text = open_text(path, frozenset(given), tick)
    wide = widened(text, lambda: open_text(path, frozenset(given)), given, decimal)
    return Table(called, wide or text, given)
