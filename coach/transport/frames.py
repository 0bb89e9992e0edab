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
from coach.j1979.services import RESPONSE_PENDING, Negative, check_echo, parse_reply
from coach.transport.assembly import CAN, EcuReply, assemble, checked_line

OutcomeKind = Literal["value", "refused", "no_answer", "garbled"]

SILENCE = ("NO DATA", "UNABLE TO CONNECT", "BUS INIT: ERROR", "BUS ERROR", "BUS BUSY", "CAN ERROR", "FB ERROR")
"""The adapter's words for "nobody answered" (reference python_obd.md, section 2; meanings from memory of the trade)."""
BROKEN = ("STOPPED", "BUFFER FULL", "DATA ERROR", "RX ERROR", "ACT ALERT", "LP ALERT", "LV RESET", "ERR", "?")
"""Its words for an exchange that went wrong in the adapter or on the bus."""
NO_PROMPT = "(no prompt within the time allowed)"
CUT = "(cut off) "

_BANNER = re.compile(r"^(ELM|STN)\S* ?V?\d|^ELM327", re.IGNORECASE)
_PREFIX = re.compile(r"^(SEARCHING\.*:?(OK)?|BUS ?INIT:? ?\.*(OK)?)", re.IGNORECASE)
_INIT_ERROR = re.compile(r"^BUS ?INIT:? ?\.*ERROR", re.IGNORECASE)
_HEX = re.compile(r"^[0-9A-F]+$")


class Judged(Struct, frozen=True):
    """What one exchange brought.

    `replies`: every payload that could be made out, refusals, strays and malformed ones too, in order of arrival;
    `good`: those that answer the request in the right form; `pending`: ECUs that said "answer to come" and nothing
    after; `padding`: ECUs that fill their frames; `clean`: nothing odd was seen, so the next question needs no
    resynchronising; `reset`: signs of a rebooted adapter.
    """

    outcome: OutcomeKind
    why: str
    replies: tuple[EcuReply, ...]
    good: tuple[EcuReply, ...]
    unparsed: tuple[str, ...]
    pending: tuple[str, ...]
    padding: frozenset[str]
    clean: bool
    reset: bool


def split_lines(raw: bytes) -> tuple[tuple[str, ...], bool]:
    """The lines of a raw reply without the prompt, and whether the prompt came. A NUL within a line is kept as "?".

    Without a prompt the last line may be cut off: it is marked, so that nobody reads half a line.
    """
    text, prompt, behind = raw.decode("latin-1").partition(">")
    pieces = re.split("[\r\n]", text)
    lines = [line.strip(" \0").replace("\0", "?") for line in pieces]
    if not prompt and lines[-1]:
        lines[-1] = CUT + lines[-1]
    kept = [line for line in lines if line]
    if behind.strip("\r\n \0>"):
        kept.append(CUT + behind.strip("\r\n \0>"))
    return tuple(kept), bool(prompt)


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
    asked = bytes.fromhex(request)
    frames, words, odd, reset = sort_lines(lines, request)
    bodies = [(line, checked_line(line.replace(" ", "").upper(), protocol)) for line in frames]
    odd += [line for line, frame in bodies if frame is None]
    readable = [(line, frame) for line, frame in bodies if frame is not None]
    replies, broken, pads = assemble(readable, protocol, padding)
    unparsed = (*broken, *odd, *([NO_PROMPT] if lines and not prompt else []))
    judged = conclude(asked, replies, words, unparsed, pads, protocol, reset)
    return judged if prompt else structs.replace(judged, clean=False)


def sort_lines(lines: Sequence[str], request: str) -> tuple[list[str], list[str], list[str], bool]:
    """Hex lines, adapter's words, lines that are neither, and whether the adapter shows signs of a reboot."""
    frames: list[str] = []
    words: list[str] = []
    odd: list[str] = []
    reset = False
    for line in lines:
        bare = line.replace(" ", "").upper()
        if bare == request.upper() and not frames:
            reset = True  # echo was switched off: it came back
        elif _BANNER.match(line):
            reset = True
            odd.append(line)
        elif _INIT_ERROR.match(line):
            words.append("BUS INIT: ERROR")
        elif _PREFIX.match(line):
            rest = line[_PREFIX.match(line).end() :].strip()  # type: ignore[union-attr]
            inner = sort_lines([rest], request) if rest else ([], [], [], False)
            for mine, more in zip((frames, words, odd), inner[:3], strict=True):
                mine += more
        elif _HEX.match(bare):
            frames.append(line)
        elif line.upper().startswith((*SILENCE, *BROKEN)):
            words.append(line.upper())
        else:
            odd.append(line)
    return frames, words, odd, reset


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
    good, refused, odd, pending = _weigh(asked, replies, protocol)
    broken = [word for word in words if not word.startswith(SILENCE)]
    if replies or unparsed:
        broken = words  # "NO DATA" beside data is no silence
    headerless = any(_looks_headerless(line, asked) for line in unparsed)
    twice = protocol in CAN and len({reply.ecu for reply in good}) < len(good)  # one of the two is late or foreign
    clean = not (unparsed or odd or broken or reset or pending or twice)
    unparsed = (*unparsed, *(broken if replies or unparsed else ()))

    def judged(outcome: OutcomeKind, why: str) -> Judged:
        return Judged(outcome, why, replies, good, unparsed, pending, pads, clean, reset or headerless)

    if good:
        return judged("value", "")
    if unparsed or odd:
        return judged("garbled", " / ".join([*odd, *unparsed])[:120])
    if refused:
        return judged("refused", ", ".join(refused))
    if broken:
        return judged("garbled", " / ".join(broken))
    if pending:
        return judged("no_answer", "the answer stayed pending")
    return judged("no_answer", " / ".join(words) or "the adapter returned nothing")


def _weigh(
    asked: bytes, replies: tuple[EcuReply, ...], protocol: str
) -> tuple[tuple[EcuReply, ...], list[str], list[str], tuple[str, ...]]:
    """Good replies, refusals in words, what is odd about the others, and the ECUs still pending."""
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
    return tuple(good), refused, odd, tuple(pending)


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
