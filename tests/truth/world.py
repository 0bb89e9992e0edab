"""The cars of a history: what is true of each unit, and since when a reader can know it. Knows nothing of `coach`.

A unit's `Window` holds every state a finding had since the reader last put that question to the unit, or last saw
something of it that it could not make out. What the reader is told must have been true at some instant of that window:
before it, it had to notice; after it, nobody told it.
"""

from dataclasses import dataclass, field

from tests.truth.layouts import CODES, CONTINUOUS, codes, information, status, support, vin_of

READINESS, STORED, PENDING, PERMANENT = "0101", "03", "07", "0A"
KINDS = (STORED, PENDING, PERMANENT)
FINDINGS = (READINESS, *KINDS)


class Unit:
    """One control unit: its truth, what the reader has heard of it (`heard`, `ghost`), and its windows.

    `heard`: questions it answered in any form that names it. `ghost`: questions at which something came in that may
    have been its answer and names nobody. `listed`: its own map was heard.
    """

    __slots__ = (
        "address",
        "calid",
        "can",
        "cleared",
        "codes",
        "cvn",
        "done_seen",
        "ghost",
        "has_readiness",
        "heard",
        "ignition",
        "km",
        "layout",
        "listed",
        "mil",
        "mil_seen",
        "minutes",
        "none_seen",
        "odd",
        "offers_permanent",
        "open",
        "open_seen",
        "refuses",
        "said_seen",
        "saved",
        "stored_then",
        "supported",
        "vin",
        "warm_ups",
    )

    def __init__(self, address: str, can: bool, layout: int, supported: int, unfinished: int) -> None:
        self.address, self.can, self.layout = address, can, layout
        self.supported, self.open, self.odd = supported, unfinished, 0
        self.mil = self.cleared = False
        self.codes: dict[str, tuple[str, ...]] = {STORED: (), PENDING: (), PERMANENT: ()}
        self.calid: bytes | None = None
        self.cvn, self.vin = b"", b""
        self.warm_ups, self.km, self.minutes, self.ignition = 40, 900, 2000, 300
        self.has_readiness, self.offers_permanent = True, True
        self.refuses: dict[str, int] = {}
        """Questions it always answers with a refusal, and the code of it."""
        self.heard: set[str] = set()
        self.ghost: set[str] = set()
        self.listed = False
        self.done_seen = self.open_seen = self.mil_seen = 0
        self.none_seen: dict[str, bool] = {}
        self.said_seen: dict[str, frozenset[str]] = {}
        self.attempted(READINESS)
        for kind in KINDS:
            self.attempted(kind)
        self.saved = self.window()

    # ------------------------------------------------------------ the reader's windows

    def attempted(self, item: str) -> None:
        """The reader put this question, or saw something of it: from here on only what is true now may be told."""
        if item == READINESS:
            self.done_seen, self.open_seen = self.supported & ~self.open, self.open
            self.mil_seen = 2 if self.mil else 1
        elif item in self.codes:
            now = self.codes[item]
            self.none_seen[item], self.said_seen[item] = not now, frozenset(now)
            if item == PERMANENT:
                self.stored_then = self.codes[STORED]

    def told(self, item: str) -> None:
        """It said this in so many words: a code that was stored since makes its permanent codes a question again."""
        stored, then = self.codes[STORED], self.stored_then
        if (item == STORED and set(stored) - set(then)) or (item == READINESS and len(stored) > len(then)):
            self.attempted(PERMANENT)

    def window(self) -> tuple[int, int, int, dict[str, bool], dict[str, frozenset[str]]]:
        """Its windows as they are."""
        return self.done_seen, self.open_seen, self.mil_seen, dict(self.none_seen), dict(self.said_seen)

    def look_back(self) -> None:
        """The windows as they were before the file that brought nothing of it."""
        self.done_seen, self.open_seen, self.mil_seen, none, said = self.saved
        self.none_seen, self.said_seen = dict(none), dict(said)

    def all_attempted(self) -> None:
        """The reader must look at everything anew."""
        for item in FINDINGS:
            self.attempted(item)

    def changed(self) -> None:
        """The truth changed unseen: the new state joins the windows."""
        self.done_seen |= self.supported & ~self.open
        self.open_seen |= self.open
        self.mil_seen |= 2 if self.mil else 1
        for kind, now in self.codes.items():
            if not now:
                self.none_seen[kind] = True
            else:
                self.said_seen[kind] |= frozenset(now)

    def claims(self) -> bool:
        """Whether the reader has a sign that this unit has a say in readiness."""
        return READINESS in self.heard or (self.listed and self.has_readiness) or "0100" in self.ghost

    # ------------------------------------------------------------ what it answers

    def answer(self, text: str) -> list[bytes]:
        """Its whole answer to a question in hex, empty for silence."""
        if text in self.refuses:
            return [bytes([0x7F, int(text[:2], 16), self.refuses[text]])]
        if text in self.codes:
            if text == PERMANENT and not self.offers_permanent:
                return []
            return codes(int(text, 16), self.codes[text], self.can)
        maker = _ANSWERS.get(text)
        return maker(self) if maker is not None else []

    def readiness(self, mil: bool | None = None, unfinished: int | None = None) -> bytes:
        """PID 01 as it is, or with another word."""
        lit = self.mil if mil is None else mil
        first = (0x80 if lit else 0) | len(self.codes[STORED])
        return status(1, first, self.layout, self.supported, self.open if unfinished is None else unfinished, self.odd)

    # ------------------------------------------------------------ what happens to it

    def clear(self) -> None:
        """Its memory is cleared: readiness, stored and pending codes, counters; permanent codes stay."""
        self.open = self.supported & ~CONTINUOUS
        self.codes[STORED] = self.codes[PENDING] = ()
        self.mil, self.warm_ups, self.km, self.minutes = False, 0, 0, 0
        self.changed()

    def nothing_to_lose(self) -> bool:
        """Whether it looks the same before and after a clear."""
        return self.open == self.supported & ~CONTINUOUS and not (self.codes[STORED] or self.mil)

    def finish(self, monitors: int) -> None:
        """These monitors ran; with none left open the car erases its permanent codes."""
        self.open &= ~monitors
        if not self.open and not self.mil:
            self.codes[PERMANENT] = ()
        self.changed()

    def fail(self, code: str, kind: str) -> None:
        """A fault: pending only, or confirmed with the MIL and a permanent code where the car has such."""
        wanted = (PENDING,) if kind == PENDING else KINDS if self.offers_permanent else (STORED, PENDING)
        for one in wanted:
            self.codes[one] = tuple(dict.fromkeys((*self.codes[one], code)))
        self.mil = self.mil or kind != PENDING
        self.changed()

    def heal(self) -> None:
        """Three driving cycles without the fault: the MIL goes out, pending codes go."""
        self.codes[PENDING], self.mil = (), False
        self.changed()


