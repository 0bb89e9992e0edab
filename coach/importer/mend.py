"""Puts together what a logger cut in pieces: adapter words, and reply lines that only together pass their check."""

import re
from collections.abc import Callable, Sequence
from typing import TypeAlias

Numbered: TypeAlias = tuple[int, str]
"""A line of the transcript: its number and text."""

_STARTS = ("BUSINIT:", "SEARCHING", "NODATA", "UNABLETOCONNECT", "CANERROR", "BUSERROR", "BUFFERFULL", "STOPPED")
_OPEN_WORD = re.compile(r"^(BUSINIT:?|SEARCHING)\.*(?:O|E|ER|ERR|ERRO)?$")
_PART_OF_WORD = re.compile(r"^(BUSINIT:?|SEARCHING)\.*(?:OK?|E|ER|ERR|ERROR?)?$")
_GOES_ON = re.compile(r"^\.*(OK|ERROR)?$")
_WITH_REST = re.compile(
    r"^((?:SEARCHING|BUS ?INIT:?)[ .:]*(?:OK)?|\.[ .]*(?:OK)?|OK)\s*([0-9A-F].*|NO DATA|UNABLE.*)$", re.IGNORECASE
)
_OK = re.compile(r"^(BUSINIT:?|SEARCHING)\.*(?:OK)?$")
_HEX = re.compile(r"^[0-9A-F]+$")
MOST_PIECES = 6  # our judgement: a line of 26 characters is not cut more often


def mend(lines: Sequence[Numbered], whole: Callable[[str], bool]) -> list[Numbered]:
    """The lines with their pieces joined. `whole`: whether bare hex digits are a line that passes its check."""
    return _hex_joined(_parted(_words_joined(_parted(lines))), whole)


def _parted(lines: Sequence[Numbered]) -> list[Numbered]:
    """A word that a reply stands behind, on the same line, is a line of its own."""
    out: list[Numbered] = []
    for number, text in lines:
        found = _WITH_REST.match(text)
        bare = _bare(text)
        if found is not None and not _PART_OF_WORD.match(bare):
            out += [(number, found[1]), (number, found[2])]
        else:
            out.append((number, text))
    return out


def _bare(text: str) -> str:
    return text.replace(" ", "").upper()


def _words_joined(lines: Sequence[Numbered]) -> list[Numbered]:
    out: list[Numbered] = []
    for number, text in lines:
        bare = _bare(text)
        before = _bare(out[-1][1]) if out else ""
        if before and _OPEN_WORD.match(before) and _PART_OF_WORD.match(before + bare):
            out[-1] = (out[-1][0], _said(before + bare))
        elif before and not _HEX.match(before) and _begins_word(before) and _begins_or_is(before + bare):
            out[-1] = (out[-1][0], _spaced(before + bare))
        elif out and _GOES_ON.match(bare) and bare and (_OK.match(before) or bare.strip(".") == ""):
            continue  # dots, or an OK, that an earlier line said already
        else:
            out.append((number, text))
    return out


def _said(bare: str) -> str:
    return bare.replace("BUSINIT", "BUS INIT")


def _begins_word(bare: str) -> bool:
    return any(word.startswith(bare) and word != bare for word in _STARTS)


def _begins_or_is(bare: str) -> bool:
    return any(word.startswith(bare) or bare.startswith(word) for word in _STARTS)


def _spaced(bare: str) -> str:
    for joined, words in (
        ("BUSINIT", "BUS INIT"),
        ("NODATA", "NO DATA"),
        ("UNABLETOCONNECT", "UNABLE TO CONNECT"),
        ("CANERROR", "CAN ERROR"),
        ("BUSERROR", "BUS ERROR"),
        ("BUFFERFULL", "BUFFER FULL"),
    ):
        bare = bare.replace(joined, words)
    return bare


def _hex_joined(lines: list[Numbered], whole: Callable[[str], bool]) -> list[Numbered]:
    out: list[Numbered] = []
    at = 0
    while at < len(lines):
        number, text = lines[at]
        taken = _joinable(lines, at, whole)
        if taken > 1:
            text = "".join(_bare(piece) for _, piece in lines[at : at + taken])
        out.append((number, text))
        at += taken
    return out


def _joinable(lines: list[Numbered], at: int, whole: Callable[[str], bool]) -> int:
    """How many lines from here make one that passes its check, though the first alone does not."""
    joined = _bare(lines[at][1])
    if not _HEX.match(joined) or whole(joined):
        return 1
    for count in range(2, min(MOST_PIECES, len(lines) - at) + 1):
        piece = _bare(lines[at + count - 1][1])
        if not _HEX.match(piece) or whole(piece):
            return 1
        joined += piece
        if whole(joined):
            return count
    return 1
