"""Arrivals: the things that come in, one small frozen record each. Time enters the core only here, as `t`.

Every `t` is in seconds since the journal began, 0 or more, rounded to the millisecond by the source before it is
fed. Nothing here is a conclusion: a journal holds these and the core derives everything else from them.
"""

from collections.abc import Mapping
from typing import Any, Literal

from msgspec import Struct

Failure = Literal["refused", "no_answer", "garbled"]
LinkState = Literal["up", "lost", "no_car", "ignition_off", "refused", "unreadable", "bus_error", "adapter_error"]


class Request(Struct, frozen=True, gc=False):
    """A question put to the car. `text` is its hex as sent, service first ("010D", "010C0D05", "03").

    `to`: the address of the one control unit it was put to; none when it was put to all of them.
    """

    t: float
    id: int
    text: str
    to: str | None = None


class Answer(Struct, frozen=True, gc=False):
    """What one ECU answered: payload bytes with service and PID, as sent. `request_id` is none for an unasked one."""

    t: float
    request_id: int | None
    ecu: str
    payload: bytes


class Unparsed(Struct, frozen=True, gc=False):
    """Raw lines that came in but whose payload could not be made out; kept, and they make the finding uncertain."""

    t: float
    request_id: int | None
    lines: tuple[str, ...]


class Outcome(Struct, frozen=True, gc=False):
    """How a request ended that brought no value: refused, no answer, or garbled. `why` is the adapter's own word."""

    t: float
    request_id: int
    outcome: Failure
    why: str


class Reading(Struct, frozen=True, gc=False):
    """An imported physical value: signal id of `coach.j1979.signals`, in the unit its name says."""

    t: float
    signal: str
    value: float


class LinkChange(Struct, frozen=True, gc=False):
    """The link came up or went; `why` in plain words for the reader."""

    t: float
    state: LinkState
    why: str


class ClockStep(Struct, frozen=True, gc=False):
    """The source's clock stepped back by `back_s` seconds here; the length of this interval is unknown."""

    t: float
    back_s: float


class Damaged(Struct, frozen=True, gc=False):
    """A line of the recording, by its number, that cannot be read: whatever it held is unknown."""

    t: float
    line: int


class Mark(Struct, frozen=True, gc=False):
    """A note somebody set into the recording."""

    t: float
    text: str


class Choice(Struct, frozen=True, gc=False):
    """A choice of the user, such as {"skip": "highway_cruise"} or {"answer": {"fuel_level_pct": 60.0}}."""

    t: float
    choice: Mapping[str, Any]


Arrival = Request | Answer | Unparsed | Outcome | Reading | LinkChange | ClockStep | Damaged | Mark | Choice
