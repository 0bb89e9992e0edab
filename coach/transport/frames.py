"""From the adapter's lines of one exchange to what each ECU said: payload, refusal, silence, or garbage.

Pure. Four outcomes and no fifth: value, refused, no answer, garbled. A byte is never padded, cut or guessed; a line
that cannot be made out is kept as it came, in `unparsed`.
"""

import re
from collections.abc import Sequence
from typing import Literal

from msgspec import Struct, structs

from coach.j1979.dtc import decode_codes
from coach.j1979.errors import J1979Error, UnknownItem
from coach.j1979.pids import split_current_data
from coach.j1979.services import ANSWERED, RESPONSE_PENDING, WITH_ITEM, Negative, check_echo, parse_reply
from coach.transport.assembly import CAN, CAN_11, FULL_FRAME, EcuReply, Frame, assemble, checked_line
from coach.transport.words import CUT, NO_PROMPT, NUL, SILENCE, sort_lines

OutcomeKind = Literal["value", "refused", "no_answer", "garbled"]
GUESSED = "6712345"
"""Transports in the order in which lines are tried under them: 11-bit CAN, 29-bit CAN, then the older ones."""
_HEX = re.compile(r"^[0-9A-F]+$")


class Judged(Struct, frozen=True):
    """What one exchange brought.

    `replies`: every payload that could be made out, refusals, strays and malformed ones too, in order of arrival;
    `good`: those that answer the request in the right form; `strays`: those that answer or refuse another one;
    `pending`: ECUs that said "answer to come" and nothing after; `padding`: ECUs that fill their frames; `clean`:
    nothing odd was seen, so the next question needs no resynchronising; `reset`: signs of a rebooted adapter.
    """

    outcome: OutcomeKind
    why: str
    replies: tuple[EcuReply, ...]
    good: tuple[EcuReply, ...]
    strays: tuple[EcuReply, ...]
    unparsed: tuple[str, ...]
    pending: tuple[str, ...]
    padding: frozenset[str]
    clean: bool
    reset: bool


class Unasked(Struct, frozen=True):
    """What came in outside any exchange: payloads that could be made out, and lines that could not."""

    replies: tuple[EcuReply, ...] = ()
    lines: tuple[str, ...] = ()


# ---------------------------------------------------------------- bytes to lines


def split_lines(raw: bytes) -> tuple[tuple[str, ...], bool]:
    """The lines of a raw reply without the prompt, and whether the prompt came. A NUL within a line is kept as a sign.

    Without a prompt the last line may be cut off: it is marked, so that nobody reads half a line.
    """
    text, prompt, behind = raw.decode("latin-1").partition(">")
    lines = _lines(text)
    if not prompt and lines[-1]:
        lines[-1] = CUT + lines[-1]
    kept = [line for line in lines if line]
    if behind.strip("\r\n \0>"):
        kept.append(CUT + behind.strip("\r\n \0>"))
    return tuple(kept), bool(prompt)


def lines_between(raw: bytes) -> tuple[str, ...]:
    """The lines of bytes that came in outside an exchange; a last one without its end may be cut off."""
    lines = _lines(raw.decode("latin-1").replace(">", "\r"))
    if lines[-1]:
        lines[-1] = CUT + lines[-1]
    return tuple(line for line in lines if line)


def _lines(text: str) -> list[str]:
    return [line.strip(" \0").replace("\0", NUL) for line in re.split("[\r\n]", text)]


# ---------------------------------------------------------------- lines to payloads


def readable(line: str, protocol: str) -> Frame | None:
    """The frame in a line; none when it is no hex, or header, length or checksum is not right.

    Adapters' chips may insert a NUL (from memory of the trade's public data sheet): it is taken out only where nothing
    can have stood in its place.
    """
    bare = line.replace(" ", "").replace(NUL, "").upper()
    frame = checked_line(bare, protocol) if _HEX.match(bare) else None
    if frame is None or NUL not in line or protocol not in CAN or len(frame.data) == FULL_FRAME:
        return frame  # a checksum, or all eight bytes, tell that none is lost
    return frame if _inserted(line, protocol) else None


def _inserted(line: str, protocol: str) -> bool:
    """A single NUL in place of a digit would leave half a byte; several may have taken whole bytes with them."""
    header = "7E[0-9A-F]" if protocol in CAN_11 else "18 DA F1 [0-9A-F]{2}"
    spaced = re.fullmatch(f"{header}(?: [0-9A-F]{{2}})+", line.replace(NUL, "").upper())
    return line.count(NUL) == 1 or (NUL * 2 not in line and spaced is not None)


def judge(
    lines: Sequence[str],
    request: str,
    protocol: str,
    *,
    prompt: bool = True,
    padding: frozenset[str] = frozenset(),
) -> Judged:
    """Judge the lines of one exchange. `request` is hex as sent, `protocol` the adapter's number, "1" to "9".

    `padding`: ECUs known to fill their frames to eight bytes, from which a shorter frame has lost some.
    """
    told = sort_lines(lines, request)
    replies, broken, pads = _assembled(told.frames, protocol, padding)
    heard = told.frames or told.words or told.odd
    unparsed = (*broken, *told.odd, *([NO_PROMPT] if heard and not prompt else []))
    judged = conclude(bytes.fromhex(request), replies, told.words, unparsed, pads, protocol, told.reset)
    if told.opening and judged.outcome == "no_answer" and not told.words:
        judged = structs.replace(judged, why="the opening of the bus did not end")
    return judged if prompt else structs.replace(judged, clean=False)


