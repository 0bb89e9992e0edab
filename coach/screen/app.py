"""The app: wiring only. Screens are pushed here, looks are set here, and here the command line comes in."""

import asyncio
import os
import signal
import threading
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from rich.text import Text
from textual.app import App
from textual.command import Provider
from textual.filter import LineFilter
from textual.screen import Screen

from coach.screen.chosen import Chosen
from coach.screen.keys import CheckScreen, CoachScreen, HelpScreen, Keys, Palette, help_text, key
from coach.screen.look import palettes, themes, variables
from coach.screen.plain import HarmlessLines
from coach.screen.start import StartScreen
from coach.words.faults import Guard, where

if TYPE_CHECKING:
    from coach.drive.profile import Profile
    from coach.screen.feed import Feed
    from coach.screen.pump import Ended
    from coach.session.live import Wanted
    from coach.words.units import Units

WRITE_WITHIN_S = 10.0  # our judgement: a port closes within two; a disk that takes longer will not be helped by waiting


class CoachApp(App["Ended | None"]):
    """The coach on a screen."""

    TITLE = "coach"
    CSS_PATH = Path(__file__).with_name("coach.tcss")
    COMMANDS: ClassVar[set[type[Provider] | Callable[[], type[Provider]]]] = {Palette}
    HORIZONTAL_BREAKPOINTS = [  # noqa: RUF012, the base declares it so
        (0, "-narrow"),
        (80, "-normal"),
        (110, "-wide"),
    ]
    VERTICAL_BREAKPOINTS = [  # noqa: RUF012
        (0, "-low"),
        (24, "-usual"),
        (34, "-tall"),
        (50, "-high"),
    ]
    BINDINGS: ClassVar[Keys] = [
        key("question_mark", "keys", "help", "Every key of this screen with what it does."),
        key("ctrl+p", "command_palette", "palette", "Every key by its name, to search and choose."),
        key("l", "look", "light", "Light or dark."),
        key("q", "quit", "quit", "Quit; what was recorded is kept."),
        key("ctrl+c", "quit", "break", "Quit, as everywhere in a terminal.", show=False, priority=True),
    ]

    def __init__(self, first: Screen[None] | None = None, *, look: str = "dark", chosen: Chosen | None = None) -> None:
        super().__init__()
        self.chosen = chosen or Chosen()
        self.animation_level = "none"
        self._first = first
        self._harmless = HarmlessLines()
        self._guard = Guard()
        self._begin_with(look)

    def _begin_with(self, look: str) -> None:
        """The look is there before the stylesheet is first read; set later, all of it would be read twice."""
        for theme in themes():
            self.register_theme(theme)
        self.set_reactive(App.theme, look)
        self.stylesheet.set_variables(self.get_css_variables())
        dark = self.current_theme.dark
        self.update_classes({f"-theme-{look}": True, "-dark-mode": dark, "-light-mode": not dark}, update=False)

    def get_theme_variable_defaults(self) -> dict[str, str]:
        """The names of our colours exist before a look is set."""
        return variables(palettes()["dark"])

    def get_line_filters(self) -> Sequence[LineFilter]:
        """Whatever a widget draws, nothing in it steers the terminal."""
        return [*super().get_line_filters(), self._harmless]

    def on_notify(self) -> None:
        """Before a word is shown beside the page the one before it goes: no old word stands beside a new one."""
        self.clear_notifications()

    def on_mount(self) -> None:
        """The first screen."""
        self._listen_to_the_system()
        if self._first is not None:
            self.push_screen(self._first)
        else:
            self.go_to_start()

    def _listen_to_the_system(self) -> None:
        """Told to end, or the terminal gone: the journal gets its last line first. Not everywhere can one be told."""
        loop = asyncio.get_running_loop()
        told = {"SIGTERM": lambda: asyncio.ensure_future(self.action_quit()), "SIGHUP": self._without_terminal}
        for name, does in told.items():
            with suppress(AttributeError, NotImplementedError, RuntimeError, ValueError):
                loop.add_signal_handler(getattr(signal, name), does)

    def _without_terminal(self) -> None:
        """The terminal is gone, and Textual would wait for it for ever: write the drive, and be gone too."""
        screens = [screen for screen in self.screen_stack if isinstance(screen, CoachScreen)]
        for screen in screens:
            screen.leave()

        def end() -> None:
            for screen in screens:
                screen.written(WRITE_WITHIN_S)
            os._exit(128 + signal.SIGHUP)

        threading.Thread(target=end, name="the end", daemon=True).start()

    # ------------------------------------------------------------ faults

    def fault(self, error: Exception) -> None:
        """Something could not be shown: it is told in one line, once; a drive goes on in its own thread."""
        self._guard.note(error)
        for words in self._guard.news():
            if isinstance(self.screen, CoachScreen):
                self.screen.note(words)

    def _fatal_error(self) -> None:
        """What nobody caught ends the screen; a line on the terminal says so, the drive is written."""
        error = self._exception
        self.panic(Text(f"coach: a fault of this program, {where(error)}" if error is not None else "coach: a fault"))

    # ------------------------------------------------------------ ways

    def go_to_start(self) -> None:
        """The start, with nothing behind it; one that lies beneath is gone back to."""
        while len(self.screen_stack) > 2:
            self.pop_screen()
        if len(self.screen_stack) < 2:
            self.push_screen(StartScreen(self.chosen))
        elif not isinstance(self.screen, StartScreen):
            self.switch_screen(StartScreen(self.chosen))

    def go_to_review(self, path: str) -> None:
        """A recording."""
        from coach.screen.review import ReviewScreen

        self.push_screen(ReviewScreen(Path(path)))

    # ------------------------------------------------------------ keys

    def action_keys(self) -> None:
        """Help, from the keys of the screen."""
        if not isinstance(self.screen, HelpScreen):
            self.push_screen(HelpScreen(help_text(self.screen)))

    def action_look(self) -> None:
        """Light or dark."""
        self.theme = "light" if self.theme == "dark" else "dark"

    async def action_quit(self) -> None:
        """Quit from anywhere; a drive is written first. Asked twice, at once."""
        for screen in self.screen_stack:
            if isinstance(screen, CoachScreen) and screen.leave():
                return
        self.exit()


