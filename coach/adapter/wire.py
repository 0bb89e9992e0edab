"""The wire to the adapter: one command out, the bytes up to its prompt in, each with a deadline, all of it kept.

It stands beneath python-OBD (see `face`) and beneath our own questions alike. It knows the adapter's prompt and nothing
of what the car says.
"""

import contextlib
import errno
import re
import threading
import time
from collections import deque
from collections.abc import Callable
from typing import Any, Literal

from msgspec import Struct

from coach.adapter.allowed import check_allowed
from coach.adapter.errors import Cancelled, LinkLost, NoPermission, NoSuchPort, PortBusy, PortError, PortFailed

SLICE_S = 0.05  # our judgement: how long a cancel may go unseen
KEPT_PIECES = 50_000  # our judgement: an hour of pieces at the best adapters' pace, a few megabytes
LARGEST = 65_536  # our judgement: no answer of a car is longer; beyond it somebody floods the port
_PENDING = re.compile(rb"7F ?[0-9A-F]{2} ?78", re.IGNORECASE)
_OPENING = re.compile(rb"SEARCHING|BUS ?INIT", re.IGNORECASE)


class Deadlines(Struct, frozen=True):
    """Longest waits in seconds: no query over 3, 5 with a response pending, a search 30, a dead port 10 (the issue)."""

    query_s: float = 3.0
    pending_s: float = 5.0
    search_s: float = 30.0
    dead_s: float = 10.0
    setup_s: float = 2.0
    """One set-up command; our judgement: adapters answer these within tenths of a second, after a reset within one."""
    baud_s: float = 0.5
    """One try at a speed; our judgement."""
    quiet_s: float = 0.05
    """The line counts as quiet after this; our judgement: fifty times the gap between two bytes at 9600 baud."""


class Piece(Struct, frozen=True, gc=False):
    """Bytes that went over the wire: time by the link's clock, out or in."""

    t: float
    way: Literal["out", "in"]
    data: bytes


class Raw(Struct, frozen=True):
    """One command's reply: bytes, whether the prompt came, when asked, when the last data byte came, when it ended."""

    data: bytes
    prompt: bool
    started_t: float
    heard_t: float
    ended_t: float


def open_transport(port: str, baud: int) -> Any:
    """Open a serial port, a pseudo-terminal or socket://host:port. PortError of the right kind when it cannot be."""
    import serial

    settings: dict[str, Any] = {"timeout": SLICE_S, "write_timeout": 1.0}
    if "://" not in port:
        settings["exclusive"] = True
    try:
        return serial.serial_for_url(port, baudrate=baud, **settings)
    except (OSError, ValueError) as error:  # SerialException is an OSError
        raise _open_error(port, error) from error


def _open_error(port: str, error: Exception) -> PortError:
    number = getattr(error, "errno", None)
    if number in (errno.EACCES, errno.EPERM):
        return NoPermission(port)
    if number in (errno.EBUSY, errno.EAGAIN, errno.EWOULDBLOCK):
        return PortBusy(port)
    if number in (errno.ENOENT, errno.ENODEV, errno.ENXIO) and "://" not in port:
        return NoSuchPort(port)
    return PortFailed(port, str(error))


