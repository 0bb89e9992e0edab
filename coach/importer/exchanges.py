"""Pieces of a transcript to exchanges: each question with the lines that came before the next one."""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Literal

from coach.importer.dialogue import REPLIES, REQUESTS
from coach.importer.infer import frame_text
from coach.importer.mend import Numbered
from coach.importer.scan import Piece, is_request
from coach.j1979.services import ANSWERED, CLEAR_OF_OTHERS
from coach.transport.words import BROKEN, SILENCE

Kind = Literal["asked", "command", "other", "orphan"]

MOST_LINES = 2000  # three control units with the longest message there is, 4,095 bytes (ISO 15765-2)
MOST_SENTENCES = 100  # our judgement: the first are told, the others counted
_COMMAND = re.compile(r"^(?:(?:AT|ST)[A-Z@][A-Z0-9 @/.]{0,30}|AT (?:@\d|[A-Z]{1,6}\d?)(?: [0-9A-FX]{1,8})*)$")
_MONITOR = re.compile(r"^AT(?:MA|MR|MT|MP)")
_COUNTED = re.compile(r"^0(?:3|4|7|A) ?[1-9A-F]$", re.IGNORECASE)
_HEX = re.compile(r"^[0-9A-F]{2,}$")
_WORDS = tuple(word for word in (*SILENCE, *BROKEN, "SEARCHING", "BUS INIT", "BUSINIT") if word not in ("?", "ERR"))
_INLINE = re.compile(
    r"^((?:[0-9A-F] ?)+?) ?((?:SEARCHING|BUS ?INIT|NO DATA|UNABLE TO|STOPPED|CAN ERROR|BUFFER FULL|BUS ERROR|\?).*)$"
)
_MONITORED = re.compile(r"^([0-9A-F]{3,8})\s+\[\d\]\s+([0-9A-F]{2}\b.*)$")
_BYTES = re.compile(r"\b[0-9A-Fa-f]{2}(?: [0-9A-Fa-f]{2}){2}\b")
_PROSE_WORD = re.compile(r"\b[A-Za-z]{3,}\b")
_REQUEST_IDS = {f"{number:X}": number for number in REQUESTS}


@dataclass(slots=True)
class Exchange:
    """A question (hex, service first) and what followed it; `t` and `heard_t` in the transcript's own seconds.

    `framed`: the question stands there as the frame it was on the bus; `to`: the control unit that frame reaches alone.
    """

    kind: Kind
    text: str
    number: int
    t: float | None
    heard_t: float | None
    lines: list[Numbered] = field(default_factory=list)
    framed: bool = False
    to: str | None = None


class Exchanges:
    """Walks through the pieces.

    `sentences`: lines in words, of no exchange, number and text, `more_sentences` how many beyond; `traffic`: lines a
    bus monitor printed that are no diagnostics, or only steer its flow.
    """

    def __init__(self) -> None:
        self.sentences: list[Numbered] = []
        self.more_sentences = 0
        self.traffic = 0
        self._now: Exchange | None = None

    def of(self, pieces: Iterable[Piece]) -> Iterator[Exchange]:
        """Every exchange in order."""
        for piece in pieces:
            if piece.prompt and self._now is not None:
                yield self._now
                self._now = None
            for part in self._parts(piece):
                done = self._take(part)
                if done is not None:
                    yield done
        if self._now is not None:
            yield self._now
            self._now = None

    def _parts(self, piece: Piece) -> tuple[Piece, ...]:
        """A request and its reply that stand on one line without a sign between them are two pieces."""
        parts = written_out(piece)
        if len(parts) > 1 and piece.way == "in" and not self._is_echo(parts[0].text, parts[0]):
            return (piece,)
        return parts

    def _take(self, piece: Piece) -> Exchange | None:
        """Take one piece; the exchange it ends, if it ends one."""
        now = self._now
        if _is_other_traffic(piece.text):
            self.traffic += 1
            return None
        if is_command(piece.text):
            if piece.way == "in" and now is not None and not now.lines:
                return None  # its echo
            return self._begin("command", piece.text.upper().replace(" ", ""), piece)
        by_frame = _asked_by_frame(piece.text) if self._expects_frames(piece) else None
        asked = by_frame[0] if by_frame else is_request(piece.text) or _with_count(piece) or _typed_clear(piece)
        if asked is not None and self._is_echo(asked, piece):
            return None
        if asked is not None and piece.way != "in":
            done = self._begin("asked", asked, piece)
            if self._now is not None and by_frame is not None:
                self._now.framed, self._now.to = True, by_frame[1]
            return done
        if _is_question_of_others(piece):
            return self._begin("other", piece.text, piece)
        if piece.way != "in" and is_prose(piece.text) and not _awaits_words(now):
            self._say(piece)
            return None
        return self._reply(piece)

    def _expects_frames(self, piece: Piece) -> bool:
        """A request's frame among the replies to one that was typed is a stray line, not a question."""
        now = self._now
        return now is None or now.kind != "asked" or now.framed or piece.prompt or piece.way == "out"

    def _is_echo(self, asked: str, piece: Piece) -> bool:
        """The same request again before anything was answered, without a prompt between."""
        now = self._now
        return now is not None and now.text == asked and not now.lines and not piece.prompt and piece.way != "out"

    def _begin(self, kind: Kind, text: str, piece: Piece) -> Exchange | None:
        done, self._now = self._now, Exchange(kind, text, piece.number, piece.t, piece.t)
        if kind == "command" and _MONITOR.match(text):
            self._now = None
        return done

    def _say(self, piece: Piece) -> None:
        if len(self.sentences) < MOST_SENTENCES:
            self.sentences.append((piece.number, piece.text))
        else:
            self.more_sentences += 1

    def _reply(self, piece: Piece) -> Exchange | None:
        """One more line of the answer; behind so many that no answer is longer, lines of nobody's answer."""
        done = self._now if self._now is not None and len(self._now.lines) >= MOST_LINES else None
        if self._now is None or done is not None:
            self._now = Exchange("orphan", "", piece.number, piece.t, piece.t)
        self._now.heard_t = piece.t
        self._now.lines.append((piece.number, piece.text))
        return done


