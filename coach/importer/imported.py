"""Opens recordings of other programs: tables, CAN captures, adapter transcripts, Parquet. No journal is read here."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TypeAlias

from coach.car.arrivals import Arrival
from coach.importer.capture import FORMATS, Capture, CaptureReport
from coach.importer.columns import ImportProblem
from coach.importer.opening import Source, Tick
from coach.importer.recognise import LOOK_BYTES, Kind, recognise
from coach.importer.table import Table, TableReport, open_table
from coach.importer.transcript import Transcript, TranscriptReport

Report: TypeAlias = TableReport | CaptureReport | TranscriptReport

WHAT = "a journal, a table of measured values, a CAN capture, or an adapter's transcript"


@dataclass(slots=True)
class Imported:
    """A recording of another program. `began` in ISO 8601, `protocol` and `can`: for the journal's header, or none."""

    kind: Kind
    source: Source
    inner: Table | Capture | Transcript
    began: str | None = None
    protocol: str | None = None
    can: bool | None = None

    @property
    def report(self) -> Report:
        """What was met so far."""
        return self.inner.report

    def arrivals(self) -> Iterator[Arrival]:
        """Every arrival in order, once. ImportProblem when nothing usable was in it."""
        try:
            yield from self.inner.arrivals()
        finally:
            self.close()

    def close(self) -> None:
        """Let go of the file."""
        self.source.close()


def kind_of(path: Path, name: str | None = None) -> Kind:
    """What a file is, by its content. ImportProblem when it cannot be opened."""
    source = Source(name or str(path), path)
    try:
        return recognise(source.head(LOOK_BYTES))
    finally:
        source.close()


def open_import(
    path: Path,
    mapping: Mapping[str, str] | None = None,
    protocol: str | None = None,
    *,
    name: str | None = None,
    tick: Tick | None = None,
) -> Imported:
    """Open a recording; ImportProblem, one clear line, when nothing in it is usable.

    `mapping` as for tables, `protocol` for a transcript, `name` how the file is called in messages, `tick` is told
    bytes read and bytes in all.
    """
    source = Source(name or str(path), path, tick)
    try:
        return _opened(source, path, mapping or {}, protocol)
    except BaseException:
        source.close()
        raise


def _opened(source: Source, path: Path, mapping: Mapping[str, str], protocol: str | None) -> Imported:
    begin = source.head(LOOK_BYTES)
    kind = recognise(begin)
    if mapping and kind == "none":
        kind = "table"
    if protocol is not None and kind in ("none", "table"):
        kind = "transcript"
    if kind in FORMATS:
        capture = Capture(source, kind)
        return Imported(kind, source, capture, capture.began, "ISO 15765-4, CAN", True)
    if kind == "transcript":
        transcript = Transcript(source, protocol)
        found = transcript.inferred
        return Imported(kind, source, transcript, transcript.began, found.name, found.can)
    if kind == "parquet":
        from coach.importer.parquet import open_parquet

        table = open_parquet(source, mapping)
        return Imported(kind, source, table, table.began)
    if kind == "table":
        source.close()  # a table of text opens its file itself
        table = open_table(path, mapping, name=source.name, tick=source.tick)
        return Imported(kind, source, table, table.began)
    raise ImportProblem(f"{source.name}: {_nothing(kind, begin)}")


def _nothing(kind: Kind, begin: bytes) -> str:
    if kind == "journal":
        return "a journal already; coach review reads it"
    if kind == "empty":
        return f"{'the file is empty' if not begin else 'nothing but blanks'}; {WHAT} is needed"
    if kind == "binary":
        return f"binary data of a kind not known here, not {WHAT}"
    return f"text, but not {WHAT}"
