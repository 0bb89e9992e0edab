"""A drive as it happens: a source, the core and a journal. What came in is written before it is judged.

States and what may move them:
  connecting -> knowing      the car answers
  knowing    -> reading      it has said which kind of car it is; core and journal begin, with all that came in so far
  reading    -> driving      the read-out is complete
  driving    -> parting      the user ends the drive: key off, key on, and the findings are read once more
  any        -> ended        `finish`
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from functools import partial
from typing import Any, Literal, Protocol

from coach.car.arrivals import Arrival, Choice, LinkChange, Mark, Request
from coach.car.car import Car
from coach.car.happenings import CodeAppeared, CodeVanished, Happening, MonitorChanged
from coach.drive.core import Core
from coach.drive.profile import Profile
from coach.drive.wanted import rule_says
from coach.journal.errors import JournalError
from coach.journal.records import Context, Header
from coach.session.questions import Again, first, parting, proposed_profile, readout, relinked, wishes
from coach.session.reading import Questioning, fold_all
from coach.session.review import core_for
from coach.session.source import LinkFacts, Source, label_of

UNRECORDED = "the recording cannot be written on; coaching goes on, what comes from now on is not kept"
WISH_EVERY_S = 5.0  # our judgement: the plan changes seldom; when it does the wishes follow within this


class Recorder(Protocol):
    """Where arrivals are written. A journal writer is one."""

    def write(self, arrival: Arrival) -> None:
        """One arrival."""

    def close(self, reason: str) -> None:
        """The end, with its reason."""


@dataclass(frozen=True, slots=True)
class Beginning:
    """What a drive begins with; everything a result may depend on stands in the journal.

    `rule` says what the named inspection rule refuses. `known` is the user's word and goes before what `remembered`
    makes of the car's own counters. `other_job` gives the id of the job the drive is kept in when it is another car's.
    """

    label: Literal["live", "simulated"]
    program: str
    began: str | None
    profile_text: Callable[[str], tuple[str, Profile]]
    record: Callable[[Header, Context], Recorder]
    profile_id: str | None = None
    default_profile_id: str = ""
    target: Callable[[Car], tuple[str, ...] | None] = lambda _car: None
    rule: Callable[[Car], Mapping[str, Any] | None] = lambda _car: None
    speed_max_kmh: float | None = None
    us: bool = False
    known: Mapping[str, Any] = field(default_factory=dict)
    remembered: Callable[[Car], Mapping[str, Any]] = lambda _car: {}
    other_job: Callable[[Car], str] = lambda _car: ""


class Drive:
    """One drive. Call `step` again and again; choices go through `choose`."""

    def __init__(self, source: Source, beginning: Beginning) -> None:
        self.source = source
        self.state = "connecting"
        self.core: Core | None = None
        self.profile_why = ""
        self.link = LinkChange(0.0, "lost", "")
        self.header: Header | None = None
        self.unrecorded = ""
        """Why the journal could not be written to its end; empty while it is."""
        self._beginning = beginning
        self._car = Car()
        self._held: list[Arrival] = []
        self._recorder: Recorder | None = None
        self._reading: Questioning | None = None
        self._wished_t = -1e9
        self._wishes: dict[str, float] = {}
        self._again = Again()

    def not_the_car_of(self) -> str:
        """The id of the job this drive is kept in, when its VIN says that the car is not that job's; else empty."""
        return self._beginning.other_job(self.core.car) if self.core is not None else ""

    # ------------------------------------------------------------ one step

    def step(self, timeout_s: float) -> tuple[Happening, ...]:
        """Take what came in, waiting up to `timeout_s` for it; the happenings it brought."""
        arrivals = self.source.arrivals(timeout_s)
        happened: list[Happening] = []
        if self.core is None:
            self._before(arrivals)
        else:
            happened += self._feed(self.core, arrivals)
        for arrival in arrivals:
            if isinstance(arrival, LinkChange):
                self._link_changed(arrival)
        if self._reading is not None:
            self._reading.take(arrivals)
            happened += self._go_on()
        self._wish()
        self._ask_again(arrivals, happened)
        return tuple(happened)

    def _feed(self, core: Core, arrivals: tuple[Arrival, ...]) -> list[Happening]:
        happened: list[Happening] = []
        assert self._recorder is not None
        for arrival in arrivals:
            happened += self._keep(partial(self._recorder.write, arrival), core, arrival.t)
            happened += core.feed(arrival)
        return happened

    def _keep(self, write: Callable[[], None], core: Core, t: float) -> tuple[Happening, ...]:
        """Write as long as that works. A disk that fills up ends the recording and is said; coaching goes on."""
        if self.unrecorded or self._recorder is None:
            return ()
        try:
            write()
        except (JournalError, OSError) as error:
            self.unrecorded = str(error)
            with suppress(JournalError, OSError):  # it may not even take its last line
                self._recorder.close("cannot be written on")
            return core.feed(Mark(t, UNRECORDED))
        return ()

    def _before(self, arrivals: tuple[Arrival, ...]) -> None:
        """Nobody knows yet which car it is: everything is held and folded into a car nobody drives."""
        self._held += arrivals
        if self.source.info is not None:
            self._car.can = self.source.info.can
        fold_all(self._car, arrivals)

    def _link_changed(self, change: LinkChange) -> None:
        self.link = change
        if change.state == "up" and self._reading is None and self.state in ("connecting", "knowing"):
            self.state = "knowing"
            self._read(lambda: first(self._car))
        elif change.state == "up" and self.state == "driving" and self._reading is None and self.core is not None:
            self._wished_t = -1e9
            car = self.core.car
            self._read(lambda: relinked(car))
        elif change.state == "up" and self._reading is not None and not self._reading.done:
            self._reading.again()

    def _read(self, questions: Callable[[], Iterator[str]]) -> None:
        self._reading = Questioning(self.source, questions)
        self._reading.begin()

    def _go_on(self) -> list[Happening]:
        """A read-out is complete: what comes behind it, and what happened in all that was held until then."""
        if self._reading is None or not self._reading.done:
            return []
        self._reading = None
        happened: list[Happening] = []
        if self.state == "knowing" and self.source.info is not None:
            core = self._begin(self.source.info)
            held, self._held = tuple(self._held), []
            happened = self._feed(core, held)
            self.state = "reading"
            self._read(lambda: readout(core.car))
        elif self.state in ("reading", "parting"):
            if self.state == "reading" and self.core is not None:
                happened = self._aim_again(self.core)
            self.state = "driving"
        return happened

    def _aim_again(self, core: Core) -> list[Happening]:
        """The whole read-out tells what the first questions did not, as the counters a rule may look at.

        What the rule makes of it comes in as a choice.
        """
        rule = self._beginning.rule(core.car)
        if rule is None or core.clean.chosen:
            return []
        target = self._beginning.target(core.car)
        if target == core.wanted.target and rule_says(rule) == core.wanted.rule:
            return []
        return self._feed(core, (Choice(core.now, {"target": list(target or ()), "rule": dict(rule)}),))

    # ------------------------------------------------------------ core and journal begin

    def _begin(self, info: LinkFacts) -> Core:
        start = self._beginning
        proposed, why = proposed_profile(self._car)
        chosen = start.profile_id or proposed or start.default_profile_id
        self.profile_why = "as you chose" if start.profile_id else why
        text, profile = start.profile_text(chosen)
        label = label_of(info.adapter, start.label)
        header = Header(1, label, start.program, start.began, info.adapter, info.protocol, info.can)
        self.header = header
        target, rule = start.target(self._car), start.rule(self._car)
        context = Context(
            profile={"id": profile.id, "text": text},
            target=list(target) if target is not None else None,
            limits={"speed_max_kmh": start.speed_max_kmh} if start.speed_max_kmh else None,
            units="us" if start.us else "metric",
            known={**start.remembered(self._car), **start.known, **({"rule": rule} if rule is not None else {})},
        )
        self._recorder = start.record(header, context)
        self.core = core = core_for(context, header, profile)
        return core

    def resume(
        self, header: Header, context: Context, profile: Profile, held: Iterable[Arrival], break_off: LinkChange
    ) -> None:
        """Go on with a drive that was broken off: its arrivals are fed again, the break is written and fed."""
        self.header = header
        self.core = core = core_for(context, header, profile)
        for arrival in held:
            core.feed(arrival)
        self._recorder = self._beginning.record(header, context)
        self._feed(core, (break_off,))
        self.state = "driving"

    # ------------------------------------------------------------ wishes and choices

    def _wish(self) -> None:
        """Ask for what the plan needs now; nothing while a read-out runs, so that it is over soon."""
        if self.core is None or self.state == "ended":
            return
        now = self.source.now()
        if now - self._wished_t < WISH_EVERY_S:
            return
        self._wished_t = now
        wanted = wishes(self.core)
        if wanted != self._wishes:
            self._wishes = wanted
            self.source.want(wanted)

    def _ask_again(self, arrivals: tuple[Arrival, ...], happened: Sequence[Happening]) -> None:
        """What would end a doubt, and permanent codes after stored ones came or went. A read-out asks by itself."""
        for arrival in arrivals:
            if isinstance(arrival, Request):
                self._again.asked(arrival.text)
        if any(isinstance(h, CodeAppeared | CodeVanished) and h.kind == "stored" for h in happened):
            self._again.besides("0A")
        if self.core is not None and any(isinstance(h, MonitorChanged) and h.after == "complete" for h in happened):
            for sign in self.core.car.signs.wanted:  # what weighs most is heard together with whose word it is
                self._again.besides(sign)
        if self.core is None or self.state != "driving" or self._reading is not None or self.link.state != "up":
            return
        text = self._again.next(self.core.car.conclude().again, self.source.now())
        if text is not None:
            self.source.once((text,))

    def choose(self, made: Mapping[str, Any]) -> None:
        """A choice of the user: it comes in as an arrival like everything else."""
        self.source.choose(made)

    def read_again(self) -> None:
        """Before the end: the findings once more, after the key was off and on."""
        if self.core is not None:
            self.state = "parting"
            car = self.core.car
            self._read(lambda: parting(car))

    @property
    def reading(self) -> bool:
        """True while a read-out is under way."""
        return self._reading is not None

    def finish(self, reason: str) -> tuple[Happening, ...]:
        """The drive is over: the last happenings; the journal gets its last line."""
        self.state = "ended"
        happened: list[Happening] = []
        try:
            happened += self.step(0.0) if self.core is not None else ()
            self.state = "ended"
            self.source.close()
            if self.core is not None:
                happened += self._feed(self.core, self.source.arrivals(0.0))
                happened += self.core.finish(self.core.now)
        finally:  # whatever went wrong, the journal gets its last line
            if self.core is not None and self._recorder is not None:
                happened += self._keep(partial(self._recorder.close, reason), self.core, self.core.now)
        return tuple(happened)
