"""What is asked once more: what would end a doubt, whose car it is after a new link, permanent codes.

Cars are the product's own inventions; periods are its own judgement.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from coach.car.arrivals import Answer, Arrival, LinkChange, Outcome, Request
from coach.car.car import Car
from coach.car.happenings import EcuAnsweredAgain, EcuFellSilent
from coach.journal.reader import open_journal
from coach.session.drive import Drive
from coach.session.questions import AGAIN_S, CODES_S, PATIENT_TRIES, ROUNDS, Again, readout, relinked, settling
from coach.session.reading import Questioning
from coach.simulator.cars import make_car
from coach.simulator.vehicle import Reply
from tests.session.in_process import InProcessSource, Misfortune
from tests.session.test_drive import driven, session


@dataclass
class Said:
    """What a conclusion says of asking."""

    again: tuple[str, ...]


@dataclass
class DoubtfulCar:
    """Gives one conclusion after the other, the last for ever."""

    conclusions: list[tuple[str, ...]]

    def conclude(self) -> Said:
        return Said(self.conclusions.pop(0) if len(self.conclusions) > 1 else self.conclusions[0])


# ---------------------------------------------------------------- one question at a time, later and later


def put(again: Again, wanted: tuple[str, ...], seconds: float, answered: bool = True) -> list[tuple[float, str]]:
    """What is put when it is looked at ten times a second."""
    found = []
    for step in range(round(seconds * 10)):
        text = again.next(wanted, step / 10)
        if text is not None:
            found.append((step / 10, text))
            if answered:
                again.asked(text)
    return found


def test_a_doubt_is_asked_away_at_once_and_at_first_every_two_seconds() -> None:
    assert put(Again(), ("0101",), 6.5)[:4] == [(0.0, "0101"), (2.0, "0101"), (4.0, "0101"), (6.0, "0101")]


def test_a_doubt_that_no_question_ends_is_asked_later_and_later_and_never_given_up() -> None:
    times = [t for t, _ in put(Again(), ("0A",), 900.0)]
    gaps = [round(b - a, 1) for a, b in pairwise(times)]
    assert gaps[: PATIENT_TRIES - 1] == [AGAIN_S] * (PATIENT_TRIES - 1)
    assert gaps == sorted(gaps)
    assert gaps[-1] == CODES_S


def test_one_question_is_on_its_way_at_a_time() -> None:
    again = Again()
    assert [again.next(("0101", "03"), 0.0), again.next(("0101", "03"), 0.1)] == ["0101", None]
    again.asked("0101")
    assert again.next(("0101", "03"), 0.2) == "03"


def test_a_doubt_that_was_over_begins_afresh_when_it_comes_back() -> None:
    again = Again()
    put(again, ("0101",), 60.0)
    assert again.next((), 60.1) is None
    assert again.next(("0101",), 60.2) == "0101"


def test_what_is_to_be_asked_besides_goes_before_the_doubts_and_is_asked_once() -> None:
    again = Again()
    again.besides("0A")
    assert [text for _, text in put(again, ("03",), 3.0)] == ["0A", "03", "03"]


def test_a_read_out_ends_with_a_few_rounds_of_what_is_still_in_doubt() -> None:
    assert list(settling(DoubtfulCar([("0101", "03"), ("03",), ()]))) == ["0101", "03", "03"]
    assert list(settling(DoubtfulCar([("0101",)]))) == ["0101"] * ROUNDS


@dataclass
class Clock:
    """A source that only tells the time and what it was asked."""

    t: float = 0.0
    put: list[tuple[float, str]] = field(default_factory=list)

    def now(self) -> float:
        return self.t

    def once(self, requests: Any) -> None:
        self.put += [(self.t, text) for text in requests]


def test_a_read_out_puts_the_same_question_again_no_sooner_than_after_two_seconds() -> None:
    source = Clock()
    walk = Questioning(source, lambda: iter(("0101", "0101", "03")))  # type: ignore[arg-type]
    walk.begin()
    while not walk.done:
        source.t = round(source.t + 0.5, 1)
        walk.take(tuple(Request(source.t, 1, text) for _, text in source.put[-1:]))
    assert source.put == [(0.0, "0101"), (2.0, "0101"), (2.5, "03")]


# ---------------------------------------------------------------- on the simulated cars


def asked(path: Path) -> list[Arrival]:
    reader = open_journal(path)
    return list(reader.arrivals())


def texts(arrivals: list[Arrival]) -> list[str]:
    return [a.text for a in arrivals if isinstance(a, Request)]


def since_link(arrivals: list[Arrival], seconds: float) -> Iterator[list[str]]:
    """What was asked within so many seconds of each link that came up, the first left out."""
    ups = [a.t for a in arrivals if isinstance(a, LinkChange) and a.state == "up"][1:]
    for up_t in ups:
        yield [a.text for a in arrivals if isinstance(a, Request) and up_t <= a.t <= up_t + seconds]


@pytest.mark.parametrize("name", ["small", "estate", "diesel", "hybrid"])
def test_after_every_new_link_the_car_is_asked_who_it_is_and_for_its_findings(tmp_path: Path, name: str) -> None:
    drive, source = session(tmp_path / "j", make_car(name), None, Misfortune(away_every_s=100.0))
    driven(drive, source, 300.0)
    told = list(since_link(asked(tmp_path / "j"), 30.0))
    assert len(told) >= 2
    assert drive.core is not None
    for after in told:
        assert {"0902", "0904", "0100", "0101", "03", "07", "0A"} <= set(after)
        assert after.index("0902") < after.index("0100")
    assert drive.core.car.conclude().identity == "same"


class Deaf(InProcessSource):
    """Loses some answers, by question and unit, so many times; from `told_t` on gives these `instead`."""

    lost: dict[tuple[str, str], int]
    instead: dict[tuple[str, str], bytes]
    told_t: float = 0.0

    def _one(self, ask: Any) -> None:
        truth = self.car.ask

        def heard(request: bytes) -> tuple[Reply, ...]:
            kept = (reply for reply in truth(request) if not self._loses(ask.text, reply.ecu))
            return tuple(Reply(r.ecu, self._instead(ask.text, r)) for r in kept)

        self.car.ask = heard  # type: ignore[method-assign]
        try:
            super()._one(ask)
        finally:
            del self.car.ask  # type: ignore[method-assign]

    def _instead(self, text: str, reply: Reply) -> bytes:
        told = self.instead.get((text, reply.ecu)) if self.now() >= self.told_t else None
        return reply.payload if told is None else told

    def _loses(self, text: str, ecu: str) -> bool:
        left = self.lost.get((text, ecu), 0)
        if left:
            self.lost[text, ecu] = left - 1
        return left > 0


def a_deaf_one(path: Path, name: str) -> tuple[Drive, Deaf]:
    """A drive over a source that hears everything yet."""
    drive, plain = session(path, make_car(name), None)
    source = Deaf(plain.car, plain.driver)
    source.lost, source.instead = {}, {}
    drive.source = source
    return drive, source


def deaf(path: Path, name: str, lost: dict[tuple[str, str], int], after_s: float) -> tuple[Any, list[Any]]:
    """A drive in which these answers get lost, so many times each, from then on."""
    drive, source = a_deaf_one(path, name)
    source.car.key_on()
    source.start()
    happened: list[Any] = []
    while source.now() < 140.0:
        if source.now() >= after_s and lost:
            source.lost, lost = dict(lost), {}
        happened += drive.step(0.2)
    happened += drive.finish("done")
    return drive, happened


def test_an_answer_lost_once_in_a_drive_is_asked_for_at_once(tmp_path: Path) -> None:
    """The codes come every minute; a unit that was silent to them is asked again within seconds."""
    drive, happened = deaf(tmp_path / "j", "small", {("03", "7E8"): 1}, 30.0)
    silent = [h.t for h in happened if isinstance(h, EcuFellSilent) and h.asked == "03"]
    again = [h.t for h in happened if isinstance(h, EcuAnsweredAgain) and h.asked == "03"]
    assert len(silent) == len(again) == 1
    assert again[0] - silent[0] <= AGAIN_S
    assert drive.core.car.codes("stored") == ()


def test_values_of_the_drive_are_not_starved_while_a_unit_stays_silent(tmp_path: Path) -> None:
    lost = {(text, "7E8"): 999 for text in ("03", "07", "0A")}
    drive, happened = deaf(tmp_path / "j", "small", lost, 30.0)
    assert drive.core.car.codes("stored") is None
    arrivals = asked(tmp_path / "j")
    speeds = [a.t for a in arrivals if isinstance(a, Request) and a.t > 60.0 and "0D" in a.text]
    gaps = [b - a for a, b in pairwise(speeds)]
    assert max(gaps) <= 1.5  # the shortest bridge of a hold
    readiness = [a.t for a in arrivals if isinstance(a, Request) and a.text == "0101"]
    assert max(b - a for a, b in pairwise(readiness)) <= 6.0
    assert any(isinstance(h, EcuFellSilent) for h in happened)


def test_permanent_codes_are_asked_for_with_the_others_and_after_a_code_was_stored(tmp_path: Path) -> None:
    drive, source = a_deaf_one(tmp_path / "j", "small")
    source.instead, source.told_t = {("03", "7E8"): bytes.fromhex("43010300")}, 100.0
    source.car.key_on()
    source.start()
    while source.now() < 260.0:
        drive.step(0.2)
    drive.finish("done")
    arrivals = asked(tmp_path / "j")
    stored = next(a.t for a in arrivals if isinstance(a, Answer) and a.payload[:2] == b"\x43\x01")
    permanent = [a.t for a in arrivals if isinstance(a, Request) and a.text == "0A"]
    assert max(b - a for a, b in pairwise(permanent)) <= CODES_S + 5.0
    assert any(0 < t - stored <= 1.0 for t in permanent)


def read_out(name: str, lost: dict[tuple[str, str], int]) -> tuple[Car, list[Arrival]]:
    """A whole read-out over a source that loses answers."""
    _, source = a_deaf_one(Path("unused"), name)
    source.lost = dict(lost)
    source.car.key_on()
    source.start()
    car = Car(can=source.info.can if source.info is not None else None)
    walk, kept = Questioning(source, lambda: readout(car)), list[Arrival]()
    walk.begin()
    while not walk.done:
        arrivals = source.arrivals(0.2)
        kept += arrivals
        for arrival in arrivals:
            car.fold(arrival, [])
        walk.take(arrivals)
    return car, kept


@pytest.mark.parametrize("item", ["0101", "03", "07", "0A"])
def test_what_one_unit_did_not_answer_once_is_asked_for_again_at_the_end_of_a_read_out(item: str) -> None:
    car, kept = read_out("small", {(item, "7E8"): 1})
    assert texts(kept).count(item) == 2
    assert None not in (car.mil_on(), car.codes("stored"), car.codes("pending"), car.codes("permanent"))


def test_permanent_codes_that_nobody_answered_are_asked_for_a_few_times_more() -> None:
    car, kept = read_out("hybrid", {("0A", "7E8"): 2})
    assert texts(kept).count("0A") == 3
    assert car.codes("permanent") == ()
    silent, never = read_out("hybrid", {("0A", "7E8"): 99})
    assert texts(never).count("0A") == 1 + ROUNDS
    assert silent.codes("permanent") is None
    times = [a.t for a in never if isinstance(a, Request) and a.text == "0A"]
    assert all(b - a >= AGAIN_S for a, b in pairwise(times))


def test_a_refusal_of_permanent_codes_by_every_unit_ends_the_asking() -> None:
    from coach.session.questions import may_have_permanent

    car = Car(can=True)

    def hear(number: int, text: str, *answers: str) -> None:
        car.fold(Request(float(number), number, text), [])
        for answer in answers:
            car.fold(Answer(float(number), number, "7E8", bytes.fromhex(answer)), [])
        if not answers:
            car.fold(Outcome(float(number), number, "no_answer", "NO DATA"), [])

    hear(1, "0101", "41010007E500")
    hear(2, "0A")
    assert may_have_permanent(car), "silence is no refusal"
    hear(3, "0A", "7F0A22")
    assert may_have_permanent(car), "not now is not never"
    hear(4, "0A", "7F0A11")
    assert not may_have_permanent(car)
    hear(5, "0A", "4A00")
    assert may_have_permanent(car)


def test_after_a_new_link_only_signs_that_the_car_offers_or_that_are_known_are_asked_for() -> None:
    car = Car(can=True)
    car.fold(Request(1.0, 1, "0900"), [])
    car.fold(Answer(1.0, 1, "7E8", bytes.fromhex("490055000000")), [])
    assert [text for text in relinked(car) if text.startswith("09")] == ["0902", "0904", "0906"]
    car.fold(Request(2.0, 2, "0900"), [])
    car.fold(Answer(2.0, 2, "7E9", bytes.fromhex("490000000000")), [])
    fewer = Car(can=True)
    fewer.fold(Request(1.0, 1, "0900"), [])
    fewer.fold(Answer(1.0, 1, "7E8", bytes.fromhex("490040000000")), [])
    assert [text for text in relinked(fewer) if text.startswith("09")] == ["0902"]


DONE_AT_ONCE = bytes.fromhex("410100076500")
OTHER_VIN = b"\x49\x02\x01" + b"ZZZAS0000N0000009"


def test_with_a_monitor_that_turns_complete_the_car_is_asked_who_it_is_and_another_one_ends_the_coaching(
    tmp_path: Path,
) -> None:
    drive, source = a_deaf_one(tmp_path / "j", "small")
    source.instead = {("0101", "7E8"): DONE_AT_ONCE, ("0902", "7E8"): OTHER_VIN}
    source.told_t = 100.0  # the plug is moved to another car, and no link is lost
    source.car.key_on()
    source.start()
    while source.now() < 130.0:
        drive.step(0.2)
    drive.finish("done")
    core = drive.core
    assert core is not None
    complete_t = next(a.t for a in asked(tmp_path / "j") if isinstance(a, Answer) and a.payload == DONE_AT_ONCE)
    assert any(a.text == "0902" and 0 < a.t - complete_t < 5 for a in asked(tmp_path / "j") if isinstance(a, Request))
    assert core.car.conclude().identity == "another"
    assert core.stop.ended is not None
    assert core.stop.ended.reason == "another_car"
    assert not core.target_reached
