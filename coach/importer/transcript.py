"""Reads an adapter's transcript, typed or logged, into arrivals. Nothing that cannot be read is dropped in silence.

Without times nothing can be timed: questions are laid out one behind the other and an interval of unknown length stands
before every question that asks for values.
"""

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from itertools import chain, islice

from coach.car.arrivals import Answer, Arrival, ClockStep, Outcome, Reading, Request, Unparsed
from coach.importer.addressing import Addressing
from coach.importer.clock import Clock
from coach.importer.columns import ImportProblem
from coach.importer.dialogue import FINDINGS_ASKED
from coach.importer.exchanges import Exchange, Exchanges, written_out
from coach.importer.infer import GIVEN, Inferred, frame_text, framed, infer
from coach.importer.mend import Numbered, mend
from coach.importer.opening import Source, text_lines
from coach.importer.scan import Scanner
from coach.importer.stamps import Stamps
from coach.importer.text import encoding_of
from coach.importer.unnamed import is_whole_answer, mixed, plain_parts, voices
from coach.j1979.errors import J1979Error
from coach.j1979.pids import split_current_data
from coach.j1979.services import ANSWERED, parse_reply
from coach.transport.assembly import CAN, FULL_FRAME, EcuReply, assemble
from coach.transport.frames import Judged, conclude, judge
from coach.transport.plain import UNNAMED, is_plain, plain_replies
from coach.transport.words import sort_lines

SAMPLE_LINES = 4000  # the protocol and the form of the times are judged from the beginning
STAMP_LINES = 400
LONGEST_PART = 2000  # our judgement: no exchange logged on one line is longer; a longer line is read in parts
UNTIMED_STEP_S = 0.1  # between two questions of a transcript without times; nothing is timed by it
KEPT = 50
SEVERAL = "several control units answered without headers; they cannot be told apart"
FEWER = "fewer control units answered than before, without headers; who did not is not known"
_FINDINGS = frozenset({0x01, 0x41, *range(0, 0x100, 0x20)})
_COUNTED = frozenset({"0100", "0101"})
"""Every control unit that has a say in emissions answers these (SAE J1979, from memory), each in one line."""
_VOLTS = re.compile(r"^(\d{1,2}\.\d{1,2}) ?V$", re.IGNORECASE)


@dataclass(slots=True)
class TranscriptReport:
    """What a transcript held. `unread`: number and text of the first lines that could not be read, `unread_count` all.

    `sentences`: likewise the lines in words that a log's program or a person wrote between.

    `headers`: whether lines named their control unit. `form`: how times stand in front of the lines, empty for none.
    """

    protocol: str | None = None
    protocol_why: str = ""
    headers: bool = True
    form: str = ""
    lines: int = 0
    requests: int = 0
    outcomes: Counter[str] = field(default_factory=Counter)
    ecus: set[str] = field(default_factory=set)
    commands: int = 0
    other: int = 0
    comments: int = 0
    traffic: int = 0
    unasked: int = 0
    merged: int = 0
    fewer: int = 0
    alone: int = 0
    sentences: list[Numbered] = field(default_factory=list)
    sentence_count: int = 0
    unread: list[Numbered] = field(default_factory=list)
    unread_count: int = 0
    steps_back: int = 0
    truncated: bool = False

    def passed_over(self, lines: list[Numbered]) -> None:
        """Note lines in words that are no part of the dialogue."""
        self.sentence_count += len(lines)
        self.sentences += lines[: max(0, KEPT - len(self.sentences))]

    def cannot_read(self, lines: list[Numbered]) -> None:
        """Note lines that could not be read."""
        self.unread_count += len(lines)
        self.unread += lines[: max(0, KEPT - len(self.unread))]


