"""No falsehood, and not mute: a conclusion beside the truth of the moment."""

from collections.abc import Iterator

from coach.car.conclusion import Conclusion
from tests.truth.layouts import BITS
from tests.truth.story import Truth
from tests.truth.world import KINDS, PENDING, PERMANENT, READINESS, STORED

FOREIGN = ("unproved", "changed", "another", "two_vins")
"""Words about who answers that leave open, or deny, that it is the car the record is of."""
NAMES = {STORED: "stored", PENDING: "pending", PERMANENT: "permanent"}


def falsehoods(said: Conclusion, truth: Truth) -> list[str]:
    """Everything in the conclusion that a fair reader would not sign."""
    return [
        *_monitors(said, truth),
        *_lamp(said, truth),
        *_codes(said, truth),
        *_who(said, truth),
        *_whole(said, truth),
    ]


def mute(said: Conclusion, truth: Truth) -> list[str]:
    """What had to be told at this moment and was not."""
    must, found = truth.must, []
    if READINESS in must:
        if any(finding.state is None for finding in said.monitors.values()):
            found.append("monitors are not told")
        if said.mil.on is None:
            found.append("the MIL is not told")
        if truth.odd and not said.odd:
            found.append("odd readiness is not told")
    for kind in KINDS:
        finding = said.codes[NAMES[kind]]
        if kind in must and finding.certain is None and not (kind == PERMANENT and finding.offered is False):
            found.append(f"{NAMES[kind]} codes are not told")
    if "identity" in must and said.identity == "unproved":
        found.append("who the car is is not told")
    if "another" in must and said.identity not in ("another", "two_vins"):
        found.append("another car is not told")
    if must and not found and PERMANENT in must and said.standing == "uncertain":
        found.append("standing is not told")
    return found


def _monitors(said: Conclusion, truth: Truth) -> Iterator[str]:
    bits = BITS[truth.layout]
    for name, finding in said.monitors.items():
        state = finding.state
        if state is None:
            continue
        bit = bits.get(name, 0)
        if state == "complete" and not bit & truth.complete:
            yield f"{name} is called complete"
        elif state == "incomplete" and not bit & truth.open:
            yield f"{name} is called incomplete"
        elif state == "unsupported" and bit & truth.supported:
            yield f"{name} is called unsupported"


def _lamp(said: Conclusion, truth: Truth) -> Iterator[str]:
    if said.mil.on is False and not truth.off:
        yield "the MIL is called off"
    if said.mil.on is True and not truth.lit:
        yield "the MIL is called on"


def _codes(said: Conclusion, truth: Truth) -> Iterator[str]:
    for kind in KINDS:
        finding = said.codes[NAMES[kind]]
        if finding.offered is False and (kind != PERMANENT or not truth.known_old):
            yield f"{NAMES[kind]} codes are called not offered"
        if set(finding.sure) - truth.present[kind]:
            yield f"{NAMES[kind]} codes are named beyond doubt that are not there"
        if finding.certain is None:
            continue
        if not finding.certain and not truth.clean[kind]:
            yield f"{NAMES[kind]} codes are called none"
        if set(finding.certain) - truth.present[kind]:
            yield f"{NAMES[kind]} codes are named that are not there"


def _who(said: Conclusion, truth: Truth) -> Iterator[str]:
    if said.identity in truth.identity:
        yield f"the car is called {said.identity}"
    clear, told = truth.clear_of_first if said.identity in FOREIGN else truth.clear, said.clear.state
    if told == "proved" and not clear.proved:
        yield "a clear is called proved"
    if told == "none" and clear.sent:
        yield "a clear that was sent is not told"
    if told == "refused" and clear.acted and truth.clear.acted:
        yield "a clear is called refused"


def _whole(said: Conclusion, truth: Truth) -> Iterator[str]:
    """The standing follows from the findings and from nothing else."""
    states = {finding.state for finding in said.monitors.values()}
    named = any(found.certain or found.sure for found in said.codes.values())
    if said.standing == "complete":
        certain = all(f.certain == () or f.offered is False for f in said.codes.values())
        if (
            any(found.said for found in said.codes.values())
            or not certain
            or said.mil.on is not False
            or not states <= {"complete", "unsupported"}
        ):
            yield "the standing is called complete and its findings do not say so"
        if "complete" not in states:
            yield "the standing is called complete and no monitor was read"
        if not truth.complete or truth.complete != truth.supported or not truth.off or not all(_none(truth)):
            yield "the standing is called complete"
    if said.standing == "fault" and not (truth.lit or any(truth.present.values())):
        yield "the standing is called fault"
    if said.standing == "incomplete" and ("incomplete" not in states or said.mil.on is True or named):
        yield "the standing is called incomplete and its findings do not say so"


def _none(truth: Truth) -> Iterator[bool]:
    for kind in KINDS:
        yield truth.clean[kind]
