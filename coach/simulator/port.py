"""A simulated adapter on a pseudo-terminal: serves a dialect in a thread. It decides nothing about the car.

POSIX only. `clock` gives the car's seconds, so the car may live faster than the wall.
"""

import contextlib
import os
import select
import threading
import time
import tty
from collections.abc import Callable
from types import TracebackType

from coach.simulator.dialect import Dialect, Piece

POLL_S = 0.05  # our judgement: how long closing may wait for the thread


class SimulatedPort:
    """Context manager; `name` is the path any client may open. Delays are real seconds."""

    def __init__(self, dialect: Dialect, clock: Callable[[], float] = time.monotonic) -> None:
        self.dialect = dialect
        self.clock = clock
        self.name = ""
        self.failure: BaseException | None = None
        """What ended the thread before its time; none while all is well."""
        self._master = self._slave = -1
        self._stop = threading.Event()
        self.lock = threading.Lock()
        """Held while the car is asked; hold it to change the car from another thread."""
        self._thread = threading.Thread(target=self._serve, name="simulated adapter", daemon=True)

    def __enter__(self) -> "SimulatedPort":
        self.open()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def open(self) -> None:
        """Make the pseudo-terminal and begin to serve."""
        self._master, self._slave = os.openpty()
        tty.setraw(self._slave)
        os.set_blocking(self._master, False)
        self.name = os.ttyname(self._slave)
        self._thread.start()

    def close(self) -> None:
        """Stop serving; the port is gone for whoever has it open."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join()
        self._close_ends()

    unplug = close

    def say(self, data: bytes) -> None:
        """Send bytes nobody asked for, such as a banner or rubbish."""
        with self.lock:
            self._write(data)

    def _close_ends(self) -> None:
        with self.lock:
            for end in (self._master, self._slave):
                if end >= 0:
                    os.close(end)
            self._master = self._slave = -1

    def _serve(self) -> None:
        try:
            while not self._stop.is_set():
                if select.select([self._master], [], [], POLL_S)[0]:
                    data = os.read(self._master, 4096)
                    with self.lock:
                        pieces = self.dialect.receive(data, self.clock())
                    self._answer(pieces)
        except OSError as error:
            self.failure = error
        except BaseException as error:
            self.failure = error
            raise

    def _answer(self, pieces: tuple[Piece, ...]) -> None:
        """Send the pieces; a byte that comes in meanwhile stops the rest, as it does on a real adapter."""
        for piece in pieces:
            if piece.after_s > 0 and self._interrupted(piece.after_s):
                self.say(b"STOPPED\r\r>")
                return
            self.say(piece.data)

    def _interrupted(self, wait_s: float) -> bool:
        end = time.monotonic() + wait_s
        while (left := end - time.monotonic()) > 0 and not self._stop.is_set():
            if select.select([self._master], [], [], min(left, POLL_S))[0]:
                with contextlib.suppress(BlockingIOError):
                    os.read(self._master, 4096)
                return True
        return False

    def _write(self, data: bytes) -> None:
        with contextlib.suppress(BlockingIOError):
            while data and self._master >= 0:
                data = data[os.write(self._master, data) :]
