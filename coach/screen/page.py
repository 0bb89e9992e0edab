"""The page of a drive: like a note from a calm co-driver, one instruction, one number on one ruler, one bar.

It shows a `Moment` and decides nothing. Every part has its place, so that nothing shifts.
"""

import time
from dataclasses import replace

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.reactive import reactive
from textual.widget import Widget
from textual.widgets import Static

from coach.screen.moment import Moment
from coach.screen.numerals import figures, large
from coach.screen.plain import Drawn, Plain, plain
from coach.screen.ruler import bar, fitting, ruler, where
from coach.screen.strip import Trail, strip
from coach.words.coaching import STALE_S, Gauge, View
from coach.words.units import span

LINKS = {
    "up": "the car answers",
    "lost": "no link",
    "no_car": "the adapter answers, no car yet",
    "ignition_off": "key off",
    "refused": "the car refuses",
    "unreadable": "answers that cannot be read",
    "bus_error": "no way through on the bus",
    "adapter_error": "the adapter is out of order",
}
SIGNS = {"steady": "·", "notice": "›", "stop": "■"}
"""A shape for each level of a remark, before its colour."""
UNDO = "z brings back what was put aside."
THE_END = "Once it stands: e ends the drive with the key off, on, and one last look."
STRIP_SPAN_S = 300.0  # the last five minutes: the length of a cruise hold
WIDE, TALL = 110, 38  # columns and lines from which the number is drawn twice as large; our judgement
HUGE, HIGHEST = 150, 50


def age_words(age_s: float) -> str:
    """An age as far as it matters; it does not flicker in tenths."""
    return "under 1 s" if age_s < 1.0 else f"{age_s:.0f} s"


class Number(Drawn):
    """The number that matters now, as large as the room allows."""

    gauge: reactive[Gauge | None] = reactive(None)
    size_now: reactive[int] = reactive(2)

    def draw(self) -> Content:
        """The figures in blocks, the unit beneath or beside them."""
        if self.gauge is None:
            return Content("")
        return Content.styled(large(figures(self.gauge.value), self.size_now), "$ink")


class Ruler(Drawn):
    """The ruler over its own width."""

    gauge: reactive[Gauge | None] = reactive(None)

    def draw(self) -> Content:
        """The unit and the state in words, then the ruler."""
        if self.gauge is None:
            return Content("")
        head = Content.assemble((self.gauge.unit, "$quiet"), "   ", (where(self.gauge), "$ink bold"))
        return Content("\n").join([head, ruler(self.gauge, self.size.width)])


class Bar(Drawn):
    """How much of the phase is done."""

    share: reactive[float] = reactive(0.0)
    words: reactive[str] = reactive("")
    bare: reactive[bool] = reactive(False)

    def draw(self) -> Content:
        """The bar with its words beneath."""
        if not self.words and not self.share:
            return Content("")
        drawn = bar(self.share, self.size.width)
        return drawn if self.bare else Content("\n").join([drawn, plain(fitting(self.words, self.size.width), "$ink")])


class Strip(Drawn):
    """The last minutes of speed with the band drawn in; shown where there is room."""

    drawn: reactive[tuple[Trail, float | None, float | None]] = reactive(((), None, None))
    """The trail and the band; the same is not drawn again."""

    def take(self, moment: Moment) -> None:
        """The trail of a moment."""
        gauge = moment.seen.gauge if moment.seen is not None else None
        is_speed = gauge is not None and gauge.unit in ("mph", "km/h")
        low, high = (gauge.low, gauge.high) if gauge is not None and is_speed else (None, None)
        self.drawn = (moment.trail, low, high)

    def draw(self) -> Content:
        """The pen line."""
        (trail, low, high), height = self.drawn, self.size.height
        if height < 2:
            return Content("")
        now = trail[-1][0] if trail else 0.0
        head = Content.styled("speed, the last five minutes", "$quiet")
        lines = strip(trail, now, STRIP_SPAN_S, low, high, self.size.width, height - 1)
        return Content("\n").join([head, lines])


