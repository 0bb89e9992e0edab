"""A job's ledger as evidence: which files are lost since a certain one, and what they are still known to have held."""

from collections.abc import Collection
from datetime import datetime

from coach.inspection.confirm import Appeared, Lost
from coach.jobs.ledger import Ledgered
from coach.jobs.store import Job
from coach.session.places import GO_ON_WITHIN_S


def keep_ledger(job: Job) -> None:
    """Seal what was closed meanwhile; a file that can still be gone on with stays open, a read-only folder as it is."""
    job.seal_rest(datetime.now().astimezone(), GO_ON_WITHIN_S)


def lost_since(
    ledger: Collection[Ledgered], first: str | None = None, known: Collection[str] = (), without: Collection[str] = ()
) -> tuple[Lost, ...]:
    """The files from `first` on that are missing, changed or unreadable; all of the job's where none is named.

    `known`: codes that were there before the repair: seen in a lost file they are no news. `without`: names of files
    that are no evidence for the repair in any case.
    """
    names = [one.entry.file for one in ledger]
    from_here = names.index(first) if first in names else 0
    since = [one for one in ledger if names.index(one.entry.file) >= from_here and one.entry.file not in without]
    return tuple(_lost(one, known) for one in since if one.lost)


def _lost(one: Ledgered, known: Collection[str]) -> Lost:
    why = one.state if one.state in ("missing", "changed") else "unreadable"
    codes = one.brought.codes if one.brought is not None else {}
    appeared = tuple(
        Appeared(code, kind, one.entry.when, t)
        for kind in ("stored", "pending")
        for code, t in codes.get(kind, {}).items()
        if code not in known
    )
    return Lost(one.entry.file, why, appeared)
