"""Plain lines of a drive: what is said, when. For terminals without a screen, logs, screen readers and pipes."""

from collections.abc import Callable, Iterable
from typing import Any

from coach.cli.terminal import say
from coach.words.faults import Guard


class Lines:
    """Prints a drive as it goes; results on standard output, progress on standard error."""

    def __init__(self, us: bool) -> None:
        self._us = us
        self._announcer: Any = None
        self._said = ""
        self._open = False
        self._guard = Guard()

    def say(self, text: str) -> None:
        """One line."""
        say(text)

    def progress(self, text: str) -> None:
        """What the link is doing; each thing once."""
        if text != self._said:
            self._said = text
            say(f"  {text}", aside=True)

    def take(self, drive: Any, happened: tuple[Any, ...]) -> None:
        """What is to be said of what happened; nothing before the page before the drive has been said."""
        from coach.words.announce import Announcer, line
        from coach.words.units import Units

        if drive.core is None or not self._open:
            return
        if self._announcer is None or self._announcer.core is not drive.core:
            self._announcer = Announcer(drive.core, Units(self._us))
        for entry in self._announcer.take(happened):
            self.say(line(entry))

    def before_the_wheels_turn(self, drive: Any) -> None:
        """Who reads, the cautions, what the car said and what it allows today."""
        from coach.words.before import before_lines
        from coach.words.units import Units

        if drive.header is not None and drive.header.source == "simulated":
            self.say("SIMULATED: no real car answers here.")
        job = drive.not_the_car_of()
        self._page(lambda: before_lines(drive.core, Units(self._us), drive.profile_why, job))
        self._open = True

    def parked(self) -> None:
        """The last look: what the car says is told, what to drive is not."""
        if self._announcer is not None:
            self._announcer.parked = True

    def closed(self) -> None:
        """The drive is over: the next one begins with its own page."""
        self._open = False

    def summary(self, drive: Any) -> None:
        """What the drive brought."""
        from coach.words.before import after_lines
        from coach.words.units import Units

        if drive.core is not None:
            self._page(lambda: after_lines(drive.core, Units(self._us)))

    def _page(self, lines: Callable[[], Iterable[str]]) -> None:
        """A page as far as it can be put into words; a fault of ours ends neither drive nor recording."""
        made: list[str] = []
        self._guard.make(lambda: made.extend(lines()), None)
        for text in (*made, *self._guard.news()):
            self.say(text)
