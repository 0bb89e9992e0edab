"""Which happenings are said aloud or as plain lines while driving, and when: one table, one thing at a time.

A cue has a delay, so that nothing is said while the driver is already correcting, and a pause before it is said again.
Time is the core's own; the same happenings give the same lines at any pace.
"""

from dataclasses import dataclass, field, replace
from functools import partial
from typing import Literal, NamedTuple

from coach.car import happenings as car
from coach.car.happenings import Happening
from coach.drive import happenings as drive
from coach.drive.core import Core
from coach.drive.trackers import Holding
from coach.words.coaching import View, view
from coach.words.faults import Guard
from coach.words.sentences import sentence
from coach.words.standing import codes_line, target_words
from coach.words.units import Units, clock

Level = Literal["steady", "notice", "stop"]


@dataclass(frozen=True, slots=True)
class Cue:
    """How one kind of happening is told: level, seconds of delay, seconds before the like is told again."""

    level: Level
    delay_s: float = 0.0
    again_s: float = 0.0


class Said(NamedTuple):
    """One line to be said: when, how weighty, the words, its cue: a kind of happening, instruction, progress, fault."""

    t: float
    level: Level
    text: str
    cue: str


LEAST_SHOWN_S: dict[Level, float] = {"steady": 4.0, "notice": 6.0, "stop": 10.0}
"""Seconds a line stands on a screen at least. Our judgement: a passenger looks up, reads fifteen words, says them."""


BREAK_DELAY_S = 3.0  # our judgement: a driver who corrects within three seconds needs no word
CUES: dict[type[Happening], Cue] = {
    drive.CoachingEnded: Cue("stop"),
    car.AnotherCarAnswered: Cue("notice"),
    car.UnitChanged: Cue("notice"),
    car.ClearSent: Cue("notice"),
    car.MilChanged: Cue("notice"),
    car.CodeAppeared: Cue("notice"),
    car.CodeVanished: Cue("notice"),
    car.CodesCleared: Cue("notice"),
    car.LinkChanged: Cue("notice"),
    car.DataLost: Cue("notice"),
    car.DataReturned: Cue("steady"),
    car.NoteMade: Cue("notice"),
    car.CycleBegan: Cue("notice"),
    car.CycleUncertain: Cue("notice"),
    car.EngineStarted: Cue("steady"),
    car.MonitorChanged: Cue("notice"),
    car.GeneralDenominatorMet: Cue("steady"),
    car.WarmUpCycleCompleted: Cue("steady"),
    drive.TargetReached: Cue("notice"),
    drive.TargetBarred: Cue("notice"),
    drive.CleanCycleDriven: Cue("notice"),
    drive.MonitorNotConfirmed: Cue("notice"),
    drive.PhaseDriven: Cue("notice"),
    drive.PartFilled: Cue("steady"),
    drive.PhaseUntimable: Cue("notice"),
    drive.PhaseSkipped: Cue("steady"),
    drive.PhaseGivenUp: Cue("notice"),
    drive.WarmUpSlow: Cue("notice"),
    drive.WarmUpStalled: Cue("notice"),
    drive.GateClosed: Cue("notice", again_s=300.0),
    drive.HoldPaused: Cue("notice", delay_s=BREAK_DELAY_S, again_s=180.0),
    drive.HoldResumed: Cue("steady"),
    drive.HoldReset: Cue("notice"),
    drive.RepeatCounted: Cue("steady"),
    drive.RepeatRejected: Cue("notice"),
    drive.PlanChanged: Cue("steady"),
}
"""The first in the table is the weightiest: its place is its priority, so no two share one.

Kinds not in the table are never said while driving; the review has them.
"""
PRIORITY: dict[str, int] = {kind.__name__: place for place, kind in enumerate(CUES)}
SHORTER_S = 60.0  # our judgement: a plan that changes by less than a minute is not worth a word
PROGRESS_EVERY_S = 60.0  # our judgement


