"""Reads a journal in bounded memory, whatever became of it: torn, cut short, damaged in the middle, compressed."""

import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import chain
from pathlib import Path
from typing import IO

from coach.car.arrivals import Answer, Arrival, Damaged, Mark
from coach.journal.errors import JournalError, JournalRefused, NotAJournal
from coach.journal.records import (
    VERSION,
    BadLine,
    BadValue,
    Context,
    Footer,
    Header,
    UnknownRecord,
    decode_context,
    decode_header,
    decode_line,
)
from coach.moments import is_moment
from coach.ordinary import NoOrdinaryFile, check_ordinary

CHUNK = 1 << 18
LONGEST_LINE = 1 << 20  # our judgement: a record of over a megabyte is no record
BOMB_BYTES = 16 << 20  # our judgement: below this a wild ratio does no harm
BOMB_RATIO = 100  # our judgement: journals of real drives compress about twentyfold
BAD_KEPT = 100
TOO_LONG = "line of over a megabyte"
MOST_IN_A_ROW = 10  # our judgement: a file of nothing else would be judged anew at every line
LONGEST_ADDRESS = 16  # letters; our judgement: the longest there is has eight
MOST_UNITS = 64  # our judgement: a heavy lorry has a dozen that speak of emissions
MOST_NOTES_BYTES, NOTE_BYTES = 8 << 20, 200
"""Our judgement: forty thousand empty notes, each of so many bytes in the memory, are no drive."""


@dataclass(slots=True)
class ReadReport:
    """What reading met. `bad_lines`: number and reason, the first hundred; `bad_count` all of them."""

    lines: int = 0
    arrivals: int = 0
    bad_lines: list[tuple[int, str]] = field(default_factory=list)
    bad_count: int = 0
    unknown_records: int = 0
    torn_last_line: bool = False
    truncated_gzip: bool = False
    context_mistakes: tuple[str, ...] = ()
    footer: Footer | None = None
    footer_disagrees: str | None = None

    @property
    def cut_short(self) -> bool:
        """No footer: the recording ended before its writer did."""
        return self.footer is None

    def bad(self, number: int, why: str) -> None:
        """Count a line that is no record."""
        self.bad_count += 1
        if len(self.bad_lines) < BAD_KEPT:
            self.bad_lines.append((number, why))


