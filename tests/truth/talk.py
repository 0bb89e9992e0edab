"""Questions put to a modelled car and what arrives of them, with every trouble a link and a recording can have.

`Talk.ask` is the only place where arrivals of questions are made and the only one that moves the reader's windows.
"""

from coach.car.arrivals import Answer, Arrival, Damaged, LinkChange, Outcome, Request, Unparsed
from tests.truth.layouts import CONTINUOUS
from tests.truth.signs import SIGNS
from tests.truth.story import Choices, Event, History
from tests.truth.world import FINDINGS, KINDS, READINESS, CarModel, Unit

WATCHED = frozenset(FINDINGS)
TROUBLES = (
    "lost",
    "pending_then_answer",
    "pending_then_nothing",
    "refused_busy",
    "garbled_lines",
    "cut_short",
    "contradicts",
    "late_unasked",
    "late_in_the_next",
    "late_as_lines",
    "late_by_its_id",
    "doubled",
    "all_lost",
    "link_lost",
    "damaged_line",
    "stray_of_another",
)
LATE = tuple(trouble for trouble in TROUBLES if trouble.startswith("late"))
Reply = tuple[Unit, list[bytes]]
"""A unit and its whole answer to a question."""
Sent = tuple[Arrival, Unit | None, str]
"""An arrival, the unit whose answer it is, and how the reader knows it: "said", "named", "ghost", or nothing.

"to come" is an answer that is promised: its silence counts when the question is over.
"""


