"""Every happening in every form its types allow: what the tests of the words walk through.

A row for each kind says which ids its texts may hold; numbers, switches and "unknown" follow from the types alone.
"""

import types
import typing
from collections.abc import Iterator
from itertools import combinations, product
from math import prod
from typing import Any

from coach.car import happenings as car
from coach.car.happenings import Happening
from coach.drive import happenings as drive
from coach.drive.happenings import DriveHappening
from coach.drive.target import BARS
from coach.j1979.monitors import MONITORS
from coach.library import profile_paths
from coach.words.breaks import BREAKS, WITHOUT_FIGURES
from coach.words.doubts import ITEM_NAMES, SIGN_NAMES, WHY
from coach.words.names import GATE_NAMES, PART_NAMES, REPEAT_NAMES, SIGNAL_NAMES
from coach.words.sentences import CAUSES, ENDS, PROOFS, UNUSABLE
from tests.recordings import a_profile

Pool = tuple[Any, ...]
PROFILES = tuple(a_profile(path.stem) for path in profile_paths())
NAMES = {phase: name for profile in PROFILES for phase, name in profile.names().items()}
PHASES: Pool = (*NAMES, "of_another_version")
ECUS: Pool = ("7E8", "18DAF110", "unnamed")
ITEMS: Pool = ("01 01", "01 0C 01 0D", "03", "-")
CODES: Pool = ("P0301", "U3FFF")
REASONS: Pool = (*BREAKS, *(f"gate_{gate}" for gate in GATE_NAMES), "gate_of_another_version", "of_another_version")
TEXTS: Pool = ("", "a note", "\x1b]0;x\x07\n\u202e" * 3)
UNWATCHED: Pool = ((), tuple(GATE_NAMES), tuple(PART_NAMES), ("engine_on",))

ROWS: dict[type[Happening], dict[str, Pool]] = {
    car.EngineStarted: {},
    car.EngineStopped: {},
    car.EngineRestarted: {},
    car.CycleBegan: {"proof": tuple(PROOFS)},
    car.CycleUncertain: {},
    car.WarmUpCycleCompleted: {},
    car.GeneralDenominatorMet: {"unwatched": ((), tuple(SIGNAL_NAMES), ("rpm",))},
    car.MonitorChanged: {
        "monitor": MONITORS,
        "before": ("complete", "incomplete", "unsupported", None),
        "after": ("complete", "incomplete", "unsupported", None),
    },
    car.CycleMonitorChanged: {
        "ecu": ECUS,
        "monitor": MONITORS,
        "before": ("disabled", "to_run", "complete", None),
        "after": ("disabled", "to_run", "complete", None),
    },
    car.CycleStatusDistrusted: {"ecu": ECUS, "monitor": MONITORS},
    car.CycleStatusTrusted: {"ecu": ECUS, "disabled": (MONITORS[:1], MONITORS)},
    car.MilChanged: {},
    car.CodeAppeared: {"ecu": ECUS, "kind": ("stored", "pending", "permanent"), "code": CODES},
    car.CodeVanished: {"ecu": ECUS, "kind": ("stored", "pending", "permanent"), "code": CODES},
    car.CodesCleared: {
        "ecu": ECUS,
        "evidence": (
            *("service_04_confirmed", "readiness_reset", "warm_ups_since_clear"),
            *("distance_since_clear_km", "run_time_since_clear_min"),
        ),
    },
    car.AnswerUnusable: {
        "ecu": (*ECUS, None),
        "asked": (*ITEMS, None),
        "why": (*UNUSABLE, "of_another_version"),
        "detail": TEXTS,
    },
    car.ClearSent: {"to": (None, "7E9")},
    car.ClearProved: {},
    car.AnotherCarAnswered: {"ecu": ECUS, "sign": tuple(SIGN_NAMES)},
    car.UnitChanged: {"ecu": ECUS, "sign": tuple(SIGN_NAMES)},
    car.FindingDoubted: {"item": tuple(ITEM_NAMES), "why": tuple(WHY), "units": ((), ECUS[:1], ECUS)},
    car.FindingSettled: {"item": tuple(ITEM_NAMES)},
    car.EcuFellSilent: {"ecu": ECUS, "asked": ITEMS},
    car.EcuAnsweredAgain: {"ecu": ECUS, "asked": ITEMS},
    car.DataLost: {},
    car.DataReturned: {},
    car.LinkChanged: {"state": ("up", "lost", "no_car", "ignition_off"), "why": TEXTS},
    car.ClockSteppedBack: {},
    car.ArrivedOutOfOrder: {},
    car.TimeResumed: {},
    car.NoteMade: {"text": TEXTS},
    drive.GateOpened: {"unwatched": UNWATCHED},
    drive.GateClosed: {"gate": (*GATE_NAMES, "of_another_version")},
    drive.HoldStarted: {},
    drive.HoldPaused: {"reason": REASONS},
    drive.HoldResumed: {},
    drive.HoldReset: {"reason": REASONS},
    drive.RepeatCounted: {"what": tuple(REPEAT_NAMES)},
    drive.RepeatRejected: {"what": tuple(REPEAT_NAMES), "reason": REASONS},
    drive.PartFilled: {"part": (*PART_NAMES, "of_another_version")},
    drive.PhaseDriven: {"unwatched": UNWATCHED},
    drive.PhaseUntimable: {},
    drive.WarmUpSlow: {},
    drive.WarmUpStalled: {},
    drive.MonitorNotConfirmed: {
        "monitor": MONITORS,
        "phases": ((), tuple(NAMES)[:1], tuple(NAMES)[:3]),
        "next": ("repeat", "next_rung", "another_day", "key_off", "ran"),
    },
    drive.PhaseGivenUp: {},
    drive.PhaseSkipped: {},
    drive.PlanChanged: {"phases": ((), tuple(NAMES)[:1], tuple(NAMES)[:3]), "cause": (*CAUSES, "of_another_version")},
    drive.TargetBarred: {
        "monitors": ((), MONITORS[:1], MONITORS),
        "by": (*((bar,) for bar in BARS), tuple(BARS)),
        "codes": ((), CODES[:1], CODES),
    },
    drive.CleanCycleDriven: {"codes": (CODES[:1], CODES)},
    drive.TargetReached: {"monitors": ((), MONITORS[:1], MONITORS, ("catalyst",))},
    drive.CoachingEnded: {"reason": (*ENDS, "of_another_version"), "detail": ("", "P0301", "coolant_c", "mil")},
}
"""The ids of each kind by field; `phase` is any phase of a shipped profile everywhere."""

