"""A profile explained: its phases and every number with where it comes from."""

from coach.drive.given import Given
from coach.drive.profile import Profile
from coach.drive.schema import Witness
from coach.j1979.signals import SIGNALS
from coach.words.names import WITNESS_NAMES


def explain(profile: Profile) -> str:
    """The whole profile as text."""
    lines = [f"{profile.name} ({profile.id})", profile.description, "", "Cautions"]
    lines += [f"  {caution}" for caution in profile.cautions]
    if profile.after_clear is not None:
        lines += ["", "Right after a clear", f"  {profile.after_clear.words} ({_whence(profile.after_clear)})"]
    lines += ["", "Phases in order"]
    for phase, form in profile.phase.items():
        lines.append(f"  {phase}: {form.name}; serves {', '.join(form.serves)}")
        lines += [f"    {caution}" for caution in form.cautions]
    lines += ["", "What each monitor needs, rung by rung"]
    for monitor, need in profile.needs.items():
        rungs = ", then ".join(" + ".join(rung) for rung in need.rungs) or "no published driving pattern"
        lines.append(f"  {monitor}: {rungs} ({need.why})")
    lines += ["", "What is watched by which signals, the best first"]
    lines += [_witness(role, profile) for role in type(profile.signals).model_fields]
    lines += ["", "Every number, in the unit used inside (km/h, °C, s, %, V, rpm), and where it comes from"]
    numbers = [(path, given) for path, given in profile.numbers() if given is not profile.after_clear]
    lines += [f"  {path} = {_value(given)}: {_whence(given)}" for path, given in numbers]
    lines += ["", "Sources"]
    lines += [f"  {key}: {source.title}, {source.year}" for key, source in profile.sources.items()]
    return "\n".join(lines)


def _witness(role: str, profile: Profile) -> str:
    witness: Witness = getattr(profile.signals, role)
    told = ", ".join(SIGNALS[signal].name for signal in witness.first)
    asked = {"ask": "the user is asked", "advice": "advice only, unwatched"}[witness.otherwise]
    how = f"{told}; else {asked}" if told else asked
    return f"  {WITNESS_NAMES[role]}: {how} ({witness.why})"


def _value(given: Given) -> str:
    low, high = getattr(given, "low", None), getattr(given, "high", None)
    return f"{low:g} to {high:g}" if low is not None and high is not None else str(getattr(given, "value", ""))


def _whence(given: Given) -> str:
    parts = [given.basis.replace("_", " ")]
    if given.src:
        parts.append(", ".join(given.src))
    if given.spread:
        parts.append(f"sources range over {given.spread}")
    if given.why:
        parts.append(given.why)
    return "; ".join(parts)
