"""What python-OBD sees instead of a serial port while it sets the adapter up.

It gives every command our deadline and allow-list, and hands back plain replies: echo taken off, capitals, one OK. A
reply to 0100 that is no well-formed 41 00 is handed on as "UNABLE TO CONNECT": any other text means a car to it.
"""

import time
from collections.abc import Callable, Iterable

from coach.adapter.errors import AdapterError, LinkLost, NoAdapter, NotAllowed
from coach.adapter.wire import Raw, Wire
from coach.transport.assembly import CAN_11, KNOWN
from coach.transport.frames import GUESSED, Judged, guess, judge, lines_between, readable, split_lines
from coach.transport.words import NUL

TRIES = 3  # our judgement: a line with noise loses one reply, seldom three in a row
Progress = Callable[[str], None]

SAYS = {
    "ATZ": "resetting the adapter",
    "ATSP0": "looking for the car's protocol, up to 30 s",
    "0100": "asking the car",
}
"""What is said while a command runs."""


def silent(_: str) -> None:
    """Progress nobody wants."""


class Face:
    """The part of a pyserial port that python-OBD uses, over our wire."""

    def __init__(self, wire: Wire, port_name: str, progress: Progress = silent) -> None:
        self.wire = wire
        self.name = port_name
        self._progress = progress
        self._said = ""
        self.error: AdapterError | None = None
        """Why the set-up ended before its time."""
        self.echo_stays = False
        self.in_step = True
        """Whether the last reply came to its prompt."""
        self.asked: list[Raw] = []
        """What came back to 0100, each time it was asked."""
        self.beside: list[str] = []
        """Lines that came in unasked, or that control units said while the adapter was set up."""
        self.refused_on = ""
        """The transport under which a control unit refused 0100."""
        self.guessed = ""
        """The transport under which 0100 could be read."""
        self._protocol = "0"
        self._command = ""
        self._serve = bytearray()
        self._search_ends = 0.0
        # what pyserial sets and python-OBD reads
        self.port = self.portstr = port_name
        self.baudrate = 0
        self.timeout: float | None = None

    def progress(self, text: str) -> None:
        """Say what is being done, once."""
        if text != self._said:
            self._said = text
            self._progress(text)

    # ------------------------------------------------------------ the port python-OBD knows

    def open(self) -> None:
        """Already open."""

    def close(self) -> None:
        """The link owns the wire, not python-OBD."""

    def flushInput(self) -> None:  # noqa: N802 - pyserial's name
        """What is left of an earlier reply must not be taken for the next one's."""
        try:
            if self.error is None and self.wire.waiting():
                self._keep_frames(lines_between(self.wire.drain()))
        except AdapterError as error:
            self.error = error

    def flush(self) -> None:
        """Nothing waits to go out."""

    def _keep_frames(self, lines: Iterable[str]) -> None:
        """What control units said beside the replies; of the rest nothing is known before the adapter is set up."""
        self.beside += [line for line in lines if any(readable(line, protocol) for protocol in GUESSED)]

    flushOutput = flush  # noqa: N815 - pyserial's name

    @property
    def in_waiting(self) -> int:
        """Bytes ready."""
        return len(self._serve)

    def write(self, data: bytes) -> int:
        """Take one command; it is sent when its reply is read."""
        self._command = data.decode("latin-1").strip().replace(" ", "").upper()
        self._serve.clear()
        return len(data)

    def read(self, size: int = 1) -> bytes:
        """The plain reply, up to its prompt."""
        if not self._serve:
            self._serve += self._plain()
        data = bytes(self._serve[:size])
        del self._serve[:size]
        return data

    # ------------------------------------------------------------ replies made plain

    def _plain(self) -> bytes:
        command = self._command
        try:
            if self.error is not None:
                raise self.error
            text = self._request(command) if not command.startswith("AT") else self._setup(command)
        except AdapterError as error:
            self.error = error
            raise OSError(str(error)) from error  # python-OBD gives up on any exception
        return text.encode("latin-1") + b"\r\r>"

    def _setup(self, command: str) -> str:
        if command[2:4] in ("SP", "TP"):
            self._protocol = command[4:]
            if self._protocol not in KNOWN | {"0"}:
                return "?"  # python-OBD's last try is no protocol of passenger cars: not sent
            if not self._search_ends:
                self._search_ends = time.monotonic() + self.wire.deadlines.search_s
        self.progress(SAYS.get(command, "setting the adapter up"))
        for _ in range(TRIES):
            lines, heard = self._lines(command)
            if heard and (command in ("ATZ", "ATDPN") or any("OK" in line for line in lines)):
                break
        if not heard:
            raise NoAdapter(self.name, "nothing came back" if not lines else "it never ends its answer")
        return self._told(command, lines)

    def _lines(self, command: str) -> tuple[list[str], bool]:
        """Lines without the echo, and whether the prompt came."""
        self.flushInput()
        raw = self.wire.exchange(command, self.wire.deadlines.setup_s)
        lines, prompt = split_lines(raw.data)
        self.in_step = prompt
        self._keep_frames(lines)
        plain = [line.replace(NUL, "").upper() for line in lines]
        if plain and plain[0].replace(" ", "") == command:
            plain = plain[1:]
            self.echo_stays = command not in ("ATZ", "ATE0")
        return plain, prompt

    def _told(self, command: str, lines: list[str]) -> str:
        if command == "ATZ":
            return "\r".join(lines)
        if command == "ATDPN":
            return lines[0] if lines and lines[0].removeprefix("A") in KNOWN else self.guessed or "?"
        if command == "ATH1" and not any("OK" in line for line in lines):
            said = " / ".join(lines)[:60]
            raise NoAdapter(self.name, f"it cannot show who answers (ATH1: {said}), so no reply could be trusted")
        return "OK"  # a refusal to switch off echo or line feeds is none of python-OBD's business: we take both

    def _request(self, command: str) -> str:
        if command != "0100":
            raise NotAllowed(command)
        if self._protocol not in KNOWN | {"0"} or (self._search_ends and time.monotonic() > self._search_ends):
            return "UNABLE TO CONNECT"
        self.progress(SAYS["0100"])
        raw = self.wire.exchange(command, self.wire.deadlines.dead_s, waiting=self._waiting)
        lines, prompt = split_lines(raw.data)
        self.in_step = prompt
        self.asked.append(raw)
        if not raw.data:
            raise LinkLost("The adapter fell silent while it looked for the car.", "Unplug it and plug it in again.")
        found = self._found(lines, prompt)
        if found is None or not found[1].good:
            self.refused_on = found[0] if found is not None else self.refused_on
            return "UNABLE TO CONNECT"
        self.guessed, judged = found
        return "\r".join(_shown(self.guessed, judged))

    def _waiting(self, seconds: float) -> None:
        self.progress(f"{SAYS['0100']}, {seconds:.0f} s of at most {self.wire.deadlines.search_s:.0f} s")

    def _found(self, lines: tuple[str, ...], prompt: bool) -> tuple[str, Judged] | None:
        """The transport under which these lines are a reply, and what they say; none when they are none."""
        if self._protocol == "0":
            return guess(lines, "0100", prompt)
        judged = judge(lines, "0100", self._protocol, prompt=prompt)
        return (self._protocol, judged) if judged.good or judged.outcome == "refused" or judged.pending else None


def _shown(protocol: str, judged: Judged) -> list[str]:
    """The good replies as lines python-OBD can read; it only learns from them which ECUs there are."""
    lines = []
    for reply in judged.good:
        length = f"{len(reply.payload):02X}" if protocol in "6789" else ""
        header = reply.ecu if protocol in CAN_11 or len(reply.ecu) == 8 else f"486B{reply.ecu}"
        check = "" if protocol in "6789" else "00"
        lines.append(header + length + reply.payload.hex().upper() + check)
    return lines
