"""Opens a table of text: gzip or plain, its encoding, its delimiter, its header. One pass, bounded memory."""

import codecs
import csv
import gzip
import io
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import chain, islice
from pathlib import Path
from typing import BinaryIO

from coach.importer.columns import ImportProblem, guess
from coach.importer.times import is_time
from coach.ordinary import NoOrdinaryFile, check_ordinary

MOST_BYTES = 4 << 30  # our judgement: no drive fills four gigabytes of text
LOOK_BYTES = 1 << 16  # the encoding is judged from the beginning
TICK_BYTES = 1 << 18
LONGEST_LINE = 1 << 17  # letters; our judgement: as many columns as a table may have, of sixty letters each
MOST_COLUMNS = 2000  # our judgement: more are no table of a drive
HEADER_WITHIN = 30  # our judgement: notes before the header are no longer than this
_WIDE = ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"))


@dataclass(slots=True)
class Text:
    """An open table of text. `notes` are lines before the header; `long`: each row fills one cell alone."""

    header: list[str]
    rows: Iterator[list[str]]
    first_row: int
    delimiter: str
    encoding: str
    notes: int
    state: "State"
    long: bool = False


@dataclass(slots=True)
class State:
    """What turns out only while reading."""

    truncated: bool = False


def open_text(path: Path, named: frozenset[str] = frozenset(), tick: Callable[[int, int], None] | None = None) -> Text:
    """Open a table; ImportProblem for anything that is none.

    `named`: headers the user names; `tick` is told bytes read and bytes in all.
    """
    name = str(path)
    state = State()
    try:
        check_ordinary(path)
        encoding = _encoding(path)
        lines = _lines(name, path, encoding, state, tick)
        head = list(islice(lines, HEADER_WITHIN))
    except NoOrdinaryFile as error:
        raise ImportProblem(str(error)) from None
    except OSError as error:
        raise ImportProblem(f"{name}: cannot be read: {error.strerror or error}") from None
    _check_columns(name, head)
    at = _header_at(head, named)
    if not head:
        raise ImportProblem(f"{name}: the file is empty; a table begins with a row of column names")
    delimiter = max(",;\t|", key=head[at].count)
    rows = _parse(name, chain(head[at:], lines), delimiter)
    return Text(next(rows, []), rows, at + 2, delimiter, encoding, at, state)


def _check_columns(name: str, head: list[str]) -> None:
    """ImportProblem for more columns than any table of a drive has, before every one is looked at."""
    most = max((line.count(sign) + 1 for line in head for sign in ",;\t|"), default=0)
    if most > MOST_COLUMNS:
        raise ImportProblem(f"{name}: more than {MOST_COLUMNS} columns, as no table of a drive has; not read")


def _header_at(head: list[str], named: frozenset[str]) -> int:
    """The first line that names a time and a signal; else the first that has several cells; else the first."""
    several = 0
    for at, line in enumerate(head):
        cells = cells_of(line)
        if len(cells) < 2:
            continue
        several = several or at
        times = {i for i, cell in enumerate(cells) if is_time(cell) or cell in named}
        signals = {i for i, cell in enumerate(cells) if guess(0, cell) is not None or cell in named}
        if times and signals and len(times | signals) > 1:
            return at
    return several if several and len(cells_of(head[0])) < 2 else 0


def cells_of(line: str) -> list[str]:
    """The cells of one line, by the delimiter it has most of."""
    delimiter = max(",;\t|", key=line.count)
    try:
        return [cell.strip() for cell in next(csv.reader([line], delimiter=delimiter), [])]
    except csv.Error:
        return []


def _unpacked(raw: BinaryIO) -> BinaryIO:
    packed = raw.read(2) == b"\x1f\x8b"
    raw.seek(0)
    return gzip.GzipFile(fileobj=raw) if packed else raw  # type: ignore[return-value]


def _encoding(path: Path) -> str:
    """By its mark, else UTF-8, else the Western code page that spreadsheets save in."""
    with path.open("rb") as raw:
        try:
            begin = _unpacked(raw).read(LOOK_BYTES)
        except (EOFError, zlib.error, gzip.BadGzipFile):
            return "utf-8"
    return encoding_of(begin)


def encoding_of(begin: bytes) -> str:
    """The encoding of a text by its first bytes."""
    for mark, encoding in _WIDE:
        if begin.startswith(mark):
            return encoding
    try:
        codecs.getincrementaldecoder("utf-8")().decode(begin)
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8"


def _lines(
    name: str, path: Path, encoding: str, state: State, tick: Callable[[int, int], None] | None
) -> Iterator[str]:
    """Lines of text, unpacked when gzip; a damaged end is told, what came before is used."""
    total, told, size = 0, 0, path.stat().st_size
    with path.open("rb") as raw:
        inner = _unpacked(raw)
        packed = inner is not raw
        stream = io.TextIOWrapper(inner, encoding=encoding, newline="")
        try:
            while line := stream.readline(LONGEST_LINE):
                total += len(line)
                if tick is not None and total - told > TICK_BYTES:
                    told = total
                    tick(raw.tell(), size)
                if "\0" in line:
                    raise ImportProblem(f"{name}: binary data, not a table")
                if total > MOST_BYTES or (packed and total > 16 << 20 and total > 100 * max(1, raw.tell())):
                    raise ImportProblem(f"{name}: unpacks to far more than a drive holds; not read on")
                yield line
        except (EOFError, zlib.error, gzip.BadGzipFile):
            state.truncated = True
        except UnicodeError:
            raise ImportProblem(f"{name}: not text; save the table as UTF-8 and try again") from None


def _parse(name: str, lines: Iterator[str], delimiter: str) -> Iterator[list[str]]:
    try:
        for row in csv.reader(lines, delimiter=delimiter):
            if row:
                yield row[:MOST_COLUMNS]
    except csv.Error as error:
        raise ImportProblem(f"{name}: not a table: {error}") from None
