"""What may be sent to the adapter: an allow-list, checked for every command below everything else.

Services 01 02 03 06 07 09 0A and the adapter's set-up; 04 (clear) only for a link made for it. Nothing else exists.
"""

import re

from coach.adapter.errors import NotAllowed

_SETUP = frozenset(
    ["Z", "WS", "E0", "H1", "L0", "S0", "S1", "I", "@1", "RV", "DP", "DPN", "PC", "AL", "CAF1", "AT0", "AT1", "AT2"]
    + [f"{kind}P{protocol}" for kind in "ST" for protocol in (*"0123456789", "A6")]
)
_TIMEOUT = re.compile("ST[0-9A-F]{2}")
_REQUEST = re.compile("01([0-9A-F]{2}){1,6}|02([0-9A-F]{4}){1,3}|03|07|0A|06([0-9A-F]{2}){1,6}|09[0-9A-F]{2}")
"""Up to six PIDs on service 01, three on 02 (reference standards.md, section 9)."""


def check_allowed(command: str, allow_clear: bool = False) -> str:
    """The command in its plain form (no spaces, capitals), or NotAllowed."""
    plain = command.strip().replace(" ", "").upper()
    if plain.startswith("AT"):
        if plain[2:] in _SETUP or _TIMEOUT.fullmatch(plain[2:]):
            return plain
    elif _REQUEST.fullmatch(plain) or (plain == "04" and allow_clear):
        return plain
    raise NotAllowed(command)