def _map_00(unit: Unit) -> list[bytes]:
    return [support(0x00, ((0x01,) if unit.has_readiness else ()) + (0x0C, 0x0D, 0x1F, 0x20))]


_ANSWERS = {
    "0100": _map_00,
    "0120": lambda u: [support(0x20, (0x30, 0x31, 0x40))],
    "0140": lambda u: [support(0x40, (0x41, 0x4E))] if u.can else [],
    "0101": lambda u: [u.readiness()] if u.has_readiness else [],
    "0141": lambda u: [status(0x41, 0, u.layout, u.supported, u.open)] if u.can and u.has_readiness else [],
    "0130": lambda u: [bytes([0x41, 0x30, u.warm_ups])],
    "0131": lambda u: [bytes([0x41, 0x31, u.km >> 8, u.km & 255])],
    "014E": lambda u: [bytes([0x41, 0x4E, u.minutes >> 8, u.minutes & 255])] if u.can else [],
    "0130314E": lambda u: [
        bytes([0x41, 0x30, u.warm_ups, 0x31, u.km >> 8, u.km & 255, 0x4E, u.minutes >> 8, u.minutes & 255])
    ],
    "010C": lambda u: [bytes([0x41, 0x0C, 0x0C, 0x80])],
    "010D": lambda u: [bytes([0x41, 0x0D, 0x30])],
    "011F": lambda u: [bytes([0x41, 0x1F, 0x01, 0x2C])],
    "0902": lambda u: information(0x02, u.vin, u.can) if u.vin else [],
    "0904": lambda u: information(0x04, u.calid, u.can) if u.calid else [],
    "0906": lambda u: information(0x06, u.cvn, u.can) if u.calid else [],
    "0908": lambda u: information(0x08, _counters(u), u.can, 16) if u.has_readiness and u.calid else [],
}


def _counters(unit: Unit) -> bytes:
    """General denominator, ignition cycles, and seven pairs that stay."""
    words = [unit.ignition - 20, unit.ignition, *(part for n in range(7) for part in (n, n + 10))]
    return b"".join(word.to_bytes(2, "big") for word in words)


