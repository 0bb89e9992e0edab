"""Links, questions and the user's word: whose words the next ones are, and who was asked. For `Car.fold` alone."""

from collections.abc import Mapping
from typing import Any

from coach.car.arrivals import Request
from coach.car.clearing import clear_asked, proved_same
from coach.car.clears import CLEAR_SERVICES
from coach.car.concluding import FOREIGN
from coach.car.cycle import MOVING_KMH, SHORT_SILENCE_S
from coach.car.doubting import close_question, doubt, tell_changes
from coach.car.happenings import Happening
from coach.car.identity import SAME_RUN_S
from coach.car.questions import Question
from coach.car.state import SILENCE_S, CarState, Own

CLEARS = frozenset(CLEAR_SERVICES)


def asked(car: CarState, request: Request, question: Question, out: list[Happening]) -> None:
    """A question that a finding rests on, one that was put to a single unit, or a clear."""
    if question.watched:
        car.clear_then = car.clear.copy()
    if question.to is None and not question.watched <= car.asked_all:
        car.asked_all |= question.watched
        car.changed()
    elif question.to is not None and question.watched and question.to not in car.asked_alone:
        car.asked_alone |= {question.to}
        car.changed()
    if question.service in CLEARS:
        clear_asked(car, request, out)


def cut_off(car: CarState, out: list[Happening]) -> None:
    """A link that changes cuts off a question nobody has answered yet; of the others whoever was silent was silent."""
    if car.questions.open is not None and car.questions.open.watched and car.questions.answered_by:
        close_question(car, out)
    car.questions.open = None


def new_episode(car: CarState, t: float, out: list[Happening]) -> None:
    """Behind a new link there may be another car: what an unproved one said last does not outlive it."""
    if car.signs.state == "another" and car.own is not None:
        _undo(car, car.own)
    if car.signs.state in FOREIGN:
        for address, ecu in car.ecus.items():
            doubt(car, address, ecu.answered, "another_car", t)
        if car.signs.state != "another":
            car.clear.of_nobody(car.episode_t or 0.0)
    car.signs.new_episode()
    car.parted, car.own = False, Own.of(car)
    car.episode_t, car.run_before = t, dict(car.counters)
    car.moving_before = (car.values.get("speed_kmh", 0.0) > MOVING_KMH, car.heard_t.get("speed_kmh", -1e9))
    car.changed()
    tell_changes(car, t, out)


def _undo(car: CarState, own: Own) -> None:
    """It was another car: this one is as it was when that link came up."""
    before = Own.of(own)
    car.ecus, car.doubts, car.clear = before.ecus, before.doubts, before.clear
    car.counters, car.ignition_counts = before.counters, before.ignition_counts


def run_goes_on(car: CarState, ecu: str, value: float, t: float, out: list[Happening]) -> None:
    """Rolling on both sides of a short silence, the run time gone on with it: nobody swapped cars."""
    before, speed = car.run_before.get((ecu, "run_time_s")), car.fresh("speed_kmh", SILENCE_S)
    rolled, rolled_t = car.moving_before
    if before is None or speed is None or speed <= MOVING_KMH or not rolled or t - rolled_t > SHORT_SILENCE_S:
        return
    if car.heard_t["speed_kmh"] > (car.episode_t or 0.0) and abs(value - before[0] - (t - before[1])) <= SAME_RUN_S:
        car.signs.agreed_by_run = True
        proved_same(car)
        car.changed()
        tell_changes(car, t, out)


def told_of_units(car: CarState, made: Mapping[str, Any]) -> None:
    """What the user says of units, {"unit": {"7E9": "replaced"}}, or of the whole, {"same_car": true}."""
    was = car.signs.state
    if made.get("same_car") is True:
        car.signs.excused_all = True
        car.changed()
    units = made.get("unit")
    for address, what in units.items() if isinstance(units, Mapping) else ():
        if what == "taken_out":
            car.ecus.pop(address, None)
        car.signs.excuse(str(address))
        car.changed()
    if was in FOREIGN and car.signs.state not in FOREIGN:
        proved_same(car)
