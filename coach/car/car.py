"""What is known of the car: one fold of arrivals into one state.

`Car.fold` is the only place where it changes. It must not conclude about phases or verdicts; those stand above.
States and what may move them:
  engine   unknown -> stopped | running      by engine speed
  cycle    n -> n + 1                        by PID 1F falling or the ignition counter rising, nothing else
  finding  unknown -> value -> uncertain     by answers; silence, refusal and garbage make it uncertain
"""

from dataclasses import dataclass

from coach.car import clearing, doubting, driving, episodes, reports
from coach.car.arrivals import (
    Answer,
    Arrival,
    Choice,
    ClockStep,
    Damaged,
    LinkChange,
    Mark,
    Outcome,
    Reading,
    Request,
    Unparsed,
)
from coach.car.happenings import DataLost, Happening, LinkChanged, NoteMade
from coach.car.known import Known, remember
from coach.car.questions import Question, read_question
from coach.car.state import SILENCE_S, CarState
from coach.j1979.errors import J1979Error
from coach.j1979.pids import PIDS, SINGLE, TRIM_PIDS, split_current_data
from coach.j1979.signals import SIGNALS

OWNER_SILENT_S = 5.0  # our judgement: after this the next ECU that reports a signal is listened to

ChangedSignals = tuple[str, ...]
_ALONE: dict[str, ChangedSignals] = {signal: (signal,) for signal in SIGNALS}
_NOTHING: ChangedSignals = ()
_WATCHED = driving.WATCHED
_COUNTERS = frozenset({"run_time_s", *clearing.SINCE_CLEAR})
_RAILED = {"speed_kmh": (0xFF,), "coolant_c": (0x00, 0xFF), "intake_c": (0x00, 0xFF), "ambient_c": (0xFF,)}
"""Signals of one byte whose ends, 255 km/h, 215 °C, -40 °C, a sensor or a unit without a value shows: our judgement.

A start at -40 °C would make a warm-up cycle of any drive; outside air may be so cold, and then nothing counts.
"""
_PLAIN = {pid: known for pid, known in PIDS.items() if pid not in TRIM_PIDS and pid not in (0x67, 0x68)}
"""PIDs of a fixed length that may stand among others; trims may have two lengths, 67 and 68 a sensor at its rail."""
_FAST = {pid: single for pid, single in SINGLE.items() if pid not in reports.PID_REPORTS}


