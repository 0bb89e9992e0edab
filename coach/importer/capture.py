"""Reads a CAN capture with python-can's readers: what is diagnostics becomes arrivals, the rest is counted.

A line the reader cannot take is told with its number and passed over; a damaged binary capture is read up to
the damage.
"""

import gc
import io
import logging
import re
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from itertools import chain
from operator import length_hint
from typing import Any

from coach.car.arrivals import Arrival, ClockStep
from coach.importer.clock import Clock
from coach.importer.columns import ImportProblem
from coach.importer.dialogue import DIAGNOSTIC, Dialogue, DialogueReport
from coach.importer.opening import Source, text_blocks
from coach.importer.text import encoding_of

FORMATS = {
    "candump": "candump log",
    "asc": "ASC",
    "blf": "BLF",
    "trc": "TRC",
    "mf4": "MF4",
    "frames": "table of CAN frames",
}
"""Open formats by our id, and what the trade calls them."""
KEPT = 20
MOST_BAD = 1000  # our judgement: so many unreadable lines, and more of them than frames, are no capture
HEADER_LINES = 64  # our judgement: what stands before the first frame of a text capture
EPOCH_S = 1e8  # our judgement: larger times count from 1970
_RELATIVE = re.compile(r"^\s*base\s+\w+\s+timestamps\s+relative", re.IGNORECASE | re.MULTILINE)
_TIME = re.compile(r"^\s*(\d{1,12}\.\d{1,12})(?=\s)")
NEEDED = "python-can is needed to read it: pip install 'python-can>=4.5,<5'"
NEEDED_MF4 = "asammdf is needed to read it: pip install 'asammdf>=8,<9'"


@dataclass(slots=True)
class CaptureReport:
    """What a capture held. `bad_lines`: number and reason of the first that could not be read, `bad_count` of all.

    `bad_number`: the line of the last one.
    """

    format: str
    frames: int = 0
    diagnostic: int = 0
    errors: int = 0
    other_bus: int = 0
    bus: str = ""
    bad_lines: list[tuple[int, str]] = field(default_factory=list)
    bad_count: int = 0
    bad_number: int = 0
    steps_back: int = 0
    duration_s: float = 0.0
    truncated: bool = False
    damaged: str = ""
    dialogue: DialogueReport = field(default_factory=DialogueReport)

    def bad(self, number: int, why: str) -> None:
        """Count a line that could not be read."""
        self.bad_count += 1
        self.bad_number = number
        if len(self.bad_lines) < KEPT:
            self.bad_lines.append((number, why))


class Capture:
    """An open capture: `arrivals()` gives its arrivals once, `report` fills meanwhile."""

    def __init__(self, source: Source, kind: str) -> None:
        self.source = source
        self.report = CaptureReport(kind)
        self._messages = _messages(source, kind, self.report)
        self._first: Any = next(self._messages, None)
        if self._first is None:
            raise ImportProblem(
                f"{source.name}: a CAN capture, {FORMATS[kind]}, without a single frame{_why_none(self.report)}"
            )
        began = self._first.timestamp
        self.began = datetime.fromtimestamp(began, UTC).isoformat() if EPOCH_S < began < 1e11 else None

    def arrivals(self) -> Iterator[Arrival]:
        """Every arrival in order of time. ImportProblem when the capture holds no diagnostics at all.

        Only frames of the bus on which the first diagnostic one came are followed; all others are counted.
        """
        report = self.report
        dialogue = Dialogue()
        report.dialogue = dialogue.report
        clock = Clock()
        clock.step(self._first.timestamp)
        out: list[Arrival] = []
        step, take = clock.step, dialogue.take
        bus: Any = None
        count = diagnostic = spoilt = 0
        for message in chain((self._first,), self._messages):  # one loop, since each frame passes here
            count += 1
            identifier = message.arbitration_id
            if identifier not in DIAGNOSTIC:
                report.errors += message.is_error_frame
                continue
            if message.is_error_frame or message.is_remote_frame or message.is_fd:
                report.errors += message.is_error_frame
                continue
            if message.is_extended_id is not (identifier > 0x7FF):
                continue
            if message.channel != bus or not diagnostic:
                if diagnostic:
                    report.other_bus += 1
                    continue
                bus = message.channel
                report.bus = "" if bus is None else str(bus)
            diagnostic += 1
            stepped = step(message.timestamp)
            if stepped is not None:
                report.steps_back += 1
                out.append(ClockStep(clock.t, stepped))
            if report.bad_count != spoilt:
                spoilt = report.bad_count
                dialogue.spoilt(f"line {report.bad_number}", out)
            take(clock.t, identifier, bytes(message.data), out)
            if len(out) == 1:  # the usual case, quickly
                yield out.pop()
            elif out:
                yield from out
                out.clear()
        report.frames, report.diagnostic = count, diagnostic
        if report.bad_count != spoilt or report.damaged or self.source.truncated:
            dialogue.spoilt(f"line {report.bad_number}" if report.bad_count != spoilt else "the damaged end", out)
            yield from out
        yield from dialogue.finish()
        report.duration_s = clock.t
        report.truncated = self.source.truncated
        self._judge_whole()

    def _judge_whole(self) -> None:
        report = self.report
        if not report.dialogue.requests and not report.dialogue.replies:
            other = f", {report.diagnostic} of other diagnostics" if report.diagnostic else ""
            raise ImportProblem(
                f"{self.source.name}: {report.frames} CAN frames{other}, and no OBD request or reply among them"
            )


def _why_none(report: CaptureReport) -> str:
    if report.damaged:
        return f": {report.damaged}"
    return f"; line {report.bad_lines[0][0]} cannot be read: {report.bad_lines[0][1]}" if report.bad_lines else ""


