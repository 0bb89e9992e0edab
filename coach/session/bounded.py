"""How much a recording may bring before it is no drive any more: what happened is held in memory until it is told."""

MOST_HAPPENINGS = 50_000  # our judgement: real drives bring two or three a minute; in a day of all noise still fewer
MOST_PLAYED = 2_000_000  # arrivals held for jumping, some 100 bytes each; our judgement: ten hours of a fast adapter


class NoDrive(ValueError):
    """A recording that brings more than any drive does; one line that names the file."""


def check_happenings(count: int, name: object) -> None:
    """NoDrive when so many happened."""
    if count > MOST_HAPPENINGS:
        raise NoDrive(f"{name}: more than {MOST_HAPPENINGS} things happen in it, as in no drive; not read on")


def check_played(count: int, name: object) -> None:
    """NoDrive when so many arrivals cannot be held."""
    if count > MOST_PLAYED:
        raise NoDrive(f"{name}: too long to be played; coach review prints what happened in it")
