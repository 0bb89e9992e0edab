"""A list of ways to go on, each one line: what the start and a job are made of."""

from collections.abc import Callable
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.widgets import OptionList
from textual.widgets.option_list import Option

from coach.screen.keys import CoachScreen, KeyLine, Keys, key
from coach.screen.plain import Plain, plain


class Ways(OptionList):
    """The ways; enter takes the marked one."""

    BINDINGS: ClassVar[Keys] = [key("enter", "select", "choose", "Take what is marked; the arrows move the mark.")]


class WaysScreen(CoachScreen):
    """A heading, the ways beneath, a hint. `fill` says what there is."""

    heading = ""

    def __init__(self) -> None:
        super().__init__()
        self._ways: dict[str, Callable[[], None]] = {}

    def compose(self) -> ComposeResult:
        """A heading, the ways, the settings."""
        yield Plain(self.heading, id="heading")
        yield Ways(classes="choices", id="ways")
        yield Plain(id="hint")
        yield KeyLine()

    def fill(self) -> None:
        """Offer what there is."""

    def look_again(self) -> None:
        """Fill the list anew; the mark stays where it was."""
        if not self.is_attached:
            return  # left in the meantime
        ways = self.query_one(OptionList)
        marked = ways.highlighted
        ways.clear_options()
        self._ways.clear()
        self.fill()
        ways.highlighted = marked if marked is not None else 1

    def head(self, text: str) -> None:
        """A heading among the ways."""
        options = self.query_one(OptionList)
        if options.option_count:
            options.add_option(Option("", disabled=True))
        options.add_option(Option(plain(text, "$quiet"), disabled=True))

    def offer(self, text: str, way: Callable[[], None]) -> None:
        """One way: its line, and what it does."""
        name = f"way{len(self._ways)}"
        self._ways[name] = way
        self.query_one(OptionList).add_option(Option(plain(text), id=name))

    @on(OptionList.OptionSelected)
    def _selected(self, event: OptionList.OptionSelected) -> None:
        way = self._ways.get(event.option_id or "")
        if way is not None:
            way()
