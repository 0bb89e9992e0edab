"""The records of a journal and their JSON: one line each, times in seconds to the millisecond.

{"journal":1,"began":…}  {"context":{…}}  {"t":…,"id":7,"ask":"010D","to":"7E8"}
{"t":…,"rq":7,"ecu":"7E8","hex":"410D37"}  {"t":…,"rq":7,"raw":[…]}  {"t":…,"rq":7,"outcome":…,"why":…}
{"t":…,"reading":…,"value":…}  {"t":…,"link":…,"why":…}  {"t":…,"clock_back_s":…}  {"t":…,"mark":…}
{"t":…,"choice":{…}}  {"t":…,"line_lost":7}  {"footer":{…}}
"""

from collections.abc import Callable
from typing import Any, Literal

import msgspec
from msgspec import Struct

from coach.car.arrivals import (
    Answer,
    Arrival,
    Choice,
    ClockStep,
    Damaged,
    LinkChange,
    LinkState,
    Mark,
    Outcome,
    Reading,
    Request,
    Unparsed,
)
from coach.j1979.monitors import MONITORS
from coach.j1979.signals import SIGNALS

VERSION = 1
LONGEST_S = 30 * 86400.0  # our judgement: no drive and no soak lasts longer; a time beyond it is a broken line


class Header(Struct, frozen=True):
    """First line. `began` is the wall clock at t = 0 in ISO 8601, none when unknown; `can` none when unknown."""

    journal: int
    source: Literal["live", "simulated", "imported"]
    program: str
    began: str | None = None
    adapter: str | None = None
    protocol: str | None = None
    can: bool | None = None

    @property
    def year(self) -> int | None:
        """The calendar year it was begun in; none without a wall clock."""
        return int(self.began[:4]) if self.began and self.began[:4].isdigit() else None


class Context(Struct, frozen=True):
    """Second line: everything else a result depends on. `profile` is {"id": …, "text": full TOML text}."""

    profile: dict[str, str] | None = None
    vehicle: dict[str, Any] | None = None
    target: list[str] | None = None
    limits: dict[str, Any] | None = None
    units: Literal["metric", "us"] = "metric"
    known: dict[str, Any] | None = None


class Footer(Struct, frozen=True):
    """Last line: why it ended, the time it ended, and how many records of each kind it holds."""

    reason: str
    t_end: float | None = None
    counts: dict[str, int] = {}


UNREADABLE = (msgspec.DecodeError, UnicodeDecodeError, RecursionError)
"""What decoding raises: no JSON, another form, no UTF-8, or lists too deep in each other."""
LONGEST_ASK = 128  # letters; our judgement: a request of any service is shorter


class UnknownRecord(Struct, frozen=True):
    """A record of a kind this version does not know, kept as it is."""

    raw: bytes


class BadLine(ValueError):
    """A line that is no record; the reader counts it."""


class BadValue(BadLine):
    """A line that is a reading of a value which cannot be: what it held is known, and is no finding."""


class Line(Struct, gc=False):
    """All fields a record may have; which ones are there says what it is."""

    t: float | None = None
    rq: int | None = None
    ecu: str | None = None
    hex: str | None = None
    id: int | None = None
    ask: str | None = None
    to: str | None = None
    reading: str | None = None
    value: float | None = None
    outcome: Literal["refused", "no_answer", "garbled"] | None = None
    why: str | None = None
    raw: list[str] | None = None
    link: LinkState | None = None
    clock_back_s: float | None = None
    mark: str | None = None
    line_lost: int | None = None
    choice: dict[str, Any] | None = None
    footer: Footer | None = None


_decode = msgspec.json.Decoder(Line).decode
_encode = msgspec.json.Encoder().encode