class Words(Static):
    """Text that is put again only when it is another. `fixed`: its size does not depend on it, nothing is laid out."""

    def __init__(self, id: str | None = None, classes: str | None = None, fixed: bool = False) -> None:
        super().__init__("", id=id, classes=classes, markup=False)
        self._fixed = fixed
        self._said: Content | None = None

    def say(self, words: str | Content) -> None:
        """Show it."""
        content = plain(words) if isinstance(words, str) else words
        if self._said is None or not content.is_same(self._said):
            self._said = content
            self.update(content, layout=not self._fixed)


class Row(Horizontal):
    """A label with a shape, and its words beside it."""

    def __init__(self, label: str, id: str) -> None:
        super().__init__(id=id, classes="row")
        self._label = label

    def compose(self) -> ComposeResult:
        """Label and words."""
        yield Plain(self._label, classes="label")
        yield Words(classes="words")

    def show(self, words: str) -> None:
        """Set the words; an empty row takes no room."""
        self.set_class(not words, "-empty")
        self.query_one(Words).say(words)


class DrivePage(Widget):
    """All of it. Set `moment`."""

    moment: reactive[Moment | None] = reactive(None, repaint=False)
    unread: reactive[bool] = reactive(False, repaint=False)
    """Alone and the wheels turn: no text, only how much is done."""

    def __init__(self, id: str | None = None) -> None:
        super().__init__(id=id)
        self._came_s = time.monotonic()

    def compose(self) -> ComposeResult:
        """The parts from top to bottom."""
        with Horizontal(id="head"):
            yield Words(id="place", fixed=True)
            yield Words(id="times")
        yield Words(id="instruction")
        with Horizontal(id="measure"):
            yield Number(id="number")
            with Vertical(id="scale"):
                yield Ruler(id="ruler")
                yield Bar(id="bar")
        yield Words(id="serves", fixed=True)
        yield Words(id="remark", fixed=True)
        yield Strip(id="strip")
        yield Row("then", id="then")
        with Vertical(id="monitors"):
            yield Row("▲ MIL, codes", id="codes")
            yield Row("● complete", id="complete")
            yield Row("○ to run", id="to-run")
            yield Row("○ open", id="beside")
            yield Row("– not today", id="not-today")
        yield Words(id="state")

    def on_mount(self) -> None:
        """The page looks at a clock by itself: silence is said without anybody telling it."""
        self.set_interval(1.0, self._look_at_clock)

    def on_resize(self) -> None:
        """The number takes the room there is."""
        wide, tall = self.app.size
        size = 4 if wide >= HUGE and tall >= HIGHEST else (2 if wide >= 80 and tall >= 24 else 1)
        self.query_one(Number).size_now = size
        self.set_class(size == 4, "-large")
        self.set_class(size == 1, "-small")

    def watch_unread(self, unread: bool) -> None:
        """All text goes, or comes back."""
        self.set_class(unread, "-unread")
        self.screen.set_class(unread, "-unread")
        self.screen.refresh_bindings()  # the line of keys is another then
        self.query_one(Bar).bare = unread
        if self.moment is not None:
            self._say("#state", self._state_line(self.moment, self.moment.age_s))

    def watch_moment(self, moment: Moment | None) -> None:
        """Put the words in their places."""
        self._came_s = time.monotonic()
        if moment is None or not self.is_mounted:
            return
        self._say("#state", self._state_line(moment, moment.age_s))
        strip_now = self.query_one(Strip)
        if strip_now.display:
            strip_now.take(moment)
        self._show_remark(moment)
        if moment.seen is not None:
            self._show_view(moment.seen)

    def _show_view(self, seen: View) -> None:
        self._say("#place", "   ".join(part for part in (seen.place, seen.title) if part))
        left = f", {seen.left_s / 60:.0f} min left" if seen.left_s and seen.kind == "phase" else ""
        self._say(
            "#times", f"driven {span(seen.driven_s // 60 * 60) if seen.driven_s >= 60 else span(seen.driven_s)}{left}"
        )
        instruction = self.query_one("#instruction", Words)
        instruction.say(seen.instruction)
        instruction.set_class(seen.kind == "stop", "-stop")
        measured = seen.gauge is not None
        self.query_one("#measure").set_class(not measured, "-empty")
        self.set_class(not measured, "-unmeasured")
        self.query_one(Number).gauge = self.query_one(Ruler).gauge = seen.gauge
        self.query_one(Bar).share, self.query_one(Bar).words = seen.share, seen.progress
        self._say("#serves", seen.serves)
        self.query_one("#then", Row).show(self._then(seen))
        self.query_one("#codes", Row).show(seen.codes)
        self.set_class(bool(seen.codes), "-coded")
        self.query_one("#complete", Row).show(seen.complete)
        self.query_one("#to-run", Row).show(seen.to_run)
        self.query_one("#beside", Row).show(seen.beside)
        self.query_one("#not-today", Row).show("\n".join(seen.not_today))

    def _then(self, seen: View) -> str:
        """What comes next; once nothing is asked any more, the way to the end of the drive."""
        playing = self.moment is not None and self.moment.stage in ("playing", "paused")
        if seen.kind == "phase" or playing or self.moment is None:
            return seen.then
        undo = UNDO if self.moment.skipped and seen.kind in ("nothing", "waiting") else ""
        return f"{undo} {THE_END if seen.kind not in ('waiting', 'cycle') else ''}".strip()

    def _show_remark(self, moment: Moment) -> None:
        """One supporting line: what was just said, else what keeps the phase from counting."""
        remark = self.query_one("#remark", Words)
        said, seen = moment.said, moment.seen
        stopped = seen is not None and seen.kind == "stop"
        if stopped and (said is None or said.level == "stop"):
            said = None  # the page says it already, with the code
        level = said.level if said is not None else ("stop" if stopped else "steady")
        text = said.text if said is not None else (seen.note if seen is not None else "")
        remark.say(f"{SIGNS[level]} {text}" if text else "")
        remark.set_class(level == "notice", "-notice")
        remark.set_class(level == "stop", "-stop")

    def _say(self, selector: str, words: str | Content) -> None:
        self.query_one(selector, Words).say(words)

    # ------------------------------------------------------------ the state of the link

    def _look_at_clock(self) -> None:
        moment, silent_s = self.moment, time.monotonic() - self._came_s
        if moment is None or silent_s < 1.0 or moment.age_s is None or moment.stage in ("ended", "paused"):
            return
        age_s = moment.age_s + silent_s * moment.pace
        self._say("#state", self._state_line(moment, age_s))
        if age_s > STALE_S:
            for gauged in (self.query_one(Number), self.query_one(Ruler)):
                if gauged.gauge is not None:
                    gauged.gauge = replace(gauged.gauge, value=None, counts=False)

    @staticmethod
    def _link_is_away(moment: Moment) -> bool:
        """Known at once, before the values are old; a recording has no link."""
        return moment.link != "up" and moment.stage not in ("playing", "paused")

    @staticmethod
    def _silence(moment: Moment, age_s: float) -> str:
        """How long nothing came, why as far as it is known, and that it is no reason to look at the screen."""
        words = f"no data for {span(round(age_s))}"
        if moment.stage in ("playing", "paused"):
            return words
        if moment.link == "ignition_off":
            return f"{LINKS['ignition_off']}, {words}"
        link = f" ({LINKS.get(moment.link, moment.link)})" if moment.link != "up" else ""
        asked = moment.seen is not None and moment.seen.kind in ("phase", "cycle")
        return f"{words}{link}" + (", drive on as you like" if asked else "")

    def _state_line(self, moment: Moment, age_s: float | None) -> Content:
        parts = [plain(f"◇ {moment.label}", "$ink bold")] if moment.label else []
        if self.unread:
            return Content("").join(parts)
        if age_s is None:
            link = "" if moment.stage in ("playing", "paused") else f"{LINKS.get(moment.link, moment.link)}, "
            parts.append(plain(f"{link}no data yet"))
        elif age_s > STALE_S or self._link_is_away(moment):
            parts.append(plain(self._silence(moment, age_s), "$notice"))
        elif moment.stage not in ("playing", "paused"):
            parts.append(plain(f"{LINKS['up']}, {age_words(age_s)} old, recording"))
        if moment.limit_kmh is not None and moment.limit_kmh < NO_LIMIT_KMH:
            parts.append(plain(f"limit {moment.limit}"))
        return Content("   ").join(parts)


NO_LIMIT_KMH = 400.0  # beyond any road car: said to the core for "no limit"
