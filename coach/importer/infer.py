"""Which protocol a transcript was made on, and whether its lines name who speaks: as told, else by the checksums."""

import re
from collections import Counter
from collections.abc import Iterable

from msgspec import Struct

from coach.importer.scan import Piece, is_request
from coach.transport.assembly import CAN, KNOWN, NAMES, Frame, checked_line

GIVEN = {
    "pwm": "1",
    "vpw": "2",
    "iso9141": "3",
    "kwp": "5",
    "can11": "6",
    "can29": "7",
    **{number: number for number in sorted(KNOWN)},
}
"""What a user may name a protocol by."""
_CANDIDATES = "672135"  # one of each kind whose lines can be told apart
_FAMILY = {
    "6": "ISO 15765-4, CAN 11 bit",
    "7": "ISO 15765-4, CAN 29 bit",
    "5": "ISO 14230-4",
}
_SET = re.compile(r"^AT(?:SP|TP)(?:A?)([0-9])$")
_NUMBER = re.compile(r"^A?([1-9])$")
_TOLD = (
    (re.compile(r"15765.*29"), "7"),
    (re.compile(r"15765.*11"), "6"),
    (re.compile(r"14230"), "5"),
    (re.compile(r"9141"), "3"),
    (re.compile(r"VPW"), "2"),
    (re.compile(r"PWM"), "1"),
)
_HEX = re.compile(r"^[0-9A-F]{4,}$")
_NUMBERED = re.compile(r"^[0-9A-F]:")


class Inferred(Struct, frozen=True):
    """The protocol by the adapter's number, none when nothing shows it; `can` none when unknown; `why` in words."""

    protocol: str | None
    can: bool | None
    name: str | None
    why: str
    headers: bool


def infer(pieces: Iterable[Piece], given: str | None) -> Inferred:
    """From the first pieces of a transcript. `given`: the protocol's number when the user names it."""
    votes: Counter[str] = Counter()
    told: str | None = None
    plain_can = plain_old = 0
    command = ""
    for piece in pieces:
        bare = frame_text(piece.text)
        if bare.startswith("AT"):
            command = bare
            told = _set_by(bare) or told
            continue
        if command in ("ATDPN", "ATDP"):
            told = _told_by(command, piece.text) or told
        if is_request(piece.text) is not None:
            command = ""
        elif _HEX.match(bare):
            votes.update(p for p in _CANDIDATES if checked_line(bare, p) is not None)
            plain_can += _can_codes(bare)
            plain_old += bare[:2] in ("43", "47", "4A") and len(bare) == 14
        plain_can += bool(_NUMBERED.match(bare))
    return _concluded(given, told, votes, plain_can, plain_old)


def _concluded(given: str | None, told: str | None, votes: Counter[str], plain_can: int, plain_old: int) -> Inferred:
    seen = max(_CANDIDATES, key=lambda p: votes[p]) if votes else None
    headers = seen is not None
    if given is not None:
        return Inferred(given, given in CAN, NAMES[given], "as named", headers)
    if told is not None and (seen is None or _kin(told, seen)):
        return Inferred(told, told in CAN, NAMES[told], "as the adapter says", headers)
    if seen is not None:
        return Inferred(seen, seen in CAN, _FAMILY.get(seen, NAMES[seen]), "by the form of the lines", True)
    if plain_can != plain_old:
        return Inferred(None, plain_can > plain_old, None, "by the form of the lines", False)
    return Inferred(None, None, None, "", False)


def _kin(one: str, other: str) -> bool:
    """Whether two protocols have lines of the same form."""
    return one == other or {one, other} <= set("45") or {one, other} <= set("68") or {one, other} <= set("79")


def _set_by(bare: str) -> str | None:
    found = _SET.match(bare)
    return found[1] if found is not None and found[1] in KNOWN else None


def _told_by(command: str, text: str) -> str | None:
    if command == "ATDPN":
        found = _NUMBER.match(text.strip().upper())
        return found[1] if found is not None else None
    upper = text.upper()
    for pattern, protocol in _TOLD:
        if pattern.search(upper):
            slow = {"7": "9", "6": "8"}.get(protocol) if "250" in upper else None
            return slow or protocol
    return None


def _can_codes(bare: str) -> bool:
    """A plain reply with trouble codes in the form of CAN: a count, then as many codes."""
    if bare[:2] not in ("43", "47", "4A") or len(bare) < 4 or len(bare) % 2:
        return False
    return len(bare) == 4 + 4 * int(bare[2:4], 16)


def framed(text: str, protocol: str | None) -> Frame | None:
    """The frame in a line that names its control unit; none when it is no such line of this protocol."""
    bare = frame_text(text)
    return checked_line(bare, protocol) if protocol is not None and _HEX.match(bare) else None


_HEADER = re.compile(
    r"^\[?(?:0{5})?(7[DE][0-9A-F]|18 ?D[AB] ?[0-9A-F]{2} ?[0-9A-F]{2})\]?\s*[#:|]?\s*"
    r"(?:\[?([0-8])\]?\s+)?(?=[0-9A-F]{2})(.*)$"
)
_ZEROS = re.compile(r"^00 ?00 ?0(7) ?(E[0-9A-F]) ")


def frame_text(text: str) -> str:
    """A line's hex without spaces, signs around the header, or a count of its bytes; other text just without spaces."""
    upper = _ZEROS.sub(r"\1\2 ", text.upper().strip())
    found = _HEADER.match(upper)
    if found is None:
        return upper.replace(" ", "")
    body = found[3].replace(" ", "")
    if found[2] is None and body[:1] in "45678" and len(body) == 1 + 2 * int(body[0]):
        body = body[1:]  # the count of bytes without a space behind it; no frame begins with such a digit
    if found[2] is not None and len(body) != 2 * int(found[2]):
        body = found[2] + body
    return found[1].replace(" ", "") + body
