"""A read-out: one question after the other, each chosen when the one before has been answered."""

from collections.abc import Callable, Iterable, Iterator

from coach.car.arrivals import Arrival, Request
from coach.car.car import Car
from coach.car.known import Known
from coach.session.questions import AGAIN_S
from coach.session.source import Source


class Questioning:
    """Walks through questions on a source. Feed it what comes in, after the car has folded it.

    The same question is put again no sooner than `AGAIN_S` after the last time.
    """

    def __init__(self, source: Source, questions: Callable[[], Iterator[str]]) -> None:
        self._source = source
        self._make = questions
        self._questions = questions()
        self._asked: str | None = None
        self._last_t: dict[str, float] = {}
        self._held: str | None = None
        self.done = False
        self.count = 0

    def begin(self) -> None:
        """Ask the first question."""
        self._next()

    def again(self) -> None:
        """The link came back: the question under way is lost, begin anew."""
        self._questions, self._held, self.done = self._make(), None, False
        self._next()

    def take(self, arrivals: tuple[Arrival, ...]) -> None:
        """What came in. All arrivals of one question come together, so the next can be asked behind them."""
        if self._held is not None:
            self._put(self._held)
            return
        if self.done or self._asked is None:
            return
        if any(isinstance(arrival, Request) and arrival.text == self._asked for arrival in arrivals):
            self._next()

    def _next(self) -> None:
        self._asked = None
        text = next(self._questions, None)
        if text is None:
            self.done = True
            return
        self._put(text)

    def _put(self, text: str) -> None:
        """Ask, or hold it back until it may be asked once more."""
        now = self._source.now()
        if now - self._last_t.get(text, -AGAIN_S) < AGAIN_S:
            self._held = text
            return
        self._held, self._asked, self._last_t[text] = None, text, now
        self.count += 1
        self._source.once((text,))


def read_anew(arrivals: Iterable[Arrival], can: bool | None, known: Known) -> Car:
    """A car that begins with what is known of it and takes these arrivals to their end."""
    car = Car(can=can)
    car.remember(known)
    fold_all(car, tuple(arrivals))
    car.end([])
    return car


def fold_all(car: Car, arrivals: tuple[Arrival, ...]) -> None:
    """Fold arrivals into a car that nobody drives; what happened is of no interest."""
    for arrival in arrivals:
        car.now = max(car.now, arrival.t)
        car.fold(arrival, [])
