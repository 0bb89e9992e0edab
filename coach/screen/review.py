"""A recording in the same page as a drive: play, pause, pace, steps from happening to happening, jumps.

One timer moves the place while it plays; everything shown follows from the place alone.
"""

import time
from dataclasses import replace
from pathlib import Path
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.message import Message
from textual.reactive import reactive

from coach.car.arrivals import Arrival
from coach.car.happenings import Happening
from coach.drive.profile import Profile
from coach.screen.keys import AskScreen, CoachScreen, KeyLine, Keys, ReadScreen, key
from coach.screen.moment import Moment, moment_of
from coach.screen.page import STRIP_SPAN_S, DrivePage, Words
from coach.screen.plain import Plain, plain
from coach.screen.plots import Plots
from coach.screen.timeline import Timeline
from coach.session.bounded import NoDrive, check_happenings, check_played
from coach.session.review import Recording, core_for, open_recording, profile_of, review
from coach.session.scrub import Player, Scrub
from coach.words.announce import CUES, Said
from coach.words.review import page
from coach.words.sentences import sentence
from coach.words.units import KM_PER_MILE, Units, clock

PACES = (1, 2, 5, 10, 30, 60)
TICK_S = 0.1
STEP_S, LEAP_S = 10.0, 60.0
STANDS_S = 20.0  # seconds of the recording a happening stands as the remark; our judgement
LABELS = {"live": "recording", "simulated": "recording, simulated", "imported": "imported recording"}
STEPS = tuple(CUES)
"""The happenings one steps between: those that would be said."""


def seconds_of(text: str) -> float | None:
    """12:30 or 1:02:00 or plain seconds; none for anything else."""
    parts = text.strip().split(":")
    if not 1 <= len(parts) <= 3 or not all(part.isdecimal() for part in parts):
        return None
    total = 0
    for part in parts:
        total = total * 60 + int(part)
    return float(total)


def _no_time(text: str) -> str:
    good = seconds_of(text) is not None
    return "" if good else "Write minutes and seconds, as 12:30, or hours too, as 1:02:00."


