"""The serial dialect of a diagnostic adapter over a `Vehicle`: bytes in, bytes out, no clock and no port of its own.

Commands and replies as the trade's common adapter chip has them (reference python_obd.md; from memory where that is
silent). Its trouble is seeded, so that a bad link is the same bad link each time.
"""

import re
from dataclasses import dataclass, field
from random import Random
from typing import NamedTuple

from coach.simulator.framing import FRAMERS, Line
from coach.simulator.vehicle import BusProtocol, Vehicle

BUSES: tuple[BusProtocol, ...] = (
    "j1850_pwm",
    "j1850_vpw",
    "iso_9141",
    "kwp_slow",
    "kwp_fast",
    "can_11_500",
    "can_29_500",
    "can_11_250",
    "can_29_250",
)
NAMES = (
    "SAE J1850 PWM",
    "SAE J1850 VPW",
    "ISO 9141-2",
    "ISO 14230-4 (KWP 5BAUD)",
    "ISO 14230-4 (KWP FAST)",
    "ISO 15765-4 (CAN 11/500)",
    "ISO 15765-4 (CAN 29/500)",
    "ISO 15765-4 (CAN 11/250)",
    "ISO 15765-4 (CAN 29/250)",
)
BANNER = "ELM327 v1.4 simulated"
NAME = "simulated adapter 1.4"
SLOW_START = frozenset({"iso_9141", "kwp_slow", "kwp_fast"})
_ON_OFF = {"E": "echo", "H": "headers", "L": "linefeeds", "S": "spaces"}


class Piece(NamedTuple):
    """Bytes to send and how many seconds to wait before them."""

    after_s: float
    data: bytes


@dataclass(slots=True)
class Trouble:
    """What is wrong with this link. Rates are shares of replies, 0 to 1; times in seconds."""

    delay_s: float = 0.0
    drop_rate: float = 0.0
    """Share of lines that get lost on the way."""
    noise_rate: float = 0.0
    """Share of replies in which one byte is lost or turned into rubbish no hex digit can be."""
    search_s: float = 0.0
    powered: bool = True
    """False: the adapter is dead and says nothing."""


@dataclass(slots=True)
class _Settings:
    echo: bool = True
    headers: bool = False
    linefeeds: bool = False
    spaces: bool = True
    protocol: int = 0
    """0: to be searched for; 1 to 9: fixed."""
    automatic: bool = True
    found: bool = False


