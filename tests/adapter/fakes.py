"""A serial port in memory for the tests of the link: a table of replies, every written byte recorded."""

import time
from collections.abc import Callable

from coach.adapter.link import Link
from coach.adapter.wire import Wire
from tests.adapter.conftest import QUICK

Reply = str | bytes | None | OSError


class FakePort:
    """The part of pyserial the wire uses. `replies`: command to reply, "|" for a carriage return; none for silence.

    A list of replies is used up one by one, its last stays. Other AT commands are answered OK, requests NO DATA.
    """

    def __init__(self, replies: dict[str, Reply | list[Reply]] | None = None) -> None:
        self.replies = replies or {}
        self.written = bytearray()
        self.commands: list[str] = []
        self.buffer = bytearray()
        self.on_write: Callable[[str], None] | None = None
        self.error: OSError | None = None
        self.open = True
        self.baudrate = 0

    @property
    def in_waiting(self) -> int:
        """Bytes ready."""
        if self.error is not None:
            raise self.error
        return len(self.buffer)

    def write(self, data: bytes) -> int:
        """One command, answered at once."""
        if self.error is not None:
            raise self.error
        self.written += data
        text = data.decode("latin-1").strip()
        self.commands.append(text)
        if self.on_write is not None:
            self.on_write(text)
        self.say(self._reply(text))
        return len(data)

    def _reply(self, text: str) -> Reply:
        found = self.replies.get(text, "OK||>" if text.startswith("AT") else "NO DATA||>")
        if isinstance(found, list):
            return found.pop(0) if len(found) > 1 else found[0]
        return found

    def say(self, reply: Reply) -> None:
        """Put bytes into the input as if the adapter had sent them."""
        if isinstance(reply, OSError):
            self.error = reply
        elif reply is not None:
            self.buffer += reply if isinstance(reply, bytes) else reply.replace("|", "\r").encode("latin-1")

    def read(self, size: int = 1) -> bytes:
        """What is there, nothing when nothing is; a real port would wait a slice."""
        if self.error is not None:
            raise self.error
        if not self.buffer:
            time.sleep(0.001)
        data = bytes(self.buffer[:size])
        del self.buffer[:size]
        return data

    def reset_input_buffer(self) -> None:
        """Forget the input."""
        self.buffer.clear()

    def reset_output_buffer(self) -> None:
        """Nothing waits to go out."""

    def close(self) -> None:
        """Closed."""
        self.open = False


def linked(
    replies: dict[str, Reply | list[Reply]] | None = None, protocol: str = "6", allow_clear: bool = False
) -> tuple[Link, FakePort]:
    """A link that is already set up, over a port in memory; its clock stands still unless the wire's is replaced."""
    port = FakePort(replies)
    wire = Wire(port, lambda: 1.0, QUICK, allow_clear=allow_clear)
    return Link(wire, "memory", protocol, allow_clear=allow_clear), port