class ReviewScreen(CoachScreen):
    """A recording, judged and played."""

    area = "recording"
    BINDINGS: ClassVar[Keys] = [
        key("space", "play", "play", "Play or pause."),
        key("left", "step(-1)", "earlier", "Ten seconds back; with shift a minute."),
        key("right", "step(1)", "later", "Ten seconds on; with shift a minute."),
        key("shift+left", "leap(-1)", "minute-back", "A minute back.", show=False),
        key("shift+right", "leap(1)", "minute-on", "A minute on.", show=False),
        key("p", "happening(-1)", "previous", "To the happening before."),
        key("n", "happening(1)", "next", "To the happening after."),
        key("comma", "pace(-1)", "slower", "Slower."),
        key("full_stop", "pace(1)", "faster", "Faster."),
        key("g", "jump", "jump", "Jump to a time."),
        key("home", "to_start", "begin", "To the beginning.", show=False),
        key("end", "to_end", "last", "To the end.", show=False),
        key("t", "plots", "plots", "Plots of speed, throttle, coolant and engine speed, or the page."),
        key("r", "page", "summary", "The whole recording judged, as a page."),
    ]
    place_t: reactive[float] = reactive(0.0, repaint=False)
    playing: reactive[bool] = reactive(False, repaint=False)

    class Built(Message):
        """The recording was walked through, or cannot be; `share` while it is under way."""

        def __init__(self, scrub: Scrub | None, source: str, us: bool, share: float, problem: str) -> None:
            super().__init__()
            self.scrub, self.source, self.us, self.share, self.problem = scrub, source, us, share, problem

    class Judged(Message):
        """The summary, or why there is none."""

        def __init__(self, text: str, problem: str) -> None:
            super().__init__()
            self.text, self.problem = text, problem

    def __init__(self, path: Path, *, units: Units | None = None, profile: Profile | None = None) -> None:
        super().__init__()
        self.path = path
        self.scrub: Scrub | None = None
        self.longest_s = 0.0
        self._units = units
        self._profile = profile
        self._source = "imported"
        self._player: Player | None = None
        self._pace_at = 0
        self._ticked_s = 0.0
        self._judging = False

    @property
    def units(self) -> Units:
        """The user's, else the recording's."""
        return self._units or Units()

    def compose(self) -> ComposeResult:
        """The page, the plots, the timeline."""
        yield Plain(id="loading", classes="page")
        yield DrivePage(id="page")
        yield Words(id="plots-label", fixed=True)
        yield Plots(self.units, id="plots")
        yield Timeline(id="timeline")
        yield KeyLine()

    def on_mount(self) -> None:
        """Walk through the file in a thread; the timer plays."""
        self.set_class(True, "-loading")
        self.query_one("#loading", Plain).put(f"Reading {self.path.name}.")
        self.set_interval(TICK_S, self._tick)
        self.run_worker(self._walk, thread=True, group="walk", name="the recording")

    # ------------------------------------------------------------ the walk, in its thread

    def _walk(self) -> None:
        try:
            recording = open_recording(self.path)
            profile = self._profile or profile_of(recording.context)[0]
            scrub = Scrub(self._held(recording), core_for(recording.context, recording.header, profile))
            us = recording.context is not None and recording.context.units == "us"
        except (ValueError, OSError) as error:
            self.post_message(self.Built(None, "", False, 0.0, str(error)))
            return
        try:
            for done in scrub.building():
                check_happenings(len(scrub.happenings), self.path)
                if done == len(scrub.arrivals) or done // scrub.every % 20 == 0:
                    whole = scrub if done == len(scrub.arrivals) else None
                    share = done / max(1, len(scrub.arrivals))
                    self.post_message(self.Built(whole, recording.header.source, us, share, ""))
        except NoDrive as error:
            self.post_message(self.Built(None, "", False, 0.0, str(error)))

    def _held(self, recording: Recording) -> list[Arrival]:
        """All arrivals of a recording. NoDrive for one that is too long to be held."""
        held: list[Arrival] = []
        for arrival in recording.arrivals():
            held.append(arrival)
            check_played(len(held), self.path)
        return held

    @on(Built)
    def _built(self, built: Built) -> None:
        loading = self.query_one("#loading", Plain)
        if built.problem:
            loading.put(f"{built.problem}\n\nEscape goes back; the start offers other recordings.")
        elif built.scrub is None:
            loading.put(f"Reading {self.path.name}, {built.share * 100:.0f} % done.")
        else:
            self._begin(built)

    def _begin(self, built: Built) -> None:
        assert built.scrub is not None
        self.scrub, self._source = built.scrub, built.source
        self._units = self._units or Units(built.us)
        self.remove_class("-loading")
        self.query_one(Timeline).take(self.scrub.happenings, self.scrub.end_t)
        plots = self.query_one(Plots)
        plots.units = self.units
        plots.take(self.scrub)
        self._player = self.scrub.at(0.0)
        self._show()
        self.refresh_bindings()

    # ------------------------------------------------------------ the place

    def _tick(self) -> None:
        now = time.monotonic()
        passed_s, self._ticked_s = now - self._ticked_s, now
        if self.playing and self.scrub is not None:
            self.place_t = min(self.scrub.end_t, self.place_t + min(passed_s, 1.0) * PACES[self._pace_at])
            if self.place_t >= self.scrub.end_t:
                self.playing = False

    def go_to(self, t: float) -> None:
        """Jump."""
        if self.scrub is not None:
            self.place_t = min(self.scrub.end_t, max(0.0, t))

    def watch_place_t(self, before: float, t: float) -> None:
        """The core as it was then: fed on when close ahead, else from the nearest copy."""
        if self.scrub is None or self._player is None:
            return
        began = time.perf_counter()
        close = t >= before and self.scrub.index(t) - self._player.number <= self.scrub.every
        if close:
            self._player.forward(t)
        else:
            self._player = self.scrub.at(t)
        self._show()
        self.longest_s = max(self.longest_s, time.perf_counter() - began)

    def watch_playing(self) -> None:
        """The label says so."""
        self._show()

    def _show(self) -> None:
        if self._player is None or self.scrub is None or not self.is_mounted:
            return
        moment = self._moment()
        self.query_one(DrivePage).moment = moment
        self.query_one("#plots-label", Words).say(plain(f"◇ {moment.label}", "$ink bold"))
        self.query_one(Timeline).at = self.place_t
        if self.has_class("-plots"):
            self.query_one(Plots).at = self.place_t

    def _moment(self) -> Moment:
        assert self._player is not None and self.scrub is not None
        core, t = self._player.core, self.place_t
        pace = PACES[self._pace_at]
        how = f"playing{f', {pace} times' if pace > 1 else ''}" if self.playing else "paused"
        label = f"{LABELS[self._source]}, {clock(t)} of {clock(self.scrub.end_t)}, {how}"
        speeds = self.scrub.trail(t, STRIP_SPAN_S)
        factor = KM_PER_MILE if self.units.us else 1.0
        return replace(
            moment_of(core, self.units, "playing" if self.playing else "paused", t),
            label=label,
            said=self._remark(),
            trail=(*((at, float(round(kmh / factor))) for at, kmh in speeds), (t, None)),
        )

    def _remark(self) -> Said | None:
        """The last happening that would have been said, for a while."""
        assert self.scrub is not None and self._player is not None
        last = self.scrub.previous_happening(self.place_t + 1e-6, STEPS)
        if last is None or self.place_t - last.t > STANDS_S:
            return None
        return Said(last.t, CUES[type(last)].level, self._sentence(last), type(last).__name__)

    def _sentence(self, happening: Happening) -> str:
        assert self._player is not None
        return f"{clock(happening.t)}  {sentence(happening, self.units, self._player.core.built.profile.names())}"

    # ------------------------------------------------------------ keys

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Nothing plays before it is read."""
        return self.scrub is not None or action in ("back",) or not hasattr(ReviewScreen, f"action_{action}")

    def action_play(self) -> None:
        """Play or pause; from the end, from the beginning."""
        if self.scrub is not None and not self.playing and self.place_t >= self.scrub.end_t:
            self.go_to(0.0)
        self.playing = not self.playing

    def action_step(self, way: int) -> None:
        """Ten seconds."""
        self.go_to(self.place_t + way * STEP_S)

    def action_leap(self, way: int) -> None:
        """A minute."""
        self.go_to(self.place_t + way * LEAP_S)

    def action_happening(self, way: int) -> None:
        """The happening before or after."""
        if self.scrub is None:
            return
        found = (
            self.scrub.next_happening(self.place_t, STEPS)
            if way > 0
            else self.scrub.previous_happening(self.place_t, STEPS)
        )
        self.go_to(found.t if found is not None else (self.scrub.end_t if way > 0 else 0.0))

    def action_pace(self, way: int) -> None:
        """Slower or faster."""
        self._pace_at = min(len(PACES) - 1, max(0, self._pace_at + way))
        self._show()
        pace = PACES[self._pace_at]
        self.note(f"{pace} times as fast as it was." if pace > 1 else "As fast as it was.")

    def action_jump(self) -> None:
        """Ask for a time."""
        question = "Jump to which time? 12:30 or 1:02:00, then enter."
        self.app.push_screen(
            AskScreen(question, _no_time), lambda text: self.go_to(seconds_of(text or "") or 0.0) if text else None
        )

    def action_to_start(self) -> None:
        """The beginning."""
        self.go_to(0.0)

    def action_to_end(self) -> None:
        """The end."""
        if self.scrub is not None:
            self.go_to(self.scrub.end_t)

    def action_plots(self) -> None:
        """Plots, or the page; both where there is room."""
        self.toggle_class("-plots")
        self._show()

    def action_page(self) -> None:
        """The summary. A long recording takes a while: it is judged in a thread, and asked twice, once."""
        if not self._judging:
            self._judging = True
            self.run_worker(self._judge, thread=True, group="judge", name="the summary")

    def _judge(self) -> None:
        """In its thread: the file may be gone or spoiled by now."""
        try:
            text, problem = page(review(self.path, self._profile), self.units, full=False), ""
        except (ValueError, OSError) as error:
            text, problem = "", str(error)
        self.post_message(self.Judged(text, problem))

    @on(Judged)
    def _judged(self, judged: Judged) -> None:
        self._judging = False
        if judged.problem:
            self.note(judged.problem)
        elif self.is_current:
            self.app.push_screen(ReadScreen(judged.text))

    @on(Timeline.Jumped)
    def _jumped(self, event: Timeline.Jumped) -> None:
        self.go_to(event.t)
