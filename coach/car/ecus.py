"""What each ECU said, kept apart, and the rules that merge it.

A monitor is complete only if every ECU that supports it says so; the MIL is on if any ECU commands it; counts add up.
Silence of an ECU that answered before, a refusal or a garbled answer turns a finding into "uncertain", never "clean".
"""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from coach.car.happenings import MonitorState
from coach.j1979.readiness import CycleStatus, Readiness

KINDS = {0x03: "stored", 0x07: "pending", 0x0A: "permanent"}
"""Which kind of trouble code each service reports."""


@dataclass(slots=True)
class Codes:
    """Codes of one kind from one ECU. `codes` is none until a well-formed answer came; `before`: a request ago."""

    codes: tuple[str, ...] | None = None
    before: tuple[str, ...] = ()
    t: float = 0.0
    uncertain: str | None = None


@dataclass(slots=True)
class Ecu:
    """One control unit by its address on the bus."""

    address: str
    readiness: Readiness | None = None
    readiness_raw: bytes = b""
    readiness_t: float = 0.0
    readiness_uncertain: str | None = None
    status: CycleStatus | None = None
    status_raw: bytes = b""
    status_t: float = 0.0
    status_distrusted: str | None = None
    codes: dict[str, Codes] = field(default_factory=dict)
    supported: dict[int, frozenset[int]] = field(default_factory=dict)
    answered: frozenset[str] = frozenset()
    silent: frozenset[str] = frozenset()
    refused: dict[str, int] = field(default_factory=dict)
    kept: dict[str, tuple[bytes, ...]] = field(default_factory=dict)
    kept_request: dict[str, int | None] = field(default_factory=dict)
    kept_t: dict[str, float] = field(default_factory=dict)

    def copy(self) -> "Ecu":
        """An independent copy."""
        return replace(
            self,
            codes={kind: replace(found) for kind, found in self.codes.items()},
            supported=dict(self.supported),
            refused=dict(self.refused),
            kept=dict(self.kept),
            kept_request=dict(self.kept_request),
            kept_t=dict(self.kept_t),
        )

    def claims_readiness(self) -> bool:
        """True when this ECU answered PID 01 once, in whatever form, or lists it as supported.

        A refusal by an ECU whose own list leaves PID 01 out is no claim.
        """
        listed = self.supported.get(0x01)
        if self.readiness is not None or (listed is not None and 0x01 in listed):
            return True
        return self.readiness_uncertain is not None and (self.readiness_uncertain != "refused" or listed is None)


def is_result(key: str) -> bool:
    """Whether what is kept under this key is a test result of service 06, and no list of what is offered."""
    return key.startswith("06 ") and int(key[3:], 16) % 0x20 != 0


def concerned(ecus: Iterable[Ecu]) -> list[Ecu]:
    """The ECUs that have a say in readiness."""
    return [ecu for ecu in ecus if ecu.claims_readiness()]


def doubt(ecu: Ecu) -> str | None:
    """Why the readiness of this ECU cannot be relied on now: its id for the reader, none when it can."""
    if ecu.readiness is None:
        return "never_read"
    return ecu.readiness_uncertain or ("silent" if "01 01" in ecu.silent else None)


def monitor_state(ecus: Iterable[Ecu], monitor: str, doubted: bool) -> MonitorState:
    """Merge one monitor over all ECUs. None when nothing was read, or when "complete" would rest on a doubtful ECU.

    `doubted`: something came in with the last readiness that nobody could make out; any ECU may have said it.
    """
    state: MonitorState = None
    uncertain = doubted
    for ecu in ecus:
        readiness = ecu.readiness
        if readiness is None:
            uncertain = uncertain or ecu.claims_readiness()
            continue
        uncertain = uncertain or doubt(ecu) is not None
        if monitor not in readiness.supported:
            state = state or "unsupported"
        elif monitor not in readiness.complete:
            if ecu.readiness_uncertain != "cleared":
                return "incomplete"
        else:
            state = "complete"
    return None if uncertain else state


def mil_on(ecus: Iterable[Ecu], doubted: bool) -> bool | None:
    """MIL commanded by any ECU; none when no ECU said, or when "off" would rest on a doubtful ECU."""
    asked = concerned(ecus)
    if any(e.readiness is not None and e.readiness.mil_on and e.readiness_uncertain != "cleared" for e in asked):
        return True
    return False if asked and not doubted and not any(doubt(ecu) for ecu in asked) else None


def code_count(ecus: Iterable[Ecu], doubted: bool) -> int | None:
    """Confirmed codes by PID 01, added up over the ECUs; none when an ECU that has a say is doubtful or none spoke."""
    asked = concerned(ecus)
    if not asked or doubted or any(doubt(ecu) for ecu in asked):
        return None
    return sum(ecu.readiness.code_count for ecu in asked if ecu.readiness)


def all_codes(ecus: Iterable[Ecu], kind: str, doubted: bool) -> tuple[str, ...] | None:
    """Codes of a kind over all ECUs, sorted; none when nobody answered properly, or someone who should have did not.

    Stored codes are also none while PID 01 counts more of them than service 03 named.
    """
    found: set[str] = set()
    asked = [ecu for ecu in ecus if kind in ecu.codes or ecu.claims_readiness()]
    if not asked or doubted:
        return None
    service = next(number for number, name in KINDS.items() if name == kind)
    for ecu in asked:
        known = ecu.codes.get(kind)
        if known is None or known.codes is None or known.uncertain or f"{service:02X}" in ecu.silent:
            return None
        if kind == "stored" and ecu.readiness is not None and ecu.readiness.code_count > len(known.codes):
            return None
        found.update(known.codes)
    return tuple(sorted(found))


def said_codes(ecus: Iterable[Ecu], kind: str) -> tuple[str, ...]:
    """Every code of a kind that some ECU reported last, sorted, whatever the doubt about the others."""
    told = (ecu.codes.get(kind, Codes()) for ecu in ecus)
    return tuple(sorted({code for codes in told if codes.uncertain != "cleared" for code in (codes.codes or ())}))


def cycle_state(ecus: Iterable[Ecu], monitor: str) -> str | None:
    """PID 41 merged: disabled if any ECU with the monitor disabled it, to_run if any still has to; none: unknown."""
    states = []
    for ecu in ecus:
        if ecu.status is None or ecu.readiness is None or ecu.status_distrusted:
            continue
        if monitor in ecu.readiness.supported:
            states.append(ecu.status.state(monitor, ecu.readiness.supported))
    for state in ("disabled", "to_run", "complete"):
        if state in states:
            return state
    return None
