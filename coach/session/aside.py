"""Which files of a job are no evidence for its repair.

A job is of one car: the record says of every file whose words it holds, beside what the files before it told. A
simulated car proves nothing of a real one. What is set aside is named with its reason and counts for nothing.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from coach.car.conclusion import Identity
from coach.car.happenings import CodesCleared
from coach.session.seen import Seen

Why = Literal["another_car", "unproved", "changed", "two_vins", "simulated"]
WHY: dict[Identity, Why] = {
    "another": "another_car",
    "unproved": "unproved",
    "changed": "changed",
    "two_vins": "two_vins",
}


@dataclass(frozen=True, slots=True)
class Aside:
    """A file that is not evidence, and why."""

    seen: Seen
    why: Why


def set_aside(files: Iterable[Seen]) -> tuple[tuple[Seen, ...], tuple[Aside, ...]]:
    """The files that are of the job's own car, and the others. A car that tells no sign is taken at its word."""
    read = tuple(files)
    real = any(seen.header.source != "simulated" for seen in read)
    kept: list[Seen] = []
    aside: list[Aside] = []
    for seen in read:
        if real and seen.header.source == "simulated":
            aside.append(Aside(seen, "simulated"))
        elif not seen.own:
            aside.append(Aside(seen, WHY[seen.identity]))
        else:
            kept.append(seen)
    return tuple(kept), tuple(aside)


def fell_within(seen: Seen) -> bool:
    """A counter since the clear fell back in the course of this file."""
    return any(isinstance(h, CodesCleared) and not h.sent for h in seen.happened)
