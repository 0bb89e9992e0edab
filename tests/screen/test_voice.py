"""The voice: one at a time, cut off by what weighs more, never waited for, and quiet when nothing can be heard."""

import subprocess
import sys
import time
from collections.abc import Sequence

import pytest

from coach.screen.speech import ENDS_WITHIN_S, Voice
from coach.words.announce import Level

LONG = "Hold 50 to 60 mph with a light, even foot, where the road is clear."
TALKS = (sys.executable, "-S", "-E", "-c", "import signal; signal.pause()")
"""A program that talks for ever and has to be cut off."""


class Speaking:
    def __init__(self) -> None:
        self.code: int | None = None

    def poll(self) -> int | None:
        return self.code

    def kill(self) -> None:
        self.code = -9

    def wait(self, timeout: float | None = None) -> int:
        return self.code or 0


class Heard:
    """A voice whose programs are played by the test; `over` ends the one that speaks."""

    def __init__(self, program: str = "espeak-ng") -> None:
        self.lines: list[str] = []
        self.now = 0.0
        self.speaking: list[Speaking] = []
        self.voice = Voice(lambda name: name if name == program else None, self._start, lambda: self.now)  # type: ignore[arg-type]

    def _start(self, command: Sequence[str]) -> Speaking:
        self.lines.append(command[-1])
        self.speaking.append(Speaking())
        return self.speaking[-1]

    def over(self, code: int = 0, after_s: float = 5.0) -> None:
        self.now += after_s
        self.speaking[-1].code = code
        self.voice.go_on()


def test_one_voice_at_a_time_and_only_the_newest_line_waits() -> None:
    heard = Heard()
    for text in ("one", "two", "three"):
        heard.voice.say(text)
    assert heard.lines == ["one"]
    heard.over()
    assert heard.lines == ["one", "three"]


@pytest.mark.parametrize(
    ("first", "then", "cut"),
    [("steady", "notice", True), ("notice", "stop", True), ("notice", "notice", False), ("stop", "notice", False)],
)
def test_a_weightier_line_breaks_off_a_lighter_one(first: Level, then: Level, cut: bool) -> None:
    heard = Heard()
    heard.voice.say("one", first)
    heard.voice.say("two", then)
    assert heard.lines == (["one", "two"] if cut else ["one"])
    assert (heard.speaking[0].code == -9) is cut


def test_a_lighter_line_does_not_take_the_place_of_one_that_waits() -> None:
    heard = Heard()
    for text, level in (("one", "notice"), ("two", "notice"), ("three", "steady")):
        heard.voice.say(text, level)  # type: ignore[arg-type]
    heard.over()
    assert heard.lines == ["one", "two"]


def test_a_speech_server_is_told_to_be_silent_too() -> None:
    heard = Heard("spd-say")
    heard.voice.say("one")
    heard.voice.stop()
    assert heard.lines == ["one", "--cancel"]


def test_without_a_speech_program_nothing_is_said_and_nothing_fails() -> None:
    voice = Voice(lambda name: None)
    voice.say("one")
    voice.stop()
    assert not voice.there


def test_a_program_that_ends_before_anybody_could_have_spoken_was_not_heard() -> None:
    """As espeak-ng does without a sound device: it ends well within a tenth of a second (measured)."""
    heard = Heard()
    heard.voice.say(LONG)
    heard.over(after_s=0.1)
    assert heard.voice.trouble == "Nothing can be heard: espeak-ng ended at once. Is there a sound device?"
    heard.voice.say(LONG)
    heard.over(after_s=4.0)
    assert heard.voice.trouble == ""


def test_a_program_that_fails_says_so_in_one_line() -> None:
    heard = Heard()
    heard.voice.say("one")
    heard.over(code=1)
    assert "ended with code 1" in heard.voice.trouble


def test_a_program_that_cannot_be_started_is_said_once_and_not_tried_again() -> None:
    def refuse(command: Sequence[str]) -> "subprocess.Popen[bytes]":
        raise PermissionError(13, "Permission denied")

    voice = Voice(lambda name: name, refuse)
    voice.say("one")
    assert "cannot be started: Permission denied" in voice.trouble
    assert not voice.there


def test_a_real_program_is_never_waited_for_and_dies_when_it_is_cut_off() -> None:
    begun: list[subprocess.Popen[bytes]] = []

    def start(command: Sequence[str]) -> "subprocess.Popen[bytes]":
        begun.append(subprocess.Popen(TALKS, stdin=subprocess.DEVNULL, start_new_session=True))
        return begun[-1]

    voice = Voice(lambda name: name if name == "espeak-ng" else None, start)
    began = time.monotonic()
    voice.say("one")
    voice.say("two", "notice")
    voice.stop()
    assert time.monotonic() - began < 2 * ENDS_WITHIN_S + 1.0  # two beginnings of a process under load
    assert [process.poll() for process in begun] == [-9, -9]
