"""What leaves for a terminal: every character that would steer it is made visible, whoever prints and whatever it says.

`main` puts both outputs behind it, so that no command has to think of it.
"""

import io
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, TextIO

from coach.visible import in_line, json_text, visible


class VisibleOutput(io.TextIOBase):
    """A text output in front of another one; only line feeds steer. `rewrite` is for our own progress line."""

    def __init__(self, inner: TextIO) -> None:
        self.inner = inner

    def write(self, text: str, /) -> int:
        """All of it, made visible."""
        self.inner.write(visible(text))
        return len(text)

    def rewrite(self, text: str) -> None:
        """Write over the line that stands there."""
        self.inner.write("\r" + visible(text))
        self.inner.flush()

    def flush(self) -> None:
        """Hand on."""
        self.inner.flush()

    def fileno(self) -> int:
        """Of the output behind it."""
        return self.inner.fileno()

    def isatty(self) -> bool:
        """Of the output behind it."""
        return self.inner.isatty()

    def writable(self) -> bool:
        """It is."""
        return True

    @property
    def encoding(self) -> str:  # type: ignore[override]
        """Of the output behind it."""
        return self.inner.encoding

    @property
    def errors(self) -> str | None:  # type: ignore[override]
        """Of the output behind it."""
        return self.inner.errors


@contextmanager
def visible_output() -> Iterator[None]:
    """Standard output and standard error behind it, until the end of the block."""
    before = sys.stdout, sys.stderr
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="replace")  # a terminal of few letters shows the rest as a question mark
    sys.stdout, sys.stderr = VisibleOutput(sys.stdout), VisibleOutput(sys.stderr)
    try:
        yield
    finally:
        sys.stdout, sys.stderr = before


def rewrite(text: str) -> None:
    """Write over the line of standard error that stands there."""
    if isinstance(sys.stderr, VisibleOutput):
        sys.stderr.rewrite(text)


def say(text: str, *, aside: bool = False) -> None:
    """One line, whatever stands in it, at once; `aside`: on standard error."""
    print(in_line(text), file=sys.stderr if aside else sys.stdout, flush=True)


def print_json(document: Any) -> None:
    """A document as JSON on standard output; what is hidden in it stands as JSON's own escapes."""
    print(json_text(document))


def ask(question: str) -> str:
    """What somebody types behind a question. The question goes the way of everything printed: `input` has its own."""
    print(question, end="", flush=True)
    return input("")