# ---------------------------------------------------------------- python-can's readers


def _messages(source: Source, kind: str, report: CaptureReport) -> Iterator[Any]:
    """Whatever python-can's reader for this format gives."""
    try:
        import can
    except ImportError:
        raise ImportProblem(f"{source.name}: a CAN capture, {FORMATS[kind]}. {NEEDED}") from None
    logging.getLogger("can").setLevel(logging.CRITICAL)  # what cannot be read is in our report
    source.rewind()
    if kind == "mf4":
        return _mf4(source, report)
    if kind == "blf":
        return _blf(can.BLFReader, source, report)
    readers: dict[str, Callable[[Any], Any]] = {
        "candump": can.CanutilsLogReader,
        "asc": can.ASCReader,
        "trc": can.TRCReader,
        "frames": can.CSVReader,
    }
    return _text(readers[kind], source, report)


def _binary(make: Callable[[], Any], report: CaptureReport) -> Iterator[Any]:
    """Up to the first damage: behind it nothing can be trusted."""
    try:
        yield from make()
    except (ImportProblem, OSError):
        raise
    except Exception as error:  # whatever a reader makes of damage
        report.damaged = f"damaged: {type(error).__name__} {error}".strip()


def _blf(make: Callable[[Any], Any], source: Source, report: CaptureReport) -> Iterator[Any]:
    """A BLF file says how long it is; the reader does not mind an end that is missing."""
    try:
        reader = make(source.stream)
    except (ImportProblem, OSError):
        raise
    except Exception as error:  # whatever the reader makes of a damaged head
        report.damaged = f"damaged: {type(error).__name__} {error}".strip()
        return
    stream = source.stream
    reader.stop = lambda: None  # it would close our file at its end
    yield from _binary(lambda: reader, report)
    stream.seek(0, 2)
    if not report.damaged and stream.tell() < reader.file_size:
        report.damaged = f"the file is shorter than it says, {stream.tell()} of {reader.file_size} bytes"


def _mf4(source: Source, report: CaptureReport) -> Iterator[Any]:
    try:
        import asammdf  # noqa: F401
    except ImportError:
        raise ImportProblem(f"{source.name}: a CAN capture, MF4. {NEEDED_MF4}") from None
    from can.io.mf4 import MF4Reader

    logging.getLogger("asammdf").setLevel(logging.CRITICAL)
    with _quiet_remains():
        yield from _binary(lambda: MF4Reader(source.stream), report)


@contextmanager
def _quiet_remains() -> Iterator[None]:
    """The library's half-made objects complain on standard error when a damaged file lets them go."""
    before, sys.unraisablehook = sys.unraisablehook, lambda _: None
    try:
        yield
    finally:
        gc.collect()
        sys.unraisablehook = before


class _Lines(io.TextIOBase):
    """The lines of a text capture for a reader: numbered, so that the one it stumbled over can be named."""

    def __init__(self, source: Source, relative: bool) -> None:
        self.header: list[str] = []
        self.in_header = True
        encoding = encoding_of(source.head(2))
        blocks = text_blocks(source.stream, encoding if encoding == "utf-16" else "latin-1")
        self._lines = self._given(_absolute(blocks) if relative else blocks)
        self._shown: Iterator[str] = self._lines
        self._before = 0
        self._block: Iterator[str] = iter(())

    def __iter__(self) -> Iterator[str]:  # type: ignore[override]
        return self._shown

    def __next__(self) -> str:  # type: ignore[override]
        return next(self._shown)

    @property
    def number(self) -> int:
        """The number of the line given last, the first being 1."""
        return self._before - length_hint(self._block)

    def _given(self, blocks: Iterable[list[str]]) -> Iterator[str]:
        for block in blocks:
            self._before += len(block)
            self._block = iter(block)
            while self.in_header and self.number < HEADER_LINES and length_hint(self._block):
                self.header.append(next(self._block))
                yield self.header[-1]
            yield from self._block

    def header_is_over(self) -> None:
        """The line given last was the first of a frame: no reader needs it to begin."""
        if self.in_header:
            self.in_header = False
            del self.header[-1:]

    def restart(self) -> None:
        """A new reader goes on behind the line the last one stumbled over; it is shown the header again."""
        if self.in_header:
            del self.header[-1:]
        self._shown = chain(tuple(self.header), self._lines)


def _is_relative(source: Source) -> bool:
    """Whether an ASC capture gives each time since the line before; python-can takes all as since the beginning."""
    return bool(_RELATIVE.search(source.head(4096).replace(b"\0", b"").decode("latin-1")))


def _absolute(blocks: Iterable[list[str]]) -> Iterator[list[str]]:
    """The lines of such a capture with the times added up."""
    total = 0.0
    for lines in blocks:
        for i, line in enumerate(lines):
            found = _TIME.match(line)
            if found is not None:
                total += float(found[1])
                lines[i] = f"{total:.6f}{line[found.end() :]}"
        yield lines


def _text(make: Callable[[Any], Any], source: Source, report: CaptureReport) -> Iterator[Any]:
    lines = _Lines(source, report.format == "asc" and _is_relative(source))
    while True:
        before = lines.number
        try:
            reader = iter(make(lines))
            first = next(reader, None)
            if first is None:
                return
            lines.header_is_over()
            yield first
            yield from reader
            return
        except (ImportProblem, OSError):
            raise
        except Exception as error:  # whatever a reader makes of a line
            if lines.number == before:
                report.damaged = f"its header cannot be read: {error}"
                return
            report.bad(lines.number, f"{type(error).__name__}: {error}"[:80])
            lines.restart()
        if report.bad_count > MOST_BAD and report.bad_count > lines.number / 2:
            raise ImportProblem(f"{source.name}: {report.bad_count} lines cannot be read, more than can; not read on")
