"""The program under test, and what a deaf one would be: several files folded into one record of a car."""

from collections.abc import Callable

from coach.car.arrivals import Answer, Arrival, LinkChange, Request, Unparsed
from coach.car.conclusion import Conclusion
from coach.car.record import Record
from coach.j1979.services import RESPONSE_PENDING


class Deaf:
    """A program with a planted fault: it never hears one kind of arrival."""

    def __init__(self, hears: Callable[[Arrival], Arrival | None]) -> None:
        self._record, self._hears = Record(), hears

    def begin(self, name: str, can: bool | None = None, year_now: int | None = None) -> None:
        """A file begins."""
        self._record.begin(name, can=can, year_now=year_now)

    def feed(self, arrival: Arrival) -> None:
        """One arrival, unless it is not heard."""
        heard = self._hears(arrival)
        if heard is not None:
            self._record.feed(heard)

    def missing(self, name: str) -> None:
        """A file that is known of cannot be read."""
        self._record.missing(name)

    def finish(self) -> None:
        """The file ends."""
        self._record.finish()

    def conclude(self) -> Conclusion:
        """What may be said now."""
        return self._record.conclude()


def _to_all(arrival: Arrival) -> Arrival:
    return Request(arrival.t, arrival.id, arrival.text) if isinstance(arrival, Request) else arrival


def _without(unheard: Callable[[Arrival], bool]) -> Callable[[Arrival], Arrival | None]:
    return lambda arrival: None if unheard(arrival) else arrival


def _pending(arrival: Arrival) -> bool:
    return (
        isinstance(arrival, Answer) and arrival.payload[:1] == b"\x7f" and arrival.payload[2:] == RESPONSE_PENDING_BYTE
    )


RESPONSE_PENDING_BYTE = bytes([RESPONSE_PENDING])
PLANTED = {
    "a stray is not heard": _without(lambda a: isinstance(a, Answer) and a.request_id is None),
    "lines that cannot be read are not heard": _without(lambda a: isinstance(a, Unparsed)),
    "a new link is not heard": _without(lambda a: isinstance(a, LinkChange)),
    "an answer that is still to come is not heard": _without(_pending),
    "a clear that was sent is not heard": _without(lambda a: isinstance(a, Request) and a.text[:2] in ("04", "14")),
    "a question to one unit counts as one to all": _to_all,
}
"""Faults that are planted into what the program hears."""
