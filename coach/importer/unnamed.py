"""Lines of a transcript that name no control unit: which answer the question, and how many spoke. Pure."""

from collections.abc import Sequence

from msgspec import Struct

from coach.j1979.dtc import LEGACY_BYTES, decode_codes
from coach.j1979.errors import J1979Error
from coach.j1979.pids import LENGTHS, split_current_data
from coach.j1979.services import ANSWERED
from coach.transport.assembly import EcuReply
from coach.transport.plain import plain_replies

_CODES = (0x43, 0x47, 0x4A)


class PlainParts(Struct, frozen=True):
    """Replies to the asked service, whole ones to another, what may be half a line, and signs of numbered lines."""

    own: tuple[EcuReply, ...]
    strays: tuple[EcuReply, ...]
    odd: tuple[str, ...]
    numbered: bool

    def can(self) -> bool:
        """Whether this is CAN: trouble codes come with their count there, so their bytes are even in number."""
        codes = [reply.payload for reply in (*self.own, *self.strays) if reply.payload[0] in _CODES]
        return self.numbered or any(len(payload) % 2 == 0 for payload in codes)


def plain_parts(lines: Sequence[str], service: int) -> PlainParts:
    """Only what answers or refuses this service, or is whole as an answer of another, is a reply."""
    plain = plain_replies(lines)
    begins = (bytes([service + 0x40]), bytes([0x7F, service]))
    own = tuple(reply for reply in plain.replies if reply.payload.startswith(begins))
    strays = tuple(reply for reply in plain.replies if reply not in own and is_whole_answer(reply.payload))
    odd = tuple(r.payload.hex(" ").upper() for r in plain.replies if r not in own and r not in strays)
    return PlainParts(own, strays, (*plain.broken, *odd), plain.numbered)


def is_whole_answer(payload: bytes) -> bool:
    """Whether these bytes are an answer or a refusal that can be checked to its end; half a line seldom is."""
    first = payload[0]
    if first == 0x7F:
        return len(payload) == 3 and payload[1] in ANSWERED
    try:
        if first == 0x41:
            return all(pid in LENGTHS for pid, _ in split_current_data(payload))
        decode_codes(payload, len(payload) % 2 == 0)
    except J1979Error:
        return False
    return len(payload) % 2 == 0 or len(payload) == 1 + LEGACY_BYTES


def voices(texts: Sequence[str], request: str) -> int:
    """How many replies to this request begin in the lines; the same words said twice are two."""
    begins = f"{int(request[:2], 16) + 0x40:02X}{request[2:]}"
    bare = (text.replace(" ", "").upper().removeprefix("0:") for text in texts)
    return sum(text.startswith((begins, f"7F{request[:2]}")) and not text.endswith("78") for text in bare)


def mixed(asked: bytes, own: Sequence[EcuReply], can: bool) -> bool:
    """Whether replies of several control units stand side by side, unnamed; before CAN long replies are many lines."""
    good = [reply for reply in own if reply.payload[0] == asked[0] + 0x40]
    return len(good) > 1 and (can or asked[0] in (0x01, 0x04))
