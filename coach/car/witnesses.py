"""The witnesses of a driving cycle: what the run time (PID 1F) and the ignition counter (service 09) prove.

Each control unit is judged by itself: two of one car count differently.
"""

from dataclasses import dataclass, replace
from typing import NamedTuple

RUN_TIME_FELL_S = 5.0  # our judgement: PID 1F counts whole seconds and may be told a little late
GOES_ON_S = 2.0  # our judgement: nobody turns the key off and on and starts the engine in less
LONGEST_STOP_S = 600.0  # our judgement: no start-stop system keeps the engine off so long at standstill
COUNTED_S = 13.0
"""An ignition counter has counted a start by then: within ten seconds, once the engine has run for two, or three.

13 CCR 1968.2(d)(5.5.2), from memory; 40 CFR 86.010-18(e)(5) has the two seconds.
"""


EVEN = 1.5  # our judgement: silences no longer than this many times the ones before are a recorder's own pace
EVEN_TIMES = 3  # our judgement: so often in a row, with nothing said between


@dataclass(frozen=True, slots=True)
class Pace:
    """Whether what looks like silences is the pace of a slow recorder: one row, and long nothing, again and again.

    `back_t`: when it last spoke after such a time, `usual_s` how long that was, `times` how often in a row.
    """

    back_t: float = float("-inf")
    usual_s: float = 0.0
    times: int = 0
    since_t: float = 0.0

    def after(self, last_t: float, t: float) -> "Pace":
        """The same after `t`, when nothing had been heard since `last_t`."""
        silent_s = t - last_t
        if last_t == self.back_t and silent_s <= EVEN * self.usual_s:
            return Pace(t, max(silent_s, self.usual_s), self.times + 1, self.since_t)
        return Pace(t, silent_s, 1, last_t)

    @property
    def slow(self) -> bool:
        """It is the recorder's own pace."""
        return self.times >= EVEN_TIMES


class Verdict(NamedTuple):
    """`new`: a driving cycle began after `since_t`; else none did. `started_t`: when its engine was started.

    With a start and not new it tells when the cycle that just began was started.
    """

    new: bool
    since_t: float
    proof: str = ""
    started_t: float | None = None


def judge_run_time(before: tuple[float, float], t: float, run_time_s: float, clock_set: bool) -> Verdict | None:
    """What a unit's run time proves beside its last one, value and time; none where both remain possible.

    It counts from the engine's start, freezes while the engine stands, and is zero with the key on (SAE J1979, PID 1F).
    A clock of the recording that was set tells nothing of how long it took.
    """
    ran_s, before_t = before
    passed_s, more_s = t - before_t, run_time_s - ran_s
    if more_s < -RUN_TIME_FELL_S:
        return Verdict(True, before_t, "run_time_fell", t - run_time_s)
    goes_on = -GOES_ON_S <= more_s - passed_s <= RUN_TIME_FELL_S
    if goes_on or (not clock_set and run_time_s > passed_s + RUN_TIME_FELL_S):
        return Verdict(False, before_t)
    if more_s != 0 and passed_s - more_s > LONGEST_STOP_S and not clock_set:
        return Verdict(True, before_t, "run_time_too_short", t - run_time_s)
    return None


@dataclass(frozen=True, slots=True)
class Counted:
    """The last ignition count of a unit, when, and how many known starts it may not hold yet."""

    count: int
    t: float
    open: int

    def one_more(self) -> "Counted":
        """A new cycle began that this count cannot hold."""
        return replace(self, open=self.open + 1)


def judge_ignition(before: Counted | None, t: float, count: int, counted: bool) -> tuple[Counted, Verdict | None]:
    """What a unit's ignition counter proves. `counted`: it must hold the start of the present cycle by now.

    It rises at every start of the engine: the start of the cycle we know of is no second one.
    """
    if before is None or count < before.count:
        return Counted(count, t, 0 if counted else 1), None
    risen = count - before.count
    if risen > before.open:  # it holds the start of the cycle that begins now
        return Counted(count, t, -1), Verdict(True, before.t, "ignition_counter_rose")
    still_open = 0 if counted else before.open - risen
    same = Verdict(False, before.t) if counted and risen == 0 and before.open == 0 else None
    return Counted(count, t, still_open), same