@dataclass(slots=True)
class Announcer:
    """Turns happenings into lines."""

    core: Core
    units: Units
    _waiting: list[tuple[float, Happening]] = field(default_factory=list)
    _told: dict[tuple[type[Happening], str], float] = field(default_factory=dict)
    _said_paused: set[str] = field(default_factory=set)
    parked: bool = False
    _link_up: bool = True
    _planned: tuple[str, ...] = ()
    _saved_s: float = 0.0
    _instruction: str = ""
    _codes_said: bool = False
    _progress_t: float = 0.0
    _guard: Guard = field(default_factory=Guard)

    def take(self, happened: tuple[Happening, ...]) -> list[Said]:
        """What is to be said now, in order. What cannot be put into words is told as a fault; the rest is said."""
        lines: list[Said] = []
        self._say_codes(lines)
        for happening in happened:
            self._guard.make(partial(self._consider, happening, lines), None)
        due = [entry for entry in self._waiting if entry[0] <= self.core.now]
        self._waiting = [entry for entry in self._waiting if entry[0] > self.core.now]
        for _, happening in due:
            self._guard.make(partial(self._say_if_still_so, happening, lines), None)
        self._guard.make(partial(self._say_instruction, lines), None)
        lines += [Said(self.core.now, "notice", words, "fault") for words in self._guard.news()]
        return lines

    def _say_codes(self, lines: list[Said]) -> None:
        """The MIL and the codes that stand at the beginning, once; what changes is told by what happens."""
        if self._codes_said:
            return
        self._codes_said = True
        codes = codes_line(self.core)
        if codes and self.core.stop.ended is None:
            lines.append(Said(self.core.now, "notice", f"{codes}.", "codes"))

    # ------------------------------------------------------------ one happening

    def _consider(self, happening: Happening, lines: list[Said]) -> None:
        cue = CUES.get(type(happening))
        if cue is None or not self._worth_a_word(happening):
            return
        if cue.delay_s:
            self._waiting.append((happening.t + cue.delay_s, happening))
        else:
            self._say(happening, cue, lines)

    def _worth_a_word(self, happening: Happening) -> bool:
        """Only what concerns the plan, and only what is news."""
        planned = self.core.planned or ()
        if isinstance(happening, drive.HoldPaused | drive.HoldReset):
            return happening.phase in planned and happening.phase == self._phase()
        if isinstance(happening, drive.HoldResumed):
            return happening.phase in self._said_paused
        if isinstance(happening, drive.RepeatCounted | drive.RepeatRejected | drive.PhaseUntimable):
            return happening.phase in planned or isinstance(happening, drive.RepeatCounted)
        if isinstance(happening, drive.GateClosed):
            return happening.phase in planned and (happening.phase == self._phase() or not happening.today)
        if isinstance(happening, drive.MonitorNotConfirmed):
            return happening.next != "key_off"  # the instruction itself says it, once for all of them
        if isinstance(happening, car.LinkChanged):
            self._link_up = happening.state == "up"
            return True
        if isinstance(happening, car.DataLost):
            return self._link_up  # a link that is away has been told already
        if isinstance(happening, drive.PlanChanged):
            self._saved_s = self._no_longer_needed(happening)
            return happening.cause == "monitor_changed" and self._saved_s >= SHORTER_S
        if isinstance(happening, car.MonitorChanged):
            return happening.before is not None and happening.after in ("complete", "incomplete")
        return True

    def _say_if_still_so(self, happening: Happening, lines: list[Said]) -> None:
        if isinstance(happening, drive.HoldPaused):
            tracker = self.core.trackers[happening.phase]
            if not isinstance(tracker, Holding) or tracker.hold.state != "paused":
                return
            self._said_paused.add(happening.phase)
        self._say(happening, CUES[type(happening)], lines)

    def _say(self, happening: Happening, cue: Cue, lines: list[Said]) -> None:
        key = (type(happening), getattr(happening, "phase", ""))
        last = self._told.get(key)
        if cue.again_s and last is not None and happening.t - last < cue.again_s:
            return
        self._told[key] = happening.t
        if isinstance(happening, drive.HoldResumed):
            self._said_paused.discard(happening.phase)
        lines.append(Said(self.core.now, cue.level, self._words(happening), type(happening).__name__))

    def _words(self, happening: Happening) -> str:
        if isinstance(happening, drive.PlanChanged):
            minutes = round(self._saved_s / 60)
            return f"About {minutes} {'minute' if minutes == 1 else 'minutes'} less to drive."
        return sentence(happening, self.units, self.core.built.profile.names())

    def _no_longer_needed(self, happening: drive.PlanChanged) -> float:
        """Seconds that were still to drive in phases nobody needs any more."""
        before, self._planned = self._planned, happening.phases
        core = self.core
        dropped = [phase for phase in before if phase not in happening.phases and core.trackers[phase].driven_t is None]
        return sum(core.built.phases[phase].expected_s * core.trackers[phase].left() for phase in dropped)

    # ------------------------------------------------------------ the instruction itself

    def _phase(self) -> str | None:
        planned = self.core.planned
        return planned[0] if planned else None

    def _say_instruction(self, lines: list[Said]) -> None:
        if self.parked:
            return  # after the drive nothing is asked of the driver any more
        seen = view(self.core, self.units)
        if seen.instruction != self._instruction:
            self._instruction, self._progress_t = seen.instruction, self.core.now
            level: Level = "stop" if seen.kind == "stop" else "notice"
            if level == "stop" and any(said.level == "stop" for said in lines):
                return  # the happening itself has just said it
            if any(said.cue in ("TargetReached", "TargetBarred") for said in lines):  # that line has named the target
                seen = replace(seen, note=seen.note.removeprefix(target_words(self.core)).strip())
            lines.append(Said(self.core.now, level, headline(seen), "instruction"))
        elif seen.kind in ("phase", "cycle") and self.core.now - self._progress_t >= PROGRESS_EVERY_S:
            self._progress_t = self.core.now
            lines.append(Said(self.core.now, "steady", progress_line(seen), "progress"))


def headline(seen: View) -> str:
    """The instruction with what stands around it, as one line."""
    where = f"{seen.place} {seen.title}: " if seen.title else ""
    note = f" {seen.note}" if seen.note and (seen.kind != "phase" or seen.note.startswith("Does not count")) else ""
    return f"{where}{seen.instruction}{note}"


def progress_line(seen: View) -> str:
    """How the phase goes: the number, what is held, what keeps it from counting."""
    parts = []
    gauge = seen.gauge
    if gauge is not None and gauge.value is not None:
        coolant = gauge.unit in ("°C", "°F")
        wanted = f", until {gauge.low:.0f} {gauge.unit}" if coolant and gauge.low is not None else ""
        parts.append(f"{'coolant ' if coolant else ''}{gauge.value:.0f} {gauge.unit}{wanted}")
    if seen.progress:
        parts.append(seen.progress)
    text = ", ".join(parts)
    return f"{text}. {seen.note}" if seen.note and text else (seen.note or text or seen.instruction)


def line(said: Said) -> str:
    """One plain line: time, a mark for the level, words."""
    return f"{clock(said.t):>8} {MARKS[said.level]} {said.text}"


MARKS: dict[Level, str] = {"steady": " ", "notice": ">", "stop": "!"}
