"""What is asked and how often: the questions of a read-out one after the other, and the wishes of a drive.

Pure: it looks at the state of the car and the plan and names requests in hex; asking them is the source's business.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Protocol

from coach.car.car import Car
from coach.car.ecus import Ecu
from coach.drive.core import Core
from coach.drive.rolling import Deceleration
from coach.drive.schema import CruiseHold
from coach.j1979.pids import SINGLE
from coach.j1979.services import NOT_OFFERED

FIRST = ("0100", "0101", "0120", "0140", "0900", "0902", "0904", "0908", "090B", "0151", "0131", "010C", "011F")
"""Enough to know which car it is, of which kind, and how long it stood since the last drive.

Values come last, so that no silence lies between them and those of the read-out behind it.
"""


def first(car: Car) -> Iterator[str]:
    """The first questions, without those the car says it does not offer."""
    for text in FIRST:
        service, item = int(text[:2], 16), int(text[2:], 16)
        if item % 0x20 == 0 or item == 0x01 or offers(car, service, item):
            yield text


FINDINGS = ("0101", "0141", "03", "07", "0A")
"""What an inspection looks at."""
IDENTITY = ("0902", "0904", "0906")
"""Whose car it is: VIN, CALID, CVN."""
VALUES = (0x05, 0x0C, 0x0D, 0x0F, 0x1C, 0x1F, 0x21, 0x2F, 0x30, 0x31, 0x33, 0x42, 0x46, 0x4D, 0x4E, 0xA6)
"""Current data worth knowing at a read-out."""
FROZEN = (0x03, 0x04, 0x05, 0x06, 0x07, 0x0B, 0x0C, 0x0D, 0x0E, 0x0F, 0x10, 0x11, 0x1F)
"""What a freeze frame is asked for; which of them it holds its own map says."""

# Wanted periods in seconds. Our judgement: the holds' bridges are 1.5 s (rolling) and 6 s (cruise), so speed and foot
# come several times within the shortest; temperatures move by a degree in ten seconds; the rest seldom.
FAST_S, FOOT_S, ROLL_S = 0.5, 0.5, 0.25
PERIODS_S = {
    "coolant_c": 4.0,
    "intake_c": 15.0,
    "ambient_c": 30.0,
    "baro_kpa": 60.0,
    "fuel_level_pct": 30.0,
    "module_v": 5.0,
    "run_time_s": 5.0,
    "maf_gps": 2.0,
    "load_pct": 2.0,
    "fuel_system_1": 2.0,
    "purge_pct": 10.0,
    "distance_since_clear_km": 60.0,
    "warm_ups_since_clear": 60.0,
    "run_time_since_clear_min": 60.0,
    "in_drive": 2.0,
    "pto_active": 10.0,
}
PART_SIGNALS_S = 2.0
READINESS_S, CYCLE_S, CODES_S = 3.0, 6.0, 60.0
CONFIRMING_S = 2.0  # while a driven phase may be confirmed, phases' after_hold

PID_OF: dict[str, int] = {
    **{signal: pid for pid, (_length, signal, _read) in SINGLE.items()},
    "fuel_system_1": 0x03,
    "in_drive": 0x65,
    "pf_inlet_b1_c": 0x7C,
    "pf_outlet_b1_c": 0x7C,
    "exhaust_b1_1_c": 0x78,
    "regeneration_active": 0x8B,
    "coolant_2_c": 0x67,
}
"""The PID that brings a signal."""
INSTEAD = {0x05: 0x67, 0x0F: 0x68}
"""Where a car has no single sensor PID: the one with several."""


# ---------------------------------------------------------------- a read-out


def readout(car: Car) -> Iterator[str]:
    """The questions of a whole read-out; each is chosen when the one before has been answered and folded."""
    yield "0100"
    yield from _maps(car, 0x01)
    yield from FINDINGS
    yield from (f"01{pid:02X}" for pid in VALUES if offers(car, 0x01, pid))
    yield "ATRV"
    yield from _vehicle_information(car)
    yield from _freeze_frame(car)
    if car.can is not False:
        yield "0600"
        yield from _maps(car, 0x06)
        yield from (f"06{mid:02X}" for mid in sorted(_listed(car, 0x06)) if mid % 0x20)
    yield from settling(car)


def parting(car: Car) -> Iterator[str]:
    """After the last key-off and key-on: whose car it is, the findings, whether a new cycle began, and the tests.

    Where a code came up the frame it left is read too: it says under which conditions.
    """
    yield "0100"
    yield from car.signs.wanted
    yield from FINDINGS
    yield from (f"01{pid:02X}" for pid in (0x0C, 0x1F, 0x30, 0x31) if offers(car, 0x01, pid))
    yield from _freeze_frame(car)
    if car.can is not False:
        yield "0600"
        yield from _maps(car, 0x06)
        yield from (f"06{mid:02X}" for mid in sorted(_listed(car, 0x06)) if mid % 0x20)
    yield from settling(car)


def relinked(car: Car) -> Iterator[str]:
    """After a new link: whose car it is, and what it says now; what was told before counts only beside that."""
    offered = (text for text in IDENTITY if offers(car, 0x09, int(text[2:], 16)))
    yield from dict.fromkeys((*car.signs.wanted, *offered))
    yield "0100"
    yield from FINDINGS
    yield from settling(car)


def _listed(car: Car, service: int) -> frozenset[int]:
    return frozenset().union(*(ecu.supported.get(service, frozenset()) for ecu in car.ecus.values()))


def offers(car: Car, service: int, pid: int) -> bool:
    """Whether some ECU lists the item. Without any list of this service everything may be offered."""
    listed = _listed(car, service)
    return pid in listed or not any(service in ecu.supported for ecu in car.ecus.values())


def _maps(car: Car, service: int) -> Iterator[str]:
    """The further maps, as long as the one before says that there is one."""
    for first in range(0x20, 0x100, 0x20):
        if first not in _listed(car, service):
            return
        yield f"{service:02X}{first:02X}"


def _vehicle_information(car: Car) -> Iterator[str]:
    yield "0900"
    compression = _ignition(car) == "compression"
    wanted = (0x02, 0x04, 0x06, 0x0A, 0x0B if compression else 0x08)
    yield from (f"09{infotype:02X}" for infotype in wanted if offers(car, 0x09, infotype))


def _freeze_frame(car: Car) -> Iterator[str]:
    """Only where a code is stored is there a frame; its map says what it holds."""
    if not any(_frame_likely(ecu) for ecu in car.ecus.values()):
        return
    yield "020000"
    yield "020200"
    yield from (f"02{pid:02X}00" for pid in FROZEN if offers(car, 0x02, pid))


def _frame_likely(ecu: Ecu) -> bool:
    stored = ecu.codes.get("stored")
    counted = ecu.readiness is not None and ecu.readiness.code_count > 0
    return counted or (stored is not None and bool(stored.codes))


def _ignition(car: Car) -> str | None:
    return next((ecu.readiness.ignition for ecu in car.ecus.values() if ecu.readiness is not None), None)


# ---------------------------------------------------------------- what would end a doubt


class Concluded(Protocol):
    """What is concluded of a car, as far as asking needs it."""

    @property
    def again(self) -> tuple[str, ...]:
        """Requests that would end a doubt."""


class Doubtful(Protocol):
    """A car that says what would end its doubts."""

    def conclude(self) -> Concluded:
        """What may be concluded now."""


ROUNDS = 3  # our judgement: a lost line is lost once, seldom twice; what three more questions leave open stays told
AGAIN_S = 2.0  # our judgement: a control unit that was busy has answered by then, and the values are not starved
PATIENT_TRIES = 4  # our judgement: doubt that so many questions did not end is no lost line, and is asked more seldom


def settling(car: Doubtful) -> Iterator[str]:
    """The end of a read-out: a few rounds of what is still in doubt."""
    for _ in range(ROUNDS):
        yield from car.conclude().again


@dataclass(slots=True)
class Again:
    """What is asked once more in a drive, at once and one at a time, so that the values of the drive are not starved.

    The same question comes again after `AGAIN_S`, then later and later, at last every `CODES_S`, as long as it is
    wanted; what is not wanted any more is forgotten. `_tries`: how often each was asked, and when last.
    """

    _tries: dict[str, tuple[int, float]] = field(default_factory=dict)
    _besides: dict[str, None] = field(default_factory=dict)
    _on_its_way: str | None = None

    def besides(self, text: str) -> None:
        """Ask this once too."""
        self._besides[text] = None

    def asked(self, text: str) -> None:
        """A question went out."""
        if text == self._on_its_way:
            self._on_its_way = None

    def next(self, wanted: Iterable[str], t: float) -> str | None:
        """The question to put now; none while one is on its way, or when none is due."""
        texts = (*self._besides, *wanted)
        self._tries = {text: tried for text, tried in self._tries.items() if text in texts}
        if self._on_its_way is not None:
            return None
        for text in texts:
            tries, last_t = self._tries.get(text, (0, -CODES_S))
            if t - last_t >= _pause_s(tries):
                self._tries[text] = (tries + 1, t)
                self._besides.pop(text, None)
                self._on_its_way = text
                return text
        return None


def _pause_s(tries: int) -> float:
    return min(CODES_S, AGAIN_S * 2.0 ** max(0, tries - PATIENT_TRIES))


# ---------------------------------------------------------------- which kind of car

HYBRID_FUELS = frozenset(
    range(0x10, 0x17)
)  # PID 51: 16 hybrid gasoline to 22 hybrid mixed fuel (SAE J1979, from memory)


def proposed_profile(car: Car) -> tuple[str | None, str]:
    """The profile the car's own words point to, and why; none when they do not tell."""
    if car.values.get("fuel_type") in HYBRID_FUELS:
        return "hybrid", "it says it is a hybrid (PID 51)"
    ignition = _ignition(car)
    if ignition == "compression":
        return "light_diesel", "its readiness has the layout of a diesel"
    if ignition == "spark" and car.can is False:
        return "spark_running_leak", "a petrol car from before CAN tests for leaks with the engine running (likely)"
    if ignition == "spark":
        return "spark_engine_off_leak", "a petrol car on CAN most often tests for leaks with the engine off (likely)"
    return None, "it did not say which kind of engine it has"


