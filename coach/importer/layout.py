"""How a table's rows are filled: every cell new in every row, one channel new in turn, or values carried forward.

A cell carried forward from an earlier row is not a new reading. A recorder that stands still while the engine runs
brings nothing at all.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median

from coach.importer.columns import Column

LOOK_ROWS = 2000  # rows the layout is judged from
TURNS_LIKELY = 0.995  # our judgement: so many changes must obey the turn before cells are taken as carried forward
LEAST_CHANGES = 30  # our judgement: fewer changes prove no pattern
LEAST_COLUMNS = 3  # fewer columns prove no pattern either
HELD_CHANGES = 5  # our judgement: a slow recorder has changed no more often within the rows looked at
HELD_SHARE = 0.6  # our judgement: even the liveliest channel repeats itself this often only when it is carried forward
ALIVE_CYCLES = 2.0  # our judgement: refresh cycles without any change after which nothing is taken as refreshed
FROZEN_S = 5.0  # our judgement: a running engine never repeats every channel exactly for so long
FROZEN_CYCLES = 2.0  # our judgement: nor twice in a row when each channel is asked only now and then
MOST_WAITING = 1000  # our judgement: no recorder writes two hundred rows a second
LIVELY = frozenset({"rpm", "maf_gps", "load_pct", "map_kpa"})
"""Signals that hardly ever repeat exactly while the engine runs."""

Row = tuple[int, float, list[str]]
"""Row number, time in seconds, cells."""


def in_order(rows: Iterable[Row]) -> Iterator[Row]:
    """The rows with two neighbours put right that were written in the wrong order; a clock that was set is left.

    After such a pair time goes on where it was; after a clock that was set it goes on from the earlier time.
    """
    held: list[Row] = []
    given = float("-inf")
    for row in rows:
        held.append(row)
        if len(held) < 3:
            continue
        first, second, third = held
        if given <= second[1] < first[1] <= third[1]:
            held = [second, first, third]
        yield held[0]
        given = held[0][1]
        del held[0]
    yield from held


def cell(row: list[str], column: Column) -> str:
    """One cell, empty where the row is too short."""
    return row[column.index] if column.index < len(row) else ""


def changed_columns(row: list[str], before: list[str], columns: Sequence[Column]) -> list[int]:
    """Places of the columns whose cell differs from the row before."""
    return [i for i, column in enumerate(columns) if cell(row, column) != cell(before, column)]


@dataclass(slots=True)
class Layout:
    """What the first rows show: `kind` rows, turns or held; where the turn begins; the refresh cycle in seconds."""

    kind: str = "rows"
    begin: int = 0
    refresh_s: float = 0.0


def judge(rows: Sequence[Row], columns: Sequence[Column]) -> Layout:
    """The layout of a table by its first rows."""
    if len(columns) < LEAST_COLUMNS:
        return Layout()
    begin = _turn(rows, columns)
    if begin is not None:
        return Layout("turns", begin, median(later[1] - earlier[1] for earlier, later in pairwise(rows)) * len(columns))
    refresh_s = _refresh(rows, columns)
    return Layout() if refresh_s is None else Layout("held", 0, refresh_s)


def _turn(rows: Sequence[Row], columns: Sequence[Column]) -> int | None:
    """Where the turn begins when the rows obey one: one change a row, in cyclic order, but for lost rows; else none."""
    count = len(columns)
    begin, shift, changes, breaks = None, 0, 0, 0
    for number in range(1, len(rows)):
        changed = changed_columns(rows[number][2], rows[number - 1][2], columns)
        if not changed:
            continue
        changes += 1
        at = (changed[0] - number) % count
        if begin is None:
            begin = shift = at
        elif len(changed) > 1 or at != shift:
            breaks, shift = breaks + 1, at
    return begin if changes >= LEAST_CHANGES and breaks <= (1 - TURNS_LIKELY) * changes + 1 else None


def _refresh(rows: Sequence[Row], columns: Sequence[Column]) -> float | None:
    """Seconds between changes of the liveliest channel when it mostly repeats itself; none when cells are new."""
    best_changes, best_s = 0, 0.0
    for column in columns:
        if column.signal not in LIVELY:
            continue
        changes, lasted = _liveliness(rows, column)
        if changes > best_changes:
            best_changes, best_s = changes, lasted
    if best_changes < HELD_CHANGES or best_changes > (1 - HELD_SHARE) * len(rows):
        return None
    return best_s / best_changes


def _liveliness(rows: Sequence[Row], column: Column) -> tuple[int, float]:
    """How often a channel changed, and over how many seconds in which it was not zero."""
    changes, lasted = 0, 0.0
    for (_, earlier, before), (_, later, row) in pairwise(rows):
        text = cell(row, column)
        if text.strip(" 0.,") == "":
            continue
        lasted += max(0.0, later - earlier)
        changes += text != cell(before, column)
    return changes, lasted


class Turns:
    """One channel is refreshed per row, in turn; a change elsewhere means a reply was lost: the turn follows it."""

    def __init__(self, columns: tuple[Column, ...], begin: int) -> None:
        self._columns = columns
        self._next = begin
        self._before: list[str] | None = None
        self.resyncs = 0

    def new_in(self, _t: float, row: list[str]) -> tuple[Column, ...]:
        """The column that is new in this row."""
        before, self._before = self._before, row
        turn = self._next
        if before is not None:
            changed = changed_columns(row, before, self._columns)
            if changed and turn not in changed:
                turn = changed[0]
                self.resyncs += 1
        self._next = (turn + 1) % len(self._columns)
        return (self._columns[turn],)


class Held:
    """Values are carried forward: a change is new; a repeat is taken once a refresh cycle while others change."""

    def __init__(self, columns: tuple[Column, ...], refresh_s: float) -> None:
        self._columns = columns
        self._refresh_s = refresh_s
        self._before: list[str] | None = None
        self._taken_t = [-1e9] * len(columns)
        self._alive_t = -1e9
        self.resyncs = 0

    def new_in(self, t: float, row: list[str]) -> tuple[Column, ...]:
        """The columns that are new in this row."""
        before, self._before = self._before, row
        changed = range(len(self._columns)) if before is None else changed_columns(row, before, self._columns)
        if changed:
            self._alive_t = t
        due = t - self._refresh_s * 0.999
        alive = t - self._alive_t <= ALIVE_CYCLES * self._refresh_s
        fresh = set(changed)
        if alive:
            fresh.update(i for i, taken in enumerate(self._taken_t) if taken <= due)
        for i in fresh:
            self._taken_t[i] = t
        return tuple(self._columns[i] for i in sorted(fresh))


class Frozen:
    """Lets rows pass until every channel has repeated itself too long with the engine running; those are dropped.

    `refresh_s`: how long it takes until every channel was asked; a recorder that takes long is slow, not frozen.
    """

    def __init__(self, columns: tuple[Column, ...], refresh_s: float = 0.0) -> None:
        self._columns = columns
        self._frozen_s = max(FROZEN_S, FROZEN_CYCLES * refresh_s)
        running = [column for column in columns if column.signal == "rpm"]
        self._running = running or [column for column in columns if column.signal == "speed_kmh"]
        lively = any(column.signal in LIVELY for column in columns)
        self._watches = len(columns) >= LEAST_COLUMNS and lively and bool(self._running)
        self.stretches: list[tuple[int, float, float]] = []

    def sieve(self, rows: Iterable[Row]) -> Iterator[Row]:
        """The rows that may hold something new."""
        if not self._watches:
            yield from rows
            return
        before: Row | None = None
        waiting: list[Row] = []
        frozen = False
        for row in rows:
            if before is not None and self._same(row[2], before[2]):
                frozen = frozen or row[1] - before[1] > self._frozen_s or len(waiting) >= MOST_WAITING
                if frozen:
                    waiting.clear()
                else:
                    waiting.append(row)
                last_t = row[1]
                continue
            if frozen and before is not None:
                self.stretches.append((before[0], before[1], last_t))
            yield from waiting
            waiting, frozen, before = [], False, row
            yield row
        if frozen and before is not None:
            self.stretches.append((before[0], before[1], last_t))
        yield from waiting

    def _same(self, row: list[str], before: list[str]) -> bool:
        runs = any(cell(row, column).strip(" 0.,") for column in self._running)
        return runs and not changed_columns(row, before, self._columns)