def written_out(piece: Piece) -> tuple[Piece, ...]:
    """A request and its reply on one line as two pieces, where no sign stands between them."""
    cut = None if is_command(piece.text) else inline_reply(piece.text.upper())
    if cut is None:
        return (piece,)
    asked = Piece(piece.number, piece.t, piece.way, cut[0], piece.prompt)
    return asked, Piece(piece.number, piece.t, "in", cut[1], False)


def _awaits_words(now: Exchange | None) -> bool:
    """The first line behind a command is its answer, in words or not."""
    return now is not None and now.kind == "command" and not now.lines


def is_command(text: str) -> bool:
    """A command to the adapter itself."""
    upper = text.upper()
    return bool(_COMMAND.match(upper)) and not upper.startswith(_WORDS)


def is_prose(text: str) -> bool:
    """A sentence for the reader: several words, none of them the adapter's, and no row of bytes among them."""
    if "<" in text or any(word in text.upper() for word in _WORDS) or _BYTES.search(text):
        return False
    words = [word for word in _PROSE_WORD.findall(text) if not re.fullmatch("[0-9A-Fa-f]+", word)]
    return len(words) >= 2


def _with_count(piece: Piece) -> str | None:
    """A service alone with the number of awaited replies, as "031"; without a prompt it is the length of a reply."""
    return piece.text[:2].upper() if _is_typed(piece) and _COUNTED.match(piece.text) else None


def _typed_clear(piece: Piece) -> str | None:
    """The clear of other programs; its group has two or three bytes (ISO 14230-3, ISO 14229, from memory)."""
    bare = piece.text.replace(" ", "").upper()
    clear = _is_typed(piece) and len(bare) in (6, 8) and bare.startswith(f"{CLEAR_OF_OTHERS:02X}") and _HEX.match(bare)
    return bare if clear else None


def _is_typed(piece: Piece) -> bool:
    return piece.way == "out" or (piece.prompt and piece.way == "")


def _asked_by_frame(text: str) -> tuple[str, str | None] | None:
    """The request in a line that shows the request's own frame, and the one control unit its identifier reaches."""
    bare = frame_text(text)
    for width in (3, 8):
        if bare[:width] in _REQUEST_IDS and _HEX.match(bare[width:]) and len(bare[width:]) % 2 == 0:
            data = bytes.fromhex(bare[width:])
            if 1 <= data[0] < min(8, len(data)) and data[1] in ANSWERED:
                return data[1 : 1 + data[0]].hex().upper(), REQUESTS[_REQUEST_IDS[bare[:width]]] or None
    return None


def _is_other_traffic(text: str) -> bool:
    """A bus monitor's line, with the number of its bytes in brackets, that is no question and no reply."""
    found = _MONITORED.match(text.upper())
    if found is None:
        return False
    identifier = int(found[1], 16)
    return identifier not in REPLIES and (identifier not in REQUESTS or found[2].startswith("3"))


def _is_question_of_others(piece: Piece) -> bool:
    """Something was asked that is no request of the standard."""
    bare = piece.text.replace(" ", "").upper()
    return _is_typed(piece) and bool(_HEX.match(bare)) and bare[:2] not in _REPLY_STARTS


_REPLY_STARTS = frozenset({"7F", "7E", "48", *(f"{0x40 + service:02X}" for service in ANSWERED)})


def inline_reply(upper: str) -> tuple[str, str] | None:
    """A request and the beginning of its reply in one text, as where the adapter sends no line ends."""
    found = _INLINE.match(upper)
    if found is not None and is_request(found[1]) is not None:
        return is_request(found[1]) or "", found[2]
    bare = upper.replace(" ", "")
    if not _HEX.match(bare) or len(bare) % 2 or len(bare) < 6:
        return None
    raw = bytes.fromhex(bare)
    if raw[0] not in ANSWERED:
        return None
    awaited = bytes([raw[0] + 0x40])
    for count in range(1, min(8, len(raw) - 1)):
        request = raw[:count].hex().upper()
        fits = raw[count : count + 1] == awaited and (count == 1 or raw[count + 1 : count + 2] == raw[1:2])
        if fits and is_request(request) == request and len(raw) > count + (1 if count == 1 else 2):
            return request, raw[count:].hex(" ").upper()
    return None
