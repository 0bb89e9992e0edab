"""Where drives are kept: the platform's folder for a user's data, or the one the user names."""

from collections.abc import Callable, Iterable
from datetime import datetime
from pathlib import Path

from platformdirs import user_data_path

GO_ON_WITHIN_S = 6 * 3600.0  # our judgement: a drive broken off longer ago is another drive


def data_folder(named: Path | None) -> Path:
    """The folder for all that the user keeps; made when missing. OSError when that is not possible."""
    folder = named if named is not None else user_data_path("drive-cycle-coach", appauthor=False)
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def new_journal(folder: Path, began: datetime, label: str) -> Path:
    """A path for a new drive's journal that does not exist yet: drive-2026-11-25-0640.journal."""
    stem = f"{'drive' if label == 'live' else 'simulated'}-{began:%Y-%m-%d-%H%M}"
    drives = folder / "drives"
    drives.mkdir(parents=True, exist_ok=True)
    for number in range(1, 1000):
        path = drives / (f"{stem}.journal" if number == 1 else f"{stem}-{number}.journal")
        if not path.exists():
            return path
    raise OSError(f"{drives}: too many drives begun in this minute")


def kept_drives(folder: Path) -> list[Path]:
    """The journals of drives that belong to no job."""
    return list((folder / "drives").glob("drive-*.journal"))


def broken_off(journals: Iterable[Path], now: datetime, cut_short: Callable[[Path], bool]) -> Path | None:
    """The newest of these drives if it was broken off lately, none when it was ended properly."""
    found = sorted((path for path in journals if path.is_file()), key=lambda path: path.stat().st_mtime)
    if not found:
        return None
    newest = found[-1]
    age_s = now.timestamp() - newest.stat().st_mtime
    return newest if age_s <= GO_ON_WITHIN_S and cut_short(newest) else None
