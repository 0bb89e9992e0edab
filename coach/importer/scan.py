"""Lines of a transcript to pieces: what went to the adapter, what came from it, where its prompt stood.

It takes off what loggers put around the dialogue: times, directions, quotes, escaped line ends.
"""

import re
from collections.abc import Iterable, Iterator
from itertools import pairwise
from typing import Literal

from msgspec import Struct

from coach.importer.stamps import Stamps, as_seen
from coach.j1979.services import ANSWERED, CLEAR_OF_OTHERS
from coach.transport.words import BROKEN, SILENCE

Way = Literal["", "out", "in"]

_OUT = "tx|send|sent|sending|write|wrote|writing|out|output|request|req|query|cmd|command|tester|host|ask|asked"
_IN = "rx|recv|received|receive|receiving|read|reading|in|input|response|resp|reply|answer|answered|result|got|adapter"
_QUOTED = re.compile(rf"\b(?:({_OUT})|({_IN}))\b[^'\"]{{0,20}}?b?(['\"])(.*)\3\s*$", re.IGNORECASE)
_LEVEL = "DEBUG|INFO|TRACE"
_BEFORE = (
    rf"^(?:\[(?!(?:{_OUT}|{_IN})\])[^\]]*\]\s*+|(?:{_LEVEL})\b[\s:|-]*+"
    rf"|(?!(?:{_OUT}|{_IN}|{_LEVEL})\b)[a-z_.]++\s*+[:|-]\s*+)*+"
)
"""What loggers put before the direction. It never takes back what it took, or a long line would take for ever."""
_NAMED = re.compile(
    rf"{_BEFORE}[\[(<]?(?:({_OUT})|({_IN}))\b\s*(?:\(\d+\)|\d+ bytes?)?\s*(?:[\]):=|,;]+|-+>?|<-+)+\s*(?=\S)(.*)$",
    re.IGNORECASE,
)
_NAMED_BARE = re.compile(rf"{_BEFORE}(?:(tx|sent|send)|(rx|recv|received))\b(?:\s+(.*))?$", re.IGNORECASE)
_NAMED_LIKELY = re.compile(
    rf"{_BEFORE}(?:({_OUT})|({_IN}))\s+((?:[0-9A-F ]{{2,}}|(?:AT|ST) ?[A-Z].*|SEARCHING.*|BUS ?INIT.*|NO DATA)>?\s*)$",
    re.IGNORECASE,
)
_ARROW_OUT = re.compile(r"^(?:>>+|-+>|=+>|→|➜|\$ )\s*(?=\S)")
_ARROW_IN = re.compile(r"^(?:<<+|<-+|<=+|←|< )\s*(?=\S)")
_PAIR = re.compile(r"^([0-9A-F ]{2,20}?)\s*(?:-+>|=+>|→|[:=|,;\t])\s*(\S.*)$", re.IGNORECASE)
_BYTES = re.compile(r"[0-9A-Fa-f]{2} ?[0-9A-Fa-f]{2} ?[0-9A-Fa-f]{2}")
_PROMPT = re.compile(r"(?<![-=])>")
"""The adapter's prompt; an arrow is none."""
_LOGGED = re.compile(
    r"^(?:(?:\d+\s+\d+\s+)?[VDIWEF](?:/|\s+)[A-Za-z][\w.$-]{2,}\s*(?:\(\s*\d+\))?\s*:\s+"
    r"|(?:[\w.-]+ )?[A-Za-z][\w./-]*\[\d+\]:\s+)"
)
"""Level, name and number of the program, as system logs put them behind the time."""
_REMARK = re.compile(r"\s+(?:#|;|//)\s.*$")
_SENDER = re.compile(r"(?<![0-9A-F])(?:7E[89A-F]|18 DA F1 [0-9A-F]{2})(?= )", re.IGNORECASE)
_FRAME = re.compile(r"^(?:0[1-7]( [0-9A-F]{2}){1,7}|[12][0-9A-F]( [0-9A-F]{2}){7})$", re.IGNORECASE)
_BUS_NAME = re.compile(
    r"^(?:[vxs]?l?can_?\w*|bus)\d*\s+(?:[RT]X\s+\S+\s+\S+\s+)?(?=[0-9A-F]{3,8}\s+\[\d\])", re.IGNORECASE
)
"""What a bus monitor prints before the identifier."""
_LETTERS = re.compile(r"^([0-9A-F]{3,8}\s+\[\d\](?:\s+[0-9A-F]{2})+)\s+'.*$", re.IGNORECASE)
"""The same bytes again as letters, behind them."""
_COMMENT = re.compile(r"^(?:#|//|;|--(?!>)|\*|=====|```|~~~)")
_ESCAPES = {r"\r": "\r", r"\n": "\n", r"\t": " ", r"\x00": "", r"\0": "", r"\\": "\\", r"\'": "'", r"\"": '"'}
_ESCAPED = re.compile(r"\\(?:x00|[rnt0\\'\"])")
_MARKED_END = re.compile(r"<(?:CR|LF|CRLF)>|\[(?:CR|LF)\]|␍|␊", re.IGNORECASE)
_WORDS = (*SILENCE, *BROKEN)


