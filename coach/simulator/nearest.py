"""Names that are refused with the nearest known one."""

from collections.abc import Iterable
from difflib import get_close_matches


def known(name: str, names: Iterable[str], what: str) -> str:
    """The name itself. ValueError naming the nearest known one when it is not among `names`."""
    choices = list(names)
    if name in choices:
        return name
    near = get_close_matches(name, choices, n=1, cutoff=0.0)
    raise ValueError(f"no {what} {name!r}; nearest is {near[0]!r}. Known: {', '.join(choices)}")
