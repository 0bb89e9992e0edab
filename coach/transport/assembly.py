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
    assembly = _Assembly(pads)
    for line, frame in pairs:
        assembly.take(line, frame)
    return assembly.finish()


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


class _Assembly:
    """ISO-TP of every ECU side by side. Repeated frames are accepted, lost or short ones are not."""

    def __init__(self, pads: frozenset[str]) -> None:
        self.pads = pads
        self.replies: dict[EcuReply, None] = {}
        self.open: dict[str, _Open] = {}
        self.done: dict[str, bytes] = {}
        self.broken: list[str] = []

    def take(self, line: str, frame: Frame) -> None:
        """One frame in order of arrival."""
        kind = frame.data[0] >> 4
        if kind == 0:
            self._single(line, frame)
        elif kind == 1:
            self._first(line, frame)
        elif kind == 2:
            self._consecutive(line, frame)
        else:
            self.broken.append(line)

    def finish(self) -> tuple[tuple[EcuReply, ...], list[str], frozenset[str]]:
        """What came of it."""
        for ecu in tuple(self.open):
            self._drop(ecu)
        return tuple(self.replies), self.broken, self.pads

    def _fits(self, frame: Frame, used: int) -> bool:
        """Whether a last or only frame has the bytes it says: exactly, or filled up to eight."""
        return len(frame.data) == FULL_FRAME >= used or (len(frame.data) == used and frame.ecu not in self.pads)

    def _single(self, line: str, frame: Frame) -> None:
        length = frame.data[0]
        if not 1 <= length <= 7 or not self._fits(frame, 1 + length):
            self.broken.append(line)
            return
        self.replies[EcuReply(frame.ecu, frame.data[1 : 1 + length])] = None

    def _first(self, line: str, frame: Frame) -> None:
        under_way = self.open.get(frame.ecu)
        if under_way is not None and under_way.first == frame.data and under_way.next == 1:
            return  # the same first frame twice
        self._drop(frame.ecu)
        if len(frame.data) != FULL_FRAME or (frame.data[0] & 0x0F) << 8 | frame.data[1] < FULL_FRAME:
            self.broken.append(line)
            return
        self.open[frame.ecu] = _Open(line, frame.data)

    def _consecutive(self, line: str, frame: Frame) -> None:
        message = self.open.get(frame.ecu)
        if message is None:
            if self.done.get(frame.ecu) != frame.data:  # a repeated last frame is no loss
                self.broken.append(line)
            return
        if frame.data == message.last:
            return
        message.lines.append(line)
        missing = message.length - len(message.data)
        whole = len(frame.data) == FULL_FRAME if missing >= 7 else self._fits(frame, 1 + missing)
        if frame.data[0] & 0x0F != message.next & 0x0F or not whole:
            self._drop(frame.ecu)
            return
        message.data += frame.data[1 : 1 + missing]
        message.last, message.next = frame.data, message.next + 1
        if len(message.data) == message.length:
            self.replies[EcuReply(frame.ecu, bytes(message.data))] = None
            self.done[frame.ecu] = frame.data
            del self.open[frame.ecu]

    def _drop(self, ecu: str) -> None:
        message = self.open.pop(ecu, None)
        if message is not None:
            self.broken += message.lines