def run_feed(
    feed: "Feed",
    units: "Units",
    *,
    speak: bool = False,
    bell: bool = False,
    alone: bool = False,
    look: str = "dark",
    chosen: Chosen | None = None,
) -> "Ended | None":
    """A drive on the screen, from any feed, written when this returns; none when the start was left without another."""
    from coach.screen.drive import DriveScreen

    screen = DriveScreen(feed, units, speak=speak, bell=bell, alone=alone)
    found = CoachApp(screen, look=look, chosen=chosen or Chosen(units.us)).run()
    screen.pump.finish("the screen is gone")
    screen.pump.wait(WRITE_WITHIN_S)
    return found or screen.ended


def run_demo(
    car: str,
    wanted: "Wanted",
    pace: float,
    *,
    faults: tuple[str, ...] = (),
    seed: int = 1,
    speak: bool = False,
    look: str = "dark",
) -> "Ended | None":
    """The simulated car on the screen."""
    from coach.screen.feed import simulated_feed
    from coach.words.units import Units

    feed, chosen = simulated_feed(car, wanted, pace, faults, seed), Chosen(wanted.us, folder=wanted.folder)
    return run_feed(feed, Units(wanted.us), speak=speak, look=look, chosen=chosen)


def run_drive(
    wanted: "Wanted",
    *,
    going_on: Path | None = None,
    speak: bool = False,
    bell: bool = False,
    alone: bool = False,
    look: str = "dark",
) -> "Ended | None":
    """The car on the line on the screen; `wanted.port` names the port, `going_on` a drive that was broken off."""
    from coach.screen.feed import go_on_feed, live_feed
    from coach.words.units import Units

    chosen = Chosen(wanted.us, wanted.profile_id, folder=wanted.folder)
    feed = go_on_feed(going_on, wanted) if going_on is not None else live_feed(wanted)
    return run_feed(feed, Units(wanted.us), speak=speak, bell=bell, alone=alone, look=look, chosen=chosen)


def run_review(path: Path, *, us: bool | None = None, profile: "Profile | None" = None, look: str = "dark") -> None:
    """A recording on the screen; `us` none: in the recording's own units."""
    from coach.screen.review import ReviewScreen
    from coach.words.units import Units

    units = Units(us) if us is not None else None
    CoachApp(ReviewScreen(path, units=units, profile=profile), look=look, chosen=Chosen(bool(us))).run()


def run_start(*, us: bool = False, folder: Path | None = None, look: str = "dark") -> "Ended | None":
    """The start; what is done from there, the user says."""
    return CoachApp(look=look, chosen=Chosen(us, folder=folder)).run()


def run_check(page: str, *, look: str = "dark") -> None:
    """A read-out as a page to scroll."""
    CoachApp(CheckScreen(page), look=look).run()
