"""The state of the car as one value: signals, ECUs, cycle, findings as last told. It is changed by `Car.fold` alone."""

from dataclasses import dataclass, field, replace
from typing import Self

from coach.car.accelerator import Accelerator
from coach.car.clears import Clear
from coach.car.concluding import conclude
from coach.car.conclusion import Conclusion
from coach.car.cycle import Cycle
from coach.car.cycle_trust import NO_TRUST
from coach.car.denominator import Denominator
from coach.car.driven import DrivenCycle, driven_cycle
from coach.car.ecus import CLEARED, READINESS, Doubt, Ecu, cycle_state, surely_disabled
from coach.car.happenings import AnswerUnusable, Happening, MonitorState
from coach.car.identity import Signs
from coach.car.known import Known
from coach.car.questions import Questions
from coach.car.witnesses import Pace, Verdict
from coach.j1979.monitors import MONITORS

SILENCE_S = 6.0  # our judgement: the longest bridge of a hold; beyond it nothing could be counted anyway

MOST_UNUSABLE = 1000  # kinds told apart; our judgement: a read-out asks some hundred things of a few units


@dataclass(slots=True)
class Reported:
    """The merged findings as last told for certain, so that a change can be told. `since_t`, `cycle_t`: since when.

    `sure`: the items of which something can be said now; `doubted`: those that could be said and cannot, since
    when, where it has to be told; `unsure_t`: the same for every reason.
    """

    monitors: dict[str, MonitorState] = field(default_factory=dict)
    mil: bool | None = None
    cycle: dict[tuple[str, str], str | None] = field(default_factory=dict)
    cycle_t: dict[tuple[str, str], float] = field(default_factory=dict)
    cleared_t: float | None = None
    clears: int = 0
    since_t: dict[str, float] = field(default_factory=dict)
    sure: frozenset[str] = frozenset()
    doubted: dict[str, float] = field(default_factory=dict)
    unsure_t: dict[str, float] = field(default_factory=dict)
    proved: bool = False

    def copy(self) -> "Reported":
        """An independent copy."""
        return replace(
            self,
            monitors=dict(self.monitors),
            cycle=dict(self.cycle),
            cycle_t=dict(self.cycle_t),
            since_t=dict(self.since_t),
            doubted=dict(self.doubted),
            unsure_t=dict(self.unsure_t),
        )


@dataclass(frozen=True, slots=True)
class Own:
    """What was known of a car when a link came up: what another car says over that link changes nothing of it."""

    ecus: dict[str, Ecu]
    doubts: dict[str, Doubt]
    clear: Clear
    counters: dict[tuple[str, str], tuple[float, float]]
    ignition_counts: dict[str, int]

    @classmethod
    def of(cls, car: "CarState | Own") -> "Own":
        """A copy that nothing changes."""
        ecus = {address: ecu.copy() for address, ecu in car.ecus.items()}
        return cls(ecus, dict(car.doubts), car.clear.copy(), dict(car.counters), dict(car.ignition_counts))


