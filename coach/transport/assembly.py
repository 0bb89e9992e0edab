"""Frames to payloads: header and checksum of each line, ISO-TP assembly per ECU on CAN.

Pure. Lengths are enforced: a frame that lost a byte is refused, never filled. Frame layouts: python-OBD's protocol
comments (reference standards.md, section 9); frame types and the eight-byte rule from memory of ISO 15765-2 and -4.
"""

from collections.abc import Iterable

from msgspec import Struct

CAN_11 = frozenset("68")
CAN_29 = frozenset("79")
CAN = CAN_11 | CAN_29
J1850 = frozenset("12")
KWP = frozenset("45")
NAMES = {
    "1": "SAE J1850 PWM",
    "2": "SAE J1850 VPW",
    "3": "ISO 9141-2",
    "4": "ISO 14230-4, slow start",
    "5": "ISO 14230-4, fast start",
    "6": "ISO 15765-4, CAN 11 bit 500 kbit/s",
    "7": "ISO 15765-4, CAN 29 bit 500 kbit/s",
    "8": "ISO 15765-4, CAN 11 bit 250 kbit/s",
    "9": "ISO 15765-4, CAN 29 bit 250 kbit/s",
}
"""Transports by the adapter's number."""
KNOWN = frozenset(NAMES)

LEGACY_HEADERS = {"1": b"\x41\x6b", "2": b"\x48\x6b", "3": b"\x48\x6b"}
"""Priority and target of a reply; SAE J1850 and ISO 9141-2 (from memory; python-OBD's comments show 48 6B)."""
LEGACY_MOST = 7  # data bytes behind a three-byte header (reference standards.md, section 9)
FULL_FRAME = 8


class EcuReply(Struct, frozen=True):
    """One payload of one ECU: "7E8", "18DAF110", or the source byte "10" before CAN; service byte first."""

    ecu: str
    payload: bytes


class Frame(Struct, frozen=True):
    """One line with a sound header: who sent it, and its data bytes without header and checksum."""

    ecu: str
    data: bytes


# ---------------------------------------------------------------- one line


def checked_line(line: str, protocol: str) -> Frame | None:
    """The frame in one line of hex digits without spaces; none when header, length or checksum is not right."""
    if protocol in CAN_11:
        return _can_line(line, 3) if line[:2] == "7E" and line[2:3] in set("89ABCDEF") else None
    if protocol in CAN_29:
        return _can_line(line, 8) if line.startswith("18DAF1") else None
    return _legacy_line(line, protocol)


def _can_line(line: str, header: int) -> Frame | None:
    body = line[header:]
    if len(body) % 2 or not 2 <= len(body) <= 2 * FULL_FRAME:
        return None
    return Frame(line[:header], bytes.fromhex(body))


def _legacy_line(line: str, protocol: str) -> Frame | None:
    """A line whose checksum is missing or wrong is refused: its last byte might be data."""
    if len(line) % 2 or not 10 <= len(line) <= 2 * (3 + LEGACY_MOST + 1):
        return None
    raw = bytes.fromhex(line)
    if checksum(raw[:-1], protocol) != raw[-1]:
        return None
    if protocol in KWP:
        fits = raw[0] & 0xC0 == 0x80 and raw[0] & 0x3F == len(raw) - 4 and raw[1] == 0xF1
    else:
        fits = raw[:2] == LEGACY_HEADERS.get(protocol)
    return Frame(f"{raw[2]:02X}", raw[3:-1]) if fits else None


def checksum(raw: bytes, protocol: str) -> int:
    """The last byte of a line before CAN: the CRC of SAE J1850, else the sum (ISO 9141-2, ISO 14230; from memory)."""
    if protocol not in J1850:
        return sum(raw) & 0xFF
    crc = 0xFF
    for byte in raw:
        crc ^= byte
        for _ in range(8):
            crc = (crc << 1 ^ 0x1D) & 0xFF if crc & 0x80 else crc << 1
    return crc ^ 0xFF


# ---------------------------------------------------------------- all lines


def assemble(
    frames: Iterable[tuple[str, Frame]], protocol: str, padding: frozenset[str]
) -> tuple[tuple[EcuReply, ...], list[str], frozenset[str]]:
    """(line, frame) pairs to payloads in order of completion, lines that belong to none, and ECUs that pad."""
    if protocol not in CAN:
        replies = dict.fromkeys(EcuReply(frame.ecu, frame.data) for _, frame in frames)
        return tuple(replies), [], frozenset()
    pairs = list(frames)
    pads = padding | {frame.ecu for _, frame in pairs if _is_padded(frame)}
    return _assembled(pairs, pads)


