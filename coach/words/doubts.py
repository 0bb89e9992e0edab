"""Why a finding cannot be said, in words: one table for every page, headline and sentence."""

from coach.car.conclusion import CodesFinding, Conclusion, LampFinding, MonitorFinding
from coach.car.ecus import ITEMS
from coach.car.state import CarState
from coach.words.units import capital, clock, listed

ITEM_NAMES = {
    "identity": "which car this is",
    "01 01": "readiness and the MIL",
    "03": "the stored codes",
    "07": "the pending codes",
    "0A": "the permanent codes",
}
SERVICE_NAMES = {
    "01": "what it reads now",
    "02": "the freeze frame",
    "06": "the test results",
    "09": "its identity and counters",
}
"""What a question of a service is about, where what it asks for has no name of its own."""
SIGN_NAMES = {"vin": "VIN", "calid": "calibration ID", "cvn": "calibration verification number"}

WHY = {
    "never_read": "not every control unit told it",
    "silent": "a control unit that told it before does not answer now",
    "not_heard_again": "a control unit of this car has not answered since the adapter was plugged in",
    "refused": "a control unit refused to answer",
    "malformed": "an answer came in damaged",
    "unparsed": "something came in that nobody can make out",
    "garbled": "the answer came in garbled",
    "not_asked": "a control unit spoke without being asked, or too late",
    "wrong_echo": "a control unit answered something else than was asked",
    "said_else": "a control unit answered something else than was asked",
    "late": "an answer came in behind a later one",
    "pending": "a control unit said its answer would come, and it did not",
    "contradicted": "one control unit gave two different answers to one question",
    "line_lost": "a line of the recording cannot be read; it may have held an answer",
    "out_of_order": "a record came in from the past and was not used",
    "stored_since": "a code was stored after they were read",
    "fewer_than_counted": "the car counts more codes than it named",
    "cleared": "the memory was cleared since it was read",
    "clear_unproved": "a clear was sent since it was read, and what it did is not known",
    "not_all_asked": "only some control units were asked",
    "only_continuous": "no control unit with more than the continuous monitors answered; there must be one",
    "silent_to_0A": "no control unit answered the question, and a car of this age may have them",
    "another_car": "another car answered since",
    "identity_unproved": "the link broke, and since then the car has told neither VIN nor calibration",
    "identity_changed": "a control unit tells another calibration than before; say what was done to it",
    "identity_another": "another car answers than before",
    "identity_two_vins": "two VINs were told",
}
"""Every reason `coach.car.concluding` gives."""


def asked_words(asked: str) -> str:
    """What a question was about, by its items; one that has no name here stays as it is."""
    return ITEM_NAMES.get(asked) or SERVICE_NAMES.get(asked.split(" ", 1)[0], asked)


def why_words(why: str, units: tuple[str, ...] = ()) -> str:
    """A reason, with the control units it is about."""
    return WHY[why] + (f" ({listed(list(units))})" if units else "")


def uncertain(finding: MonitorFinding | LampFinding | CodesFinding) -> str:
    """Why this cannot be said, and since when where that is known."""
    words = why_words(finding.why or "never_read", finding.units)
    return f"{words}, since {clock(finding.since_t)}" if finding.since_t is not None else words


LASTING_S = 10.0  # our judgement: a clean answer to the question put again has come by then


def lasting(car: CarState) -> str:
    """What of the findings has not been readable for a while, since when and why; empty when all is."""
    found, lost_t = car.conclude(), car.reported.unsure_t
    told: dict[str, LampFinding | CodesFinding] = {"01 01": found.mil}
    told |= {ITEMS[kind]: codes for kind, codes in found.codes.items()}
    long_ago = {item for item, t in lost_t.items() if car.now - t >= LASTING_S}
    items = [item for item, one in told.items() if one.why is not None and item in long_ago]
    if not items:
        return ""
    first = min(items, key=lambda item: lost_t[item])
    reason = why_words(told[first].why or "never_read", told[first].units)
    what = capital(listed([ITEM_NAMES[item] for item in items]))
    return f"{what}: not readable since {clock(lost_t[first])}, {reason}."


NOT_OFFERED = "not offered: this car is older than permanent codes (model year 2010)"


def codes_told(found: CodesFinding, why: bool = True) -> str:
    """The codes of a kind as far as they can be said; `why`: with the reason where they cannot."""
    if found.offered is False:
        return NOT_OFFERED
    if found.certain is not None:
        return ", ".join(found.certain) or "none"
    heard = f"{', '.join(found.said)}; whether more, is uncertain" if found.said else "uncertain"
    return f"{heard}: {uncertain(found)}" if why else heard


def lamp_told(found: LampFinding, why: bool = True) -> str:
    """The MIL's command as far as it can be said."""
    if found.on is None:
        return f"uncertain: {uncertain(found)}" if why else "uncertain"
    return "commanded on" if found.on else "off"


ODD = {
    "only_continuous": "only the continuous monitors are told, which no whole car has",
}


def odd_lines(found: Conclusion) -> tuple[str, ...]:
    """What readiness holds that it should not: said, so that nobody wonders."""
    bits = [f"{unit} sets bit {bit}" for unit, bit in found.odd if bit not in ODD]
    told = tuple(capital(ODD[bit]) + f" ({unit})." for unit, bit in found.odd if bit in ODD)
    if bits:
        told += (f"Odd in the readiness: {listed(bits)}, reserved or of a monitor the car does not have.",)
    return told
