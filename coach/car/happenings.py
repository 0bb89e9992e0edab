"""Happenings about the car: facts in the past tense that the core derived from arrivals.

Each carries `t` in seconds since the journal began, ids and SI numbers, never words for the reader. An expiry is
dated at its deadline. `None` means unknown throughout.
"""

from typing import ClassVar

from msgspec import Struct

MonitorState = str | None
"""One of "complete", "incomplete", "unsupported"; none when the car has not said, or what it said is uncertain."""


def _tag(name: str) -> str:
    return "".join("_" + c.lower() if c.isupper() else c for c in name).lstrip("_")


class Happening(Struct, frozen=True, gc=False, tag_field="happening", tag=_tag):
    """The root of all happenings."""

    t: float


class CarHappening(Happening, frozen=True, gc=False):
    """A fact about the car, the link or the recording."""

    about: ClassVar[str] = "car"


class EngineStarted(CarHappening, frozen=True):
    """The engine began to run; `seen` is false when the recording began with it running."""

    seen: bool
    coolant_c: float | None
    intake_c: float | None
    ambient_c: float | None


class EngineStopped(CarHappening, frozen=True):
    """Engine speed fell below running. Key-off, stall and automatic stop look alike at this moment."""


class EngineRestarted(CarHappening, frozen=True):
    """The engine ran again after `stopped_s`: an automatic stop, a stall, or behind a silence perhaps a new cycle."""

    stopped_s: float


class CycleBegan(CarHappening, frozen=True):
    """A new driving cycle is proved, by `proof`: run_time_fell, run_time_too_short or ignition_counter_rose."""

    proof: str


class CycleUncertain(CarHappening, frozen=True):
    """After `silent_s` without data nothing proved within a minute whether the key was off; 0: the clock began anew."""

    silent_s: float


class WarmUpCycleCompleted(CarHappening, frozen=True):
    """Coolant rose by 22 °C or more since any start the cycle may have begun with, and reached 71 °C."""

    start_coolant_c: float
    coolant_c: float


class GeneralDenominatorMet(CarHappening, frozen=True):
    """The pattern of the general denominator was surely driven; the seconds are those that surely count.

    `unwatched` names the conditions nothing told us of.
    """

    running_s: float
    fast_s: float
    idle_s: float
    unwatched: tuple[str, ...]


class MonitorChanged(CarHappening, frozen=True):
    """The merged state of a monitor since the clear changed."""

    monitor: str
    before: MonitorState
    after: MonitorState


class CycleMonitorChanged(CarHappening, frozen=True):
    """What PID 41 of one ECU says of a monitor in this driving cycle changed: disabled, to_run or complete."""

    ecu: str
    monitor: str
    before: str | None
    after: str | None


class CycleStatusDistrusted(CarHappening, frozen=True):
    """A bit of PID 41 came back within a driving cycle; this ECU's PID 41 counts for nothing from here."""

    ecu: str
    monitor: str


class CycleStatusTrusted(CarHappening, frozen=True):
    """PID 41 of this ECU has earned its trust: these incomplete monitors are switched off for this driving cycle."""

    ecu: str
    disabled: tuple[str, ...]


class MilChanged(CarHappening, frozen=True):
    """The MIL command of any ECU changed; none when unknown."""

    before: bool | None
    after: bool | None


class CodeAppeared(CarHappening, frozen=True):
    """A diagnostic trouble code is reported that was not before; `kind` is stored, pending or permanent."""

    ecu: str
    kind: str
    code: str


class CodeVanished(CarHappening, frozen=True):
    """A diagnostic trouble code is no longer reported by an ECU that answered properly."""

    ecu: str
    kind: str
    code: str


class CodesCleared(CarHappening, frozen=True):
    """Diagnostic memory was cleared during the recording; `evidence` names the counter that fell back, or the reply."""

    ecu: str
    evidence: str
    before: float | None
    after: float | None

    @property
    def sent(self) -> bool:
        """Whether a unit confirmed a command, and not a trace that was found later."""
        return self.evidence == "service_04_confirmed"


class ClearSent(CarHappening, frozen=True):
    """A clear was sent, to all units or to one; what was read before it does not stand until it is read again."""

    to: str | None


class ClearProved(CarHappening, frozen=True):
    """Every unit has shown the clear that was sent."""


class AnotherCarAnswered(CarHappening, frozen=True):
    """A unit told another VIN than before: it is another car, and nothing of it is a word about the first one."""

    ecu: str
    sign: str


class UnitChanged(CarHappening, frozen=True):
    """A unit told another CALID or CVN, or a second VIN: reprogrammed, replaced, or another car. `sign`: which."""

    ecu: str
    sign: str


class FindingDoubted(CarHappening, frozen=True):
    """A finding that could be said cannot be said now: `item` by service and PID, or "identity"; of which units."""

    item: str
    why: str
    units: tuple[str, ...]


class FindingSettled(CarHappening, frozen=True):
    """Clean answers of every unit ended a doubt that stood for `doubted_s`."""

    item: str
    doubted_s: float


class AnswerUnusable(CarHappening, frozen=True):
    """An answer could not be used, the first of its kind: `why` is not_asked, malformed, wrong_echo, unparsed, refused,
    no_answer or garbled. `detail` quotes the decoder or the adapter."""

    ecu: str | None
    asked: str | None
    why: str
    detail: str


class EcuFellSilent(CarHappening, frozen=True):
    """An ECU that had answered this request before did not answer it now: what it last said is uncertain."""

    ecu: str
    asked: str


class EcuAnsweredAgain(CarHappening, frozen=True):
    """The ECU answers this request again."""

    ecu: str
    asked: str


class DataLost(CarHappening, frozen=True):
    """No value has come in since `since_t`; dated at the deadline."""

    since_t: float


class DataReturned(CarHappening, frozen=True):
    """Values came in again after `silent_s`; none of that time counts."""

    silent_s: float


class LinkChanged(CarHappening, frozen=True):
    """The link came up or went, in the source's own words."""

    state: str
    why: str


class ClockSteppedBack(CarHappening, frozen=True):
    """The recording's clock stepped back; the interval in which it did is not counted."""

    back_s: float


class ArrivedOutOfOrder(CarHappening, frozen=True):
    """The first record whose time lies before one already seen; such records are counted and not used."""

    newest_t: float


class TimeResumed(CarHappening, frozen=True):
    """A long run of records in order showed that an earlier time was wrong; the time goes on from here."""

    wrong_t: float


class NoteMade(CarHappening, frozen=True):
    """Somebody set a note into the recording."""

    text: str
