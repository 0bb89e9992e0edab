"""What the user has settled at the start, for every drive begun from there."""

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Chosen:
    """The settings of the start; kept while the program runs. `profile` none: as the car says."""

    us: bool = False
    profile: str | None = None
    pace: int = 30
    folder: Path | None = None
