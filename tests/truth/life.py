"""A car's life over several files: read-outs, drives, clears, plug-ins, swaps; and the truth at its moments.

`make_history(data)` is the generator: the same bytes give the same history on every machine.
"""

from coach.car.arrivals import Answer, Choice, LinkChange, Outcome, Request, Unparsed
from tests.truth.layouts import CODES
from tests.truth.signs import VIN, Signs
from tests.truth.story import Begin, Choices, Clear, End, Event, Gone, History, Truth
from tests.truth.talk import LATE, Talk
from tests.truth.world import (
    KINDS,
    PENDING,
    PERMANENT,
    READINESS,
    STORED,
    CarModel,
    Unit,
    make_car,
    renumber,
)

THIS_YEAR = 2026
WHOLE = ("0100", "0120", "0101", "0141", "03", "07", "0A", "0130314E", "0902", "0904", "0906", "0908")
WHOLE_OLD = ("0100", "0120", "0101", "03", "07", "0A", "0130", "0131", "0902", "0904", "0906")
SHORT = ("0101", "03", "07", "0A")
DRIVE = ("010C", "010D", "0101", "07", "010D", "0131", "0101", "03")
RATES = (0, 24, 10, 5)


class Life(Talk):
    """The world and what it does, beside what the reader does."""

    def __init__(self, choose: Choices, every_moment: bool) -> None:
        super().__init__(choose, make_car(choose, 1))
        self.every_moment = every_moment
        self.cars, self.first = 1, self.car
        """`first`: the car the record is of: the one that told the first sign."""
        self.told: list[int] = []
        """Cars that told a sign, in order."""
        self.first_heard = False
        self.signs = Signs()
        self.told_here = False
        """A sign was told since the last plug-in or link."""
        self.before_here: set[int] = set()
        """Cars that had told a sign before the last plug-in or link."""
        self.renumbered = False
        self.excused = ""
        """Why nothing has to be told at the end, whatever is answered."""
        self.year_told = False

    def emit(self, arrival: Event) -> None:
        """One arrival of the open file, and the truth after it where that is wanted."""
        super().emit(arrival)
        if self.car is self.first and not self.deaf and type(arrival) in (Answer, Unparsed):
            self.first_heard = True
        if self.every_moment:
            self.truth("arrived")

    # ------------------------------------------------------------ files

    def begin(self, name: str, gone: bool = False) -> None:
        """A new file: a new plug-in of whatever car is there."""
        self.t, self.number, self.deaf = 0.0, 0, gone
        self.plugged(new_file=True)
        year = None if self.choose.seldom(12) else THIS_YEAR
        self.year_told = year is not None
        self.emit(Begin(name, self.car.can, year))
        self.emit(LinkChange(0.0, "up", "the car answers"))

    def end(self, name: str) -> None:
        """The file is over; one that is gone is told to be."""
        self.close()
        if self.deaf:
            self.deaf = False
            self.history.events.append(Gone(name))
            self.history.made["file_gone"] += 1
            self.history.clean = False
            for unit in self.car.units:
                unit.all_attempted()
        else:
            self.emit(End())

    def plugged(self, new_file: bool) -> None:
        """A new link: who is there now has to show it. What the same car said before a broken link it may have said."""
        self.close()
        self.late.clear()
        if self.deaf:
            return
        self.told_here = False
        self.before_here = set(self.told)
        self.signs.parted()
        if new_file:
            self.first_heard = self.car is not self.first
            for unit in self.car.units:
                unit.saved = unit.window()
                unit.all_attempted()

    def relinked(self) -> None:
        """The link came back within the file, to this car or another."""
        self.t = round(self.t + 4.0, 3)
        if self.rate and self.told and self.choose.seldom(4):
            self.swap(same_bus=True)
        self.emit(LinkChange(self.t, "up", "the car answers"))
        self.plugged(new_file=False)

    # ------------------------------------------------------------ who the car is

    def identified(self, unit: Unit, item: str) -> None:
        """The reader knows something of who this is."""
        self.told_here = True
        self.car.signs.add(item)
        self.signs.here[unit.address, item] = {VIN: unit.vin, "0904": unit.calid, "0906": unit.cvn}[item] or b""
        if not self.told:
            self.first = self.car
        if self.car.number not in self.told:
            self.told.append(self.car.number)

    def swap(self, same_bus: bool = False) -> None:
        """Another car stands in front of the adapter. Never before the first told a sign: nobody could know."""
        self.history.made["car_swapped"] += 1
        self.history.clean = False
        old = self.car
        self.late.clear()
        if old is not self.first and not self.signs.another and not self.deaf:
            self.excused = "a car that never told that it is another may have been this one"
        if old is not self.first and self.choose(2) == 0 and self.first.can == old.can:
            self.car = self.first
            return
        self.cars += 1
        self.car = make_car(self.choose, self.cars)
        while same_bus and self.car.can != old.can:
            self.car = make_car(Choices(bytes([0 if old.can else 4])), self.cars)

    def alter_unit(self) -> None:
        """A unit is reprogrammed or replaced: other calibration, nothing has run, no code."""
        unit = self.car.units[self.choose(len(self.car.units))]
        if unit.calid is None:
            return
        self.history.made["unit_altered"] += 1
        self.history.clean = False
        renumber(unit, 5000 + self.choose(200))
        unit.clear()
        unit.cleared = True
        unit.codes[PERMANENT] = ()
        unit.changed()
        if unit.heard & {"0904", "0906"}:
            self.renumbered = True

    def choice(self) -> None:
        """The user says what is so: which unit was reprogrammed, and that it is the same car where no VIN says it."""
        if not self.renumbered or self.car is not self.first:
            return
        for unit in self.car.units:
            if unit.calid is not None and unit.calid >= b"CAL0005000":
                self.emit(Choice(self.t, {"unit": {unit.address: "reprogrammed"}}))
                self.signs.excuse(unit.address)
        if not self.signs.knows_vin or len(self.car.units) == 1:
            self.emit(Choice(self.t, {"same_car": True}))
        self.renumbered = False
        self.history.made["told_of_a_unit"] += 1

    # ------------------------------------------------------------ what happens to it

    def drive(self) -> None:
        """Some driving: monitors run, codes come and go, and now and then somebody looks."""
        self.history.made["drive"] += 1
        for text in DRIVE[: 2 + self.choose(7)]:
            if self.choose(2) == 0 and not self.late:
                self.happen()
            self.ask(text)

    def happen(self) -> None:
        """Something changes in the car that nobody sees."""
        unit = self.car.units[self.choose(len(self.car.units))]
        what = self.choose(6)
        if what <= 2:
            unit.finish(self.choose(256) << 3 if what else 0x7FF)
        elif what == 3:
            unit.heal()
        elif unit.has_readiness:
            unit.fail(CODES[self.choose(len(CODES))], PENDING if what == 4 else STORED)
        for one in self.car.units:
            one.km, one.minutes = one.km + 3, one.minutes + 4

    def key_cycle(self) -> None:
        """The key is turned off and on again."""
        self.history.made["key_cycle"] += 1
        self.t = round(self.t + 30.0, 3)
        for unit in self.car.units:
            unit.ignition += 1
            unit.warm_ups = min(255, unit.warm_ups + 1)

    # ------------------------------------------------------------ clears

    def clear(self) -> None:
        """Service 04 or UDS 14 in the recording, with every way it can end."""
        self.close()
        by_us = not self.choose.seldom(4)
        text, yes = ("04", b"\x44") if by_us else ("14FFFFFF", b"\x54")
        way = ("proved", "refused_by_one", "link_lost", "pending", "garbled", "no_answer", "one_silent")[self.choose(7)]
        if self.rate == 0 or self.car.unnamed:
            way = "proved"
        self.history.made[f"clear_{way}" if by_us else "clear_uds"] += 1
        self.t, self.number = round(self.t + 1.0, 3), self.number + 1
        self.emit(Request(self.t, self.number, text))
        self.first_heard = self.first_heard or self.car is self.first
        self.car.clear_sent = self.car.clear_sent or not self.deaf
        self._cleared(way, int(text[:2], 16), yes)
        for unit in self.car.units:
            for item in (READINESS, STORED, PENDING):
                self.attempted(unit, item)
        if way != "proved":
            self.history.clean = False

    def _cleared(self, way: str, service: int, yes: bytes) -> None:
        one = self.car.units[self.choose(len(self.car.units))]
        t, number = round(self.t + 0.1, 3), self.number
        self.car.acted = self.car.acted if self.deaf else True
        self.t = t
        does = way in ("proved", "one_silent", "refused_by_one") or self.choose(2) == 1
        for unit in self.car.units:
            silent = unit is one and way == "one_silent"
            refuses = unit is one and way == "refused_by_one"
            if does and not refuses and not (silent and self.choose(2)):
                unit.clear()
                unit.cleared = True
            elif not self.deaf:
                unit.cleared = unit.nothing_to_lose()
                self.car.acted = False
            if way in ("proved", "one_silent", "refused_by_one") and not silent:
                said = bytes([0x7F, service, 0x22]) if refuses else yes
                if unit.address != "unnamed" or unit is self.car.units[0]:
                    self.emit(Answer(t, number, unit.address, said))
                    self.notice(unit, "04", "said")
        if way == "pending":
            self.emit(Answer(t, number, one.address, bytes([0x7F, service, 0x78])))
            self.notice(one, "04", "named")
        elif way == "garbled":
            self.emit(Unparsed(t, number, (f"{one.address} 0? 44",)))
        elif way == "no_answer":
            self.emit(Outcome(t, number, "no_answer", "NO DATA"))
        elif way == "link_lost":
            self.emit(LinkChange(t, "lost", "the port vanished"))
            self.relinked()

    def clear_unseen(self) -> None:
        """Somebody else clears while no file is open, all units or one."""
        self.history.made["clear_by_others"] += 1
        one = self.choose.seldom(3)
        for unit in self.car.units[: 1 if one else None]:
            unit.clear()
            unit.cleared = True

    # ------------------------------------------------------------ the truth

    def truth(self, where: str, must: frozenset[str] = frozenset()) -> None:
        """Set down what may be said now: of the car here, or between files of the one that the record is of."""
        if self.deaf:
            return
        car = self.car
        if self.signs.another and where == "between":
            car = self.first
            if not self.first_heard:
                for unit in car.units:
                    unit.look_back()
        supported = undone = opened = 0
        units = car.concerned(READINESS)
        off = bool(units)
        for unit in units:
            supported |= unit.supported
            undone |= unit.supported & ~unit.done_seen
            off = off and bool(unit.mil_seen & 1)
        for unit in car.units:
            opened |= unit.open_seen
        kinds = {kind: car.concerned(kind) for kind in KINDS}
        self.history.events.append(
            Truth(
                car.layout,
                supported,
                supported & ~undone,
                opened,
                off,
                any(unit.mil_seen & 2 for unit in car.units),
                {kind: all(unit.none_seen[kind] for unit in found) for kind, found in kinds.items()},
                {kind: frozenset().union(*(u.said_seen[kind] for u in car.units)) for kind in KINDS},
                self._not_identity() if car is self.car else frozenset(),
                self._clear_of(car),
                self._clear_of(self.first),
                any(unit.odd for unit in units),
                must,
                car.year < 2010 and "0902" in car.signs,
                where,
            )
        )

    def _clear_of(self, car: CarModel) -> Clear:
        """What is true of a clear of this car, of the units the reader has to reckon with."""
        units = [unit for unit in car.units if unit.heard or not car.asked_all]
        return Clear(car.clear_sent, car.acted, all(unit.cleared for unit in units))

    def _not_identity(self) -> frozenset[str]:
        """Words about who the car is that would be wrong now."""
        wrong = set()
        if self.car.number not in self.told or not self.told_here:
            wrong.add("same")
        if self.before_here:
            wrong |= {"first", "not_told"}
        if set(self.told) <= {self.car.number}:
            wrong |= {"another", "two_vins"}
            if not self.history.made["unit_altered"]:
                wrong.add("changed")
        if self.before_here and self.car.number not in self.before_here:
            wrong.add("same")
        return frozenset(wrong)

    # ------------------------------------------------------------ read-outs

    def read(self, texts: tuple[str, ...], clean: bool = False) -> None:
        """Questions one after the other, the truth after some of them."""
        for text in texts:
            self.ask(text, clean=clean)
            if self.rate and not clean and self.choose.seldom(5):
                self.truth(f"after {text}")

    def whole(self) -> tuple[str, ...]:
        """The questions of a whole read-out of this car."""
        return WHOLE if self.car.can else WHOLE_OLD

    def one_unit_only(self) -> None:
        """A tool that asks one unit by its address."""
        self.history.made["asked_one_only"] += 1
        unit = self.car.units[self.choose(len(self.car.units))]
        for text in ("0100", *SHORT, "0902")[: 2 + self.choose(5)]:
            if unit in self.car.units:  # behind a broken link there may be another car
                self.ask(text, to=unit)

    def must(self) -> frozenset[str]:
        """What has to be told after a clean read-out of everything."""
        if self.excused or self.renumbered or (self.car.unnamed and len(self.car.units) > 1):
            return frozenset()
        if self.told and self.car is not self.first:
            return frozenset({"another"}) if self.signs.another else frozenset()
        told = {READINESS, STORED, PENDING, "identity"}
        old = self.car.year < 2010
        if not old or ("0902" in self.car.signs and self.year_told):
            told.add(PERMANENT)
        if self.told and not self.car.signs:
            return frozenset()
        return frozenset(told) if any(unit.has_readiness for unit in self.car.units) else frozenset()