# ---------------------------------------------------------------- the wishes of a drive


def wishes(core: Core) -> dict[str, float]:
    """What is wanted how often in this moment of the drive: request in hex to seconds."""
    car = core.car
    rolling = any(isinstance(core.trackers[phase], Deceleration) for phase in (core.planned or ())[:1])
    wanted = {"010D": ROLL_S if rolling else FAST_S, "010C": FAST_S}
    for signal in _foot_signals(core):
        wanted[f"01{PID_OF[signal]:02X}"] = ROLL_S if rolling else FOOT_S
    for signal, period_s in {**PERIODS_S, **_part_signals(core)}.items():
        pid = PID_OF[signal]
        pid = pid if offers(car, 0x01, pid) else INSTEAD.get(pid, pid)
        if offers(car, 0x01, pid):
            wanted[f"01{pid:02X}"] = period_s
    if "module_v" not in car.values:
        wanted["ATRV"] = PERIODS_S["module_v"] * 2
    confirming = any(ladder.wait_until_t is not None for ladder in core.ladders.values())
    wanted["0101"] = CONFIRMING_S if confirming else READINESS_S
    if offers(car, 0x01, 0x41):
        wanted["0141"] = CYCLE_S
    wanted["03"] = wanted["07"] = CODES_S
    if may_have_permanent(car):
        wanted["0A"] = CODES_S
    return wanted