@dataclass(slots=True)
class CarModel:
    """One physical car. `signs`: what identifies it that the reader was ever told. `unnamed`: lines without headers.

    `clear_sent`: one was seen; `acted`: every unit obeyed the last one.
    `asked_all`: questions that were put to every unit at once, so that silence of a stranger says something.
    """

    number: int
    year: int
    can: bool
    units: list[Unit]
    layout: int
    unnamed: bool = False
    clear_sent: bool = False
    acted: bool = False
    asked_all: set[str] = field(default_factory=set)
    signs: set[str] = field(default_factory=set)

    def concerned(self, item: str) -> list[Unit]:
        """The units a fair reader has to reckon with for this finding."""
        if item == READINESS:
            if not self.asked_all & {"0100", READINESS}:
                return [unit for unit in self.units if unit.has_readiness]
            return [u for u in self.units if u.has_readiness and (u.claims() or READINESS in u.ghost)]
        strangers = not self.asked_all & {"0100", READINESS, item}
        return [
            unit
            for unit in self.units
            if (strangers or item in unit.heard or item in unit.ghost or unit.claims())
            and (item != PERMANENT or unit.offers_permanent)
        ]


SUPPORTED = (0b01100101_111, 0b11100101_111, 0b01101111_111, 0b00100001_111)
SECOND = (0b00000000_100, 0b00000001_100, 0b10000000_000, 0b01100001_100)
DIESEL = (0b11101011_111, 0b10001011_111)
ADDRESSES = {"can11": ("7E8", "7E9", "7EA"), "can29": ("18DAF110", "18DAF118", "18DAF128"), "kline": ("10", "11", "18")}


def make_car(choose, number: int) -> CarModel:  # type: ignore[no-untyped-def]
    """A car by choices: bus, number of units, their monitors and codes, what it tells of itself."""
    bus = ("can11", "can11", "can11", "can29", "kline")[choose(5)]
    can = bus != "kline"
    year = (2016, 2015, 2012, 2011, 2006, 2004)[choose(6)] if can else (2003, 2001)[choose(2)]
    layout = int(choose(6) == 5)
    unnamed = not can and choose(3) == 2
    units = []
    for place in range(1 + (0, 1, 1, 0, 1, 2)[choose(6)]):
        units.append(_make_unit(choose, "unnamed" if unnamed else ADDRESSES[bus][place], can, layout, place, year))
    car = CarModel(number, year, can, units, layout, unnamed)
    _name(choose, car)
    return car


def _make_unit(choose, address: str, can: bool, layout: int, place: int, year: int) -> Unit:  # type: ignore[no-untyped-def]
    sets = SECOND if place else DIESEL if layout else SUPPORTED
    supported = sets[choose(len(sets))]
    if layout:
        supported &= DIESEL[0]
    state = choose(4)  # all complete, one open, several open, all open
    unfinished = 0 if state == 0 else supported & ~CONTINUOUS & (0xFFFF if state == 3 else choose(256) << 3)
    unit = Unit(address, can, layout, supported, unfinished)
    unit.offers_permanent = year >= 2010
    if place == 2 and choose(2):
        unit.has_readiness, unit.supported, unit.open = False, 0, 0
        unit.refuses = {READINESS: 0x12} if choose(2) else {}
    if year < 2010 and choose(3) == 2:
        unit.refuses[PERMANENT] = 0x11
    trouble = choose(12)
    if trouble >= 8:
        unit.fail(CODES[choose(len(CODES))], PENDING if trouble == 8 else STORED)
        if trouble == 11:
            unit.heal()
    elif trouble == 7 and unit.offers_permanent:
        unit.codes[PERMANENT] = (CODES[choose(len(CODES))],)
    if choose(24) == 23:
        unit.odd = (0b10000_000 & ~supported) | (1 << 11)
    unit.warm_ups, unit.km = 3 + choose(40), 40 + choose(250)
    unit.all_attempted()
    return unit


def _name(choose, car: CarModel) -> None:  # type: ignore[no-untyped-def]
    """VIN, CALID and CVN, or none of them: old cars tell less."""
    told = choose(8)
    for place, unit in enumerate(car.units):
        if told != 7 and place == 0:
            unit.vin = vin_of(car.number, car.year)
        if told < 6 and (unit.has_readiness or place < 2):
            renumber(unit, car.number * 10 + place)


def renumber(unit: Unit, number: int) -> None:
    """Another calibration: CALID of sixteen characters and a CVN of four bytes."""
    unit.calid = f"CAL{number:07d}".encode().ljust(16, b"\0")
    unit.cvn = (0x10000000 + number * 7919).to_bytes(4, "big")
