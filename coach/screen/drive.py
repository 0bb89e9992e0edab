"""The drive: connecting, what to read before the wheels turn, the page while driving, and the guided end.

The pump's thread posts; only the handlers here change what is shown. The stages stand in `stages.py`.
"""

import time
from collections.abc import Callable
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.message import Message
from textual.reactive import reactive
from textual.widgets import ContentSwitcher

from coach.drive.wanted import CLEAN_CYCLES, MONITORS_AGAIN
from coach.screen.drive_keys import DRIVE_KEYS
from coach.screen.feed import Feed
from coach.screen.keys import AskScreen, CheckScreen, CoachScreen, KeyLine, Keys, Prose
from coach.screen.moment import NO_VIEW, Moment, keyed
from coach.screen.page import NO_LIMIT_KMH, DrivePage
from coach.screen.pump import Ended, Page, Pump, Ready, Spoke
from coach.screen.speech import Voice
from coach.screen.stages import (
    AGAIN,
    ALONE,
    ALONE_SPOKEN,
    KEY_OFF,
    KEY_ON,
    LIMITS,
    NO_VOICE,
    NOT_TOLD,
    READY,
    STAGES,
    alone_text,
    ended_text,
    waiting_text,
)
from coach.screen.telling import TELLINGS, choice, wrong
from coach.words.units import KM_PER_MILE, Units