class Wire:
    """One opened port. Used by one thread; only `cancel` may be called from another."""

    def __init__(
        self,
        transport: Any,
        clock: Callable[[], float],
        deadlines: Deadlines | None = None,
        *,
        allow_clear: bool = False,
    ) -> None:
        self.transport = transport
        self.clock = clock
        self.deadlines = deadlines or Deadlines()
        self.tape: deque[Piece] = deque(maxlen=KEPT_PIECES)
        """Every raw byte both ways with its time, the latest pieces."""
        self._allow_clear = allow_clear
        self._cancelled = threading.Event()
        self._prompted = True

    def cancel(self) -> None:
        """End whatever the wire is waiting for; from any thread."""
        self._cancelled.set()

    def close(self, farewell: str | None = None) -> None:
        """Send a last command if the adapter is listening, do not wait for its reply, close the port. Never raises."""
        self._cancelled.set()
        with contextlib.suppress(Exception):  # a port that is gone may fail in any way
            if farewell is not None and self._prompted:
                data = check_allowed(farewell).encode() + b"\r"
                self.transport.write(data)
                self.tape.append(Piece(self.clock(), "out", data))
            else:
                self.transport.reset_output_buffer()  # closing would wait until somebody takes it
        with contextlib.suppress(Exception):
            self.transport.close()

    # ------------------------------------------------------------ out and in

    def send(self, command: str) -> None:
        """Send one command. NotAllowed unless it is on the list; LinkLost when the port is gone."""
        data = check_allowed(command, self._allow_clear).encode() + b"\r"
        self._check_cancelled()
        try:
            self.transport.write(data)  # not flushed: that can block for ever on a dead Bluetooth port
        except (OSError, TypeError, AttributeError) as error:  # pyserial raises the latter two on a closed port
            raise _gone(error) from error
        self._prompted = False
        self.tape.append(Piece(self.clock(), "out", data))

    def exchange(
        self,
        command: str,
        limit_s: float | None = None,
        *,
        longest_s: float | None = None,
        waiting: Callable[[float], None] | None = None,
    ) -> Raw:
        """Send one command and read up to the prompt or the deadline, whichever comes first.

        A pending response, or a bus being opened, gets its longer deadline; the search for a protocol the longest. It
        is a search when `waiting` is given, which is told about every second how many seconds have passed. `longest_s`
        cuts all of these short.
        """
        started_t = self.clock()
        self.send(command)
        limit_s, longest_s = limit_s or self.deadlines.query_s, longest_s or self.deadlines.search_s
        began = told = time.monotonic()
        buffer = bytearray()
        heard_t = started_t
        while (now := time.monotonic()) - began < min(longest_s, self._limit(buffer, limit_s, waiting is not None)):
            if waiting is not None and now - told >= 1.0:
                told = now
                waiting(now - began)
            piece = self._read()
            if piece.strip(b"\r\n >\0"):
                heard_t = self.clock()
            buffer += piece
            if b">" in piece:
                self._prompted = True
                return Raw(bytes(buffer), True, started_t, heard_t, self.clock())
            if len(buffer) > LARGEST:
                raise LinkLost("The adapter floods the port with rubbish.", "Unplug it and plug it in again.")
        return Raw(bytes(buffer), False, started_t, heard_t, self.clock())

    def drain(self) -> bytes:
        """Read what is still coming until the line is quiet; a line that never is gets ten times that."""
        limit_s = 10 * self.deadlines.quiet_s
        began = last = time.monotonic()
        buffer = bytearray()
        while time.monotonic() - last < self.deadlines.quiet_s and time.monotonic() - began < limit_s:
            piece = self._read()
            if piece:
                last = time.monotonic()
                buffer += piece
        return bytes(buffer)

    def waiting(self) -> bool:
        """Whether bytes came in that nobody asked for."""
        try:
            return bool(self.transport.in_waiting)
        except (OSError, TypeError, AttributeError) as error:
            raise _gone(error) from error

    def pause(self, seconds: float) -> None:
        """Wait; a cancel ends it."""
        if self._cancelled.wait(seconds):
            raise Cancelled

    def set_baud(self, baud: int) -> None:
        """Change the speed and forget what came in at the old one."""
        try:
            self.transport.baudrate = baud
            self.transport.reset_input_buffer()
        except (OSError, ValueError) as error:
            raise _gone(error) from error

    def _limit(self, buffer: bytearray, limit_s: float, search: bool) -> float:
        if _OPENING.search(buffer):
            return self.deadlines.search_s if search else max(limit_s, self.deadlines.pending_s)
        if _PENDING.search(buffer):
            return max(limit_s, self.deadlines.pending_s)
        return limit_s

    def _read(self) -> bytes:
        self._check_cancelled()
        try:
            piece = bytes(self.transport.read(self.transport.in_waiting or 1))
        except (OSError, TypeError, AttributeError) as error:
            self._check_cancelled()
            raise _gone(error) from error
        if piece:
            self.tape.append(Piece(self.clock(), "in", piece))
        return piece

    def _check_cancelled(self) -> None:
        if self._cancelled.is_set():
            raise Cancelled


def _gone(error: Exception) -> LinkLost:
    return LinkLost(
        f"The adapter is gone ({error}).", "Is it still plugged in, and in range? The drive goes on when it is back."
    )
