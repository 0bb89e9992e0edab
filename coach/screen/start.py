"""The start: the car on a port, the simulated car, or a recording. Whatever is missing, the next step stands there."""

import re
import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.content import Content
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from coach.library import profile_paths, shipped
from coach.screen.keys import AskScreen, CoachScreen, KeyLine, Keys, key
from coach.session.places import broken_off, data_folder, kept_drives

if TYPE_CHECKING:
    from coach.screen.feed import Feed
    from coach.session.live import Wanted

RECENT = 8
NAMED = re.compile(r"(drive|simulated)-(\d{4}-\d\d-\d\d)-(\d\d)(\d\d)(?:-(\d+))?\.journal(?:\.gz)?")
SIMULATED_PACES = (1, 10, 30, 60)
NO_PORT = "No adapter was found. Plug it in or pair it, then press r to look again."
NO_RECORDING = "No drive has been recorded yet; o opens a file."


@dataclass(frozen=True, slots=True)
class Chosen:
    """The settings of the start; kept while the program runs. `profile` none: as the car says."""

    us: bool = False
    profile: str | None = None
    pace: int = 30
    folder: Path | None = None


class Ways(OptionList):
    """The ways; enter takes the marked one."""

    BINDINGS: ClassVar[Keys] = [key("enter", "select", "choose", "Take what is marked; the arrows move the mark.")]


class StartScreen(CoachScreen):
    """What is there to do."""

    area = "start"
    BINDINGS: ClassVar[Keys] = [
        key("p", "profile", "profile", "Another profile; the first is what the car itself says."),
        key("u", "units", "units", "Kilometres and Celsius, or miles and Fahrenheit."),
        key("x", "pace", "pace", "How many times real time the simulated car is driven."),
        key("o", "open", "open", "Open a recording by its name."),
        key("r", "again", "refresh", "Look for adapters and recordings again."),
    ]

    def __init__(
        self, chosen: Chosen | None = None, ports: Callable[[], tuple[tuple[str, str], ...]] | None = None
    ) -> None:
        super().__init__()
        self.chosen = chosen or Chosen()
        self._ports = ports or found_ports
        self._ways: dict[str, Callable[[], None]] = {}
        self._profiles: tuple[tuple[str | None, str], ...] = (None, "as the car itself says"), *profiles()

    def compose(self) -> ComposeResult:
        """A heading, the ways, the settings."""
        yield Static("A calm drive back to readiness. Where do the answers come from?", id="heading", markup=False)
        yield Ways(classes="choices", id="ways")
        yield Static("", id="hint", markup=False)
        yield KeyLine()

    def on_mount(self) -> None:
        """Look for what there is, behind the first picture: ports and cars take a moment to load."""
        self._hint()
        self.query_one(OptionList).focus()
        self.call_after_refresh(self.action_again)

    # ------------------------------------------------------------ what there is

    def action_again(self) -> None:
        """Look again."""
        ways = self.query_one(OptionList)
        marked = ways.highlighted
        ways.clear_options()
        self._ways.clear()
        self._offer_cars()
        self._offer_simulated()
        self._offer_recordings()
        ways.highlighted = marked if marked is not None else 1
        self._hint()

    def _head(self, text: str) -> None:
        options = self.query_one(OptionList)
        if options.option_count:
            options.add_option(Option("", disabled=True))
        options.add_option(Option(Content.styled(text, "$quiet"), disabled=True))

    def _offer(self, text: str, way: Callable[[], None]) -> None:
        name = f"way{len(self._ways)}"
        self._ways[name] = way
        self.query_one(OptionList).add_option(Option(Content(text), id=name))

    def _offer_cars(self) -> None:
        from coach.screen.feed import go_on_feed, live_feed

        self._head("The car, through the adapter on")
        ports = self._ports()
        if not ports:
            self._offer(NO_PORT, self.action_again)
            return
        broken = self._broken_off()
        if broken is not None:
            self._offer(
                f"{ports[0][0]}, going on with {broken.stem}",
                lambda: self._drive(go_on_feed(broken, self._wanted(ports[0][0]))),
            )
        for name, described in ports:
            text = f"{name}   {described}" if described else name
            self._offer(text, lambda name=name: self._drive(live_feed(self._wanted(name))))  # type: ignore[misc]

    def _broken_off(self) -> Path | None:
        def cut_short(path: Path) -> bool:
            from coach.session.live import cut_short as really

            return really(path)

        return broken_off(kept_drives(data_folder(self.chosen.folder)), datetime.now(UTC), cut_short)

    def _offer_simulated(self) -> None:
        from coach.simulator.cars import CARS

        self._head("A simulated car, to see how it goes")
        for name, described in CARS.items():
            self._offer(described, lambda name=name: self._drive(self._simulated(name)))  # type: ignore[misc]

    def _simulated(self, car: str) -> "Feed":
        from coach.screen.feed import simulated_feed

        return simulated_feed(car, self._wanted(""), float(self.chosen.pace))

    def _offer_recordings(self) -> None:
        self._head("A recording, to look at again")
        own = recordings(data_folder(self.chosen.folder))
        if not own:
            self._offer(NO_RECORDING, self.action_open)
        for path in [*own, *sorted(shipped("replays").glob("*.journal*"))]:
            self._offer(recording_words(path), lambda path=path: self.app.go_to_review(str(path)))  # type: ignore[misc,attr-defined]

    def _hint(self) -> None:
        units = "miles and Fahrenheit" if self.chosen.us else "kilometres and Celsius"
        name = next(words for profile, words in self._profiles if profile == self.chosen.profile)
        self.query_one("#hint", Static).update(
            Content(f"Profile: {name}. Units: {units}. The simulated car goes {self.chosen.pace} times real time.")
        )

    # ------------------------------------------------------------ going there

    def _wanted(self, port: str) -> "Wanted":
        from coach.session.live import Wanted

        return Wanted(port, profile_id=self.chosen.profile, us=self.chosen.us, folder=self.chosen.folder)

    def _drive(self, feed: "Feed") -> None:
        from coach.screen.drive import DriveScreen
        from coach.words.units import Units

        self.app.push_screen(DriveScreen(feed, Units(self.chosen.us)))

    @on(OptionList.OptionSelected)
    def _selected(self, event: OptionList.OptionSelected) -> None:
        way = self._ways.get(event.option_id or "")
        if way is not None:
            way()

    # ------------------------------------------------------------ keys

    def action_profile(self) -> None:
        """The next profile."""
        ids = [profile for profile, _ in self._profiles]
        self._choose(profile=ids[(ids.index(self.chosen.profile) + 1) % len(ids)])

    def action_units(self) -> None:
        """The other units."""
        self._choose(us=not self.chosen.us)

    def action_pace(self) -> None:
        """The next pace."""
        paces = SIMULATED_PACES
        at = paces.index(self.chosen.pace) if self.chosen.pace in paces else 0
        self._choose(pace=paces[(at + 1) % len(paces)])

    def _choose(self, **made: object) -> None:
        from dataclasses import replace

        self.chosen = replace(self.chosen, **made)  # type: ignore[arg-type]
        self.app.chosen = self.chosen  # type: ignore[attr-defined]
        self._hint()

    def action_open(self) -> None:
        """Ask for a file."""
        question = "Which file? A journal or a table, then enter."
        self.app.push_screen(AskScreen(question, _no_file), self._open)

    def _open(self, named: str | None) -> None:
        if named:
            self.app.go_to_review(str(Path(named).expanduser()))  # type: ignore[attr-defined]

    def action_back(self) -> None:
        """The start is the first: quitting has its own key."""
        self.notify("This is the start; q quits.")


