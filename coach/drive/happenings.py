"""Happenings about the drive: phases, holds, confirmation, the plan and the end of coaching.

Facts in the past tense with ids and SI numbers. A `reason` is an id such as above_band, below_band, foot_moved,
engine_stopped, data_gap; `value` and `limit` are in the unit of the signal the reason names, none where it has none.
"""

from coach.car.happenings import Happening


class DriveHappening(Happening, frozen=True, gc=False):
    """A fact about a phase of the drive."""

    phase: str


class GateOpened(DriveHappening, frozen=True):
    """Everything that can be watched and must be true before the phase is true now."""

    unwatched: tuple[str, ...]


class GateClosed(DriveHappening, frozen=True):
    """A condition of the phase does not hold. `today` is false when it can no longer hold on this drive."""

    gate: str
    value: float | None
    low: float | None
    high: float | None
    today: bool


class HoldStarted(DriveHappening, frozen=True):
    """The hold began at `since_t`: inside its band for the settle time."""

    since_t: float


class HoldPaused(DriveHappening, frozen=True):
    """The hold was left at `since_t` for longer than the settle time; `held_s` is kept."""

    since_t: float
    held_s: float
    reason: str
    value: float | None
    limit: float | None


class HoldResumed(DriveHappening, frozen=True):
    """Back inside since `since_t`; the hold goes on from `held_s`."""

    since_t: float
    held_s: float


class HoldReset(DriveHappening, frozen=True):
    """A continuous hold was broken for too long, or its driving cycle ended: `lost_s` count no more."""

    lost_s: float
    reason: str


class RepeatCounted(DriveHappening, frozen=True):
    """One of several repeats was good: `count` of `wanted`. `what` is deceleration, load_step, steady or idle_stop."""

    what: str
    count: int
    wanted: int
    lasted_s: float


class RepeatRejected(DriveHappening, frozen=True):
    """One attempt did not count, with the reason and the value that spoiled it."""

    what: str
    reason: str
    value: float | None
    limit: float | None


class PartFilled(DriveHappening, frozen=True):
    """One part of the hold is full: a regeneration inside a cruise, say. Seconds."""

    part: str
    held_s: float


class PhaseDriven(DriveHappening, frozen=True):
    """The phase's hold is full. That is not yet a monitor complete. `time` is how many times it has been driven."""

    held_s: float
    time: int
    unwatched: tuple[str, ...]


class PhaseUntimable(DriveHappening, frozen=True):
    """The values come in too slowly for this hold: `interval_s` apart, and no more than `bridge_s` can be bridged."""

    interval_s: float
    bridge_s: float


class WarmUpSlow(DriveHappening, frozen=True):
    """The coolant is still below the thermostat's range after `running_s` of running engine."""

    running_s: float
    coolant_c: float


class WarmUpStalled(DriveHappening, frozen=True):
    """Under way the coolant rose by no more than `rose_c` in `over_s`, and stands below the thermostat's range."""

    running_s: float
    coolant_c: float
    rose_c: float
    over_s: float


class MonitorNotConfirmed(Happening, frozen=True):
    """The phases of this rung are driven and the wait is over, but the car's bit has not moved.

    `next` is repeat, next_rung, another_day, or key_off: no bit has moved at all, the car may show them only then; or
    ran: by PID 41 the monitor has run in this cycle, and the car shows it after the key was off.
    """

    monitor: str
    phases: tuple[str, ...]
    next: str


class PhaseGivenUp(DriveHappening, frozen=True):
    """The phase was asked for during `asked_s` seconds and did not come about: another day."""

    asked_s: float


class PhaseSkipped(DriveHappening, frozen=True):
    """The user said: not on this road."""


class PlanChanged(Happening, frozen=True):
    """The phases still to drive changed, because of `cause`. Driving times in seconds, none when unknown."""

    phases: tuple[str, ...]
    driving_s: float
    before_s: float | None
    cause: str


class TargetReached(Happening, frozen=True):
    """Every monitor of the target is complete, by what the car itself said, and nothing else stands against it."""

    monitors: tuple[str, ...]


class TargetBarred(Happening, frozen=True):
    """Every monitor of the target is complete, and it is not reached: `by` names what stands against it.

    Ids of `coach.drive.target.BARS`; `codes`: those that stand.
    """

    monitors: tuple[str, ...]
    by: tuple[str, ...]
    codes: tuple[str, ...]


class CleanCycleDriven(Happening, frozen=True):
    """All that a driving cycle without the fault asks for is driven: the `number`th of `wanted`, to put `codes` out.

    It counts once the key was off and none of the codes is pending.
    """

    codes: tuple[str, ...]
    number: int
    wanted: int


class CoachingEnded(Happening, frozen=True):
    """Nothing more is asked of the driver: ease off and stop where it is safe; another car is driven as one likes.

    `reason` is misfire_code, fuel_code, repaired_code, mil_on, coolant_hot, voltage_low or another_car.
    """

    reason: str
    detail: str
    value: float | None
    limit: float | None