class Transcript:
    """An open transcript: `arrivals()` gives its arrivals once, `report` fills meanwhile."""

    def __init__(self, source: Source, protocol: str | None = None) -> None:
        """`protocol`: one of the names or numbers of `infer.GIVEN`, none to infer it. ImportProblem for another."""
        if protocol is not None and protocol.lower() not in GIVEN:
            raise ImportProblem(f"--protocol {protocol!r}: {', '.join(GIVEN)} are known")
        self.source = source
        self._encoding = encoding_of(source.head(1 << 16))
        lines = text_lines(source.stream, self._encoding)
        sample = [line[:LONGEST_PART] for line in islice(lines, SAMPLE_LINES)]
        source.rewind()
        self._stamps = Stamps(sample[:STAMP_LINES])
        self.began = _began(sample)
        given = GIVEN[protocol.lower()] if protocol is not None else None
        pieces = list(Scanner(Stamps(sample[:STAMP_LINES])).pieces(enumerate(sample, start=1)))
        self.inferred: Inferred = infer(chain.from_iterable(map(written_out, pieces)), given)
        self.report = TranscriptReport(
            protocol=self.inferred.name,
            protocol_why=self.inferred.why,
            headers=self.inferred.headers,
            form=self._stamps.form,
        )
        self._padding: frozenset[str] = frozenset()
        self._voices = max(map(_voices, Exchanges().of(pieces)), default=0)
        self._addressing = Addressing()
        self._clock = Clock()
        self._timed = bool(self._stamps.form)
        self._questions = 0
        self._last_id = 0
        self._values_asked = False

    def arrivals(self) -> Iterator[Arrival]:
        """Every arrival in order. ImportProblem when there is not one question or reply in it."""
        scanner, walk = Scanner(self._stamps), Exchanges()
        for exchange in walk.of(scanner.pieces(self._numbered())):
            if walk.sentences:
                self._passed_over(walk)
            yield from self._arrivals(exchange)
        self._passed_over(walk)
        self.report.comments, self.report.traffic = scanner.comments, walk.traffic
        self.report.truncated = self.source.truncated
        if not self.report.requests and not self.report.unasked:
            raise ImportProblem(f"{self.source.name}: {self.report.lines} lines, and no OBD request or reply in them")

    def _passed_over(self, walk: Exchanges) -> None:
        self.report.passed_over(walk.sentences)
        self.report.sentence_count += walk.more_sentences
        walk.sentences.clear()
        walk.more_sentences = 0

    def _numbered(self) -> Iterator[tuple[int, str]]:
        for number, line in enumerate(text_lines(self.source.stream, self._encoding), start=1):
            self.report.lines = number
            for at in range(0, len(line) or 1, LONGEST_PART):
                yield number, line[at : at + LONGEST_PART]

    # ------------------------------------------------------------ one exchange

    def _arrivals(self, exchange: Exchange) -> Iterator[Arrival]:
        if exchange.kind == "command":
            yield from self._command(exchange)
        elif exchange.kind == "other":
            self.report.other += 1
            yield from self._beside(exchange)
        elif exchange.kind == "orphan":
            yield from self._orphans(exchange)
        else:
            yield from self._asked(exchange)

    def _asked(self, exchange: Exchange) -> Iterator[Arrival]:
        report = self.report
        report.requests += 1
        to = exchange.to if exchange.framed else self._addressing.to
        report.alone += to is not None and exchange.text in FINDINGS_ASKED
        self._last_id += 1
        number = self._last_id
        judged, numbers = self._judged(exchange, to)
        yield from self._begin(exchange.t, _asks_values(exchange.text))
        yield Request(self._clock.t, number, exchange.text, to)
        yield from self._step(exchange.heard_t)
        for reply in judged.replies:
            yield self._answer(None if reply in judged.strays else number, reply, to)
        if judged.unparsed:
            report.cannot_read([(numbers[text], text) for text in _unread(judged) if text in numbers])
            yield Unparsed(self._clock.t, number, judged.unparsed)
        report.outcomes[judged.outcome] += 1
        if judged.outcome != "value":
            yield Outcome(self._clock.t, number, judged.outcome, judged.why)

    def _answer(self, number: int | None, reply: EcuReply, to: str | None = None) -> Answer:
        """A reply that names nobody comes from the one control unit that was asked, where it was one."""
        ecu = to if to is not None and number is not None and reply.ecu == UNNAMED else reply.ecu
        self.report.ecus.add(ecu)
        self.report.unasked += number is None
        return Answer(self._clock.t, number, ecu, reply.payload)

    def _judged(self, exchange: Exchange, to: str | None) -> tuple[Judged, dict[str, int]]:
        """What the lines say, and the numbers of the lines by their text."""
        lines = mend(exchange.lines, lambda bare: self._whole(bare, exchange.text))
        lines = [(number, _normal(text)) for number, text in lines]
        texts = [text for _, text in lines]
        numbers = {spelled: number for number, text in reversed(lines) for spelled in _spellings(text)}
        protocol = self.inferred.protocol
        if protocol is not None and any(framed(text, protocol) for text in texts):
            judged = judge(texts, exchange.text, protocol, padding=self._padding)
            self._padding |= judged.padding
            return judged, numbers
        return self._plain(texts, exchange, to), numbers

    def _plain(self, texts: list[str], exchange: Exchange, to: str | None) -> Judged:
        """Lines without headers: one control unit that has no name. Several that differ cannot be told apart."""
        request = exchange.text
        asked = bytes.fromhex(request)
        plain = plain_parts([text for text in texts if is_plain(text)], asked[0])
        lines = sort_lines([text for text in texts if not is_plain(text)], request)
        can = self.inferred.can if self.inferred.can is not None else plain.can()
        several = to is None and mixed(asked, plain.own, can)
        own = () if several and asked[0] not in (0x03, 0x07, 0x0A) else plain.own
        told = (SEVERAL, *(reply.payload.hex(" ").upper() for reply in plain.own)) if several else ()
        self.report.merged += several
        if to is None and request in FINDINGS_ASKED and 0 < voices(texts, request) < self._voices:
            self.report.fewer += 1
            told = told or (FEWER,)
        unread = (*plain.odd, *lines.frames, *lines.odd, *told)
        protocol = "6" if can else "3"
        return conclude(asked, (*own, *plain.strays), lines.words, unread, frozenset(), protocol, lines.reset)

    def _whole(self, bare: str, request: str) -> bool:
        """Whether bare hex digits pass the check of their protocol, or are a reply of the right length."""
        protocol = self.inferred.protocol
        frame = framed(bare, protocol)
        if frame is not None and protocol is not None:
            return protocol not in CAN or _whole_frame(frame.data)
        if len(bare) % 2 or not bare.startswith(f"{int(request[:2], 16) + 0x40:02X}"):
            return False
        try:
            split_current_data(bytes.fromhex(bare), tuple(bytes.fromhex(request)[1:]))
        except J1979Error:
            return False
        return True

    def _orphans(self, exchange: Exchange) -> Iterator[Arrival]:
        """Lines that no question stands before: replies nobody asked for, or nothing that can be read."""
        protocol = self.inferred.protocol
        pairs, odd = [], []
        for number, text in exchange.lines:
            text = _normal(text)
            frame = framed(text, protocol)
            if frame is not None:
                pairs.append((text, frame))
            else:
                odd.append((number, text))
        replies, broken, _ = assemble(pairs, protocol or "6", self._padding)
        plain = plain_replies([text for _, text in odd if _answers_something(text)])
        unread = [(number, text) for number, text in odd if not _answers_something(text)]
        unread += [(exchange.number, text) for text in (*broken, *plain.broken)]
        self.report.cannot_read(unread)
        if replies or plain.replies or broken:
            yield from self._begin(exchange.t, False)
        for reply in (*replies, *plain.replies):
            yield self._answer(None, reply)
        if broken or plain.broken:
            yield Unparsed(self._clock.t, None, (*broken, *plain.broken))

    def _beside(self, exchange: Exchange) -> Iterator[Arrival]:
        """Whole answers of the standard among the lines behind a question of another kind, or behind a command."""
        frames = [
            (text, framed(text, self.inferred.protocol)) for text in (_normal(text) for _, text in exchange.lines)
        ]
        pairs = [(text, frame) for text, frame in frames if frame is not None]
        named, _, _ = assemble(pairs, self.inferred.protocol or "6", self._padding)
        plain = plain_replies([text for text, frame in frames if frame is None and is_plain(text)])
        replies = [reply for reply in named if _of_the_standard(reply.payload)]
        replies += [reply for reply in plain.replies if is_whole_answer(reply.payload)]
        if replies:
            yield from self._begin(exchange.t, False)
        for reply in replies:
            yield self._answer(None, reply)

    def _command(self, exchange: Exchange) -> Iterator[Arrival]:
        """Commands to the adapter are counted; the voltage it measures is a reading."""
        self.report.commands += 1
        lines = exchange.lines
        if not any(text.strip() == "?" for _, text in lines):
            self._addressing.take(exchange.text)
        volts = _VOLTS.match(lines[0][1].strip()) if exchange.text == "ATRV" and lines else None
        if volts is not None and self._timed and exchange.t is not None:
            self._last_id += 1
            yield from self._begin(exchange.t, False)
            yield Request(self._clock.t, self._last_id, exchange.text)
            yield Reading(self._clock.t, "adapter_v", float(volts[1]))
        lost = [line for line in lines if self._is_frame(line[1]) or _answers_something(line[1])]
        if lost:
            yield from self._orphans(Exchange("orphan", "", lost[0][0], exchange.t, exchange.heard_t, lost))

    def _is_frame(self, text: str) -> bool:
        return framed(text, self.inferred.protocol) is not None

    # ------------------------------------------------------------ time

    def _begin(self, at: float | None, values: bool) -> Iterator[Arrival]:
        """The time of the next question; `values`: it asks for values of the moment."""
        if self._timed:
            yield from self._step(at)
            return
        self._clock.t = round(self._questions * UNTIMED_STEP_S, 3)
        self._questions += 1
        if values and self._values_asked:
            yield ClockStep(self._clock.t, 0.0)
        self._values_asked = self._values_asked or values

    def _step(self, at: float | None) -> Iterator[Arrival]:
        if at is None or not self._timed:
            return
        back_s = self._clock.step(at)
        if back_s is not None:
            self.report.steps_back += 1
            yield ClockStep(self._clock.t, back_s)


