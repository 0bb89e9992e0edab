"""The adapter's own words beside the car's: silence, breakdown, and how far the opening of the bus has come. Pure.

Words as in reference python_obd.md, section 2; their meanings from memory of the trade's public data sheet.
"""

import re
from collections.abc import Sequence

from msgspec import Struct

SILENCE = ("NO DATA", "UNABLE TO CONNECT", "BUS INIT: ERROR", "BUS ERROR", "BUS BUSY", "CAN ERROR", "FB ERROR")
"""The adapter's words for a question that nobody answered, or that never got onto the bus."""
BROKEN = ("STOPPED", "BUFFER FULL", "DATA ERROR", "RX ERROR", "ACT ALERT", "LP ALERT", "LV RESET", "ERR", "?")
"""Its words for an exchange that went wrong in the adapter or on the bus."""
NO_PROMPT = "(no prompt within the time allowed)"
CUT = "(cut off) "
NUL = "\N{SYMBOL FOR NULL}"
"""How a byte of zero within a line is kept."""

_BANNER = re.compile(r"^(ELM|STN)\S* ?V?\d|^ELM327", re.IGNORECASE)
_OPENING = re.compile(r"^(?:SEARCHING|(BUS ?INIT)):?", re.IGNORECASE)
_COME_SO_FAR = re.compile(r"^[ .:]*(OK(?![A-Z])|ERROR)?[ .]*", re.IGNORECASE)
_DOTS = re.compile(r"^\.[ .]*")
_HEX = re.compile(r"^[0-9A-F]+$")


class Sorted(Struct, frozen=True):
    """Lines by what they are: hex digits, the adapter's words, neither.

    `reset`: signs of a rebooted adapter; `opening`: it told that it opens the bus, and not how that ended.
    """

    frames: list[str]
    words: list[str]
    odd: list[str]
    reset: bool
    opening: bool


def sort_lines(lines: Sequence[str], request: str) -> Sorted:
    """Sort the lines of one exchange. What the adapter prints while it opens the bus is no line by itself.

    It may stand before the data on the same line, or be spread over several: "BUS INIT: ..", ".OK", "48 6B ...".
    """
    frames: list[str] = []
    words: list[str] = []
    odd: list[str] = []
    reset, opening = False, ""
    for line in lines:
        text, ended, opening = _behind_progress(line, opening)
        bare = text.replace(" ", "").upper()
        if ended:
            words.append(ended)
        if not bare:
            continue
        if bare == request.upper() and not frames:
            reset = True  # echo was switched off: it came back
        elif line.startswith(CUT):
            odd.append(line)
        elif _BANNER.match(text):
            reset = True
            odd.append(text)
        elif _HEX.match(bare.replace(NUL, "")):
            frames.append(text)
            opening = ""
        elif text.upper().startswith((*SILENCE, *BROKEN)):
            words.append(text.upper())
        else:
            odd.append(text)
    return Sorted(frames, words, odd, reset, bool(opening))


def _behind_progress(line: str, opening: str) -> tuple[str, str, str]:
    """The line behind the signs of progress, the word of a failure that ended it, and what is being opened now."""
    text = line.removeprefix(CUT)
    found = _OPENING.match(text)
    if found is not None:
        opening, text = ("BUS INIT" if found[1] else "SEARCHING"), text[found.end() :]
    progress = (_COME_SO_FAR if opening else _DOTS).match(text)
    if progress is None:
        return text, "", opening
    said = (progress[1] or "").upper() if opening else ""
    ended = f"{opening}: ERROR" if said == "ERROR" else ""
    return text[progress.end() :].strip(), ended, "" if said else opening
