"""A clear of the memory: sent, and what every unit has shown of it since.

States and what may move them:
  none     -> unproved   service 04 (or 14 of the newer services) was sent, or a counter fell back
  unproved -> proved     every unit has shown it: its monitors read as reset, its stored codes gone
  unproved -> refused    every unit that had a say refused
A unit that only looks cleared, and had nothing to lose, has shown nothing unless it confirmed.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from coach.car.conclusion import ClearFinding, ClearState
from coach.car.ecus import ITEMS, READINESS, Ecu
from coach.j1979.monitors import CONTINUOUS

CLEAR_SERVICES = (0x04, 0x14)
"""Clear diagnostic information: SAE J1979 service 04; 14 of ISO 14229, which the newer cars use."""


@dataclass(frozen=True, slots=True)
class UnitCleared:
    """What one unit has shown of a clear. `had`: before it, it had something to lose that a reading would miss.

    `shows`: it has a monitor by which a reset can be seen at all. `reset`, `gone` (stored codes): none until read.
    `new`: it was heard only since, so that all it can do is look cleared.
    """

    had: bool = False
    shows: bool = True
    confirmed: bool = False
    refused: bool = False
    reset: bool | None = None
    gone: bool | None = None
    new: bool = False

    @property
    def done(self) -> bool | None:
        """Whether the memory of this unit is cleared; none when it cannot be said."""
        if self.reset is False or self.gone is False or (self.refused and not self.confirmed):
            return False
        readiness_known = (self.reset is True and self.had) or (
            (self.confirmed or self.new) and (self.reset is True or not self.shows)
        )
        return True if readiness_known and self.gone else None


@dataclass(slots=True)
class Clear:
    """The last clear. `t`: in this recording, none when it was in an earlier one.

    `request_id` and `number` of the question; none and 0 when only a trace told of it. `perhaps`: units whose counters
    say that they were cleared, while nobody knows whose they are.
    """

    seen: bool = False
    t: float | None = None
    request_id: int | None = None
    number: int = 0
    units: dict[str, UnitCleared] = field(default_factory=dict)
    perhaps: frozenset[str] = frozenset()

    def copy(self) -> "Clear":
        """An independent copy."""
        return replace(self, units=dict(self.units))

    def begin(self, t: float, ecus: Mapping[str, Ecu], request_id: int | None = None, number: int = 0) -> None:
        """A clear was sent, or proved by a counter: nothing that any unit showed before counts."""
        self.seen, self.t, self.request_id, self.number = True, t, request_id, number
        self.units = {
            address: UnitCleared(had=loses(ecu), shows=_shows(ecu))
            for address, ecu in ecus.items()
            if ecu.claims_readiness() or ecu.codes
        }

    def explains(self, address: str, before_t: float) -> bool:
        """Whether a counter of this unit that fell since `before_t` tells of this clear and of no other."""
        known = self.units.get(address)
        refused = known is not None and known.refused and not known.confirmed
        return self.t is not None and self.t >= before_t and not refused

    def of_nobody(self, since_t: float) -> None:
        """What was shown since then was shown by nobody knows whom: whether this car was cleared it has to show."""
        self.perhaps = frozenset()
        if self.t is not None and self.t >= since_t:
            self.units = {a: UnitCleared(had=unit.had, shows=unit.shows) for a, unit in self.units.items()}

    def confirm(self, address: str) -> None:
        """This unit answered that it cleared, or a counter of it shows that it did."""
        self.units[address] = replace(self.units.get(address) or UnitCleared(), confirmed=True)

    @property
    def confirmed(self) -> frozenset[str]:
        """The units that confirmed."""
        return frozenset(address for address, unit in self.units.items() if unit.confirmed)

    def refuse(self, address: str) -> None:
        """This unit refused."""
        self.units[address] = replace(self.units.get(address) or UnitCleared(), refused=True)

    def look(self, ecu: Ecu, item: str) -> None:
        """A proper answer of this unit since the clear: what it shows of it, kept once it was shown."""
        known = self.units.get(ecu.address)
        if not self.seen:
            return
        if known is None:
            known = UnitCleared(new=True, shows=_shows(ecu))
        if item == READINESS and ecu.readiness is not None:
            telling = ecu.readiness.supported.difference(CONTINUOUS)
            reset = not telling & ecu.readiness.complete if telling else None
            self.units[ecu.address] = replace(known, shows=bool(telling), reset=known.reset or reset)
        elif item == ITEMS["stored"] and "stored" in ecu.codes:
            gone = not ecu.codes["stored"].codes
            self.units[ecu.address] = replace(known, gone=known.gone or gone)

    @property
    def state(self) -> ClearState:
        """None, unproved, refused or proved."""
        if not self.seen:
            return "none"
        every = tuple(self.units.values())
        if every and all(unit.done for unit in every):
            return "proved"
        refused = every and all(unit.refused and not unit.confirmed for unit in every)
        return "refused" if refused else "unproved"

    def finding(self) -> ClearFinding:
        """The same for those who read it, with the units that have not shown it."""
        lacking = tuple(sorted(a for a, unit in self.units.items() if not unit.done))
        return ClearFinding(self.state, self.t, lacking)


def is_clear(text: str) -> bool:
    """Whether a request's hex asks for a clear."""
    try:
        return bytes.fromhex(text)[:1] in (bytes([service]) for service in CLEAR_SERVICES)
    except ValueError:
        return False


def shown_by(ecus: Iterable[Ecu], clear: Clear) -> None:
    """Everything read for certain since the clear, shown again: for a record that goes on in another recording."""
    for ecu in ecus:
        for item in (READINESS, ITEMS["stored"]):
            if ecu.why_not(item) is None:
                clear.look(ecu, item)


def as_before(ecu: Ecu) -> Ecu:
    """The unit as the recordings before this one knew it: what it has told since is no part of that."""
    concerned = frozenset({READINESS}) if ecu.claims_readiness() or ecu.codes else frozenset()
    return Ecu(ecu.address, expected=concerned, loses_known=ecu.loses_known)


def loses(ecu: Ecu) -> bool:
    """Whether there is something to lose: a complete monitor that a clear resets, or a stored code."""
    stored = ecu.codes.get("stored")
    if ecu.readiness is None and stored is None:
        return ecu.loses_known
    resets = ecu.readiness.complete.difference(CONTINUOUS) if ecu.readiness is not None else frozenset()
    return bool(resets) or bool(stored is not None and stored.codes)


def _shows(ecu: Ecu) -> bool:
    telling = ecu.readiness.supported.difference(CONTINUOUS) if ecu.readiness is not None else frozenset()
    return bool(telling) or (ecu.readiness is None and ecu.claims_readiness())
