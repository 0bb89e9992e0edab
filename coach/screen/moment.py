"""What a screen is handed: one frozen moment of a drive, rounded, so that nothing is repainted that did not change."""

from collections import deque
from dataclasses import dataclass, field, replace

from coach.drive.core import Core
from coach.drive.current import current_phase
from coach.screen.strip import Trail
from coach.screen.telling import may_tell
from coach.words.announce import Said
from coach.words.coaching import STALE_S, View, view
from coach.words.units import KM_PER_MILE, Units

TRAIL_S = 600  # seconds of speed kept for the strip; our judgement: two cruises


@dataclass(frozen=True, slots=True)
class Moment:
    """One moment. `age_s`: of the newest value, none before the first; `speed_kmh` none when too old to be of now."""

    stage: str
    t: float = 0.0
    seen: View | None = None
    phase: str | None = None
    link: str = "lost"
    why: str = ""
    age_s: float | None = None
    pace: float = 1.0
    speed_kmh: float | None = None
    said: Said | None = None
    trail: Trail = ()
    label: str = ""
    limit_kmh: float | None = None
    limit: str = ""
    """The limit in the user's unit."""
    skipped: tuple[str, ...] = ()
    clean: bool | None = None
    """Whether the drive is for a driving cycle without the fault; none where no code stands that it could put out."""
    asks: tuple[str, ...] = ()
    """What the user may tell, since the car does not: `coach.screen.telling`."""


NO_VIEW = View(
    *("nothing", "", "", "Drive on as you like.", None, "", 0.0, "What is asked for cannot be put into words."),
    *("", "", "", "", (), 0.0, 0.0, ()),
)
"""Stands where a fault keeps the view from being made; an old instruction must not stay."""


def keyed(moment: Moment) -> object:
    """What decides which keys do something."""
    return moment.skipped, moment.asks, moment.phase is None, moment.clean


@dataclass(slots=True)
class Trailing:
    """Keeps the speed once a second."""

    units: Units
    kept: Trail = ()
    _kept: deque[tuple[float, float | None]] = field(default_factory=lambda: deque(maxlen=TRAIL_S))

    def take(self, core: Core) -> Trail:
        """The trail with the speed of now."""
        second = float(int(core.now))
        if not self._kept or second > self._kept[-1][0]:
            kmh = core.car.fresh("speed_kmh", STALE_S)
            self._kept.append((second, None if kmh is None else self.shown(kmh)))
            self.kept = tuple(self._kept)
        return self.kept

    def shown(self, kmh: float) -> float:
        """A speed in the user's unit."""
        return float(round(kmh / KM_PER_MILE if self.units.us else kmh))


def moment_of(core: Core, units: Units, stage: str, now: float) -> Moment:
    """The moment of a core at `now`; values that are older than they may be are left out."""
    heard = core.car.value_t
    age_s = None if heard is None else max(0.0, now - heard)
    seen = view(core, units)
    if seen.gauge is not None and age_s is not None and age_s > STALE_S:
        seen = replace(seen, gauge=replace(seen.gauge, value=None, counts=False))
    fresh = age_s is not None and age_s <= STALE_S
    return Moment(
        stage=stage,
        t=now,
        seen=_rounded(seen),
        phase=current_phase(core, core.plan()) if seen.kind == "phase" else None,
        age_s=None if age_s is None else (0.0 if age_s < 1.0 else float(round(age_s))),
        speed_kmh=core.car.fresh("speed_kmh", STALE_S) if fresh else None,
        limit_kmh=core.wanted.speed_max_kmh,
        limit=units.speed(core.wanted.speed_max_kmh) if core.wanted.speed_max_kmh is not None else "",
        skipped=tuple(sorted(core.wanted.skipped)),
        clean=core.clean.chosen if core.clean.codes and core.stop.ended is None else None,
        asks=may_tell(core),
    )


def _rounded(seen: View) -> View:
    return replace(
        seen,
        share=round(seen.share, 2),
        driven_s=float(round(seen.driven_s)),
        left_s=float(round(seen.left_s / 60) * 60),
    )
