"""What a file is, by what stands in it and never by its name."""

import re
from collections.abc import Sequence
from itertools import islice
from typing import Literal

from coach.importer.columns import guess
from coach.importer.exchanges import inline_reply, is_command, is_prose
from coach.importer.infer import frame_text, framed
from coach.importer.scan import Piece, Scanner, is_request
from coach.importer.stamps import Stamps
from coach.importer.text import cells_of, encoding_of
from coach.importer.times import is_time
from coach.transport.words import BROKEN, SILENCE

Kind = Literal[
    "journal",
    "table",
    "candump",
    "asc",
    "blf",
    "trc",
    "mf4",
    "frames",
    "transcript",
    "parquet",
    "binary",
    "empty",
    "none",
]

LOOK_BYTES = 1 << 16
LOOK_LINES = 300
LOOK_CHARS = 1000
LEAST_LINES = 2  # our judgement: one line alone may look like anything
LEAST_SHARE = 0.2  # our judgement: so many of a transcript's lines belong to the dialogue
_MAGIC: tuple[tuple[bytes, Kind], ...] = (
    (b"LOGG", "blf"),
    (b"MDF     4", "mf4"),
    (b"UnFinMF 4", "mf4"),
    (b"PAR1", "parquet"),
)
_CANDUMP = re.compile(r"^\s*\(\d+\.\d+\)\s+\S+\s+[0-9A-Fa-f]{1,8}#")
_ASC = re.compile(
    r"^\s*(?:base\s+(?:hex|dec)\b|begin\s+triggerblock\b|\d+\.\d+\s+\d+\s+[0-9A-Fa-f]+x?\s+(?:Rx|Tx)\s+[dr]\s)",
    re.IGNORECASE,
)
_TRC = re.compile(
    r"^\s*(?:;\$FILEVERSION=|\d+\)?\s+\d+\.\d+\s+(?:\w\w\s+)?(?:\d+\s+)?(?:(?:Rx|Tx)\s+)?[0-9A-F]{4,8}\s)"
)
_FRAMES = "timestamp,arbitration_id,extended,remote,error,dlc,data"  # the header python-can writes
_MONITORED = re.compile(r"^[0-9A-F]{3,8}\s+\[\d\]\s+[0-9A-F]{2}\b")
_ROW = re.compile(r"^(?=.*[,;\t|])(?=.*\d)")


def recognise(begin: bytes) -> Kind:
    """The kind of a file by its first bytes, unpacked; "none" for text that is nothing we can read."""
    for magic, kind in _MAGIC:
        if begin.startswith(magic):
            return kind
    if not begin.strip():
        return "empty"
    encoding = encoding_of(begin)
    text = begin.decode(encoding, "replace")
    if text.count("\0") > len(text) // 20 or _junk(text):
        return "binary"
    lines = [line for line in re.split("\r\n|\r|\n", text.lstrip("\ufeff")) if line.strip()]
    return _of_text([line[:LOOK_CHARS] for line in islice(lines, LOOK_LINES)])


def _of_text(lines: Sequence[str]) -> Kind:
    if not lines:
        return "empty"
    if lines[0].lstrip().startswith("{"):
        return "journal" if '"journal"' in lines[0] else "none"
    if lines[0].strip() == _FRAMES:
        return "frames"
    forms: tuple[tuple[re.Pattern[str], Kind], ...] = ((_CANDUMP, "candump"), (_ASC, "asc"), (_TRC, "trc"))
    for pattern, kind in forms:
        if sum(pattern.match(line) is not None for line in lines[:60]) >= min(LEAST_LINES, len(lines)):
            return kind
    if any(line.lower().startswith(("begin triggerblock", ";$fileversion")) for line in lines[:20]):
        return "asc" if not lines[0].startswith(";") else "trc"
    if _names_a_table(lines[:40]):
        return "table"
    if _is_dialogue(lines):
        return "transcript"
    rows = sum(_ROW.match(line) is not None for line in lines)
    return "table" if rows and rows * 2 >= len(lines) else "none"


def _names_a_table(lines: Sequence[str]) -> bool:
    """A line that names a time and a signal."""
    for line in lines:
        cells = cells_of(line)
        if len(cells) > 1 and any(map(is_time, cells)) and any(guess(0, cell) is not None for cell in cells):
            return True
    return False


def _is_dialogue(lines: Sequence[str]) -> bool:
    """Whether enough of the lines are what an adapter is told or says."""
    pieces = list(Scanner(Stamps(lines)).pieces(enumerate(lines)))
    count = len({piece.number for piece in pieces if _belongs(piece)})
    prose = sum(is_prose(piece.text) for piece in pieces)
    return count >= LEAST_LINES and count >= LEAST_SHARE * (len(lines) - prose)


def _belongs(piece: Piece) -> bool:
    text = piece.text
    if _MONITORED.match(text.upper()):
        return True
    if is_request(text) is not None or is_command(text) or text.upper().startswith((*SILENCE, "SEARCHING", "BUS INIT")):
        return True
    if inline_reply(text.upper()) is not None:
        return True
    bare = frame_text(text)
    if not re.fullmatch("[0-9A-F]{4,}", bare):
        return bool(re.fullmatch(r"[0-9A-F]:[0-9A-F]{2,14}", bare)) or text.upper() in BROKEN
    return bare[:2] in ("41", "42", "43", "46", "47", "49", "4A", "7F") or any(framed(bare, p) for p in "672135")


def _junk(text: str) -> bool:
    """Text of which much cannot be printed."""
    head = text[:4096]
    odd = sum(not (char.isprintable() or char in "\r\n\t\0\x1b") for char in head)
    return odd > len(head) // 10
