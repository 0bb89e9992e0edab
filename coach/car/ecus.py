"""What each ECU said, kept apart, and the rules that merge it.

A monitor is complete only if every ECU that supports it says so; the MIL is on if any ECU commands it; counts add up.
Silence of an ECU that answered before, a refusal or a garbled answer turns a finding into "uncertain", never "clean",
and a word in doubt is no word: neither complete nor incomplete rests on it.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace

from coach.car.cycle_trust import NO_TRUST, CycleTrust
from coach.car.happenings import MonitorState
from coach.j1979.readiness import CycleStatus, Readiness

KINDS = {0x03: "stored", 0x07: "pending", 0x0A: "permanent"}
"""Which kind of trouble code each service reports."""
READINESS, SUPPORTED = "01 01", "01 00"
ITEMS = {kind: f"{service:02X}" for service, kind in KINDS.items()}
"""The item that brings each kind of code."""
NO_CLAIM = frozenset({"refused", "said_else"})
"""Doubts of an item that the ECU itself said nothing of: it refused, or said something else instead."""
CLEARED = frozenset({"cleared", "clear_unproved"})
"""Why a word does not stand: it was said before the memory was cleared, or before a clear that nobody has shown."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """Why an item cannot be relied on, since when, and the number of the question then; a later answer ends it."""

    why: str
    t: float
    number: int = 0


@dataclass(slots=True)
class Codes:
    """Codes of one kind from one ECU. `codes` is none until a well-formed answer came; `before`: a request ago."""

    codes: tuple[str, ...] | None = None
    before: tuple[str, ...] = ()
    t: float = 0.0


@dataclass(slots=True)
class Ecu:
    """One control unit by its address on the bus.

    `answered`: items it gave in this recording; `silent`: those of them it does not give any more; `expected`: items it
    gave in an earlier recording of this car and has not given in this one. `doubts`: by item. `latest`: the
    number of the latest question to which an item was answered. `loses_known`: by an earlier recording a clear would
    take something from it.
    """

    address: str
    readiness: Readiness | None = None
    readiness_raw: bytes = b""
    readiness_t: float = 0.0
    status: CycleStatus | None = None
    status_raw: bytes = b""
    status_t: float = 0.0
    status_distrusted: str | None = None
    status_trust: CycleTrust = NO_TRUST
    codes: dict[str, Codes] = field(default_factory=dict)
    supported: dict[int, frozenset[int]] = field(default_factory=dict)
    answered: frozenset[str] = frozenset()
    silent: frozenset[str] = frozenset()
    expected: frozenset[str] = frozenset()
    loses_known: bool = False
    doubts: dict[str, Doubt] = field(default_factory=dict)
    latest: dict[str, int] = field(default_factory=dict)
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
            doubts=dict(self.doubts),
            latest=dict(self.latest),
            refused=dict(self.refused),
            kept=dict(self.kept),
            kept_request=dict(self.kept_request),
            kept_t=dict(self.kept_t),
        )

    def doubt_item(self, item: str, why: str, t: float, number: int) -> None:
        """This item is in doubt from here; a doubt that stands already keeps its beginning and its reason."""
        standing = self.doubts.get(item)
        cleared = why in CLEARED and (standing is None or standing.why not in CLEARED)
        first = standing if standing is not None and not cleared else Doubt(why, t)
        self.doubts[item] = Doubt(first.why, first.t, number)

    def settle(self, item: str, number: int) -> bool:
        """A proper answer to the question of this number came; true when that ends a doubt."""
        standing = self.doubts.get(item)
        if standing is None or standing.number >= number:
            return False
        del self.doubts[item]
        return True

    def why_not(self, item: str) -> str | None:
        """Why what this ECU said of an item cannot be relied on now; none when it can, or when it never had a say."""
        if item in self.doubts:
            return self.doubts[item].why
        if item in self.silent:
            return "silent"
        return "not_heard_again" if item in self.expected else None

    def claims_readiness(self) -> bool:
        """True when this ECU answered PID 01 once, in whatever form, or lists it as supported.

        A refusal, or something else instead, by an ECU whose own list leaves this PID out is no claim.
        """
        listed = self.supported.get(0x01)
        if self.readiness is not None or READINESS in self.expected or (listed is not None and 0x01 in listed):
            return True
        standing = self.doubts.get(READINESS)
        return standing is not None and (standing.why not in NO_CLAIM or not self._listed_first())

    def _listed_first(self) -> bool:
        """Whether its own list of the first 32 PIDs of service 01 was heard."""
        return any(pid <= 0x20 for pid in self.supported.get(0x01, ()))


def is_result(key: str) -> bool:
    """Whether what is kept under this key is a test result of service 06, and no list of what is offered."""
    return key.startswith("06 ") and int(key[3:], 16) % 0x20 != 0


def concerned(ecus: Iterable[Ecu]) -> list[Ecu]:
    """The ECUs that have a say in readiness."""
    return [ecu for ecu in ecus if ecu.claims_readiness()]


def doubt(ecu: Ecu) -> str | None:
    """Why the readiness of this ECU cannot be relied on now: its id for the reader, none when it can."""
    return ecu.why_not(READINESS) or ("never_read" if ecu.readiness is None else None)


def asked_for(ecus: Iterable[Ecu], kind: str) -> list[Ecu]:
    """The ECUs that should answer for codes of this kind: those that ever did, and those with a say in readiness."""
    item = ITEMS[kind]
    return [
        ecu for ecu in ecus if kind in ecu.codes or item in ecu.expected or item in ecu.doubts or ecu.claims_readiness()
    ]


def doubt_of_codes(ecu: Ecu, kind: str) -> str | None:
    """Why the codes of this kind of this ECU cannot be relied on; stored ones also while PID 01 counts more of them."""
    known = ecu.codes.get(kind)
    why = ecu.why_not(ITEMS[kind])
    if why is not None or known is None or known.codes is None:
        return why or "never_read"
    counted = ecu.readiness is not None and READINESS not in ecu.doubts and ecu.readiness.code_count > len(known.codes)
    return "fewer_than_counted" if kind == "stored" and counted else None


def monitor_state(ecus: Iterable[Ecu], monitor: str, doubted: bool) -> MonitorState:
    """Merge one monitor over all ECUs. None when nothing was read, or when the state would rest on a doubtful ECU.

    `doubted`: something came in with the last readiness that nobody could make out; any ECU may have said it.
    """
    state: MonitorState = None
    uncertain = doubted
    for ecu in ecus:
        readiness = ecu.readiness
        if readiness is None:
            uncertain = uncertain or ecu.claims_readiness()
            continue
        if ecu.why_not(READINESS) is not None:
            uncertain = True
        elif monitor not in readiness.supported:
            state = state or "unsupported"
        elif monitor not in readiness.complete:
            return "incomplete"
        else:
            state = "complete"
    return None if uncertain else state


def mil_on(ecus: Iterable[Ecu], doubted: bool) -> bool | None:
    """MIL commanded by any ECU; none when no ECU said, or when it would rest on a doubtful ECU."""
    asked = concerned(ecus)
    if any(e.readiness is not None and e.readiness.mil_on and doubt(e) is None for e in asked):
        return True
    return False if asked and not doubted and not any(doubt(ecu) for ecu in asked) else None


def code_count(ecus: Iterable[Ecu], doubted: bool) -> int | None:
    """Confirmed codes by PID 01, added up over the ECUs; none when an ECU that has a say is doubtful or none spoke."""
    asked = concerned(ecus)
    if not asked or doubted or any(doubt(ecu) for ecu in asked):
        return None
    return sum(ecu.readiness.code_count for ecu in asked if ecu.readiness)


def all_codes(ecus: Iterable[Ecu], kind: str, doubted: bool) -> tuple[str, ...] | None:
    """Codes of a kind over all ECUs, sorted; none when nobody answered properly, or someone who should have did not."""
    asked = asked_for(ecus, kind)
    if not asked or doubted or any(doubt_of_codes(ecu, kind) for ecu in asked):
        return None
    return tuple(sorted({code for ecu in asked for code in ecu.codes[kind].codes or ()}))


def said_codes(ecus: Iterable[Ecu], kind: str) -> tuple[str, ...]:
    """Every code of a kind that some ECU reported last, sorted, whatever the doubt about the others."""
    item = ITEMS[kind]
    told = (ecu.codes[kind] for ecu in ecus if kind in ecu.codes and not _cleared(ecu.doubts, item))
    return tuple(sorted({code for codes in told for code in (codes.codes or ())}))


def _cleared(doubts: Mapping[str, Doubt], item: str) -> bool:
    return item in doubts and doubts[item].why in CLEARED


def cycle_state(ecus: Iterable[Ecu], monitor: str) -> str | None:
    """PID 41 merged: disabled if any ECU with the monitor disabled it, to_run if any still has to; none: unknown."""
    states = [state for _ecu, state in _cycle_words(ecus, monitor)]
    for state in ("disabled", "to_run", "complete"):
        if state in states:
            return state
    return None


def surely_disabled(ecus: Iterable[Ecu], monitor: str) -> bool:
    """Whether a unit whose PID 41 earned its trust has switched the monitor off for this driving cycle."""
    return any(state == "disabled" and ecu.status_trust.earned for ecu, state in _cycle_words(ecus, monitor))


def _cycle_words(ecus: Iterable[Ecu], monitor: str) -> Iterator[tuple[Ecu, str | None]]:
    for ecu in ecus:
        if ecu.status is None or ecu.readiness is None or ecu.status_distrusted:
            continue
        if monitor in ecu.readiness.supported:
            yield ecu, ecu.status.state(monitor, ecu.readiness.supported)