class Talk:
    """The reader's side: puts questions to `car`, lets them go wrong, keeps what the reader could notice.

    `rate`: one question in this many goes wrong, 0 for none. `deaf`: what is said goes into a file that will be gone.
    """

    def __init__(self, choose: Choices, car: CarModel) -> None:
        self.choose, self.car = choose, car
        self.history = History()
        self.t, self.number, self.rate = 0.0, 0, 0
        self.deaf = False
        self.waiting: list[tuple[Unit, str]] = []
        self.promised: list[tuple[Unit, str]] = []
        self.late: list[tuple[Unit, str, bytes, str, int]] = []

    # ------------------------------------------------------------ what the reader notices

    def emit(self, arrival: Event) -> None:
        """One arrival of the open file."""
        if not self.deaf:
            self.history.events.append(arrival)

    def attempted(self, unit: Unit, item: str) -> None:
        """The reader's window of this finding begins anew."""
        if not self.deaf and item in WATCHED:
            unit.attempted(item)

    def notice(self, unit: Unit, item: str, how: str) -> None:
        """The reader heard of this unit: by name, or as somebody it cannot name."""
        if self.deaf or not how:
            return
        if how == "ghost":
            if item not in unit.heard:
                unit.ghost.add(item)
            return
        unit.heard.add(item)
        unit.ghost.discard(item)
        if how != "said":
            return
        unit.told(item)
        if item == "0100":
            unit.listed = True
        if item in SIGNS:
            self.identified(unit, item)

    def identified(self, unit: Unit, item: str) -> None:
        """A sign of who the car is was told; `Life` keeps count."""

    def relinked(self) -> None:
        """The link came back; `Life` says to which car."""

    def close(self) -> None:
        """The last question is over: whoever did not answer it was silent."""
        for unit, item in self.waiting:
            self.attempted(unit, item)
        for unit, item in self.promised:
            self.notice(unit, item, "named")
        self.waiting.clear()
        self.promised.clear()

    # ------------------------------------------------------------ asking

    def ask(self, text: str, to: Unit | None = None, clean: bool = False) -> None:
        """Put a question to all units, or to one, and let arrive what arrives."""
        self.close()
        self.deliver("late_unasked", "late_as_lines")
        self.t, self.number = round(self.t + 0.4, 3), self.number + 1
        units = [to] if to is not None else self.car.units
        replies = [(unit, answer) for unit in units if (answer := unit.answer(text))]
        trouble, victim = ("", None) if clean or not self.rate else self._drawn(replies)
        self.waiting.extend((unit, text) for unit in units)
        if not self.deaf:
            self._asked(text, to, units, trouble)
        sent: list[Sent] = [(Request(self.t, self.number, text, to.address if to is not None else None), None, "")]
        if self.car.unnamed and len(self.car.units) > 1:
            self._unnamed(text, replies, sent)
        else:
            self._named(text, replies, trouble, victim, sent)
        self._hand_over(sent, text)
        if trouble == "link_lost":  # the question never had its time: nobody was silent
            self.waiting.clear()
            self.promised.clear()
            self.t = round(self.t + 0.2, 3)
            self.emit(LinkChange(self.t, "lost", "the adapter has fallen silent"))
            self.relinked()
        elif len(sent) == 1:
            self.t = round(self.t + 0.3, 3)
            self.emit(Outcome(self.t, self.number, "no_answer", "NO DATA"))
            self.close()

    def _drawn(self, replies: list[Reply]) -> tuple[str, Unit | None]:
        """The trouble of this question, most often none, and the unit whose answer it befalls."""
        if not self.choose.seldom(self.rate):
            return "", None
        trouble = TROUBLES[self.choose(len(TROUBLES))]
        victim = replies[self.choose(len(replies))][0] if replies else None
        alone = trouble in ("stray_of_another", "link_lost")
        if (victim is None and not alone) or (self.car.unnamed and len(self.car.units) > 1):
            return "", None
        return trouble, victim

    def _asked(self, text: str, to: Unit | None, units: list[Unit], trouble: str) -> None:
        """What the reader knows by having asked: strangers that stay silent to a clean question are not there."""
        if to is None:
            self.car.asked_all.add(text)
        if trouble:
            self.history.made[trouble] += 1
            self.history.clean = False
        else:
            for unit in units:
                unit.ghost.discard(text)

    def _named(self, text: str, replies: list[Reply], trouble: str, victim: Unit | None, sent: list[Sent]) -> None:
        """Answers of units that are told apart."""
        for unit, payloads in replies if trouble != "all_lost" else ():
            if unit is victim and trouble:
                sent += self._troubled(trouble, unit, text, payloads)
            else:
                sent += [(Answer(self.t, self.number, unit.address, one), unit, "said") for one in payloads]
        if trouble == "damaged_line":
            self._damage(sent)
        elif trouble == "stray_of_another":
            sent += self._stray(text)

    def _hand_over(self, sent: list[Sent], text: str) -> None:
        """Let the reader have it, late replies to earlier questions in between."""
        for place, (arrival, unit, how) in enumerate(sent):
            if unit is not None and how == "to come":
                self.promised.append((unit, text))
            elif unit is not None and how == "ghost":  # whose silence it was shows when the question is over
                self.notice(unit, text, how)
            elif unit is not None:
                self.attempted(unit, text)
                self.notice(unit, text, how)
                self.waiting = [open_one for open_one in self.waiting if open_one[0] is not unit]
            self.emit(arrival)
            if place == 0 and self.late:
                self.deliver("late_in_the_next", "late_by_its_id", asked=self.number)

    # ------------------------------------------------------------ what goes wrong

    def _troubled(self, trouble: str, unit: Unit, text: str, payloads: list[bytes]) -> list[Sent]:
        """What arrives of one unit's answer."""
        address, t, number = unit.address, self.t, self.number
        good: list[Sent] = [(Answer(t, number, address, one), unit, "said") for one in payloads]
        refusal = bytes([0x7F, int(text[:2], 16)])
        if trouble.startswith("pending"):
            wait: Sent = (Answer(t, number, address, refusal + b"\x78"), unit, "named")
            return [wait, *good] if trouble == "pending_then_answer" else [(wait[0], unit, "to come")]
        if trouble == "refused_busy":
            return [(Answer(t, number, address, refusal + b"\x21"), unit, "named")]
        if trouble == "garbled_lines":
            line = f"{address} 0? {payloads[0].hex(' ').upper()[:-2]}"
            return [(Unparsed(t, number, (line,)), unit, "ghost")]
        if trouble == "cut_short":
            return [(Answer(t, number, address, payloads[0][:-1]), unit, "named")]
        if trouble == "contradicts":
            if not unit.can and text != READINESS:
                return good
            other: Sent = (Answer(t, number, address, self._contradiction(unit, text, payloads[0])), unit, "said")
            return [other, *good] if self.choose(2) else [*good, other]
        if trouble == "doubled":
            return [*good, *good] if unit.can else good
        if trouble in LATE and (unit.can or text not in SIGNS):  # one line of several would tell nobody anything
            self.late.append((unit, text, payloads[0], trouble, number))
        return [] if trouble in ("lost", "link_lost", *LATE) else good

    def _contradiction(self, unit: Unit, text: str, payload: bytes) -> bytes:
        """Another answer of the same unit to the same question, as well formed and not true."""
        if payload[0] == 0x7F:
            return payload
        if text == READINESS:
            way = self.choose(3)
            if way == 0:
                return unit.readiness(mil=not unit.mil)
            return unit.readiness(unfinished=0 if unit.open or way == 2 else unit.supported & ~CONTINUOUS)
        if text in KINDS:
            return bytes([payload[0], 0]) if payload[1] else bytes([payload[0], 1, 0x01, 0x33])
        return payload

    def _stray(self, text: str) -> list[Sent]:
        """A finding that somebody says though something else was asked."""
        items = [item for item in FINDINGS if item != text]
        item = items[self.choose(len(items))]
        units = [u for u in self.car.units if (said := u.answer(item)) and said[0][0] != 0x7F]
        if not units:
            return []
        unit = units[self.choose(len(units))]
        self.attempted(unit, item)
        self.notice(unit, item, "said")
        rq = self.number if self.choose(2) == 0 else None
        return [(Answer(self.t, rq, unit.address, unit.answer(item)[0]), None, "")]

    def _damage(self, sent: list[Sent]) -> None:
        """One line of the file cannot be read."""
        place = self.choose(len(sent))
        arrival, unit, _ = sent[place]
        if unit is not None and not unit.can:  # of its lines one is missing
            sent[:] = [(line, said_by, "named" if said_by is unit else how) for line, said_by, how in sent]
        sent[place] = (Damaged(arrival.t, len(self.history.events) + place), unit, "ghost")
        if place == 0:  # answers to nobody knows what
            sent[1:] = [(answer, said_by, "named") for answer, said_by, _ in sent[1:]]

    def _unnamed(self, text: str, replies: list[Reply], sent: list[Sent]) -> None:
        """Several units without headers: who said what cannot be told; the same words count as one."""
        said = list(dict.fromkeys(one for _, payloads in replies for one in payloads))
        mixed = len({tuple(payloads) for _, payloads in replies}) > 1
        if not mixed or text in KINDS:
            sent += [(Answer(self.t, self.number, "unnamed", one), None, "") for one in said]
        if mixed:
            lines = ("several control units answered without headers", *(one.hex(" ").upper() for one in said))
            sent.append((Unparsed(self.t, self.number, lines), None, ""))
            self.history.clean = False
            self.history.made["several_without_names"] += not self.deaf
        for unit, _ in replies:
            self.attempted(unit, text)
            self.notice(unit, text, "said")
        self.waiting = [open_one for open_one in self.waiting if all(open_one[0] is not unit for unit, _ in replies)]

    def deliver(self, *forms: str, asked: int = 0) -> None:
        """Late replies come in now, in the form that was drawn for them; none to the question `asked` just now."""
        for late in [late for late in self.late if late[3] in forms and late[4] != asked]:
            self.late.remove(late)
            unit, item, payload, form, number = late
            self.attempted(unit, item)
            self.t = t = round(self.t + (0.15 if form in ("late_unasked", "late_as_lines") else 0.0), 3)
            if form == "late_as_lines":
                self.notice(unit, item, "ghost")
                self.emit(Unparsed(t, None, (f"{unit.address} {payload.hex(' ').upper()}",)))
                continue
            whole = unit.can or item not in SIGNS  # before CAN it is one line of several
            self.notice(unit, item, "said" if form == "late_by_its_id" and whole else "named")
            rq = {"late_unasked": None, "late_in_the_next": self.number, "late_by_its_id": number}[form]
            self.emit(Answer(t, rq, unit.address, payload))