def _no_file(named: str) -> str:
    return "" if Path(named.strip()).expanduser().is_file() else f"{named}: no such file. Write its whole name."


def found_ports() -> tuple[tuple[str, str], ...]:
    """Name and description of every port there is now."""
    from coach.adapter.ports import list_ports

    return tuple((port.name, port.description) for port in list_ports())


def profiles() -> tuple[tuple[str, str], ...]:
    """Id and name of the shipped profiles."""
    return tuple((path.stem, tomllib.loads(path.read_text(encoding="utf-8"))["name"]) for path in profile_paths())


def recordings(folder: Path) -> list[Path]:
    """The newest journals of the user."""
    own = [path for path in (folder / "drives").glob("*.journal*") if not path.name.endswith(".probe")]
    own.sort(key=lambda path: path.stat().st_mtime, reverse=True)
    return own[:RECENT]


def recording_words(path: Path) -> str:
    """A journal's name as a day and an hour; the name itself when it is somebody's own."""
    found = NAMED.fullmatch(path.name)
    if found is None and path.parent == shipped("replays"):
        return f"shipped: {path.name.split('.')[0].replace('_', ' ')}"
    if found is None:
        return path.name
    kind, day, hour, minute, number = found.groups()
    simulated = ", simulated" if kind == "simulated" else ""
    return f"{day}, {hour}:{minute}{simulated}" + (f", number {number}" if number else "")
