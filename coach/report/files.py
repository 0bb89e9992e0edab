"""Puts a report where the user wants it: whole or not at all, and never over something that is no report of ours."""

import errno
import os
import re
import shutil
from collections.abc import Iterable
from pathlib import Path

from coach.report.errors import CannotFile, UnknownForm

FORMS = {
    ".html": "html",
    ".htm": "html",
    ".md": "markdown",
    ".markdown": "markdown",
    ".json": "json",
    ".pdf": "pdf",
    ".txt": "text",
}
"""The forms by the end of a file's name."""
MARK = re.compile(rb'drive-cycle-coach report|"schema": "coach\.report"|made by +Drive-cycle coach \d')
"""By this in its beginning or end a report of ours is known again, whatever its form."""
LOOKED_AT = 1 << 16


def form_of(out: Path) -> str:
    """The form that a name asks for. UnknownForm lists those there are."""
    form = FORMS.get(out.suffix.lower())
    if form is None:
        raise UnknownForm(f"{out}: which form? the name ends in .html, .md, .json, .pdf or .txt")
    return form


def check_place(out: Path, sources: Iterable[Path], overwrite: bool) -> None:
    """CannotFile, before any work, when a report must not or cannot be put there. `sources`: what it is made from."""
    if out.is_dir():
        raise CannotFile(f"{out}: a folder; name a file in it")
    if not out.parent.is_dir():
        raise CannotFile(f"{out.parent}: no such folder; make it first, or name another")
    if out.exists() and not out.is_file():
        raise CannotFile(f"{out}: no ordinary file; name another")
    if out.exists() and any(source.exists() and out.samefile(source) for source in sources):
        raise CannotFile(f"{out}: the report is made from it; name another file")
    if out.is_file() and not overwrite and not is_ours(out):
        raise CannotFile(f"{out}: is there and is no report of this program; name another, or --overwrite replaces it")
    if not os.access(out.parent, os.W_OK | os.X_OK):
        raise CannotFile(f"{out.parent}: cannot be written to; name another folder")


def is_ours(path: Path) -> bool:
    """Whether a file is an earlier report, or empty."""
    try:
        size = path.stat().st_size
        with path.open("rb") as file:
            begin = file.read(LOOKED_AT)
            file.seek(max(0, size - LOOKED_AT))
            end = file.read(LOOKED_AT)
    except OSError:
        return False
    return size == 0 or any(MARK.search(part) for part in (begin, end))


def put(out: Path, content: bytes) -> None:
    """Write it beside and move it into its place at once. CannotFile leaves what was there."""
    target = out.resolve()  # a link stays a link
    part = target.with_name(f".{target.name[:100]}.{os.getpid()}.part")
    try:
        with part.open("xb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        if target.exists():
            shutil.copymode(target, part)
        part.replace(target)
    except OSError as error:
        raise CannotFile(f"{out}: {_why(error)}; nothing was changed there") from None
    finally:
        part.unlink(missing_ok=True)


def _why(error: OSError) -> str:
    full = error.errno in (errno.ENOSPC, getattr(errno, "EDQUOT", errno.ENOSPC))
    return "the disk is full" if full else f"cannot be written: {error.strerror or error}"
