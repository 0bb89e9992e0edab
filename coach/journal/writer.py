"""Writes a journal line by line: flushed at once, on disk within a second, so that a kill loses at most that second."""

import gzip
import os
import time
from collections.abc import Callable, Iterable
from pathlib import Path
from types import TracebackType
from typing import IO

from coach.car.arrivals import Arrival, Damaged
from coach.journal.errors import CannotWrite
from coach.journal.records import (
    Context,
    Footer,
    Header,
    encode_arrival,
    encode_context,
    encode_footer,
    encode_header,
)

SYNC_S = 1.0  # by design: after a kill at most the last second is gone


class JournalWriter:
    """A journal being written. `steady`: a conversion, written under another name and put in place at the end."""

    def __init__(
        self,
        path: Path,
        header: Header,
        context: Context,
        *,
        clock: Callable[[], float] = time.monotonic,
        overwrite: bool = False,
        steady: bool = False,
    ) -> None:
        self.path = path
        self._steady = steady
        self._clock = clock
        self._synced = clock()
        self._counts: dict[str, int] = {}
        self._t_end = 0.0
        self._closed = False
        self._part = path.with_name(path.name + ".part") if steady else path
        if path.is_dir():
            raise CannotWrite(f"{path}: a folder; name the file to write in it")
        if path.exists() and not path.is_file():
            raise CannotWrite(f"{path}: no ordinary file; name another")
        if path.exists() and not overwrite:
            raise CannotWrite(f"{path}: exists already; name another file, or say --overwrite")
        try:
            self._raw: IO[bytes] = self._part.open("wb")
        except OSError as error:
            raise CannotWrite(f"{path}: cannot be written: {error.strerror}") from None
        packed = path.suffix == ".gz"
        self._file: IO[bytes] | gzip.GzipFile = (
            gzip.GzipFile(fileobj=self._raw, mode="wb", mtime=0, filename="") if packed else self._raw
        )
        self._line(encode_header(header))
        self._line(encode_context(context))
        self._sync()

    @classmethod
    def behind(
        cls, path: Path, written: Iterable[Arrival], clock: Callable[[], float] = time.monotonic
    ) -> "JournalWriter":
        """Go on behind the last whole line of a plain journal that was cut short. CannotWrite when it cannot be.

        `written`: the arrivals it holds, so that its last line counts the whole file.
        """
        if path.suffix == ".gz":
            raise CannotWrite(f"{path}: a packed journal cannot be gone on with")
        writer = cls.__new__(cls)
        writer.path = writer._part = path
        writer._steady, writer._closed = False, False
        writer._clock, writer._synced = clock, clock()
        writer._counts, writer._t_end = {}, 0.0
        for arrival in written:
            if not isinstance(arrival, Damaged):
                writer._count(arrival)
        try:
            with path.open("rb") as raw:
                raw.seek(0, os.SEEK_END)
                torn = raw.tell() > 0 and (raw.seek(-1, os.SEEK_END), raw.read(1))[1] != b"\n"
            writer._raw = path.open("ab")
        except OSError as error:
            raise CannotWrite(f"{path}: cannot be written: {error.strerror}") from None
        writer._file = writer._raw
        if torn:
            writer._file.write(b"\n")
        return writer

    def __enter__(self) -> "JournalWriter":
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._closed:
            return
        if kind is not None and self._steady:
            self.discard()
        else:
            self.close("done" if kind is None else "interrupted")

    def write(self, arrival: Arrival) -> None:
        """One arrival. A line that could not be read where it comes from is written as lost: a copy is no cleaner."""
        self._count(arrival)
        self._line(encode_arrival(arrival))

    def _count(self, arrival: Arrival) -> None:
        kind = type(arrival).__name__.lower()
        self._counts[kind] = self._counts.get(kind, 0) + 1
        self._t_end = max(self._t_end, arrival.t)

    def close(self, reason: str) -> None:
        """Write the footer and end; the file is closed even where the footer cannot be written any more."""
        try:
            self._line(encode_footer(Footer(reason, round(self._t_end, 3), self._counts)))
            self._sync()
        finally:
            self._shut()
        if self._steady:
            self._part.replace(self.path)

    def discard(self) -> None:
        """Leave no half file of a conversion."""
        self._shut()
        self._part.unlink(missing_ok=True)

    def _shut(self) -> None:
        self._closed = True
        if self._file is not self._raw:
            self._file.close()
        self._raw.close()

    def _line(self, line: bytes) -> None:
        try:
            self._file.write(line + b"\n")
            if not self._steady:
                if self._file is self._raw:
                    self._raw.flush()
                if self._clock() - self._synced >= SYNC_S:
                    self._sync()
        except OSError as error:
            raise CannotWrite(f"{self.path}: cannot be written on: {error.strerror}; what is there is kept") from None

    def _sync(self) -> None:
        self._synced = self._clock()
        self._file.flush()
        self._raw.flush()
        os.fsync(self._raw.fileno())