def guess(lines: Sequence[str], request: str, prompt: bool) -> tuple[str, Judged] | None:
    """The transport under which these lines hold a good reply, else one that refuses; none when there is neither."""
    refused: tuple[str, Judged] | None = None
    for protocol in GUESSED:
        judged = judge(lines, request, protocol, prompt=prompt)
        if judged.good:
            return protocol, judged
        if refused is None and (judged.outcome == "refused" or judged.pending):
            refused = protocol, judged
    return refused


def unasked(lines: Sequence[str], protocol: str | None, padding: frozenset[str] = frozenset()) -> Unasked:
    """What lines hold that belong to no exchange. The adapter's words for silence, and OK, are nothing of the car."""
    told = sort_lines(lines, "")
    if protocol is None:
        protocol = max(GUESSED, key=lambda one: sum(readable(line, one) is not None for line in told.frames))
    replies, broken, _ = _assembled(told.frames, protocol, padding)
    words = [word for word in told.words if not word.startswith((*SILENCE, "STOPPED"))]
    odd = [line for line in told.odd if line.replace(NUL, "").upper() != "OK"]
    return Unasked(replies, (*broken, *odd, *words))


def _assembled(
    frames: Sequence[str], protocol: str, padding: frozenset[str]
) -> tuple[tuple[EcuReply, ...], list[str], frozenset[str]]:
    """Payloads of hex lines, the lines that belong to none, and ECUs that pad."""
    bodies = [(line, readable(line, protocol)) for line in frames]
    whole = [(line, frame) for line, frame in bodies if frame is not None]
    replies, broken, pads = assemble(whole, protocol, padding)
    return replies, [*broken, *(line for line, frame in bodies if frame is None)], pads


# ---------------------------------------------------------------- payloads to an outcome


class _Weighed(Struct, frozen=True):
    """Good replies, those to another question, refusals in words, what is odd, and the ECUs still pending."""

    good: tuple[EcuReply, ...]
    strays: tuple[EcuReply, ...]
    refused: list[str]
    odd: list[str]
    pending: tuple[str, ...]


def conclude(
    asked: bytes,
    replies: tuple[EcuReply, ...],
    words: list[str],
    unparsed: tuple[str, ...],
    pads: frozenset[str],
    protocol: str,
    reset: bool,
) -> Judged:
    """What the replies and the adapter's words together mean for this request."""
    told = _weigh(asked, replies, protocol)
    good = told.good
    broken = [word for word in words if not word.startswith(SILENCE)]
    if replies or unparsed:
        broken = words  # "NO DATA" beside data is no silence
    headerless = any(_looks_headerless(line, asked) for line in unparsed)
    twice = protocol in CAN and len({reply.ecu for reply in good}) < len(good)  # one of the two is late or foreign
    clean = not (unparsed or told.odd or broken or reset or told.pending or twice)
    unparsed = (*unparsed, *(broken if replies or unparsed else ()))

    def judged(outcome: OutcomeKind, why: str) -> Judged:
        lost = reset or headerless
        return Judged(outcome, why, replies, good, told.strays, unparsed, told.pending, pads, clean, lost)

    if good:
        return judged("value", "")
    if unparsed or told.odd:
        return judged("garbled", " / ".join([*told.odd, *unparsed])[:120])
    if told.refused:
        return judged("refused", ", ".join(told.refused))
    if broken:
        return judged("garbled", " / ".join(broken))
    if told.pending:
        return judged("no_answer", "the answer stayed pending")
    return judged("no_answer", " / ".join(words) or "the adapter returned nothing")


def _weigh(asked: bytes, replies: tuple[EcuReply, ...], protocol: str) -> _Weighed:
    good: list[EcuReply] = []
    refused: list[str] = []
    odd: list[str] = []
    pending: dict[str, None] = {}
    for reply in replies:
        try:
            parsed = parse_reply(reply.payload)
            if isinstance(parsed, Negative):
                if parsed.service != asked[0]:
                    odd.append(f"{reply.ecu} refused {parsed.service:02X}, which was not asked")
                elif parsed.code == RESPONSE_PENDING:
                    pending[reply.ecu] = None
                else:
                    pending.pop(reply.ecu, None)
                    refused.append(f"{reply.ecu} 7F {parsed.code:02X} {parsed.meaning}")
                continue
            _check_form(asked, reply.payload, protocol in CAN)
        except J1979Error as error:
            odd.append(f"{reply.ecu} {error}")
            continue
        pending.pop(reply.ecu, None)
        good.append(reply)
    strays = tuple(reply for reply in replies if is_stray(asked, reply.payload))
    return _Weighed(tuple(good), strays, refused, odd, tuple(pending))


def is_stray(asked: bytes, payload: bytes) -> bool:
    """Whether a payload answers or refuses another question; one of no known service may be this one's, spoilt."""
    refusal = payload[0] == 0x7F and len(payload) > 1
    service = payload[1] if refusal else payload[0] - 0x40
    if service != asked[0]:
        return service in ANSWERED
    if refusal or service not in WITH_ITEM or len(payload) < 2:
        return False
    return payload[1] not in (asked[1::2] if service == 0x02 else asked[1:])


def _check_form(asked: bytes, payload: bytes, can: bool) -> None:
    """J1979Error unless the payload answers this request and has the right length where the tables know it."""
    check_echo(asked, payload)
    if asked[0] == 0x01:
        try:
            split_current_data(payload, tuple(asked[1:]))
        except UnknownItem:
            return  # a PID of unknown length is no fault of the reply
    elif asked[0] in (0x03, 0x07, 0x0A):
        decode_codes(payload, can)


def _looks_headerless(line: str, asked: bytes) -> bool:
    """A line that begins with the awaited service byte: headers are off, as after a reboot."""
    return line.upper().replace(" ", "").startswith(f"{asked[0] + 0x40:02X}")
