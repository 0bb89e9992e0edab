"""What all screens share: keys with words, help and palette made of them, and pages to read."""

import re
import textwrap
from collections.abc import AsyncIterator, Callable, Iterator
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.command import DiscoveryHit, Hit, Hits, Provider
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.geometry import Size
from textual.screen import ModalScreen, Screen
from textual.style import Style
from textual.widgets import Input, Static

from coach.screen.plain import Plain
from coach.visible import visible

Keys = list[BindingType]


def key(keys: str, action: str, label: str, tooltip: str, *, show: bool = True, priority: bool = False) -> Binding:
    """A binding with its one-word label and a sentence; its id is the label."""
    return Binding(keys, action, label, show=show, tooltip=tooltip, id=label, priority=priority)


MORE = key("space", "more", "more", "Further down the page; the arrows go line by line.")


class CoachScreen(Screen[None]):
    """A screen with an area name for the palette."""

    area = "coach"

    BINDINGS: ClassVar[Keys] = [key("escape", "back", "back", "Back to where you came from.")]

    def leave(self) -> bool:
        """The program is to end: true when the screen has something to finish first and will end it then."""
        return False

    def written(self, timeout_s: float) -> None:
        """Wait until nothing of it can be lost any more."""

    def note(self, text: str) -> None:
        """A word beside the page, for a moment."""
        self.notify(visible(text), markup=False)

    def action_more(self) -> None:
        """A page further down what is to be read."""
        self.query_one(".page", VerticalScroll).scroll_page_down()

    def action_back(self) -> None:
        """One screen back; from the last one, the start."""
        if len(self.app.screen_stack) > 2:
            self.app.pop_screen()
        else:
            self.app.go_to_start()  # type: ignore[attr-defined]


def active(screen: Screen[object]) -> Iterator[Binding]:
    """The bindings that do something now, each once, in the order of the footer."""
    found = [b for _, b, enabled, _ in screen.active_bindings.values() if enabled and b.tooltip]
    shown = {binding.action for binding in found if binding.show}
    seen: set[str] = set()
    for binding in found:
        hidden_twin = not binding.show and binding.action in shown
        if binding.action not in seen and not hidden_twin:
            seen.add(binding.action)
            yield binding


def help_text(screen: Screen[object]) -> str:
    """Every key of a screen with its sentence."""
    app = screen.app
    lines = [f"  {app.get_key_display(binding):<8} {binding.tooltip}" for binding in active(screen)]
    return "\n".join(["Keys here", "", *lines])


class KeyLine(Static):
    """All keys that do something now, made of the bindings; each can be clicked. Two lines where one does not do."""

    def on_mount(self) -> None:
        """Follow the bindings."""
        self.screen.bindings_updated_signal.subscribe(self, self._follow)
        self.call_after_refresh(self._follow, self.screen)

    def _follow(self, screen: Screen[object]) -> None:
        if not self.is_attached or screen is not self.screen or not self.size.width:
            return  # before it has a width there is nothing to fit it into: the resize comes
        # Alone on the move nobody reads, and no label may tempt one to. Every key does what it always does, and one
        # mark stays: ? opens the list of keys. Were it gone too, a car whose speed is not heard, and which therefore
        # is not known to stand, would leave its driver on a page without a way on.
        bare = screen.has_class("-unread")
        lines: list[list[Content]] = [[]]
        for binding in (b for b in active(screen) if b.show and (b.action == "keys" or not bare)):
            shown = self.app.get_key_display(binding)
            words = () if bare else (" ", (binding.description, "$quiet"))
            piece = Content.assemble((shown, "$ink bold"), *words)
            where = "app" if binding.action in APP_ACTIONS else "screen"
            piece = piece.stylize(Style.from_meta({"@click": f"{where}.{binding.action}"}))
            if sum(len(other) + 2 for other in lines[-1]) + len(piece) > self.size.width:
                lines.append([])  # a key stays with its word
            lines[-1].append(piece)
        self.update(Content("\n").join(Content("  ").join(line) for line in lines if line))

    def on_resize(self) -> None:
        """Another width, other lines."""
        self._follow(self.screen)


APP_ACTIONS = ("keys", "look", "quit", "command_palette")