def may_have_permanent(car: Car) -> bool:
    """Whether some unit ever gave permanent codes, or may still: silence alone is no proof that it is not offered."""
    if any("permanent" in ecu.codes for ecu in car.ecus.values()):
        return True
    having_a_say = [ecu for ecu in car.ecus.values() if ecu.claims_readiness()]
    refused = bool(having_a_say) and all(ecu.refused.get("0A") in NOT_OFFERED for ecu in having_a_say)
    return not refused and car.conclude().codes["permanent"].offered is not False


def _foot_signals(core: Core) -> list[str]:
    """The best two witnesses of the foot this car offers, by the profile's own order."""
    order = core.built.profile.signals
    known = [signal for signal in order.accelerator_closed.first if signal in PID_OF and signal != "fuel_system_1"]
    return [signal for signal in known if offers(core.car, 0x01, PID_OF[signal])][:2]


def _part_signals(core: Core) -> dict[str, float]:
    """What the parts of the holds look at, where the profile has such parts."""
    profile = core.built.profile
    orders = profile.signals.orders()
    watched = {
        part.watch
        for form in profile.phase.values()
        if isinstance(form.hold, CruiseHold)
        for part in form.hold.part.values()
    }
    signals = [signal for watch in watched if watch != "speed" for signal in orders[watch] if signal in PID_OF]
    found = dict.fromkeys(signals, PART_SIGNALS_S)
    if "torque" in watched:
        found["reference_torque_nm"] = CODES_S
    return found