class JournalReader:
    """An open journal: header and context are read, `arrivals()` gives the rest once."""

    def __init__(self, name: str, raw: IO[bytes]) -> None:
        self.name = name
        self.report = ReadReport()
        self._raw = raw
        self._notes_bytes = 0
        self._units: set[str] = set()
        self._lines = self._numbered()
        self._last_t, self._in_damage = 0.0, 0
        self.header = self._read_header()
        self._held: list[tuple[int, bytes | None]] = []
        self.context = self._read_context()

    def arrivals(self) -> Iterator[Arrival]:
        """Every arrival in the order of the file; afterwards `report` is complete and the file closed.

        A line that cannot be read is one too, dated like the last arrival that could: what it held is unknown. Of many
        one behind the other the first few are. A last line that was being written when the recording ended is none.
        """
        try:
            for number, line in chain(self._held, self._lines):
                arrival = self._take(number, line)
                if arrival is not None:
                    yield arrival
        finally:
            self._close()

    def _take(self, number: int, line: bytes | None) -> Arrival | None:
        """One line as an arrival; what is none goes into the report. None stands for a line too long to hold."""
        try:
            if line is None:
                raise BadLine(TOO_LONG)
            record = decode_line(line)
        except BadLine as why:
            self.report.bad(number, str(why))
            torn = self.report.torn_last_line and number == self.report.lines
            return None if torn or isinstance(why, BadValue) else self._damaged(number)
        if isinstance(record, Footer):
            self.report.footer = record
            return None
        if isinstance(record, UnknownRecord):
            self.report.unknown_records += 1
            return None
        if isinstance(record, Mark):
            self._weigh(record)
        elif isinstance(record, Answer) and record.ecu not in self._units and (odd := self._met(record.ecu)):
            self.report.bad(number, odd)
            return self._damaged(number)
        self.report.arrivals += 1
        self._last_t, self._in_damage = record.t, 0
        return record

    def _damaged(self, number: int) -> Damaged | None:
        """The first of such lines one behind the other: the rest makes nothing more uncertain."""
        self._in_damage += 1
        return Damaged(self._last_t, number) if self._in_damage <= MOST_IN_A_ROW else None

    def _met(self, address: str) -> str:
        """Note a control unit heard for the first time; why not, where it is no address of one."""
        if not address.isalnum() or len(address) > LONGEST_ADDRESS:
            return f"{address[:40]!r} is no address of a control unit"
        if len(self._units) >= MOST_UNITS:
            raise JournalRefused(f"{self.name}: more control units answer in it than any car has; not read on")
        self._units.add(address)
        return ""

    def _weigh(self, note: Mark) -> None:
        self._notes_bytes += NOTE_BYTES + len(note.text)
        if self._notes_bytes > MOST_NOTES_BYTES:
            raise JournalRefused(f"{self.name}: more notes than anybody sets into a drive; not read on")

    def close(self) -> None:
        """Close the file without reading on."""
        self._raw.close()

    def _close(self) -> None:
        self._raw.close()
        footer, report = self.report.footer, self.report
        if footer is not None and footer.counts and sum(footer.counts.values()) != report.arrivals:
            said = sum(footer.counts.values())
            report.footer_disagrees = f"the footer says {said} records, {report.arrivals} were read"
        if report.torn_last_line and report.bad_lines and report.bad_lines[-1][0] == report.lines:
            report.bad_lines.pop()
            report.bad_count -= 1

    def _read_header(self) -> Header:
        first = next(self._lines, None)
        if first is None:
            raise NotAJournal(f"{self.name}: the file is empty; a journal begins with a header line")
        line = first[1] or b""
        try:
            header = decode_header(line.removeprefix(b"\xef\xbb\xbf"))
        except BadLine:
            raise NotAJournal(f"{self.name}: {_what_it_looks_like(line)}") from None
        if header.journal != VERSION:
            raise NotAJournal(
                f"{self.name}: journal format {header.journal}, this program reads {VERSION}; use a newer program"
            )
        if header.began and not is_moment(header.began):
            raise NotAJournal(
                f"{self.name}: the header's began, {header.began!r}, is no moment in ISO 8601 a car has seen; mend it"
            )
        return header

    def _read_context(self) -> Context | None:
        second = next(self._lines, None)
        if second is None:
            return None
        try:
            context, self.report.context_mistakes = decode_context(second[1] or b"")
            return context
        except BadLine:
            self._held.append(second)
            return None

    def _numbered(self) -> Iterator[tuple[int, bytes | None]]:
        """Lines with their numbers; none for a line too long to hold."""
        report, tail, skipping = self.report, b"", False
        for chunk in self._chunks():
            parts = (tail + chunk).split(b"\n")
            tail = parts.pop()
            if skipping and not parts:
                tail = b""
            for part in parts:
                report.lines += 1
                if skipping:
                    skipping = False
                    yield report.lines, None
                elif part.strip():
                    yield report.lines, part
            if len(tail) > LONGEST_LINE:
                if not report.lines:
                    raise NotAJournal(f"{self.name}: {_what_it_looks_like(tail)}")
                tail, skipping = b"", True
        if skipping:
            report.lines += 1
            report.torn_last_line = True
            yield report.lines, None
        elif tail.strip():
            report.lines += 1
            report.torn_last_line = not _whole(tail)
            yield report.lines, tail

    def _chunks(self) -> Iterator[bytes]:
        """The file's bytes, unpacked; a compressed file that ends early or is damaged gives what can be read."""
        start = self._raw.read(CHUNK)
        if start[:2] != b"\x1f\x8b":
            while start:
                yield start
                start = self._raw.read(CHUNK)
            return
        came_in, came_out, inside = 0, 0, True
        unpacker = zlib.decompressobj(31)
        packed = start
        while packed:
            came_in += len(packed)
            while packed:
                inside = True
                try:
                    chunk = unpacker.decompress(packed, CHUNK)
                except zlib.error:
                    self.report.truncated_gzip = True
                    return
                came_out += len(chunk)
                if came_out > BOMB_BYTES and came_out > BOMB_RATIO * came_in:
                    raise JournalRefused(
                        f"{self.name}: unpacks to more than {BOMB_RATIO} times its size, as no journal does; not read"
                    )
                if chunk:
                    yield chunk
                packed = unpacker.unconsumed_tail
                if unpacker.eof:  # one member ends; after a crash another may follow
                    packed, unpacker, inside = unpacker.unused_data, zlib.decompressobj(31), False
            packed = self._raw.read(CHUNK)
        self.report.truncated_gzip = inside


def _whole(tail: bytes) -> bool:
    try:
        decode_line(tail)
    except BadLine:
        return False
    return True


def _what_it_looks_like(line: bytes) -> str:
    if b"\0" in line[:4096]:
        return "binary data, not a journal"
    text = line[:200].decode("utf-8", "replace").strip()
    if text.startswith("{"):
        return "the first line is no header of a journal"
    if any(mark in text for mark in ",;\t"):
        return "not a journal, it looks like a table; coach import FILE -o OUT makes a journal of it"
    return "not a journal; its first line is no header"


def open_journal(path: Path) -> JournalReader:
    """Open a journal, plain or gzip. JournalError, one clear line, when it cannot be opened or is none."""
    try:
        check_ordinary(path)
        raw = path.open("rb")
    except NoOrdinaryFile as error:
        raise NotAJournal(str(error)) from None
    except OSError as error:
        raise JournalError(f"{path}: cannot be opened: {error.strerror}") from None
    try:
        return JournalReader(str(path), raw)
    except JournalError:
        raw.close()
        raise