@dataclass(slots=True)
class Dialect:
    """One adapter plugged into one vehicle."""

    vehicle: Vehicle
    trouble: Trouble = field(default_factory=Trouble)
    seed: int = 0
    sent: list[str] = field(default_factory=list)
    """Every command that was taken, as text."""
    _set: _Settings = field(default_factory=_Settings)
    _line: bytearray = field(default_factory=bytearray)
    _last: str = ""
    _random: Random = field(init=False)

    def __post_init__(self) -> None:
        self._random = Random(self.seed)

    def receive(self, data: bytes, t: float) -> tuple[Piece, ...]:
        """Take bytes at the vehicle's time `t`; returns what goes back, in pieces."""
        if not self.trouble.powered:
            self._line.clear()
            return ()
        out: list[Piece] = []
        for byte in data:
            if byte == 0x0D:
                out += self._command(bytes(self._line), t)
                self._line.clear()
            elif byte:
                self._line.append(byte)
        return tuple(out)

    def reboot(self) -> bytes:
        """The adapter lost power for a moment: settings are gone; returns the banner it prints."""
        self._set = _Settings()
        self._line.clear()
        return self._end([BANNER])

    # ------------------------------------------------------------ commands

    def _command(self, raw: bytes, t: float) -> list[Piece]:
        text = raw.decode("latin-1").replace(" ", "").upper()
        echo = [Piece(0.0, raw + b"\r")] if self._set.echo else []
        if not text:
            text = self._last  # an empty line repeats the last command
        self._last = text
        self.sent.append(text)
        if text.startswith("AT"):
            return [*echo, Piece(0.0, self._at(text[2:], t))]
        if not re.fullmatch("[0-9A-F]{2,17}", text):
            return [*echo, Piece(0.0, self._end(["?"]))]
        return [*echo, *self._request(text, t)]

    def _at(self, command: str, t: float) -> bytes:
        if command in ("Z", "WS", "D"):
            self._set = _Settings(echo=True)
            return self._end(["OK" if command == "D" else BANNER])
        if command in ("I", "@1", "RV", "DP", "DPN"):
            return self._end([self._told(command, t)])
        if len(command) == 2 and command[0] in _ON_OFF and command[1] in "01":
            setattr(self._set, _ON_OFF[command[0]], command[1] == "1")
            return self._end(["OK"])
        if found := re.fullmatch("[ST]P(A?)([0-9])", command):
            self._set.protocol = int(found[2])
            self._set.automatic = bool(found[1]) or self._set.protocol == 0
            self._set.found = False
            return self._end(["OK"])
        if command == "PC":
            self._set.found = False
            return self._end(["OK"])
        accepted = re.fullmatch("AT[012]|ST[0-9A-F]{1,2}|SH[0-9A-F]{3}|SH[0-9A-F]{6}|CAF[01]|AL|NL", command)
        return self._end(["OK" if accepted else "?"])

    def _told(self, command: str, t: float) -> str:
        self.vehicle.advance(t)
        if command == "RV":
            return f"{self.vehicle.battery_v:.1f}V"
        if command == "DPN":
            return f"{'A' if self._set.automatic else ''}{self._set.protocol}"
        if command == "DP":
            name = NAMES[self._set.protocol - 1] if self._set.protocol else ""
            return ", ".join(part for part in ("AUTO" if self._set.automatic else "", name) if part)
        return NAME

    # ------------------------------------------------------------ requests

    def _request(self, text: str, t: float) -> list[Piece]:
        self.vehicle.advance(t)
        pieces: list[Piece] = []
        if not self._set.found:
            pieces, failed = self._open_bus()
            if failed:
                return pieces
        if not self.vehicle.ignition_on:
            return [*pieces, Piece(self.trouble.delay_s, self._end(["NO DATA"]))]
        most = int(text[-1], 16) if len(text) % 2 else None
        request = bytes.fromhex(text[: len(text) // 2 * 2])
        lines = FRAMERS[self.vehicle.bus](self.vehicle.ask(request))
        shown = [self._show(line) for line in lines[: most or None] if not self._happens(self.trouble.drop_rate)]
        body = self._end(shown or ["NO DATA"])
        if self._happens(self.trouble.noise_rate):
            body = self._spoilt(body)
        return [*pieces, Piece(self.trouble.delay_s, body)]

    def _open_bus(self) -> tuple[list[Piece], bool]:
        """Find or wake the bus: what is printed meanwhile, and whether it failed."""
        bus = BUSES.index(self.vehicle.bus) + 1
        there = self.vehicle.ignition_on
        settings = self._set
        search = self.trouble.search_s
        if settings.automatic:
            if not there:
                return [Piece(0.0, b"SEARCHING..."), Piece(search, self._end(["", "UNABLE TO CONNECT"]))], True
            settings.protocol, settings.found = bus, True
            return [Piece(0.0, b"SEARCHING..."), Piece(search, self._break())], False
        if BUSES[settings.protocol - 1] in SLOW_START:
            if not there or settings.protocol != bus:
                return [Piece(0.0, b"BUS INIT: "), Piece(search, self._end(["...ERROR"]))], True
            settings.found = True
            return [Piece(0.0, b"BUS INIT: "), Piece(search, b"..."), Piece(0.0, b"OK" + self._break())], False
        if not there or settings.protocol != bus:
            word = "CAN ERROR" if settings.protocol > 5 and there else "UNABLE TO CONNECT"
            return [Piece(search, self._end([word]))], True
        settings.found = True
        return [], False

    def _show(self, line: Line) -> str:
        """One line as text, by the settings for headers and spaces."""
        if not self._set.headers:
            return line.plain if self._set.spaces else line.plain.replace(" ", "")
        data = (line.data if self._set.spaces else line.data.replace(" ", "")).strip()
        return f"{line.header} {data} " if self._set.spaces else f"{line.header.replace(' ', '')}{data}"

    # ------------------------------------------------------------ bytes

    def _break(self) -> bytes:
        return b"\r\n" if self._set.linefeeds else b"\r"

    def _end(self, lines: list[str]) -> bytes:
        """Lines, an empty line, the prompt."""
        stop = self._break()
        return b"".join(line.encode("latin-1") + stop for line in lines) + stop + b">"

    def _happens(self, rate: float) -> bool:
        return rate > 0 and self._random.random() < rate

    def _spoilt(self, body: bytes) -> bytes:
        """One byte lost, or replaced by one with its top bit set, as line noise does; the prompt stays."""
        at = self._random.randrange(max(1, len(body) - 3))
        middle = b"" if self._random.random() < 0.5 else bytes([self._random.randrange(0x80, 0x100)])
        return body[:at] + middle + body[at + 1 :]
