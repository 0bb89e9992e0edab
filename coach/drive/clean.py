"""The way without a clear: driving cycles without the fault until the car itself puts the MIL out.

A cycle is driven when, in it, the monitors of the codes that stood at its beginning ran or their phases were driven;
for what is watched all the time the regulated pattern; for misfire and fuel also near the freeze frame. It counts once
the key was off and no code came: the car alone decides that, by putting the MIL out.
"""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from coach.car.car import Car
from coach.car.ecus import Ecu
from coach.car.happenings import (
    CodeAppeared,
    CodesCleared,
    CycleBegan,
    CycleUncertain,
    Happening,
)
from coach.car.near import NearClock
from coach.car.ran import RanWatch
from coach.drive.happenings import CleanCycleDriven
from coach.drive.wanted import CLEAN_CYCLES, Wanted
from coach.j1979.errors import J1979Error
from coach.j1979.freeze_frame import decode_frozen
from coach.j1979.similar import CYCLES_WITHOUT_FAULT, SIMILAR_FOR, frame_of

FRAME_LOOK_S = 5.0  # our judgement: a freeze frame is read within the first half minute
FRESH_S = 6.0  # our judgement, as for a cruise: values this old still are of this moment


@dataclass(frozen=True, slots=True)
class CleanNow:
    """This driving cycle as it stands: the `number`th without the fault, of `wanted`.

    `to_run`: monitors whose phases are to be driven; `pattern`: the regulated pattern, none where it is not asked for;
    `near`: the clock near the freeze frame, none where it is not asked for or cannot be told (`near_unknown`).
    `returned`: codes that came in this cycle; `unknown`: codes of which nobody knows the monitor.
    """

    codes: tuple[str, ...]
    number: int
    wanted: int
    to_run: tuple[str, ...]
    done: tuple[str, ...]
    pattern: bool | None
    near: NearClock | None
    near_unknown: bool
    returned: tuple[str, ...]
    unknown: tuple[str, ...]

    @property
    def filled(self) -> bool:
        """All that this cycle asks for is driven."""
        near = self.near is None or self.near.full
        return bool(self.codes) and not self.to_run and self.pattern is not False and near and not self.returned