class DriveScreen(CoachScreen):
    """One drive from the first connection to the last look."""

    area = "drive"
    BINDINGS: ClassVar[Keys] = DRIVE_KEYS
    stage: reactive[str] = reactive("waiting", bindings=True, repaint=False)
    moment: Moment | None = None

    class Came(Message):
        """Something the pump posted."""

        def __init__(self, what: Moment | Spoke | Ready | Page | Ended) -> None:
            super().__init__()
            self.what = what

    def __init__(
        self,
        feed: Feed,
        units: Units,
        *,
        speak: bool = False,
        bell: bool = False,
        alone: bool = False,
        voice: Voice | None = None,
        reader: Callable[[], float] = time.monotonic,
    ) -> None:
        super().__init__()
        self.units = units
        self.pump = Pump(feed, units, self._posted, reader)
        self.ended: Ended | None = None
        self._before: Ready | None = None
        self._gone = False
        self._voice = voice or Voice()
        self._speak = speak or alone
        self._bell = bell
        self._alone = alone
        self._limit_at = -1
        self._leaving = False
        self._left = False
        self._asking: AskScreen | None = None
        self._notes: list[str] = []
        self._trouble = ""

    def _posted(self, what: "Moment | Spoke | Ready | Page | Ended") -> None:
        """In the pump's thread: hand it over."""
        self.post_message(self.Came(what))

    def compose(self) -> ComposeResult:
        """A page to read or the page of the drive; the keys."""
        with ContentSwitcher(initial="note"):
            with VerticalScroll(id="note", classes="page"):
                yield Prose(id="note-text")
            yield DrivePage(id="page")
        yield KeyLine()

    def on_mount(self) -> None:
        """The pump begins."""
        self._read(waiting_text("lost", ""))
        self.run_worker(self.pump.run, thread=True, group="pump", name="the drive")

    def on_unmount(self) -> None:
        """However the screen goes, the drive is written."""
        self._voice.stop()
        self.pump.finish("the screen is gone")

    # ------------------------------------------------------------ what the pump posts

    @on(Came)
    def _came(self, message: Came) -> None:
        self._show_as_can_be(message.what)

    def _show_as_can_be(self, what: Moment | Spoke | Ready | Page | Ended) -> None:
        try:
            self._show(what)
        except Exception as error:  # whatever it is, the pump drives on and writes
            self.app.fault(error)  # type: ignore[attr-defined]
            self.query_one(DrivePage).set_reactive(DrivePage.moment, None)  # the next one is shown anew
            if self.stage == "driving":  # an instruction of before must not stay
                self._read(f"{NO_VIEW.instruction}\n\n{NO_VIEW.note} What comes in is recorded.")

    def _show(self, what: Moment | Spoke | Ready | Page | Ended) -> None:
        if isinstance(what, Moment):
            self._take(what)
        elif isinstance(what, Spoke):
            self._spoke(what)
        elif isinstance(what, Ready):
            self._ready(what)
        elif isinstance(what, Page):
            self.app.push_screen(CheckScreen(what.text))
        else:
            self._end(what)

    def _take(self, moment: Moment) -> None:
        if self.stage == "ended":
            return
        was, self.moment = self.moment, moment
        self._voice.go_on()
        self._hear()
        page = self.query_one(DrivePage)
        page.unread = self._unread(moment)
        page.moment = moment
        if not page.unread and self._notes:
            notes, self._notes = self._notes, []
            self.note(" ".join(notes))
        if self.stage == "waiting":
            self._read(waiting_text(moment.link, moment.why))
        if was is None or keyed(was) != keyed(moment):
            self.refresh_bindings()
        if self._asking is not None and self._asking.is_current and not self._stands():
            self._asking.dismiss(None)  # it drives off: nobody types now
        if self.stage == "driving":
            self.query_one(ContentSwitcher).current = "page"  # it may have been away for a fault

    def note(self, text: str) -> None:
        """A word beside the page, for a moment; alone and on the move it waits until the car stands."""
        if self.moment is not None and self._unread(self.moment):
            self._notes = [*(note for note in self._notes if note != text), text]
        else:
            super().note(text)

    def _hear(self) -> None:
        """One line when the voice turns out not to be heard; the drive goes on."""
        if self._voice.trouble and self._voice.trouble != self._trouble:
            self.note(self._voice.trouble)
        self._trouble = self._voice.trouble or self._trouble

    def _unread(self, moment: Moment) -> bool:
        """Alone, no text unless the car is known to stand."""
        return self._alone and self.stage == "driving" and moment.speed_kmh != 0

    def _spoke(self, spoke: Spoke) -> None:
        if self.stage != "driving":
            return
        for said in spoke.lines:
            if self._speak:
                self._voice.say(said.text, said.level)
            if self._bell and said.level != "steady":
                self.app.bell()

    def _ready(self, ready: Ready) -> None:
        self._before = ready
        if self.stage not in ("waiting", "before"):
            return
        asks = [NOT_TOLD[name] for name in ready.asks]
        lines = [*ready.lines, *asks, *([""] if asks else []), *self._before_alone(), READY]
        self._read("\n".join(lines).strip())
        self.stage = "before"

    def _before_alone(self) -> list[str]:
        voiceless = [NO_VOICE, ""] if self._speak and not self._voice.there else []
        return [*(ALONE if self._alone else ()), *voiceless]

    def _end(self, ended: Ended) -> None:
        self.ended = ended
        self._voice.stop()
        if self._leaving:
            self.app.exit(ended)
            return
        if self._left and not ended.path and not ended.problem:
            self.app.go_to_start()  # type: ignore[attr-defined]
            return
        self._read(ended_text(ended.lines, ended.path, ended.problem, ended.unrecorded))
        self.stage = "ended"

    # ------------------------------------------------------------ what is shown

    def _read(self, text: str) -> None:
        label = self.pump.label
        self.query_one(Prose).say(text, f"◇ {label}" if label else "")
        self.query_one(ContentSwitcher).current = "note"

    def watch_stage(self, stage: str) -> None:
        """The page while driving, a text to read otherwise."""
        if stage == "driving":
            self.query_one(ContentSwitcher).current = "page"
            if self.moment is not None:
                self._show_as_can_be(self.moment)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Which keys do something at this stage; the others are not listed."""
        stages = STAGES.get(action)
        if stages is not None and self.stage not in stages:
            return False
        if action == "skip":
            return self.moment is not None and self.moment.phase is not None
        if action == "unskip":
            return self.moment is not None and bool(self.moment.skipped)
        if action == "clean":
            return self.moment is not None and self.moment.clean is not None
        if action in TELLINGS:
            return self.moment is not None and action in self.moment.asks
        if action == "morning":
            return self.pump.feed.label != ""  # a simulated adapter on a port has no night to skip
        if action == "open":
            return self.ended is not None and bool(self.ended.path)
        return True

    # ------------------------------------------------------------ keys

    def action_go(self) -> None:
        """The next step."""
        if self.stage == "before":
            self.pump.go()
            self._gone = True
            self.stage = "driving"
            if self._alone:
                self._voice.say(ALONE_SPOKEN, "notice")
        elif self.stage == "key_off":
            self.pump.key_off()
            self._read(KEY_ON)
            self.stage = "key_on"
        elif self.stage == "key_on":
            self.pump.read_again()
            self._read(AGAIN)
            self.stage = "again"
        elif self.stage == "ended":
            self.app.go_to_start()  # type: ignore[attr-defined]

    def action_skip(self) -> None:
        """Not on this road."""
        if self.moment is not None and self.moment.phase is not None:
            self.pump.choose({"skip": self.moment.phase})

    def action_unskip(self) -> None:
        """Bring back what was put aside."""
        for phase in self.moment.skipped if self.moment is not None else ():
            self.pump.choose({"unskip": phase})

    def action_clean(self) -> None:
        """For a driving cycle without the fault, or for the monitors."""
        if self.moment is not None and self.moment.clean is not None:
            self.pump.choose({"target": MONITORS_AGAIN if self.moment.clean else CLEAN_CYCLES})

    def action_limit(self) -> None:
        """The next lower limit, then none."""
        limits = LIMITS[self.units.us]
        self._limit_at = self._limit_at + 1 if self._limit_at + 1 < len(limits) else -1
        if self._limit_at < 0:
            self.pump.choose({"speed_max_kmh": NO_LIMIT_KMH})
            self.note("No speed limit is set.")
            return
        limit = limits[self._limit_at]
        self.pump.choose({"speed_max_kmh": limit * KM_PER_MILE if self.units.us else float(limit)})
        self.note(f"No phase above {limit} {'mph' if self.units.us else 'km/h'} is asked for.")

    def action_read_out(self) -> None:
        """The read-out as a page."""
        self.pump.read_out()

    def _stands(self) -> bool:
        """Known to stand. Before the drive begins somebody sits there and reads, whatever the car tells."""
        return self.stage == "before" or (self.moment is not None and self.moment.speed_kmh == 0)

    def action_fuel(self) -> None:
        """The level of the tank."""
        self._tell("fuel")

    def action_parked(self) -> None:
        """How long it stood."""
        self._tell("parked")

    def _tell(self, name: str) -> None:
        """What the car does not tell: one key, digits, enter. It comes in as a choice, so the recording has it."""
        if not self._stands():
            self.note("Only while the car stands.")
            return

        def told(text: str | None) -> None:
            self._asking = None
            if text is not None:
                self.pump.choose(dict(choice(name, text)))

        self._asking = AskScreen(TELLINGS[name].question, lambda text: wrong(name, text))
        self.app.push_screen(self._asking, told)

    def action_alone(self) -> None:
        """Driving alone, or not."""
        self._alone = not self._alone
        self._speak = self._speak or self._alone
        self.note(alone_text(self._voice.there, self._voice.trouble) if self._alone else "With somebody who reads.")

    def action_voice(self) -> None:
        """Aloud, or silent."""
        self._speak = not self._speak
        if self._speak and not self._voice.there:
            self.note("No speech program was found: install one, such as espeak-ng.")
            return
        self.note((self._voice.trouble or "Lines are spoken.") if self._speak else "Silent.")

    def action_bell(self) -> None:
        """A bell, or none."""
        self._bell = not self._bell
        self.note("A bell with what matters." if self._bell else "No bell.")

    def action_end(self) -> None:
        """The guided end."""
        self._read(KEY_OFF)
        self.stage = "key_off"

    def action_finish(self) -> None:
        """Write it now."""
        self.pump.finish("ended by the user")

    def action_open(self) -> None:
        """Review it."""
        if self.ended is not None:
            self.app.go_to_review(self.ended.path)  # type: ignore[attr-defined]

    def action_morning(self) -> None:
        """The simulated car after a night."""
        feed = self.pump.feed.morning()
        if feed is not None:
            next_day = DriveScreen(feed, self.units, speak=self._speak, bell=self._bell, alone=self._alone)
            self.app.switch_screen(next_day)

    def action_back(self) -> None:
        """While driving: to the end, from which escape leads back. Before it: leave, with everything written."""
        if self.stage in ("key_off", "key_on"):
            self._back_to_the_drive()
        elif self.stage == "driving":
            self.action_end()
        elif self.stage == "ended":
            self.app.go_to_start()  # type: ignore[attr-defined]
        else:
            self._left = True
            self.pump.finish("left by the user")

    def _back_to_the_drive(self) -> None:
        """To the page it was ended from: nobody is driven off who had not gone."""
        if self._gone and self.stage == "key_on":
            self.pump.go()  # a simulated driver has parked by now
        self.stage = "driving" if self._gone else "before"
        if not self._gone and self._before is not None:
            self._ready(self._before)

    def leave(self) -> bool:
        """Quit: the drive is written first, then the program ends. Asked twice, at once."""
        if self._leaving or self.stage == "ended":
            return False
        self._leaving = True
        self.pump.finish("quit by the user")
        return True

    def written(self, timeout_s: float) -> None:
        """Wait until the journal is closed."""
        self.pump.wait(timeout_s)