def decode_line(line: bytes) -> Arrival | Footer | UnknownRecord:
    """One line. BadLine when it is no record at all; a kind not known is kept."""
    try:
        fields = _decode(line)
    except UNREADABLE as error:
        raise BadLine(str(error)) from None
    t = fields.t
    if t is None:
        if fields.footer is not None and 0 <= (fields.footer.t_end or 0.0) <= LONGEST_S:
            return fields.footer
        raise BadLine("no time" if fields.footer is None else "the footer's time is out of range")
    if not 0 <= t <= LONGEST_S:
        raise BadLine(f"time {t} out of range")
    t = round(t, 3)
    if fields.hex is not None and fields.ecu is not None:
        try:
            return Answer(t, fields.rq, fields.ecu, bytes.fromhex(fields.hex))
        except ValueError:
            raise BadLine(f"hex {fields.hex[:40]!r}") from None
    if fields.reading is not None and fields.value is not None:
        signal = SIGNALS.get(fields.reading)
        if signal is None:
            return UnknownRecord(line)
        if not signal.low <= fields.value <= signal.high:
            raise BadValue(f"{fields.reading} {fields.value} out of range")
        return Reading(t, fields.reading, fields.value)
    if fields.ask is not None and fields.id is not None:
        if len(fields.ask) > LONGEST_ASK:
            raise BadLine(f"{fields.ask[:40]!r} and on is no request")
        return Request(t, fields.id, fields.ask, fields.to)
    return _seldom(t, fields, line)


def _seldom(t: float, fields: Line, line: bytes) -> Arrival | UnknownRecord:
    if fields.outcome is not None and fields.rq is not None:
        return Outcome(t, fields.rq, fields.outcome, fields.why or "")
    if fields.raw is not None:
        return Unparsed(t, fields.rq, tuple(fields.raw))
    if fields.link is not None:
        return LinkChange(t, fields.link, fields.why or "")
    if fields.clock_back_s is not None:
        return ClockStep(t, fields.clock_back_s)
    if fields.line_lost is not None:
        return Damaged(t, fields.line_lost)
    if fields.mark is not None:
        return Mark(t, fields.mark)
    if fields.choice is not None:
        return Choice(t, fields.choice)
    return UnknownRecord(line)


_FORMS: dict[type, Callable[[Any], dict[str, Any]]] = {
    Answer: lambda a: {"rq": a.request_id, "ecu": a.ecu, "hex": a.payload.hex().upper()},
    Reading: lambda a: {"reading": a.signal, "value": a.value},
    Request: lambda a: {"id": a.id, "ask": a.text, **({} if a.to is None else {"to": a.to})},
    Outcome: lambda a: {"rq": a.request_id, "outcome": a.outcome, "why": a.why},
    Unparsed: lambda a: {"rq": a.request_id, "raw": list(a.lines)},
    LinkChange: lambda a: {"link": a.state, "why": a.why},
    ClockStep: lambda a: {"clock_back_s": a.back_s},
    Mark: lambda a: {"mark": a.text},
    Damaged: lambda a: {"line_lost": a.line},
    Choice: lambda a: {"choice": dict(a.choice)},
}


def encode_arrival(arrival: Arrival) -> bytes:
    """The line of one arrival, without the newline."""
    return _encode({"t": round(arrival.t, 3), **_FORMS[type(arrival)](arrival)})


def encode_header(header: Header) -> bytes:
    """The first line."""
    return _encode(header)


def encode_context(context: Context) -> bytes:
    """The second line."""
    return _encode({"context": context})


def encode_footer(footer: Footer) -> bytes:
    """The last line."""
    return _encode({"footer": footer})


class _ContextLine(Struct):
    context: dict[str, Any]


def decode_header(line: bytes) -> Header:
    """The first line. BadLine when it is none."""
    try:
        return msgspec.json.decode(line, type=Header)
    except UNREADABLE as error:
        raise BadLine(str(error)) from None


def decode_context(line: bytes) -> tuple[Context, tuple[str, ...]]:
    """The second line, and what of it could not be used. BadLine when it is no context at all."""
    try:
        fields = msgspec.json.decode(line, type=_ContextLine).context
    except UNREADABLE as error:
        raise BadLine(str(error)) from None
    good: dict[str, Any] = {}
    mistakes = []
    for name, value in fields.items():
        try:
            msgspec.convert({name: value}, Context)
            good[name] = value
        except msgspec.ValidationError as error:
            mistakes.append(f"{name}: {error}")
    context = msgspec.convert(good, Context)
    if context.profile is not None and "text" not in context.profile:
        mistakes.append("profile: its text is missing")
        context = msgspec.structs.replace(context, profile=None)
    unknown = [monitor for monitor in context.target or () if monitor not in MONITORS]
    if unknown:
        mistakes.append(f"target: no monitor {', '.join(unknown)}")
        context = msgspec.structs.replace(context, target=[m for m in context.target or () if m in MONITORS])
    return context, tuple(mistakes)