NUMBERS: dict[Any, Pool] = {
    float: (0.0, 0.4, 61.0, -40.0, 36000.0, 1e9),
    int: (0, 1, 2, 65535),
    bool: (True, False),
    types.NoneType: (None,),
}
MOST = 4000  # of one kind: beyond it not all of them stand against all
T_POOL: Pool = (0.0, 3725.5)

assert set(WITHOUT_FIGURES) <= set(BREAKS)


def kinds() -> set[type[Happening]]:
    """Every kind of happening there is."""
    found = {
        kind
        for module in (car, drive)
        for kind in vars(module).values()
        if isinstance(kind, type) and issubclass(kind, Happening)
    }
    return found - {Happening, car.CarHappening, DriveHappening}


def pools(kind: type[Happening]) -> dict[str, Pool]:
    """What each field of a kind may hold. KeyError for a text that no row names."""
    hints = typing.get_type_hints(kind)
    row, found = ROWS[kind], {}
    for name in kind.__struct_fields__:
        if name == "t":
            found[name] = T_POOL[:1]
        elif name == "phase":
            found[name] = PHASES[:2] + PHASES[-1:]
        elif name in row:
            found[name] = row[name]
        else:
            options = typing.get_args(hints[name]) or (hints[name],)
            found[name] = tuple(value for option in options for value in NUMBERS[option])
    return found


def of_kind(kind: type[Happening], most: int = MOST) -> Iterator[Happening]:
    """Every form of a kind: all against all where that is not too many.

    Else every two fields against each other, and whatever may be unknown all together with the ids that tell by it.
    """
    fields = pools(kind)
    if prod(map(len, fields.values())) <= most:
        yield from (kind(*values) for values in product(*fields.values()))
        return
    first = {name: pool[0] for name, pool in fields.items()}
    told = tuple(name for name, pool in fields.items() if None in pool or name in ("reason", "gate"))
    for names in (*combinations(fields, 2), told):
        for values in product(*(fields[name] for name in names)):
            yield kind(**{**first, **dict(zip(names, values, strict=True))})


def happenings(most: int = MOST) -> Iterator[Happening]:
    """Every form of every kind; phases of every profile too."""
    for kind in sorted(kinds(), key=lambda kind: kind.__name__):
        yield from of_kind(kind, most)
    yield from (drive.PhaseSkipped(t, phase) for t in T_POOL for phase in PHASES)
