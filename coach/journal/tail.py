"""Looks at the end of a journal alone: whether its last line is there. A long drive need not be read for that."""

import os
from pathlib import Path

from coach.journal.records import BadLine, Footer, decode_line

TAIL_BYTES = 1 << 16  # a footer holds a reason and ten counts


def has_last_line(path: Path) -> bool:
    """Whether the last line of a plain journal is a footer. OSError when it cannot be read."""
    with path.open("rb") as raw:
        raw.seek(0, os.SEEK_END)
        raw.seek(max(0, raw.tell() - TAIL_BYTES))
        lines = raw.read(TAIL_BYTES).rstrip().rsplit(b"\n", 1)
    try:
        return isinstance(decode_line(lines[-1]), Footer)
    except BadLine:
        return False


def is_packed(path: Path) -> bool:
    """Whether it is gzip, by its first bytes. OSError when it cannot be read."""
    with path.open("rb") as raw:
        return raw.read(2) == b"\x1f\x8b"
