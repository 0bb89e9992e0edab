"""Lines without headers to payloads: whoever said them is not named. Pure; a byte is never padded, cut or guessed.

A message that is longer than a frame comes as its length, then numbered lines (reference standards.md, section 9, and
from memory of the trade).
"""

import re
from collections.abc import Sequence

from msgspec import Struct

from coach.transport.assembly import EcuReply

UNNAMED = "unnamed"
"""The control unit of lines that name none."""
_LENGTH = re.compile(r"^[0-9A-F]{3}$")
_NUMBERED = re.compile(r"^([0-9A-F]):([0-9A-F]{2,14})$")
_WHOLE = re.compile(r"^(?:[0-9A-F]{2}){1,12}$")


class PlainReplies(Struct, frozen=True):
    """What the lines hold. `numbered`: numbered lines were among them, as only CAN brings."""

    replies: tuple[EcuReply, ...]
    broken: tuple[str, ...]
    numbered: bool


def is_plain(line: str) -> bool:
    """A line of hex digits without a header, a length, or a numbered line."""
    bare = line.replace(" ", "").upper()
    return bool(_NUMBERED.match(bare) or _LENGTH.match(bare) or _WHOLE.match(bare))


def plain_replies(lines: Sequence[str]) -> PlainReplies:
    """Payloads in order, each once; lines of a message that is not whole or out of order are broken."""
    replies: dict[EcuReply, None] = {}
    broken: list[str] = []
    group: list[str] = []
    numbered = False
    for line in (*lines, ""):
        bare = line.replace(" ", "").upper()
        if _NUMBERED.match(bare) or (_LENGTH.match(bare) and not group):
            numbered = numbered or ":" in bare
            group.append(line)
            continue
        if group:
            _take_group(group, replies, broken)
            group = [line] if _LENGTH.match(bare) else []
            if group:
                continue
        if _WHOLE.match(bare):
            replies[EcuReply(UNNAMED, bytes.fromhex(bare))] = None
        elif line:
            broken.append(line)
    return PlainReplies(tuple(replies), tuple(broken), numbered)


def _take_group(group: list[str], replies: dict[EcuReply, None], broken: list[str]) -> None:
    """One length and its numbered lines. Two messages mixed cannot be told apart: all of it is broken."""
    payload = _joined(group)
    if payload is None:
        broken += group
    else:
        replies[EcuReply(UNNAMED, payload)] = None


def _joined(group: list[str]) -> bytes | None:
    bare = [line.replace(" ", "").upper() for line in group]
    if not _LENGTH.match(bare[0]):
        return None
    length, data, last = int(bare[0], 16), bytearray(), ""
    number = 0
    for text in bare[1:]:
        found = _NUMBERED.match(text)
        if found is None:
            return None
        if text == last:
            continue  # the same line twice
        if int(found[1], 16) != number & 0x0F or len(found[2]) % 2:
            return None
        data += bytes.fromhex(found[2])
        number, last = number + 1, text
    return bytes(data[:length]) if length <= len(data) < length + 7 else None