def make_history(data: bytes, every_moment: bool = False) -> History:
    """One history out of a string of bytes. `every_moment`: the truth after every arrival, not only after some."""
    choose = Choices(data)
    rate = RATES[choose(4)]
    life = Life(choose, every_moment)
    life.rate = rate
    files = 1 + choose(3)
    for file in range(files):
        last = file == files - 1
        name = f"file-{file}.journal"
        life.begin(name, gone=bool(rate) and not last and choose.seldom(8))
        for _ in range(1 + choose(3)):
            step = choose(len(_STEPS))
            _STEPS[step](life)
            life.truth("within", life.must() if step == 0 and not rate else frozenset())
        if last and (rate == 0 or not choose.seldom(4)):
            _end_cleanly(life)
        life.end(name)
        life.truth("between")
        if not last:
            _BETWEEN[choose(len(_BETWEEN))](life)
    return life.history


def _end_cleanly(life: Life) -> None:
    """Every doubted question answered by every unit, identity asked and told."""
    life.choice()
    life.close()
    life.deliver(*LATE)
    life.read(life.whole(), clean=True)
    life.close()
    life.history.ended = True
    life.truth("ended", life.must())


def _nothing(life: Life) -> None:
    """Time passes."""


def _rest(life: Life) -> None:
    life.key_cycle()
    for _ in range(life.choose(3)):
        life.happen()


def _lost_link(life: Life) -> None:
    life.close()
    life.emit(LinkChange(life.t, "lost", "the adapter has fallen silent"))
    life.history.made["relinked"] += 1
    life.relinked()


def _swap(life: Life) -> None:
    if life.rate and life.told:
        life.swap()


def _alter(life: Life) -> None:
    if life.rate:
        life.alter_unit()


def _physical(life: Life) -> None:
    if life.rate and not life.car.unnamed:
        life.one_unit_only()
    else:
        life.read(SHORT)


_STEPS = (
    lambda life: life.read(life.whole()),
    lambda life: life.read(SHORT),
    lambda life: life.read(("0100", *SHORT, "0902")),
    Life.drive,
    Life.drive,
    Life.clear,
    Life.key_cycle,
    _lost_link,
    _physical,
    lambda life: life.read(("0902", "0904", "0101")),
)
_BETWEEN = (_nothing, _rest, _rest, Life.clear_unseen, _swap, _alter)
