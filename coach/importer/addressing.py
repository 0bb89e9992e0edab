"""Whom the questions of a transcript reach: the header and filter commands before them, as one control unit or all.

Commands from memory of the trade's public data sheet; addresses from reference standards.md, section 9, and those
before CAN from memory of SAE J1850 and ISO 14230-2.
"""

import re

from coach.importer.dialogue import REPLIES, REQUESTS

_RESET = frozenset({"ATD", "ATZ", "ATWS"})
_FUNCTIONAL = frozenset({"7DF", "18DB33F1", "DB33F1"})
_HEADER = re.compile(r"^ATSH([0-9A-F]{3}|[0-9A-F]{6}|[0-9A-F]{8})$")
_HEARD = re.compile(r"^ATCRA([0-9A-F]{3}|[0-9A-F]{8})?$")
_FILTER = re.compile(r"^ATC([FM])([0-9A-F]{3}|[0-9A-F]{8})$")
_EVERY_BIT = frozenset({"7FF", "1FFFFFFF"})


class Addressing:
    """Takes the adapter's commands in order; `to` is the one control unit that is asked, or heard, alone."""

    def __init__(self) -> None:
        self._asked: str | None = None
        self._heard: str | None = None
        self._filter = {"F": "", "M": ""}

    @property
    def to(self) -> str | None:
        """The address of the one control unit, none for all of them."""
        return self._asked or self._heard

    def take(self, command: str) -> None:
        """One command that the adapter did not refuse: capitals, no spaces."""
        if command in _RESET:
            self.__init__()  # type: ignore[misc]
        elif command == "ATAR":
            self._heard, self._filter = None, {"F": "", "M": ""}
        elif header := _HEADER.match(command):
            self._asked = _asked_by(header[1])
        elif heard := _HEARD.match(command):
            self._heard = _unit(heard[1] or "")
        elif part := _FILTER.match(command):
            self._filter[part[1]] = part[2]
            self._heard = _unit(self._filter["F"]) if self._filter["M"] in _EVERY_BIT else None


def _unit(identifier: str) -> str | None:
    """The control unit that replies with this identifier."""
    return REPLIES.get(int(identifier, 16)) if identifier else None


def _asked_by(header: str) -> str | None:
    """The control unit that a question with this header reaches; a unit that is none of the car's is named as it is."""
    if header in _FUNCTIONAL:
        return None
    if len(header) == 6:
        if header.startswith("DA") and header.endswith("F1"):
            return REQUESTS[int("18" + header, 16)]
        return _before_can(bytes.fromhex(header))
    return REQUESTS.get(int(header, 16), header)


def _before_can(header: bytes) -> str | None:
    """Three bytes: priority or format, target, source. ISO 14230 has two bits for how it is addressed, J1850 one."""
    alone = header[0] & 0xC0 == 0x80 if header[0] & 0x80 else bool(header[0] & 0x04)
    return f"{header[1]:02X}" if alone else None