def _is_padded(frame: Frame) -> bool:
    """A single frame of eight bytes whose message is shorter than seven."""
    return len(frame.data) == FULL_FRAME and 0 < frame.data[0] < FULL_FRAME - 1


class _Open:
    """A message under way: its bytes so far, the length it must reach, the number of the next frame, its lines."""

    __slots__ = ("data", "first", "last", "length", "lines", "next")

    def __init__(self, line: str, first: bytes) -> None:
        self.first, self.last = first, first
        self.length = (first[0] & 0x0F) << 8 | first[1]
        self.data = bytearray(first[2:])
        self.next = 1
        self.lines = [line]


class Messages:
    """ISO-TP of one ECU: frame after frame in, a payload out when one is whole.

    Repeated frames are accepted, lost or short ones are not: their lines go to `broken`. `pads`: this ECU fills its
    frames to eight bytes, from which a shorter frame has lost some.
    """

    __slots__ = ("_done", "_open", "broken", "pads")

    def __init__(self, broken: list[str], pads: bool) -> None:
        self.broken = broken
        self.pads = pads
        self._open: _Open | None = None
        self._done = b""

    @property
    def waiting(self) -> bool:
        """Whether a message is under way."""
        return self._open is not None

    def take(self, line: str, data: bytes) -> bytes | None:
        """One frame in order of arrival; the payload when it completes one. `line` is how it is told when broken."""
        kind = data[0] >> 4
        if kind == 0:
            return self._single(line, data)
        if kind == 1:
            self._first(line, data)
        elif kind == 2:
            return self._consecutive(line, data)
        else:
            self.broken.append(line)
        return None

    def drop(self) -> None:
        """The message under way will not be completed any more."""
        if self._open is not None:
            self.broken += self._open.lines
            self._open = None

    def _fits(self, data: bytes, used: int) -> bool:
        """Whether a last or only frame has the bytes it says: exactly, or filled up to eight."""
        return len(data) == FULL_FRAME >= used or (len(data) == used and not self.pads)

    def _single(self, line: str, data: bytes) -> bytes | None:
        length = data[0]
        if not 1 <= length <= 7 or not self._fits(data, 1 + length):
            self.broken.append(line)
            return None
        return data[1 : 1 + length]

    def _first(self, line: str, data: bytes) -> None:
        message = self._open
        if message is not None and message.first == data and message.next == 1:
            return  # the same first frame twice
        self.drop()
        if len(data) != FULL_FRAME or (data[0] & 0x0F) << 8 | data[1] < FULL_FRAME:
            self.broken.append(line)
            return
        self._open = _Open(line, data)

    def _consecutive(self, line: str, data: bytes) -> bytes | None:
        message = self._open
        if message is None:
            if self._done != data:  # a repeated last frame is no loss
                self.broken.append(line)
            return None
        if data == message.last:
            return None
        message.lines.append(line)
        missing = message.length - len(message.data)
        whole = len(data) == FULL_FRAME if missing >= 7 else self._fits(data, 1 + missing)
        if data[0] & 0x0F != message.next & 0x0F or not whole:
            self.drop()
            return None
        message.data += data[1 : 1 + missing]
        message.last, message.next = data, message.next + 1
        if len(message.data) < message.length:
            return None
        self._done, self._open = data, None
        return bytes(message.data)


def _assembled(
    pairs: Iterable[tuple[str, Frame]], pads: frozenset[str]
) -> tuple[tuple[EcuReply, ...], list[str], frozenset[str]]:
    """The messages of every ECU side by side; the same payload twice is one reply."""
    replies: dict[EcuReply, None] = {}
    broken: list[str] = []
    ecus: dict[str, Messages] = {}
    for line, frame in pairs:
        messages = ecus.get(frame.ecu)
        if messages is None:
            messages = ecus[frame.ecu] = Messages(broken, frame.ecu in pads)
        payload = messages.take(line, frame.data)
        if payload is not None:
            replies[EcuReply(frame.ecu, payload)] = None
    for messages in ecus.values():
        messages.drop()
    return tuple(replies), broken, pads
