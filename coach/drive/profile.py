"""Reads a profile from its text and words every mistake: file, key, what is wrong, and the nearest known key.

Text in, value out: files are opened elsewhere.
"""

from collections.abc import Iterator, Sequence
from difflib import get_close_matches
from string import Formatter
from typing import Any

from pydantic import BaseModel

from coach.drive import schema
from coach.drive.dead import dead_entries
from coach.drive.fits import deadlines_missed
from coach.drive.given import Given
from coach.drive.schema import Phase, ProfileForm
from coach.forms import read_form
from coach.j1979.monitors import COMPRESSION, CONTINUOUS, MONITORS, SPARK


class ProfileError(ValueError):
    """A profile that cannot be used; one line a mistake, each naming the file and the key."""

    def __init__(self, name: str, mistakes: list[str]) -> None:
        self.mistakes = tuple(f"{name}: {mistake}" for mistake in mistakes)
        super().__init__("\n".join(self.mistakes))


class Profile(ProfileForm):
    """A profile that passed every check."""

    def numbers(self) -> Iterator[tuple[str, Given]]:
        """Every value with its provenance, by the path of its key."""
        yield from _given("", self)

    def names(self) -> dict[str, str]:
        """Phase ids and their names."""
        return {phase: form.name for phase, form in self.phase.items()}


def parse_profile(text: str, name: str = "profile", recorded: bool = False) -> Profile:
    """The profile of a TOML text. ProfileError lists every mistake, not only the first.

    `recorded`: a journal's own, by which a drive was coached; whether its plan fits, and whether all of it is of use,
    were questions before that drive.
    """
    profile, mistakes = read_form(text, Profile, schema, _keys_only)
    if profile is None:
        raise ProfileError(name, mistakes)
    mistakes = list(_crossed(profile))
    if not mistakes and not recorded:
        mistakes = [*dead_entries(profile), *deadlines_missed(profile)]
    if mistakes:
        raise ProfileError(name, mistakes)
    return profile


def _given(path: str, value: object) -> Iterator[tuple[str, Given]]:
    if isinstance(value, Given):
        yield path, value
    elif isinstance(value, BaseModel):
        for key in type(value).model_fields:
            yield from _given(f"{path}.{key}" if path else key, getattr(value, key))
    elif isinstance(value, dict):
        for key, inner in value.items():
            yield from _given(f"{path}.{key}", inner)


_KINDS = frozenset({"idle", "warm_up", "cruise", "stop_and_go", "deceleration", "load_step", "parked"})


def _keys_only(loc: Sequence[Any]) -> Sequence[Any]:
    """Pydantic names the kind of a hold as if it were a key below it."""
    return [part for at, part in enumerate(loc) if part not in _KINDS or loc[at - 1] != "hold"]


def _crossed(profile: Profile) -> Iterator[str]:
    """Checks between the parts of a profile."""
    phases = set(profile.phase)
    for phase, form in profile.phase.items():
        yield from (
            f"phase.{phase}.serves: no monitor {m!r}{_near(m, MONITORS)}" for m in form.serves if m not in MONITORS
        )
        yield from _crossed_instruction(phase, form)
        yield from (f"phase.{phase}.after: no phase {p!r}{_near(p, phases)}" for p in form.after if p not in phases)
    for pair in profile.overlap:
        yield from (f"overlap: no phase {p!r}{_near(p, phases)}" for p in pair if p not in phases)
    yield from _crossed_needs(profile, phases)
    yield from _crossed_sources(profile)
    yield from _circle(profile)
    yield from _waiting_circle(profile)


NUMBERS = {
    **dict.fromkeys(("cruise", "warm_up", "stop_and_go"), ("low", "high")),
    "deceleration": ("from", "to"),
    "load_step": ("to",),
}
"""What an instruction may have in braces, by the kind of its hold: a number of it, in the reader's own unit."""


def _crossed_instruction(phase: str, form: Phase) -> Iterator[str]:
    """An instruction is filled in while driving: it may ask for nothing but the numbers of its own hold."""
    may = NUMBERS.get(form.hold.kind, ())
    words = " or ".join(f"{{{name}}}" for name in may) or "nothing"
    try:
        parts = list(Formatter().parse(form.instruction))
    except ValueError as error:
        yield f"phase.{phase}.instruction: {error}; in braces may stand {words}"
        return
    for _, name, how, turned in parts:
        if name is not None and (name not in may or how or turned):
            yield f"phase.{phase}.instruction: {{{name}}} cannot be filled in; in braces may stand {words}"


def _crossed_needs(profile: Profile, phases: set[str]) -> Iterator[str]:
    table = SPARK if profile.ignition == "spark" else COMPRESSION
    for monitor, need in profile.needs.items():
        if monitor in CONTINUOUS and profile.ignition == "spark":
            yield f"needs.{monitor}: a continuous monitor needs no phase"
        elif monitor not in CONTINUOUS and monitor not in table.values():
            yield f"needs.{monitor}: no monitor of {profile.ignition} ignition{_near(monitor, table.values())}"
        for phase in (*(p for rung in need.rungs for p in rung), *need.helps):
            if phase not in phases:
                yield f"needs.{monitor}: no phase {phase!r}{_near(phase, phases)}"
    for monitor in table.values():
        if monitor not in profile.needs:
            yield f"needs.{monitor}: missing; say rungs = [] and why if no driving is known to help"
    for monitor, depend in profile.depends.items():
        for name in (monitor, *depend.after):
            if name not in MONITORS:
                yield f"depends.{monitor}: no monitor {name!r}{_near(name, MONITORS)}"


def _crossed_sources(profile: Profile) -> Iterator[str]:
    used = {src for _, given in profile.numbers() for src in given.src}
    used |= {src for depend in profile.depends.values() for src in depend.src}
    for path, given in profile.numbers():
        for src in given.src:
            if src not in profile.sources:
                yield f"{path}: source {src!r} is not in [sources]"
    yield from (f"sources.{src}: nothing in the profile uses it" for src in profile.sources if src not in used)


def _circle(profile: Profile) -> Iterator[str]:
    done: set[str] = set()
    while True:
        free = [p for p, form in profile.phase.items() if p not in done and set(form.after) <= done]
        if not free:
            break
        done.update(free)
    left = [phase for phase in profile.phase if phase not in done]
    if left:
        yield f"phase: {', '.join(left)} wait for each other in a circle (after)"


def _waiting_circle(profile: Profile) -> Iterator[str]:
    """Monitors that wait for each other never run."""
    for monitor in profile.depends:
        seen, front = set[str](), set(profile.depends[monitor].after)
        while front - seen:
            seen |= front
            front = {other for m in front if m in profile.depends for other in profile.depends[m].after}
        if monitor in seen:
            yield f"depends.{monitor}: waits for itself in a circle"


def _near(name: str, known: Any) -> str:
    near = get_close_matches(name, list(known), n=1, cutoff=0.5)
    return f", the nearest is {near[0]!r}" if near else ""
