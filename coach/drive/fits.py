"""Does a profile keep its own deadlines? On a fresh cold start with every monitor to run, by its expected times.

A profile that does not could never bring the monitor it promises, on any car; it is refused on loading.
"""

from collections.abc import Iterator
from dataclasses import replace

from coach.drive.route import MOST, Leg, best_route
from coach.drive.schema import ParkedHold, Phase, ProfileForm, WarmUpHold


def deadlines_missed(profile: ProfileForm) -> Iterator[str]:
    """One mistake for every phase that comes too late for its own `run_time_max`, naming the key and both times."""
    wanted = _first_plan(profile)
    if len(wanted) > MOST:
        yield f"phase: {len(wanted)} phases to order in one drive, at most {MOST}"
        return
    late = [phase for phase in wanted if (limit := _limit_s(profile, phase)) and _least_s(profile, phase) > limit]
    for phase in late:
        yield (
            f"phase.{phase}.gates.run_time_max: {_limit_s(profile, phase):.0f} s, and with what comes before it "
            f"the phase ends {_least_s(profile, phase):.0f} s after a cold start at the earliest: "
            f"{_named(profile, phase)}"
        )
    if not late and best_route(_legs(profile, wanted), "standing") is None:
        yield f"phase: no order of {', '.join(wanted)} keeps every run_time_max on a fresh cold start"


def _limit_s(profile: ProfileForm, phase: str) -> float | None:
    latest = profile.phase[phase].gates.run_time_max
    return latest.value if latest is not None else None


def _first_plan(profile: ProfileForm) -> list[str]:
    """The phases that a cleared car is asked for on a cold morning, in the profile's order."""
    asked = {phase for need in profile.needs.values() for phase in next(iter(need.rungs), ())}
    if any(profile.phase[phase].gates.coolant_min for phase in asked):
        asked |= {phase for phase, form in profile.phase.items() if isinstance(form.hold, WarmUpHold)}
    return [phase for phase, form in profile.phase.items() if phase in asked and not isinstance(form.hold, ParkedHold)]


def _before(profile: ProfileForm, phase: str) -> frozenset[str]:
    direct = profile.phase[phase].after
    return frozenset(direct).union(*(_before(profile, earlier) for earlier in direct))


def _chain(profile: ProfileForm, phase: str) -> list[str]:
    """The phase, and of the first plan whatever has to come before it."""
    before = _before(profile, phase)
    return [other for other in _first_plan(profile) if other in before or other == phase]


def _least_s(profile: ProfileForm, phase: str) -> float:
    """When the phase ends at the earliest, counted from the start of the engine."""
    legs = [replace(leg, finish_by_s=None) for leg in _legs(profile, _chain(profile, phase))]
    route = best_route(legs, "standing")
    return route.driving_s if route is not None else float("inf")


def _named(profile: ProfileForm, phase: str) -> str:
    return ", ".join(f"{other} {profile.phase[other].expected.value:.0f} s" for other in _chain(profile, phase))


def _leg(profile: ProfileForm, phase: str, form: Phase) -> Leg:
    shared = frozenset(other for pair in profile.overlap if phase in pair for other in pair if other != phase)
    return Leg(phase, form.expected.value, form.regime, _before(profile, phase), _limit_s(profile, phase), shared)


def _legs(profile: ProfileForm, phases: list[str]) -> list[Leg]:
    return [_leg(profile, phase, profile.phase[phase]) for phase in phases]
