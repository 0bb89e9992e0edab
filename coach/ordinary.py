"""What may be opened at all: ordinary files. A pipe nobody writes to, a device without an end, would be read for ever.

Every refusal is one line that names the file and says what it is. It reads; it never writes.
"""

import stat
from pathlib import Path

SMALL_BYTES = 4 << 20  # our judgement: the longest profile, rule, mapping or record of ours is a hundredth of it
LONGEST_NAME = 400  # letters of a name that a message repeats; our judgement: two lines of a wide terminal
_KINDS = (
    (stat.S_ISDIR, "a folder; name a file in it"),
    (stat.S_ISFIFO, "a pipe, not a file; save what it gives first"),
    (stat.S_ISCHR, "a device, not a file"),
    (stat.S_ISBLK, "a device, not a file"),
    (stat.S_ISSOCK, "a socket, not a file"),
)


class NoOrdinaryFile(ValueError):
    """There is no file of that name, or it is none that can be read to its end; one line."""


def check_ordinary(path: Path, name: str = "") -> None:
    """NoOrdinaryFile when it is not there, or not a file. `name`: what the file is called in the message."""
    name = name or str(path)
    name = name if len(name) <= LONGEST_NAME else f"{name[:LONGEST_NAME]}…"
    try:
        mode = path.stat().st_mode
    except FileNotFoundError:
        raise NoOrdinaryFile(f"{name}: no such file") from None
    except (OSError, ValueError) as error:  # a name too long, a NUL in it, a folder that may not be looked into
        raise NoOrdinaryFile(f"{name}: cannot be opened: {getattr(error, 'strerror', None) or error}") from None
    if not stat.S_ISREG(mode):
        raise NoOrdinaryFile(f"{name}: {next((words for is_it, words in _KINDS if is_it(mode)), 'not a file')}")


def is_ordinary(path: Path) -> bool:
    """Whether it is a file that can be read to its end."""
    try:
        check_ordinary(path)
    except NoOrdinaryFile:
        return False
    return True


def is_there(path: Path) -> bool:
    """Whether something has this name, whatever it is; what cannot be looked at is not there."""
    try:
        return path.exists()
    except (OSError, ValueError):
        return False


def small_bytes(path: Path) -> bytes:
    """The whole of a small file. NoOrdinaryFile when it is none, too large, or cannot be read."""
    check_ordinary(path)
    try:
        with path.open("rb") as file:
            read = file.read(SMALL_BYTES + 1)
    except OSError as error:
        raise NoOrdinaryFile(f"{path}: cannot be read: {error.strerror}") from None
    if len(read) > SMALL_BYTES:
        raise NoOrdinaryFile(f"{path}: larger than {SMALL_BYTES >> 20} MB, as no such file is; not read")
    return read


def small_text(path: Path) -> str:
    """The same as text in UTF-8; a mark of the encoding at its beginning is left out."""
    try:
        return small_bytes(path).decode("utf-8-sig")
    except UnicodeDecodeError:
        raise NoOrdinaryFile(f"{path}: not text in UTF-8") from None


def expanded(named: str) -> Path:
    """A path as somebody wrote it, "~" being their home. NoOrdinaryFile when nobody has such a home."""
    try:
        return Path(named).expanduser()
    except RuntimeError:
        raise NoOrdinaryFile(f"{named}: no such home folder") from None