class Piece(Struct, frozen=True):
    """One thing said. `prompt`: the adapter's prompt stands before it; `t` in seconds of the transcript's own clock."""

    number: int
    t: float | None
    way: Way
    text: str
    prompt: bool


class Scanner:
    """Pieces of the lines, in order. `comments`: lines somebody wrote for the reader."""

    def __init__(self, stamps: Stamps) -> None:
        self._stamps = stamps
        self._t: float | None = None
        self._buffer = ""
        self._buffered: tuple[int, float | None] = (0, None)
        self._prompt = False
        self.comments = 0

    def pieces(self, lines: Iterable[tuple[int, str]]) -> Iterator[Piece]:
        """Every piece of numbered lines."""
        for number, line in lines:
            at, rest = self._stamps.split(as_seen(line))
            if at is not None:
                self._t = at
            yield from self._line(number, _bare(rest.strip().strip("`|").strip()))
        yield from self._flush()

    def _line(self, number: int, text: str) -> Iterator[Piece]:
        if not text:
            return
        if _COMMENT.match(text) and not _BYTES.search(text):  # a spoilt line may begin with any sign
            self.comments += 1
            return
        quoted = _QUOTED.search(text)
        if quoted is not None:
            inner = _ESCAPED.sub(lambda found: _ESCAPES.get(found[0], ""), quoted[4])
            yield from self._stream(number, "out" if quoted[1] else "in", inner)
            return
        marked = _MARKED_END.sub("\r", text)
        if "\\r" in marked or "\\n" in marked:
            marked = _ESCAPED.sub(lambda found: _ESCAPES.get(found[0], ""), marked)
        first, end, more = marked.replace("\n", "\r").partition("\r")
        way, rest = _directed(first.rstrip())
        if end:
            yield from self._stream(number, way, rest + end + more)
            return
        yield from self._flush()
        yield from self._prompted(number, self._t, way, rest)

    def _stream(self, number: int, way: Way, text: str) -> Iterator[Piece]:
        """Text with its line ends in it: what one line of the transcript leaves open the next goes on with."""
        if way == "out":
            yield from self._flush()
            for part in re.split("[\r\n]+", text):
                if part.strip():
                    yield self._piece(number, self._t, way, part.strip())
            return
        if not self._buffer:
            self._buffered = (number, self._t)
        parts = re.split("[\r\n]", self._buffer + text)
        self._buffer = parts.pop()
        for part in parts:
            if part.strip():
                yield from self._prompted(*self._buffered, way, part)
            self._buffered = (number, self._t)
        if self._buffer.strip() == ">":
            self._buffer, self._prompt = "", True

    def _flush(self) -> Iterator[Piece]:
        rest, self._buffer = self._buffer, ""
        if rest.strip():
            yield from self._prompted(*self._buffered, "in", rest)

    def _prompted(self, number: int, t: float | None, way: Way, text: str) -> Iterator[Piece]:
        """Parts at the prompts in the text, and at an arrow between a request and its reply."""
        for i, part in enumerate(_PROMPT.split(text)):
            if i:
                self._prompt = True
            part = part.strip()
            if not part:
                continue
            pair = _PAIR.match(part) if way != "in" else None
            if pair is not None and is_request(pair[1]) is not None and _reply_like(pair[2]):
                yield self._piece(number, t, "out", pair[1])
                yield self._piece(number, t, "in", pair[2])
            else:
                for one in _side_by_side(part):
                    yield self._piece(number, t, way, one)

    def _piece(self, number: int, t: float | None, way: Way, text: str) -> Piece:
        prompt, self._prompt = self._prompt, False
        return Piece(number, t, way, text, prompt)


