"""Says lines through a speech program of the system, if there is one. Never more than one voice at a time."""

import shutil
import subprocess
from collections.abc import Callable, Sequence

PROGRAMS: tuple[tuple[str, ...], ...] = (("spd-say", "--wait", "--"), ("espeak-ng", "--"), ("say", "--"))
"""Speech programs of the systems we know, with what tells them that text follows."""


class Voice:
    """A voice; silent when no program was found."""

    def __init__(
        self,
        find: Callable[[str], str | None] = shutil.which,
        start: Callable[[Sequence[str]], "subprocess.Popen[bytes]"] | None = None,
    ) -> None:
        self._command = next(((found, *rest) for name, *rest in PROGRAMS if (found := find(name))), None)
        self._start = start or _start
        self._speaking: subprocess.Popen[bytes] | None = None
        self._next = ""

    @property
    def there(self) -> bool:
        """Whether anything can be heard."""
        return self._command is not None

    def say(self, text: str, urgent: bool = False) -> None:
        """Say it now, or when the voice is free; what is urgent breaks off what is being said."""
        if urgent:
            self._break_off()
        self._next = text
        self.go_on()

    def go_on(self) -> None:
        """Say what waits, if the voice is free. Only the newest line waits: an older one is no news."""
        if self._command is None or not self._next or self._busy():
            return
        text, self._next = self._next, ""
        try:
            self._speaking = self._start((*self._command, text))
        except OSError:
            self._command = None  # the program is there and cannot be run: nothing can be heard

    def _busy(self) -> bool:
        return self._speaking is not None and self._speaking.poll() is None

    def _break_off(self) -> None:
        if self._speaking is not None and self._busy():
            self._speaking.terminate()
            self._speaking.wait()

    def stop(self) -> None:
        """Nothing more."""
        self._next = ""
        self._break_off()


def _start(command: Sequence[str]) -> "subprocess.Popen[bytes]":
    return subprocess.Popen(
        command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True
    )