@dataclass(slots=True)
class Car(CarState):
    """The state of the car with the one function that changes it."""

    # ------------------------------------------------------------ what came in

    def fold(self, arrival: Arrival, out: list[Happening]) -> ChangedSignals:
        """Take one arrival; happenings go to `out`. Returns the ids of the signals that were heard in it."""
        self.now = t = arrival.t
        kind = type(arrival)
        if kind is Answer:
            return self._answer(arrival, out)  # type: ignore[arg-type]
        if kind is Reading:
            signal = arrival.signal  # type: ignore[union-attr]
            if signal in _COUNTERS:
                self._count("", signal, arrival.value, t, out)  # type: ignore[union-attr]
            self._heard(signal, arrival.value, t, out)  # type: ignore[union-attr]
            return _ALONE.get(signal, _NOTHING)
        if kind is Request:
            if self.questions.open is not None and self.questions.open.watched:
                doubting.close_question(self, out)
            if self.parted:
                episodes.new_episode(self, arrival.t, out)
            self.questions.ask(arrival)  # type: ignore[arg-type]
            if (asked := self.questions.open) is not None and (
                asked.watched or asked.to or asked.service in episodes.CLEARS
            ):
                episodes.asked(self, arrival, asked, out)  # type: ignore[arg-type]
            return _NOTHING
        self._rare(arrival, out)
        return _NOTHING

    def expire(self, t: float, out: list[Happening]) -> None:
        """Tell what fell due by `t`, dated at its deadline: a silence that nothing judged, the loss of data."""
        if self.cycle.tell_t is not None and t > self.cycle.tell_t:
            self.cycle.tell(self.cycle.tell_t, out)
        if self.value_t is not None and not self.lost and t > self.value_t + SILENCE_S:
            self.lost = True
            out.append(DataLost(self.value_t + SILENCE_S, self.value_t))

    def deadline(self) -> float | None:
        """When `expire` has something to say, none when it has nothing."""
        lost_t, tell_t = None if self.lost or self.value_t is None else self.value_t + SILENCE_S, self.cycle.tell_t
        return lost_t if tell_t is None else tell_t if lost_t is None else min(lost_t, tell_t)

    def end(self, out: list[Happening]) -> None:
        """The recording is over: the last question is closed like any other."""
        if self.questions.open is not None and self.questions.open.watched:
            doubting.close_question(self, out)

    def remember(self, known: Known) -> None:
        """What earlier recordings of this car told; before anything of this one came in."""
        self.known = known
        remember(self, known)

    def dropped(self, arrival: Arrival) -> None:
        """A record that could not be used for its time: what it may have said of a finding is uncertain."""
        if isinstance(arrival, Answer):
            doubting.doubt(self, arrival.ecu, doubting.about(arrival.payload), "out_of_order", self.now)
        elif isinstance(arrival, Unparsed | Outcome | Request):
            question = self.questions.of(arrival.request_id) if not isinstance(arrival, Request) else None
            question = read_question(arrival.text) if isinstance(arrival, Request) else question
            doubting.doubt_all(self, question, "out_of_order")
        elif isinstance(arrival, Damaged):
            doubting.doubt_everything(self, "line_lost")

    # ------------------------------------------------------------ values

    def _answer(self, answer: Answer, out: list[Happening]) -> ChangedSignals:
        payload = answer.payload
        question = self.questions.of(answer.request_id)
        if len(payload) > 2 and payload[0] == 0x41 and question is not None and question.service == 0x01:
            single = _FAST.get(payload[1])
            if single is not None and single[0] == len(payload) and payload[1] in question.pids:
                signal = single[1]
                raw = payload[2]
                if (raw == 0xFF or raw == 0x00) and raw in _RAILED.get(signal, ()):  # the quick look first
                    return self._at_the_rail(answer, question, out)
                if signal in _COUNTERS:
                    self._count(answer.ecu, signal, single[2](payload), answer.t, out)
                if not self._owned(signal, answer):
                    return _NOTHING
                self._heard(signal, single[2](payload), answer.t, out)
                return _ALONE[signal]
            return self._current_data(answer, question, out)
        reports.take_answer(self, answer, question, out)
        return _NOTHING

    def _several(self, answer: Answer, question: Question, out: list[Happening]) -> ChangedSignals | None:
        """Several plain PIDs in one answer, the common case of a drive; none: the answer needs a closer look."""
        payload, at, pids = answer.payload, 1, question.pids
        size = len(payload)
        found: list[tuple[str, float]] = []
        seen = 0
        while at < size:
            pid = payload[at]
            if pid not in pids or seen >> pid & 1:
                return None
            seen |= 1 << pid
            single = _FAST.get(pid)
            if single is not None:
                signal, end = single[1], at + single[0] - 1
                if end > size or payload[at + 1] in _RAILED.get(signal, ()):
                    return None
                found.append((signal, single[2](payload[at - 1 : end])))
            else:
                known = _PLAIN.get(pid)
                if known is None or (end := at + 1 + known.length) > size:
                    return None
                found += known.read(payload[at + 1 : end])
            at = end
        heard = []
        for signal, value in found:
            if signal in _COUNTERS:
                self._count(answer.ecu, signal, value, answer.t, out)
            if self._owned(signal, answer):
                self._heard(signal, value, answer.t, out)
                heard.append(signal)
        return tuple(heard)

    def _current_data(self, answer: Answer, question: Question, out: list[Happening]) -> ChangedSignals:
        if len(question.pids) > 1:
            quick = self._several(answer, question, out)
            if quick is not None:
                return quick
        try:
            parts = split_current_data(answer.payload, tuple(question.pids))
            decoded = [(pid, data, self._decode(pid, data)) for pid, data in parts]
        except J1979Error as why:
            doubting.malformed(self, answer, question, str(why), out)
            return _NOTHING
        heard: list[str] = []
        for pid, data, values in decoded:
            if pid in reports.PID_REPORTS:
                reports.take_status(self, answer, pid, data, out)
            for signal, value in values:
                if data[0] in _RAILED.get(signal, ()) and len(data) == 1:
                    self._at_the_rail(answer, question, out)
                    continue
                if signal in _COUNTERS:
                    self._count(answer.ecu, signal, value, answer.t, out)
                if self._owned(signal, answer):
                    self._heard(signal, value, answer.t, out)
                    heard.append(signal)
        return tuple(heard)

    def _at_the_rail(self, answer: Answer, question: Question, out: list[Happening]) -> ChangedSignals:
        """All bits set is what a sensor that has nothing to say sends; it is no value."""
        items = " ".join(sorted(question.items))
        happening = self.count_unusable(answer.t, answer.ecu, items, "at_its_rail", answer.payload.hex().upper())
        if happening is not None:
            out.append(happening)
        return _NOTHING

    def _count(self, ecu: str, signal: str, value: float, t: float, out: list[Happening]) -> None:
        """What only rises within a cycle or since a clear is judged for each ECU by itself."""
        if signal != "run_time_s":
            clearing.since_clear(self, ecu, signal, value, t, out)
            return
        if self.signs.known and self.signs.state == "unproved":
            episodes.run_goes_on(self, ecu, value, t, out)
        driving.run_time(self, ecu, value, t, out)

    @staticmethod
    def _decode(pid: int, data: bytes) -> tuple[tuple[str, float], ...]:
        known = PIDS.get(pid)
        return known.decode(data) if known is not None else ()

    def _owned(self, signal: str, answer: Answer) -> bool:
        """One ECU owns a signal: the lowest address that reports it, so that two reports are not mixed.

        Another takes over when the owner left a whole request unanswered and has been silent for some seconds.
        """
        owner, ecu = self.owner.get(signal), answer.ecu
        if owner == ecu:
            return True
        if owner is None or ecu < owner or self._owner_gone(signal, answer):
            self.owner[signal] = ecu
            return True
        return False

    def _owner_gone(self, signal: str, answer: Answer) -> bool:
        heard_t = self.heard_t.get(signal, answer.t)
        if answer.t - heard_t <= OWNER_SILENT_S:
            return False
        missed = self.owner_missed.get(signal)
        if missed is not None and missed[0] == heard_t:
            return missed[1] != answer.request_id
        self.owner_missed[signal] = (heard_t, answer.request_id)
        return False

    def _heard(self, signal: str, value: float, t: float, out: list[Happening]) -> None:
        """One value of one signal: note it, then let those look at it whom it concerns."""
        if self.lost:
            driving.returned(self, t, out)
        self.value_t = t
        before = self.values.get(signal)
        self.values[signal] = value
        self.heard_t[signal] = t
        if signal in _WATCHED:
            driving.look(self, signal, value, before, t, out)
        elif signal == "map_kpa" and self.cycle.running is False:
            self.cold_engine_baro_kpa = value

    def unwatched_weather(self) -> tuple[str, ...]:
        """Conditions of the general denominator that nothing tells: ambient_c, baro_kpa, rpm, accelerator."""
        return driving.unwatched(self)

    # ------------------------------------------------------------ the rest

    def _rare(self, arrival: Arrival, out: list[Happening]) -> None:
        if isinstance(arrival, LinkChange):
            self.interrupt()
            out.append(LinkChanged(arrival.t, arrival.state, arrival.why))
            episodes.cut_off(self, out)
            self.parted = arrival.state != "up"
            if not self.parted:
                episodes.new_episode(self, arrival.t, out)
        elif isinstance(arrival, ClockStep):
            driving.clock_set(self, arrival, out)
        elif isinstance(arrival, Mark):
            out.append(NoteMade(arrival.t, arrival.text))
        elif isinstance(arrival, Outcome):
            doubting.take_outcome(self, arrival, out)
        elif isinstance(arrival, Unparsed):
            doubting.unparsed(self, arrival, out)
        elif isinstance(arrival, Damaged):
            doubting.damaged(self, arrival, out)
        elif isinstance(arrival, Choice):
            self._answered_by_user(arrival)

    def _answered_by_user(self, choice: Choice) -> None:
        """What no PID tells the user may say: {"answer": {"fuel_level_pct": 60.0}}. A measured value stays.

        {"same_car": true} and {"unit": {"7E9": "replaced"}} say what a missing or another sign means.
        """
        episodes.told_of_units(self, choice.choice)
        told = choice.choice.get("answer")
        if not isinstance(told, dict):
            return
        for signal, value in told.items():
            if signal not in SIGNALS or not isinstance(value, int | float) or signal in self.owner:
                continue
            if SIGNALS[signal].low <= value <= SIGNALS[signal].high:  # no gauge shows more
                self.values[signal] = float(value)
                self.heard_t[signal] = choice.t
