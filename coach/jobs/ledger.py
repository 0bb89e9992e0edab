"""The ledger of a job: what became of each of its files since it was closed, told by its seal.

whole        as it was when it was closed with its last line
cut_short    as it was when it was given up without a last line
changed      something has changed it since: what it says now is no evidence
missing      it is not there, although something was written
unreadable   it is there and cannot be read, or is no journal
empty        its name was reserved and nothing was ever written
unsealed     it is being written, or was left a short while ago and may be gone on with
"""

from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Literal

from coach.jobs.records import Brought, Entry, Sealed
from coach.journal.errors import JournalError
from coach.journal.reader import open_journal

FileState = Literal["whole", "cut_short", "changed", "missing", "unreadable", "empty", "unsealed"]
LOST: tuple[FileState, ...] = ("missing", "changed", "unreadable")
"""States in which a file is evidence that is missing."""
CHUNK_BYTES = 1 << 20


@dataclass(frozen=True, slots=True)
class Ledgered:
    """One file of the job and its state now. `why`: what keeps it from being read, empty in any other state."""

    entry: Entry
    path: Path
    state: FileState
    why: str = ""

    @property
    def lost(self) -> bool:
        """It is missing evidence: nothing may rest on what did not come in it."""
        return self.state in LOST

    @property
    def brought(self) -> Brought | None:
        """What it brought by its seal; none where it was never sealed."""
        return self.entry.sealed.brought if self.entry.sealed is not None else None


def ledgered(entry: Entry, path: Path) -> Ledgered:
    """The state of one file."""
    try:
        if leads_out(path):
            return Ledgered(entry, path, "unreadable", f"{entry.file}: a link out of the job's folder; not followed")
        if not path.is_file():
            return Ledgered(entry, path, "empty" if entry.empty and entry.sealed is None else "missing")
        if entry.sealed is None:
            open_journal(path).close()
            return Ledgered(entry, path, "unsealed")
        same = _is_same(entry.sealed, path)
    except JournalError as error:
        return Ledgered(entry, path, "unreadable", str(error))
    except OSError as error:
        return Ledgered(entry, path, "unreadable", f"{path}: cannot be read: {error.strerror}")
    if not same:
        return Ledgered(entry, path, "changed")
    return Ledgered(entry, path, "whole" if entry.sealed.whole else "cut_short")


def leads_out(path: Path) -> bool:
    """Whether it is a link to somewhere else than its own folder."""
    return path.is_symlink() and path.resolve().parent != path.parent.resolve()


def _is_same(seal: Sealed, path: Path) -> bool:
    """The size tells most changes at once; the hash tells the rest."""
    return path.stat().st_size == seal.size_bytes and fingerprint(path) == seal.sha256


def fingerprint(path: Path) -> str:
    """SHA-256 of a file."""
    digest = sha256()
    with path.open("rb") as file:
        while chunk := file.read(CHUNK_BYTES):
            digest.update(chunk)
    return digest.hexdigest()
