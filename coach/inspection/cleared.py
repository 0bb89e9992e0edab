"""What a clear takes, what keeps it back, and what it did in every ECU: readiness reset, stored codes gone.

An ECU that stays silent has not confirmed it.
"""

from dataclasses import dataclass, field

from coach.car.car import Car
from coach.car.ecus import ITEMS, READINESS, Ecu
from coach.car.identity import Signs
from coach.j1979.monitors import CONTINUOUS

WORD = "clear"
"""What the user has to type."""


@dataclass(frozen=True, slots=True)
class Hurdle:
    """Why nothing is sent: engine_running, engine_unknown, moving, speed_unknown, battery_low, another_car,
    car_unproved."""

    id: str
    value: float | None = None
    limit: float | None = None


@dataclass(frozen=True, slots=True)
class Loss:
    """What a clear takes and what it leaves, as read just before.

    `lost_monitors` are complete now; `permanent` codes stay. `voltage_v` and `fuel_pct` are none where nothing measures
    them. `after_clear`: what the car's profile says of the key right after it. `signs`: whose car it is.
    `uncertain`: readiness, stored, pending or permanent where not every control unit told it: there may be more.
    """

    lost_monitors: tuple[str, ...]
    stored: tuple[str, ...]
    pending: tuple[str, ...]
    frozen_by: tuple[str, ...]
    has_tests: bool
    permanent: tuple[str, ...]
    has_counters: bool
    voltage_v: float | None
    fuel_pct: float | None = None
    after_clear: str = ""
    signs: Signs = field(default_factory=Signs)
    uncertain: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class EcuCleared:
    """One ECU. `confirmed`: it answered 44. `reset`: every monitor it has that can show it reads incomplete.

    `reset` and `codes_gone` are none when they could not be read; `kept` are the monitors still complete. `shows`:
    this ECU has a monitor by which a reset can be seen at all; misfire, fuel system and components read complete.
    `had`: before the clear it had something to lose; without that, looking cleared afterwards proves nothing.
    """

    address: str
    confirmed: bool
    reset: bool | None
    codes_gone: bool | None
    kept: tuple[str, ...] = ()
    shows: bool = True
    had: bool = True

    @property
    def done(self) -> bool | None:
        """Whether the memory of this ECU is cleared; none when it cannot be said."""
        if self.reset is False or self.codes_gone is False:
            return False
        readiness_known = (self.reset is True and self.had) or (
            self.confirmed and (self.reset is True or not self.shows)
        )
        return True if readiness_known and self.codes_gone else None


def cleared_ecus(before: Car, after: Car, confirmed: frozenset[str]) -> tuple[EcuCleared, ...]:
    """Every ECU that had a say in readiness or codes before. `confirmed`: addresses that answered 44.

    One that was heard only afterwards is there when it is surely not cleared; else nothing is known of it.
    """
    concerned = [a for a, ecu in sorted(before.ecus.items()) if ecu.claims_readiness() or ecu.codes]
    told = [_one(before.ecus[address], after.ecus.get(address), confirmed) for address in concerned]
    new = [_one(Ecu(a), ecu, confirmed) for a, ecu in sorted(after.ecus.items()) if a not in before.ecus]
    return (*told, *(one for one in new if one.done is False))


def whole(ecus: tuple[EcuCleared, ...]) -> bool | None:
    """All of them; none when one cannot be told, false when one surely is not."""
    if any(ecu.done is False for ecu in ecus):
        return False
    return True if ecus and all(ecu.done for ecu in ecus) else None


def _one(before: Ecu, ecu: Ecu | None, confirmed: frozenset[str]) -> EcuCleared:
    address = before.address
    if ecu is None:
        return EcuCleared(address, address in confirmed, None, None)
    reset, kept, shows = _readiness(before, ecu)
    codes = ecu.codes.get("stored")
    doubtful = codes is None or codes.codes is None or ecu.why_not(ITEMS["stored"]) is not None
    gone = None if doubtful or codes is None else not codes.codes
    return EcuCleared(address, address in confirmed, reset, gone, kept, shows, _had(before))


def _had(ecu: Ecu) -> bool:
    """Whether there was something to lose: a complete monitor that a clear resets, or a stored code."""
    stored = ecu.codes.get("stored")
    resets = ecu.readiness.complete - set(CONTINUOUS) if ecu.readiness is not None else frozenset()
    return bool(resets) or bool(stored is not None and stored.codes)


def _readiness(before: Ecu, ecu: Ecu) -> tuple[bool | None, tuple[str, ...], bool]:
    """Whether it is reset, what is still complete, and whether this unit could show it. A silent one has not shown."""
    readiness = ecu.readiness
    if readiness is None or ecu.why_not(READINESS) is not None:
        return None, (), before.claims_readiness() or ecu.claims_readiness()
    telling = readiness.supported - set(CONTINUOUS)
    kept = tuple(sorted(telling & readiness.complete))
    return (not kept if telling else None), kept, bool(telling)
