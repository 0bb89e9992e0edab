"""Long lines on a terminal: broken between words, the rest under the words they go on from."""

import re
import shutil
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from textwrap import wrap
from typing import Any, TextIO

NARROW = 40  # columns; our judgement: below it a hanging rest has no room left
HEAD = re.compile(r" *[\d:]+ [> ] (?=\S)| *\S(?:\S| (?! ))* {2,}(?=\S)| *\d+\. ")
"""What a line may begin with: a time, a name in a column, a number in a list."""


def folded(line: str, columns: int) -> str:
    """One line as lines of at most `columns`; paths and addresses stay whole."""
    if len(line) <= columns or "\r" in line:
        return line
    head = HEAD.match(line)
    indent = len(line) - len(line.lstrip(" "))
    hang = head.end() if head and head.end() <= columns // 2 else indent + 2
    rest = " " * (hang if columns >= NARROW else 0)
    return "\n".join(wrap(line, columns, subsequent_indent=rest, break_long_words=False, break_on_hyphens=False))


class Folding:
    """A stream to a terminal whose lines are folded to its width; in all else the stream itself."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream

    def write(self, text: str) -> int:
        """The text, its long lines folded."""
        columns = shutil.get_terminal_size().columns
        self._stream.write("\n".join(folded(line, columns) for line in text.split("\n")))
        return len(text)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)


@contextmanager
def fold_lines() -> Iterator[None]:
    """Fold what goes to a terminal; pipes and files get every line whole."""
    out, err = sys.stdout, sys.stderr
    sys.stdout, sys.stderr = (Folding(one) if one.isatty() else one for one in (out, err))
    try:
        yield
    finally:
        sys.stdout, sys.stderr = out, err