def _bare(text: str) -> str:
    """A line without what logs, writers and bus monitors put around it; a quick look goes before each pattern."""
    if ": " in text:
        text = _LOGGED.sub("", text)
    if "#" in text or ";" in text or "//" in text:
        remark = _REMARK.search(text)
        if remark is not None and not _BYTES.search(remark[0]):
            text = text[: remark.start()]
    return _LETTERS.sub(r"\1", _BUS_NAME.sub("", text)) if "[" in text else text


def _side_by_side(text: str) -> list[str]:
    """A request and frames that stand on one line, as where line ends were lost: each by itself; else the text whole.

    Only headers with a space behind them part a line, and only when every part is a whole frame.
    """
    starts = [found.start() for found in _SENDER.finditer(text)]
    if not starts or starts == [0]:
        return [text]
    parts = [text[at:end].strip() for at, end in pairwise([*starts, len(text)])]
    head = text[: starts[0]].strip()
    if all(_FRAME.match(_SENDER.sub("", part, count=1).strip()) for part in parts):
        if not head:
            return parts
        if is_request(head) is not None:
            return [head, *parts]
    return [text]


def _directed(text: str) -> tuple[Way, str]:
    """Which way a line went, by what stands before it, and the rest of it."""
    if text.upper().startswith(_WORDS):
        return "", text
    found = _NAMED.match(text) or _NAMED_BARE.match(text) or _NAMED_LIKELY.match(text)
    if found is not None:
        return ("out" if found[1] else "in"), found[3] or ""
    for way, arrow in (("out", _ARROW_OUT), ("in", _ARROW_IN)):
        stripped = arrow.sub("", text, count=1)
        if stripped != text:
            return way, stripped  # type: ignore[return-value]
    return "", text


_LENGTHS = {0x01: range(2, 8), 0x02: range(2, 8), 0x06: range(2, 8), 0x09: range(2, 3), CLEAR_OF_OTHERS: range(3, 5)}
_ALONE = range(1, 2)


def is_request(text: str) -> str | None:
    """The hex of a request of the standard, without the number of awaited replies; none when it is none."""
    bare = text.replace(" ", "").upper()
    if not 2 <= len(bare) <= 15 or not re.fullmatch("[0-9A-F]+", bare):
        return None
    if len(bare) % 2:
        bare = bare[:-1]  # a single digit behind: how many replies are awaited (from memory of the trade)
        if len(bare) == 2:
            return None  # three digits are the length of a longer reply
    raw = bytes.fromhex(bare)
    if raw[0] not in ANSWERED or len(raw) not in _LENGTHS.get(raw[0], _ALONE):
        return None
    if raw[0] == CLEAR_OF_OTHERS and raw[1] != 0xFF:
        return None  # any bytes may begin with 14; FF clears every group
    return bare


def _reply_like(text: str) -> bool:
    bare = text.replace(" ", "").upper()
    return bare.startswith(tuple(word.replace(" ", "") for word in _WORDS)) or bool(re.match("[0-9A-F]{4}", bare))
