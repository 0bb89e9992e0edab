"""What there is to begin from: ports, profiles, recordings, and a drive that was broken off."""

import re
import tomllib
from collections.abc import Iterable
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from coach.library import profile_paths, shipped
from coach.ordinary import NoOrdinaryFile, check_ordinary, expanded
from coach.session.places import broken_off, data_folder

if TYPE_CHECKING:
    from coach.jobs.store import Job

RECENT = 8
WIFI = re.compile(r"socket://(\[.+\]|[^:/]+):\d{1,5}")
NAMED = re.compile(r"(drive|simulated)-(\d{4}-\d\d-\d\d)-(\d\d)(\d\d)(?:-(\d+))?\.journal(?:\.gz)?")


def no_file(named: str) -> str:
    """What is wrong with the name of a file; empty when nothing is."""
    try:
        check_ordinary(expanded(named.strip()))
    except NoOrdinaryFile as error:
        return f"{error}. Write a file's whole name."
    return ""


def found_ports() -> tuple[tuple[str, str], ...]:
    """Name and description of every port there is now."""
    from coach.adapter.ports import list_ports

    return tuple((port.name, port.description) for port in list_ports())


def profiles() -> tuple[tuple[str, str], ...]:
    """Id and name of the shipped profiles."""
    return tuple((path.stem, tomllib.loads(path.read_text(encoding="utf-8"))["name"]) for path in profile_paths())


def recordings(folder: Path) -> list[Path]:
    """The newest journals of the user."""
    own = [
        path for path in (folder / "drives").glob("*.journal*") if path.is_file() and not path.name.endswith(".probe")
    ]
    own.sort(key=lambda path: path.stat().st_mtime, reverse=True)
    return own[:RECENT]


def recording_words(path: Path) -> str:
    """A journal's name as a day and an hour; the name itself when it is somebody's own."""
    found = NAMED.fullmatch(path.name)
    if found is None and path.parent == shipped("replays"):
        return f"shipped: {path.name.split('.')[0].replace('_', ' ')}"
    if found is None:
        return path.name
    kind, day, hour, minute, number = found.groups()
    simulated = ", simulated" if kind == "simulated" else ""
    return f"{day}, {hour}:{minute}{simulated}" + (f", number {number}" if number else "")


def left_unfinished(journals: Iterable[Path]) -> Path | None:
    """The newest of these drives if it was broken off lately."""

    def cut_short(path: Path) -> bool:
        from coach.session.live import cut_short as really

        return really(path)

    return broken_off(journals, datetime.now(UTC), cut_short)


def no_address(named: str) -> str:
    """What is wrong with an adapter's address; empty when nothing is."""
    if named.strip().startswith("socket:") and not WIFI.fullmatch(named.strip()):
        return f"{named}: a Wi-Fi adapter is written socket://ADDRESS:PORT."
    return "" if named.strip() else "A port's name or an address, then enter; escape leaves it."


def recent_jobs(folder: Path | None) -> tuple[tuple["Job", ...], tuple[str, ...]]:
    """Every job, the open ones first and of them the newest first; and what is wrong with those that cannot be read."""
    from coach.jobs.store import JobStore

    jobs, damaged = JobStore(data_folder(folder)).all()
    newest = tuple(reversed(jobs))
    ordered = [job for job in newest if job.is_open] + [job for job in newest if not job.is_open]
    return tuple(ordered), tuple(str(error) for error in damaged)


def only_open(jobs: tuple["Job", ...]) -> "Job | None":
    """The job that is open, none when there is none or several."""
    opened = [job for job in jobs if job.is_open]
    return opened[0] if len(opened) == 1 else None
