"""Which files of a job are no evidence for its repair, and by which file the memory was cleared by something else.

A job is of one car: by the VIN that was told first. A simulated car proves nothing of a real one. What is set aside is
named with its reason and counts for nothing.
"""

from collections.abc import Collection, Iterable
from contextlib import suppress
from dataclasses import dataclass
from typing import Literal

from coach.car.happenings import CodesCleared
from coach.car.readout import vins_of
from coach.jobs.store import Job
from coach.session.seen import Seen, fold


@dataclass(frozen=True, slots=True)
class Aside:
    """A file that is not evidence, and why."""

    seen: Seen
    why: Literal["another_car", "simulated"]


def set_aside(files: Iterable[Seen]) -> tuple[tuple[Seen, ...], tuple[Aside, ...]]:
    """The files that are of the job's own car, and the others. A car that tells no VIN is taken at its word."""
    read = tuple(files)
    real = any(seen.header.source != "simulated" for seen in read)
    kept: list[Seen] = []
    aside: list[Aside] = []
    own: frozenset[str] = frozenset()
    for seen in read:
        told = frozenset(vins_of(seen.car))
        if real and seen.header.source == "simulated":
            aside.append(Aside(seen, "simulated"))
        elif own and told and not own & told:
            aside.append(Aside(seen, "another_car"))
        else:
            own = own or told
            kept.append(seen)
    return tuple(kept), tuple(aside)


def fell_within(seen: Seen) -> bool:
    """A counter since the clear fell back in the course of this file."""
    return any(isinstance(h, CodesCleared) and h.evidence != "service_04_confirmed" for h in seen.happened)


class Counters:
    """What every control unit counts since the clear, over several files; nothing but a clear puts it back."""

    def __init__(self) -> None:
        self._known: dict[tuple[str, str], float] = {}

    def fell(self, seen: Seen) -> bool:
        """Whether one reads less at the end of this file than it was known to read before; then all begins anew."""
        told = {key: value for key, (value, _t) in seen.car.counters.items() if "since_clear" in key[1]}
        fell = any(value < self._known.get(key, value) for key, value in told.items())
        self._known = told if fell or seen.confirmed_clear else {**self._known, **told}
        return fell and not seen.confirmed_clear


def vins_of_job(job: Job) -> frozenset[str]:
    """The VIN of the job's car, by its first file that tells one; drives, the long files, are looked at last."""
    files = [pair for kinds in (("before", "between", "clear"), ("drive",)) for pair in job.files(*kinds)]
    for entry, path in files:
        with suppress(ValueError, OSError):  # what cannot be read is said where the job is shown
            if told := vins_of(fold(entry, path, {}).car):
                return frozenset(told)
    return frozenset()


def another_car(job: Job, told: Collection[str]) -> bool:
    """Whether these are the VINs of another car than the job's; not when one of the two told none."""
    own = vins_of_job(job) if told else frozenset()
    return bool(own) and own.isdisjoint(told)
