"""Finds the files the product ships: profiles and replays, in the wheel or in a checkout. It only reads."""

from collections.abc import Iterator
from pathlib import Path

from coach.ordinary import is_there, small_text


def shipped(folder: str) -> Path:
    """The folder "profiles" or "replays": inside the installed package, else beside it in a checkout."""
    inside = Path(__file__).parent / folder
    return inside if inside.is_dir() else Path(__file__).parent.parent / folder


def profile_paths() -> Iterator[Path]:
    """The shipped profiles in order of name."""
    yield from sorted(shipped("profiles").glob("*.toml"))


def profile_text(profile_id: str) -> str:
    """The text of a shipped profile, or of a file of one's own that ends in .toml. KeyError when there is none.

    NoOrdinaryFile, which names it, when such a file cannot be read.
    """
    known = {path.stem: path for path in profile_paths()}
    own = Path(profile_id)
    if profile_id not in known and own.suffix == ".toml" and is_there(own):
        return small_text(own)
    if profile_id not in known:
        raise KeyError(f"no profile {profile_id!r}; known: {', '.join(known)}, or a file of your own ending in .toml")
    return known[profile_id].read_text(encoding="utf-8")
