"""Opens what the user names: plain or gzip, a file or a pipe. Bounded memory; how far it is can be asked meanwhile."""

import codecs
import gzip
import io
import shutil
import tempfile
import zlib
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import BinaryIO

from coach.importer.columns import ImportProblem
from coach.ordinary import NoOrdinaryFile, check_ordinary

BOMB_BYTES = 16 << 20  # our judgement: below this a wild ratio does no harm
BOMB_RATIO = 100  # our judgement: captures and tables compress ten- to thirtyfold
MOST_PIPED_BYTES = 4 << 30  # our judgement: no drive fills four gigabytes
LONGEST_LINE = 1 << 16  # our judgement: no line of a capture or a transcript is longer
CHUNK = 1 << 18
UNPACKING = (EOFError, zlib.error, gzip.BadGzipFile)


Tick = Callable[[int, int], None]


class Source:
    """An open file: `stream` gives its bytes, unpacked, in bounded memory."""

    def __init__(self, name: str, path: Path, tick: Tick | None = None) -> None:
        """`tick` is called with the bytes read so far and the bytes in all, every now and then."""
        self.name = name
        self.truncated = False
        self.tick = tick
        self._raw = _opened(name, path)
        self._size = max(1, path.stat().st_size)
        self._packed = self._raw.read(2) == b"\x1f\x8b"
        self._raw.seek(0)
        inner = gzip.GzipFile(fileobj=self._raw) if self._packed else self._raw
        self.stream: BinaryIO = io.BufferedReader(_Bounded(self, inner), CHUNK)

    def read_bytes(self) -> tuple[int, int]:
        """Bytes read from the file, and its size."""
        return (self._size if self._raw.closed else self._raw.tell()), self._size

    @property
    def packed(self) -> bool:
        """Whether it is gzip."""
        return self._packed

    def head(self, count: int) -> bytes:
        """The first bytes, unpacked; the stream begins at the start again afterwards."""
        begin = self.stream.read(count)
        self.rewind()
        return begin

    def rewind(self) -> None:
        """Begin anew."""
        self.truncated = False
        self.stream.seek(0)

    def close(self) -> None:
        """Let go of the file; once is enough, twice does no harm."""
        self.stream.close()
        self._raw.close()


class _Bounded(io.RawIOBase):
    """The unpacked bytes; a damaged end is noted, a decompression bomb refused."""

    def __init__(self, source: Source, inner: io.BufferedReader | gzip.GzipFile) -> None:
        self._source, self._inner = source, inner
        self._total = 0

    def readable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return True

    def seek(self, offset: int, whence: int = 0, /) -> int:
        self._total = 0
        return self._inner.seek(offset, whence)

    def tell(self) -> int:
        return self._inner.tell()

    def readinto(self, buffer: memoryview, /) -> int:  # type: ignore[override]
        source = self._source
        try:
            got = self._inner.read1(len(buffer))  # what a damaged end leaves is given before the damage is met
        except UNPACKING:
            source.truncated = True
            return 0
        self._total += len(got)
        if source.tick is not None:
            source.tick(*source.read_bytes())
        if source.packed and self._total > BOMB_BYTES and self._total > BOMB_RATIO * source.read_bytes()[0]:
            raise ImportProblem(f"{source.name}: unpacks to more than {BOMB_RATIO} times its size; not read on")
        buffer[: len(got)] = got
        return len(got)


def _opened(name: str, path: Path) -> io.BufferedReader:
    try:
        check_ordinary(path, name)
        return path.open("rb")
    except NoOrdinaryFile as error:
        raise ImportProblem(str(error)) from None
    except OSError as error:
        raise ImportProblem(f"{name}: cannot be read: {error.strerror or error}") from None


class Spooled:
    """A pipe's bytes in a temporary file, gone at the end of the block."""

    def __init__(self, pipe: BinaryIO) -> None:
        self._pipe = pipe
        self._folder = tempfile.TemporaryDirectory(prefix="coach-")

    def __enter__(self) -> Path:
        path = Path(self._folder.name) / "standard input"
        try:
            with path.open("wb") as file:
                total = 0
                while chunk := self._pipe.read(CHUNK):
                    if not total:
                        _check_begin(chunk)
                    total += len(chunk)
                    if total > MOST_PIPED_BYTES:
                        raise ImportProblem("standard input: more than a drive holds; not read on")
                    file.write(chunk)
        except OSError as error:
            self._folder.cleanup()
            raise ImportProblem(f"standard input: cannot be kept: {error.strerror or error}") from None
        except BaseException:
            self._folder.cleanup()
            raise
        return path

    def __exit__(self, *_: object) -> None:
        shutil.rmtree(self._folder.name, ignore_errors=True)
        self._folder.cleanup()


def _check_begin(chunk: bytes) -> None:
    """ImportProblem before gigabytes are kept of what is nothing we can read."""
    from coach.importer.recognise import LOOK_BYTES, recognise

    begin = chunk[:LOOK_BYTES]
    if begin[:2] == b"\x1f\x8b":
        with suppress(zlib.error):
            begin = zlib.decompressobj(31).decompress(chunk, LOOK_BYTES)
    if recognise(begin) == "binary":
        raise ImportProblem("standard input: binary data of a kind not known here")


def text_blocks(stream: BinaryIO, encoding: str = "latin-1") -> Iterator[list[str]]:
    """Lines without their ends, however they end, many at a time; one that is too long comes in pieces."""
    decode = codecs.getincrementaldecoder(encoding)("replace").decode
    tail = ""
    while chunk := stream.read(CHUNK):
        text = tail + decode(chunk)
        held = "\r" if text.endswith("\r") else ""  # the other half of an end may still come
        lines = text.removesuffix(held).replace("\r\n", "\n").replace("\r", "\n").split("\n")
        tail = lines.pop() + held
        while len(tail) > LONGEST_LINE:
            lines.append(tail[:LONGEST_LINE])
            tail = tail[LONGEST_LINE:]
        yield lines
    tail += decode(b"", True)
    if tail:
        yield tail.rstrip("\r").split("\r")


def text_lines(stream: BinaryIO, encoding: str = "latin-1") -> Iterator[str]:
    """The same lines one by one."""
    for lines in text_blocks(stream, encoding):
        yield from lines
