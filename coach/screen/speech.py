"""Says lines through a speech program of the system, if there is one. Never more than one voice at a time.

Nothing here waits for a voice: a line is begun, looked after when the screen is told something new, and cut off when a
weightier one comes.
"""

import shutil
import subprocess
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from typing import NamedTuple

from coach.visible import visible
from coach.words.announce import Level


class Program(NamedTuple):
    """A speech program: its name, what tells it that text follows, and what makes its own server be silent."""

    name: str
    text_follows: tuple[str, ...]
    silence: tuple[str, ...] = ()


PROGRAMS = (
    Program("spd-say", ("--wait", "--"), ("--cancel",)),
    Program("espeak-ng", ("--",)),
    Program("say", ("--",)),
)
"""Speech programs of the systems we know, by their manual pages (from memory but for espeak-ng)."""
WEIGHT: dict[Level, int] = {"steady": 0, "notice": 1, "stop": 2}
FASTEST_PER_S = 60.0  # characters a second; our judgement: twice what a trained listener of fast speech follows
ENDS_WITHIN_S = 0.1  # a program that is killed is gone within a millisecond or two; measured with espeak-ng

_BRACKETS = str.maketrans("[]", "()")


def spoken(text: str) -> str:
    """A text as a program is handed it: speech programs take commands in double brackets, and no hidden characters."""
    return visible(text).translate(_BRACKETS)


Start = Callable[[Sequence[str]], "subprocess.Popen[bytes]"]


class Voice:
    """A voice; silent when no program was found."""

    def __init__(
        self,
        find: Callable[[str], str | None] = shutil.which,
        start: Start | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._program = next((program for program in PROGRAMS if find(program.name)), None)
        self._start = start or _start
        self._clock = clock
        self._speaking: subprocess.Popen[bytes] | None = None
        self._now: tuple[str, Level] = ("", "steady")
        self._began_s = 0.0
        self._next: tuple[str, Level] | None = None
        self.trouble = ""
        """Why nothing can be heard, as far as it was found out; empty while all is well."""

    @property
    def there(self) -> bool:
        """Whether there is a program at all."""
        return self._program is not None

    def say(self, text: str, level: Level = "steady") -> None:
        """Say it now, or when the voice is free; a weightier line breaks off a lighter one."""
        if self._busy() and WEIGHT[level] > WEIGHT[self._now[1]]:
            self._break_off()
            self._next = None
        if self._next is None or WEIGHT[level] >= WEIGHT[self._next[1]]:
            self._next = (text, level)
        self.go_on()

    def go_on(self) -> None:
        """Say what waits, if the voice is free. One line waits, the newest of the weightiest: others are no news."""
        if self._program is None or self._busy() or self._next is None:
            return
        self._now, self._next, self._began_s = self._next, None, self._clock()
        try:
            self._speaking = self._start((self._program.name, *self._program.text_follows, spoken(self._now[0])))
        except OSError as error:
            self.trouble = f"Nothing can be heard: {self._program.name} cannot be started: {error.strerror or error}."
            self._program = None

    def stop(self) -> None:
        """Nothing more."""
        self._next = None
        self._break_off()

    def _busy(self) -> bool:
        if self._speaking is None:
            return False
        code = self._speaking.poll()
        if code is None:
            return True
        self._speaking = None
        self._judge(code)
        return False

    def _judge(self, code: int) -> None:
        """Some programs end well without a sound device: one done sooner than anybody can speak was not heard."""
        took_s = self._clock() - self._began_s
        silent = took_s < len(self._now[0]) / FASTEST_PER_S
        name = self._program.name if self._program is not None else ""
        why = f"{name} ended at once" if silent else f"{name} ended with code {code}"
        self.trouble = f"Nothing can be heard: {why}. Is there a sound device?" if code or silent else ""

    def _break_off(self) -> None:
        speaking, self._speaking = self._speaking, None
        if speaking is None or speaking.poll() is not None:
            return
        if self._program is not None and self._program.silence:
            with suppress(OSError, subprocess.TimeoutExpired):
                self._start((self._program.name, *self._program.silence)).wait(ENDS_WITHIN_S)
        speaking.kill()
        with suppress(subprocess.TimeoutExpired):
            speaking.wait(ENDS_WITHIN_S)


def _start(command: Sequence[str]) -> "subprocess.Popen[bytes]":
    return subprocess.Popen(
        command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True
    )