@dataclass(slots=True)
class CleanCycles:
    """`chosen`: the drive is for this. `counted`: whole cycles without the fault by the job's record, by code.

    `codes`: those that were stored when the car was first read. `finished`: cycles of this recording that were filled
    and are over. `watch`: the monitors that ran in this cycle, `driven`: those of which a set of phases was driven.
    `frame_kmh`: the speed in the freeze frame, none where it holds none.
    """

    chosen: bool = False
    counted: Mapping[str, int] = field(default_factory=dict)
    codes: tuple[str, ...] = ()
    finished: int = 0
    broken: bool = False
    watch: RanWatch = field(default_factory=RanWatch)
    driven: frozenset[str] = frozenset()
    returned: tuple[str, ...] = ()
    near: NearClock = field(default_factory=NearClock)
    frame_kmh: float | None = None
    told: bool = False
    _look_t: float = 0.0

    def copy(self) -> "CleanCycles":
        """An independent copy."""
        return replace(self, near=self.near.copy(), watch=self.watch.copy())

    def learn(self, known: Mapping[str, Any]) -> None:
        """{"clean_cycles": {"chosen": true, "counted": {code: whole cycles}}}, as the session tells it."""
        told = known.get("clean_cycles")
        if isinstance(told, Mapping):
            self.chosen = told.get("chosen") is True
            counted = told.get("counted")
            pairs = counted.items() if isinstance(counted, Mapping) else ()
            self.counted = {c: n for c, n in pairs if isinstance(c, str) and isinstance(n, int) and n >= 0}

    def choose(self, made: Mapping[str, Any]) -> None:
        """{"target": "clean_cycles"}, or another target; {"target": "monitors"} goes back to the one before."""
        if "target" in made:
            self.chosen = made["target"] == CLEAN_CYCLES

    # ------------------------------------------------------------ what is asked for

    def monitors(self, wanted: Wanted, ladders: Collection[str]) -> tuple[str, ...]:
        """Monitors with phases of their own that these codes wait for; those of this cycle."""
        found = (wanted.of_code(code) for code in self.codes if code not in wanted.all_the_time)
        return tuple(dict.fromkeys(monitor for monitor in found if monitor is not None and monitor in ladders))

    def asks(self, monitor: str, wanted: Wanted, ladders: Collection[str]) -> bool:
        """Whether the monitor is still to run in this cycle."""
        return self.chosen and monitor in self.monitors(wanted, ladders) and not self._done(monitor)

    def _done(self, monitor: str) -> bool:
        return monitor in self.watch.ran or monitor in self.driven

    def states(self, states: Mapping[str, str | None], wanted: Wanted, ladders: Collection[str]) -> dict[str, Any]:
        """The states of the monitors as a plan for this has to see them: done in this cycle, or not."""
        own = self.monitors(wanted, ladders)
        return {**states, **{m: "complete" if self._done(m) else "incomplete" for m in own}}

    def now(self, car: Car, wanted: Wanted, ladders: Collection[str]) -> CleanNow:
        """This driving cycle as it stands."""
        own = self.monitors(wanted, ladders)
        other = [code for code in self.codes if code in wanted.all_the_time or wanted.of_code(code) not in own]
        near = self._similar(wanted)
        unknown_near = bool(near) and (self.near.frame is None or not self._loads(car))
        met = car.denominator.alone_t is not None  # by what is surely of this cycle
        return CleanNow(
            self.codes,
            self.number,
            CYCLES_WITHOUT_FAULT,
            tuple(m for m in own if not self._done(m)),
            tuple(m for m in own if self._done(m)),
            met if other else None,
            self.near if near and not unknown_near else None,
            unknown_near,
            self.returned,
            tuple(code for code in self.codes if wanted.of_code(code) is None),
        )

    @property
    def number(self) -> int:
        """Which cycle without the fault this one is: the code that has the fewest behind it decides."""
        before = min((self.counted.get(code, 0) for code in self.codes), default=0)
        return (0 if self.broken else before) + self.finished + 1

    def _similar(self, wanted: Wanted) -> list[str]:
        return [code for code in self.codes if wanted.of_code(code) in SIMILAR_FOR]

    @staticmethod
    def _loads(car: Car) -> bool:
        """Whether the load is told, or may still be."""
        return "load_pct" in car.values or "rpm" not in car.values

    # ------------------------------------------------------------ what happens

    def happened(self, happening: Happening, wanted: Wanted, ready: bool) -> None:
        """`ready`: both kinds of codes were read once, so that a code that appears is of this drive."""
        self.watch.happened(happening)
        if isinstance(happening, CodeAppeared):
            self._code(happening, wanted, ready)
        elif isinstance(happening, CycleBegan):
            self._new_cycle()
        elif isinstance(happening, CycleUncertain) and not self.told:
            returned = self.returned
            self._start_over()  # what was driven may be of another cycle than what comes,
            self.returned = returned  # and a code that came of this one
        elif isinstance(happening, CodesCleared):
            self.codes, self.finished, self.broken = (), 0, True
            self._start_over()

    def _code(self, happening: CodeAppeared, wanted: Wanted, ready: bool) -> None:
        code = happening.code
        if happening.kind == "stored" and not ready and code not in self.codes:
            self.codes = tuple(sorted((*self.codes, code)))
        elif happening.kind == "pending" and ready and self._of_them(code, wanted):
            self.returned, self.finished, self.broken = (*self.returned, code), 0, True

    def _of_them(self, code: str, wanted: Wanted) -> bool:
        """One of the codes, or of the same system; components are too many to be one."""
        monitor = wanted.of_code(code)
        same = monitor is not None and monitor != "comprehensive_component"
        return code in self.codes or (same and monitor in {wanted.of_code(one) for one in self.codes})

    def _new_cycle(self) -> None:
        if self.told and not self.returned:
            self.finished += 1
        self._start_over()

    def _start_over(self) -> None:
        self.driven = frozenset()
        self.watch.start_over()
        self.returned, self.told = (), False
        self.near.start_over()

    # ------------------------------------------------------------ what is driven

    def rung_driven(self, monitor: str) -> bool:
        """A set of phases of the monitor was driven; false while the car says that it has not run all the same."""
        if self.watch.says_to_run(monitor):
            return False
        self.driven |= {monitor}
        return True

    def on_load(self, car: Car, wanted: Wanted) -> None:
        """One sample of engine speed or load."""
        if self.near.frame is None:
            self._look_for_frame(car, wanted)
        values = (car.fresh(name, FRESH_S) for name in ("rpm", "load_pct"))
        rpm, load_pct = values
        self.near.step(car.now, rpm, load_pct, car.values.get("coolant_c"))

    def _look_for_frame(self, car: Car, wanted: Wanted) -> None:
        codes = self._similar(wanted)
        if not codes or car.now < self._look_t:
            return
        self._look_t = car.now + FRAME_LOOK_S
        for ecu in car.ecus.values():
            cause, values = frozen(ecu)
            if cause in codes:
                self.near.frame, self.frame_kmh = frame_of(values), values.get("speed_kmh")

    def tell(self, t: float, now: CleanNow) -> CleanCycleDriven | None:
        """The happening, once in each cycle."""
        if self.told or not self.chosen or not now.filled:
            return None
        self.told = True
        return CleanCycleDriven(t, now.codes, now.number, now.wanted)


def frozen(ecu: Ecu) -> tuple[str | None, dict[str, float]]:
    """The code that left a unit's freeze frame, and its values; what cannot be read is left out."""
    cause, values = None, dict[str, float]()
    for payload in _frozen_payloads(ecu):
        try:
            told, found = decode_frozen(payload)
        except J1979Error:
            continue
        cause = cause or told
        values.update(found)
    return cause, values


def _frozen_payloads(ecu: Ecu) -> Iterable[bytes]:
    return (said[-1] for key, said in sorted(ecu.kept.items()) if key.startswith("02 ") and int(key[3:], 16) % 0x20)