def _began(sample: list[str]) -> str | None:
    """When a transcript with dates began, in ISO 8601; without a zone where it names none."""
    stamps = Stamps(sample[:STAMP_LINES])
    zone = {"date and time": None, "milliseconds since 1970": UTC}
    if stamps.form not in zone:
        return None
    first = next((at for at, _ in map(stamps.split, sample) if at is not None), None)
    if first is None:
        return None
    return (datetime(1970, 1, 1, tzinfo=zone[stamps.form]) + timedelta(seconds=first)).isoformat()


def _asks_values(request: str) -> bool:
    """Whether a request asks for values of the moment, which only their time makes useful."""
    raw = bytes.fromhex(request)
    return raw[0] == 0x01 and any(pid not in _FINDINGS for pid in raw[1:])


def _normal(text: str) -> str:
    """A line with a CAN header in plain hex; every other line as it is."""
    bare = frame_text(text)
    return bare if bare[:2] in ("7E", "18") and re.fullmatch("[0-9A-F]+", bare) else text


def _spellings(text: str) -> tuple[str, str, str]:
    """A line as it may be told later: as it is, in capitals, or as pairs of digits."""
    bare = text.replace(" ", "").upper()
    return text, text.upper(), " ".join(bare[i : i + 2] for i in range(0, len(bare), 2))


def _whole_frame(data: bytes) -> bool:
    """A frame that needs no piece more: full, or as long as it says."""
    return len(data) == FULL_FRAME or (data[0] < 0x10 and len(data) == 1 + data[0])


def _answers_something(text: str) -> bool:
    if not is_plain(text):
        return False
    bare = text.replace(" ", "")
    try:
        parse_reply(bytes.fromhex(bare))
    except (J1979Error, ValueError):
        return False
    return True


def _unread(judged: Judged) -> tuple[str, ...]:
    """Lines that could not be read; those that were read but belong to nobody are told in another way."""
    lines = judged.unparsed
    for told in (SEVERAL, FEWER):
        lines = lines[: lines.index(told)] if told in lines else lines
    return lines


def _voices(exchange: Exchange) -> int:
    """How many control units answered a question for findings without naming themselves, at least."""
    if exchange.kind != "asked" or exchange.text not in _COUNTED:
        return 0
    return voices([text for _, text in exchange.lines], exchange.text)


def _of_the_standard(payload: bytes) -> bool:
    """Whether a payload answers or refuses one of the services that are looked at."""
    service = payload[1] if payload[0] == 0x7F and len(payload) > 1 else payload[0] - 0x40
    return service in ANSWERED
