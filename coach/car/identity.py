"""Who answers: the signs of a car (VIN; CALID and CVN of each unit) beside those that were known before.

A new link is a new episode: what was told before it is known, and counts again only when a sign agrees and none
contradicts. Signs come from service 09 and are compared as they come in.
"""

from dataclasses import dataclass, field, replace

from coach.car.conclusion import Identity
from coach.car.ecus import Ecu
from coach.car.happenings import AnotherCarAnswered, Happening, UnitChanged
from coach.j1979.errors import J1979Error
from coach.j1979.vehicle_info import decode_calibration_ids, decode_cvns, decode_vin

SIGN_ITEMS = {"09 02": "vin", "09 04": "calid", "09 06": "cvn"}
"""The items that tell a sign, and the sign."""
READERS = {"vin": decode_vin, "calid": decode_calibration_ids, "cvn": decode_cvns}
SAME_RUN_S = 3.0  # our judgement: PID 1F counts whole seconds and an answer may be a second or two late


@dataclass(slots=True)
class Signs:
    """The signs of a car, by unit and sign ("vin", "calid", "cvn")."""

    known: dict[tuple[str, str], tuple[str, ...]] = field(default_factory=dict)
    told: dict[tuple[str, str], tuple[str, ...]] = field(default_factory=dict)
    excused: frozenset[str] = frozenset()
    another: bool = False
    excused_all: bool = False
    agreed_by_run: bool = False

    def copy(self) -> "Signs":
        """An independent copy."""
        return replace(self, known=dict(self.known), told=dict(self.told))

    def new_episode(self) -> None:
        """A new link: what was told is known, unless it was told by another car."""
        if self.state not in ("another", "unproved", "changed"):
            self.known.update(self.told)
        self.told.clear()
        self.another = self.agreed_by_run = False

    def hear(self, ecu: Ecu, item: str, can: bool, t: float, out: list[Happening]) -> bool:
        """A reply of service 09; true when it told a sign, whole and readable."""
        sign = SIGN_ITEMS.get(item)
        if sign is None:
            return False
        try:
            value = READERS[sign](ecu.kept[item], can)
        except J1979Error:
            return False  # lines before CAN still coming in; a broken one is told when the read-out is decoded
        told = (value,) if isinstance(value, str) else tuple(value)
        if not any(text.strip("0 ") for text in told):
            return False  # nothing but zeros identifies nobody
        before, key = self.state, (ecu.address, sign)
        earlier = self.told.get(key)
        self.told[key] = told
        if sign == "vin" and earlier is not None and earlier != told:
            self.another = True
        self._tell(ecu.address, sign, before, t, out)
        return True

    def _tell(self, address: str, sign: str, before: Identity, t: float, out: list[Happening]) -> None:
        now = self.state
        if now == before:
            return
        if now == "another":
            out.append(AnotherCarAnswered(t, address, sign))
        elif now in ("changed", "two_vins"):
            out.append(UnitChanged(t, address, sign))

    def excuse(self, address: str) -> None:
        """The user says that this unit was reprogrammed or replaced: its signs contradict nothing."""
        self.excused |= {address}

    @property
    def state(self) -> Identity:
        """See `coach.car.conclusion.Identity`."""
        if self.another:
            return "another"
        vins = self._vins(self.told)
        known = self._vins(self.known)
        if vins and known and vins.isdisjoint(known):
            return "same" if self.excused_all else "another"
        if len(vins | known if vins else vins) > 1:
            return "same" if self.excused_all else "two_vins"
        if self._contradicted():
            return "changed"
        if not self.known:
            return "first" if self.told else "not_told"
        agreed = bool(vins & known) or any(self.known.get(key) == told for key, told in self.told.items())
        return "same" if agreed or self.agreed_by_run or self.excused_all else "unproved"

    def _vins(self, signs: dict[tuple[str, str], tuple[str, ...]]) -> frozenset[str]:
        return frozenset(
            vin for (unit, sign), vins in signs.items() if sign == "vin" and unit not in self.excused for vin in vins
        )

    def _contradicted(self) -> bool:
        """Another CALID or CVN; one list that begins the other is the same, its rest was lost or is still to come."""
        return not self.excused_all and any(
            (known := self.known.get(key)) is not None
            and known[: len(told)] != told[: len(known)]
            and key[0] not in self.excused
            for key, told in self.told.items()
            if key[1] != "vin"
        )

    @property
    def wanted(self) -> tuple[str, ...]:
        """The questions that would prove it: the items by which a sign is known, or was told since."""
        signs = {sign for _, sign in (*self.known, *self.told)}
        return tuple(item.replace(" ", "") for item, sign in SIGN_ITEMS.items() if sign in signs)