class Prose(Static):
    """Text whose wrapped lines begin where their words began, so that lists and columns stay what they are."""

    def __init__(self, text: str = "", id: str | None = None) -> None:
        super().__init__("", id=id, markup=False)
        self._text, self._head = visible(text), ""

    def say(self, text: str, head: str = "") -> None:
        """Show it, `head` above it and heavier."""
        self._head = visible(head)
        self._text = f"{self._head}\n\n{visible(text)}" if head else visible(text)
        self.refresh(layout=True)

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """As many lines as it takes at this width."""
        return len(hanging(self._text, width))

    def render(self) -> Content:
        """The lines."""
        lines = Content("\n".join(hanging(self._text, self.content_size.width)))
        return lines.stylize("bold", 0, len(self._head)) if self._head else lines


COLUMN = re.compile(r"( *)(?:(\S+(?: \S+)*?)( {2,}))?")
"""The beginning of a line: its indent, and a first column when two or more spaces follow it."""
LEAST_PROSE = 20  # columns; our judgement: beside a first column that leaves less, words are broken to pieces


def hanging(text: str, width: int) -> list[str]:
    """Lines of at most `width`; what is wrapped hangs beneath the words, not beneath the indent or the first column."""
    lines: list[str] = []
    for line in text.split("\n"):
        found = COLUMN.match(line)
        indent = len(found.group(0)) if found is not None else 0
        if width - indent < LEAST_PROSE:
            indent = 0
        lines += textwrap.wrap(line, max(width, 1), subsequent_indent=" " * indent, drop_whitespace=True) or [""]
    return lines


class ReadScreen(CoachScreen):
    """A page to read: help, a read-out. Scrolls with the arrows."""

    area = "page"
    BINDINGS: ClassVar[Keys] = [MORE]

    def __init__(self, text: str) -> None:
        super().__init__()
        self.text = text

    def compose(self) -> ComposeResult:
        """The page and the keys."""
        with VerticalScroll(classes="page"):
            yield Prose(self.text, id="text")
        yield KeyLine()

    def on_mount(self) -> None:
        """The arrows scroll at once."""
        self.query_one(VerticalScroll).focus()


class HelpScreen(ReadScreen):
    """The keys of the screen beneath."""

    area = "help"


class CheckScreen(ReadScreen):
    """The read-out of the car, all control units."""

    area = "read-out"


class AskScreen(ModalScreen[str | None]):
    """Asks for one line. `check` gives what is wrong with it, empty when nothing is."""

    BINDINGS: ClassVar[Keys] = [key("escape", "cancel", "back", "Back without an answer.")]

    def __init__(self, question: str, check: Callable[[str], str]) -> None:
        super().__init__()
        self._question, self._check = question, check

    def compose(self) -> ComposeResult:
        """One line to write in."""
        with Vertical(id="asked"):
            yield Plain(self._question)
            yield Input()

    @on(Input.Submitted)
    def _submitted(self, event: Input.Submitted) -> None:
        wrong = self._check(event.value)
        if wrong:
            self.query_one(Plain).put(f"{wrong}\n\n{self._question}")
        else:
            self.dismiss(event.value)

    def action_cancel(self) -> None:
        """Nothing."""
        self.dismiss(None)


class Palette(Provider):
    """Every key of the screen beneath as an entry "area: action"."""

    def _entries(self) -> Iterator[tuple[str, str, str]]:
        screen = self.screen
        area = getattr(screen, "area", "coach")
        for binding in active(screen):
            if binding.action != "command_palette":
                yield f"{area}: {binding.description}", binding.action, binding.tooltip

    async def discover(self) -> AsyncIterator[DiscoveryHit]:
        """All of them, before anything is typed."""
        for name, action, tip in self._entries():
            yield DiscoveryHit(name, self._run(action), help=tip)

    async def search(self, query: str) -> Hits:
        """Those that match."""
        matcher = self.matcher(query)
        for name, action, tip in self._entries():
            score = matcher.match(f"{name} {tip}")
            if score > 0:
                yield Hit(score, matcher.highlight(name), self._run(action), help=tip)

    def _run(self, action: str):  # type: ignore[no-untyped-def]
        screen = self.screen

        async def run() -> None:
            await screen.run_action(action)

        return run