@dataclass(slots=True)
class CarState:
    """What is known of the car. `values` and `heard_t`: each signal's last value and its time; copy with `copy()`.

    `doubts`: watched items with which something came in that nobody could make out, any unit may have said it.
    `asked_all`: watched items put to all units at once; `asked_alone`: units that were asked one by one.
    `known`: what earlier recordings told of this car. `episode_t`: when the present link came up; `parted`: it is
    gone, and whoever is asked next may be another car; `own`: what was known when it came up; `clear_then`: the clear
    when the open question was asked. `run_before` and `moving_before`: the counters when the link came up, and whether
    the car rolled and when that was heard.
    `ended`: the driving cycles that are over. `pace`: whether a slow recorder only looks silent.
    `counters`: what only rises within a cycle or since a clear, by ECU and signal: value and time.
    """

    can: bool | None = None
    now: float = 0.0
    values: dict[str, float] = field(default_factory=dict)
    heard_t: dict[str, float] = field(default_factory=dict)
    owner: dict[str, str] = field(default_factory=dict)
    owner_missed: dict[str, tuple[float, int | None]] = field(default_factory=dict)
    ecus: dict[str, Ecu] = field(default_factory=dict)
    questions: Questions = field(default_factory=Questions)
    cycle: Cycle = field(default_factory=Cycle)
    denominator: Denominator = field(default_factory=Denominator)
    accelerator: Accelerator = field(default_factory=Accelerator)
    reported: Reported = field(default_factory=Reported)
    doubts: dict[str, Doubt] = field(default_factory=dict)
    known: Known = field(default_factory=Known)
    signs: Signs = field(default_factory=Signs)
    clear: Clear = field(default_factory=Clear)
    episode_t: float | None = None
    clear_then: Clear | None = None
    parted: bool = False
    own: "Own | None" = None
    asked_all: frozenset[str] = frozenset()
    asked_alone: frozenset[str] = frozenset()
    run_before: dict[tuple[str, str], tuple[float, float]] = field(default_factory=dict)
    moving_before: tuple[bool, float] = (False, -1e9)
    counters: dict[tuple[str, str], tuple[float, float]] = field(default_factory=dict)
    ignition_counts: dict[str, int] = field(default_factory=dict)
    unusable: dict[str, int] = field(default_factory=dict)
    value_t: float | None = None
    lost: bool = False
    lost_total_s: float = 0.0
    slowing: bool = False
    cold_engine_baro_kpa: float | None = None
    ended: tuple[DrivenCycle, ...] = ()
    pace: Pace = field(default_factory=Pace)
    untold: bool = False
    _concluded: Conclusion | None = None

    def copy(self) -> Self:
        """An independent copy, well under a millisecond."""
        return replace(
            self,
            values=dict(self.values),
            heard_t=dict(self.heard_t),
            owner=dict(self.owner),
            ecus={address: ecu.copy() for address, ecu in self.ecus.items()},
            questions=self.questions.copy(),
            cycle=self.cycle.copy(),
            denominator=self.denominator.copy(),
            accelerator=self.accelerator.copy(),
            reported=self.reported.copy(),
            doubts=dict(self.doubts),
            signs=self.signs.copy(),
            clear=self.clear.copy(),
            counters=dict(self.counters),
            ignition_counts=dict(self.ignition_counts),
            owner_missed=dict(self.owner_missed),
            unusable=dict(self.unusable),
        )

    def conclude(self) -> Conclusion:
        """All that may be said of the car now; the one place that every page, exit code and document reads."""
        if self._concluded is None:
            self._concluded = conclude(self)
        return self._concluded

    def changed(self) -> None:
        """Something that a conclusion rests on has changed, and may have to be told."""
        self._concluded, self.untold = None, True

    def monitor_states(self) -> dict[str, MonitorState]:
        """The merged state of every monitor now; none is unknown or uncertain."""
        return {monitor: found.state for monitor, found in self.conclude().monitors.items()}

    def last_word(self) -> dict[str, str | None]:
        """The same, and while the car is silent its last certain word, unless the memory was cleared since."""
        states, told = self.monitor_states(), self.reported.monitors
        if any(READINESS in ecu.doubts and ecu.doubts[READINESS].why in CLEARED for ecu in self.ecus.values()):
            return states
        return {monitor: state or told.get(monitor) for monitor, state in states.items()}

    def mil_on(self) -> bool | None:
        """Whether any ECU commands the MIL; none is uncertain."""
        return self.conclude().mil.on

    def codes(self, kind: str) -> tuple[str, ...] | None:
        """Codes of a kind ("stored", "pending", "permanent") for certain; none when they are not."""
        return self.conclude().codes[kind].certain

    def cycle_states(self) -> dict[str, str | None]:
        """PID 41 merged over the ECUs: disabled, to_run or complete in this driving cycle; none is unknown."""
        ecus = tuple(self.ecus.values())
        return {monitor: cycle_state(ecus, monitor) for monitor in MONITORS}

    def disabled_now(self) -> tuple[frozenset[str], frozenset[str]]:
        """Monitors that PID 41 calls switched off for this driving cycle: those it is believed of, and the others."""
        ecus = tuple(self.ecus.values())
        off = {monitor for monitor, state in self.cycle_states().items() if state == "disabled"}
        sure = frozenset(monitor for monitor in off if surely_disabled(ecus, monitor))
        return sure, frozenset(off) - sure

    def doubt_item(self, item: str, why: str) -> None:
        """Something came in for this item that any unit may have said: nothing is certain until all are asked again."""
        standing = self.doubts.get(item)
        self.doubts[item] = Doubt(why, self.now if standing is None else standing.t, self.questions.count)
        self.changed()

    def interrupt(self) -> None:
        """The interval up to the next sample is of unknown length: nothing accrues across it."""
        self.denominator.interrupt()

    def new_cycle(self, t: float, verdict: Verdict) -> None:
        """A new driving cycle was proved: its totals, PID 41 and the trust in PID 41 start afresh."""
        over, to_t = self.cycle.until(verdict.since_t, t)
        counted = self.denominator.begin(t, verdict.since_t, verdict.started_t)
        self.ended = (*self.ended, driven_cycle(over, counted, to_t, self._diesel()))
        self.reported.cycle.clear()
        self.reported.cycle_t.clear()
        for ecu in self.ecus.values():
            ecu.status_raw = b""
            ecu.status_distrusted = None
            ecu.status_trust = NO_TRUST

    def cycles(self) -> tuple[DrivenCycle, ...]:
        """Every driving cycle in which the engine ran, or may have: a look with the key on is none of its own."""
        all_ = (*self.ended, driven_cycle(self.cycle, self.denominator, self.now, self._diesel()))
        return tuple(one for one in all_ if one.ran is not False) or all_[-1:]

    def _diesel(self) -> bool:
        """Whether any unit's readiness has the layout of compression ignition."""
        told = (ecu.readiness for ecu in self.ecus.values())
        return any(known is not None and known.ignition == "compression" for known in told)

    def age_s(self, signal: str) -> float | None:
        """Age of a signal in seconds, none when it was never heard."""
        heard = self.heard_t.get(signal)
        return None if heard is None else self.now - heard

    def fresh(self, signal: str, bridge_s: float) -> float | None:
        """The signal's value if it is no older than `bridge_s` seconds, else none."""
        heard = self.heard_t.get(signal)
        return None if heard is None or self.now - heard > bridge_s else self.values[signal]

    def engine_runs(self) -> bool | None:
        """Whether the engine runs now; none when engine speed was never heard or is older than six seconds."""
        if self.cycle.running is None or self.now - self.heard_t["rpm"] > SILENCE_S:
            return None
        return self.cycle.running

    def baro_kpa(self) -> float | None:
        """Barometric pressure: PID 33, else the manifold's own with the engine stopped; none when neither was heard."""
        return self.values.get("baro_kpa", self.cold_engine_baro_kpa)

    def count_unusable(self, t: float, ecu: str | None, asked: str | None, why: str, detail: str) -> Happening | None:
        """Count something that could not be used; the first of its kind becomes a happening."""
        key = f"{why} {asked or '-'} {ecu or '-'}"
        if len(self.unusable) >= MOST_UNUSABLE and key not in self.unusable:
            key = f"{why} - -"
        self.unusable[key] = self.unusable.get(key, 0) + 1
        return AnswerUnusable(t, ecu, asked, why, detail) if self.unusable[key] == 1 else None
