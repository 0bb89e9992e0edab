"""The exact order of phases with the least expected driving time. Pure arithmetic over at most a dozen phases.

Dynamic programming over (set of phases done, last one): the least time to get there. Orders that break "after" or
finish a phase past its deadline do not exist. An earlier finish is never worse, so the least time per state suffices.
Among orders of equal time the legs marked `first` come as early as they can: the sum of their finishing times decides,
which adds up from state to state as the time does.
"""

from collections.abc import Sequence
from dataclasses import dataclass

MOST = 12  # states grow with 2^n; a profile has no more phases than this (design of the planner)

# Expected seconds from one kind of driving to the next. Our judgement: a junction, a slip road, a way out of town.
WAYS = ("standing", "town", "road", "highway", "parked")
TRANSITION_S = {
    ("standing", "standing"): 15.0,
    ("standing", "town"): 30.0,
    ("standing", "road"): 60.0,
    ("standing", "highway"): 120.0,
    ("town", "town"): 15.0,
    ("town", "road"): 60.0,
    ("town", "highway"): 120.0,
    ("road", "road"): 15.0,
    ("road", "highway"): 60.0,
    ("highway", "highway"): 15.0,
}


@dataclass(frozen=True, slots=True)
class Leg:
    """One phase to drive: expected seconds, the road it wants, what must come before, the latest finish from now.

    `first`: wanted early, where that costs no time.
    """

    phase: str
    drive_s: float
    regime: str
    after: frozenset[str] = frozenset()
    finish_by_s: float | None = None
    shared_with: frozenset[str] = frozenset()
    first: bool = False


@dataclass(frozen=True, slots=True)
class Route:
    """The legs in order and the expected driving time of each, transitions included. Seconds."""

    phases: tuple[str, ...]
    leg_s: tuple[float, ...]

    @property
    def driving_s(self) -> float:
        """Expected driving time in all."""
        return sum(self.leg_s)


def transition_s(here: str | None, there: str) -> float:
    """Expected seconds to get from one kind of driving to another; none: from where nobody knows."""
    if here is None:
        return 0.0
    if "parked" in (here, there):
        return 0.0
    return TRANSITION_S.get((here, there), TRANSITION_S.get((there, here), 0.0))


def best_route(legs: Sequence[Leg], here: str | None = None) -> Route | None:
    """The order with the least expected time; none when no order keeps every deadline and every "after".

    A cruise shared with one already driven needs only what the other left over. Ties go to the legs marked `first`,
    then to the order in which the legs were given. ValueError for more than twelve legs.
    """
    if len(legs) > MOST:
        raise ValueError(f"{len(legs)} phases to order, at most {MOST}")
    if not legs:
        return Route((), ())
    table = _Table(legs, here)
    reached = _fill(table)
    full = (1 << len(legs)) - 1
    last = 0
    for leg in range(1, len(legs)):
        if _better(reached[full][leg][0], reached[full][leg][3], reached[full][last]):
            last = leg
    if reached[full][last][0] == INFINITE:
        return None
    return _trace(table, reached, full, last)


INFINITE = float("inf")
SAME_S = 1e-6  # sums of the same costs in another order differ by less
_State = tuple[float, int, float, float]  # time so far, the leg before, this leg's cost, when the `first` ones finish


class _Table:
    """The legs as numbers: bit sets and costs."""

    def __init__(self, legs: Sequence[Leg], here: str | None) -> None:
        index = {leg.phase: i for i, leg in enumerate(legs)}
        self.legs = legs
        self.after = [sum(1 << index[name] for name in leg.after if name in index) for leg in legs]
        self.shared = [[index[name] for name in sorted(leg.shared_with) if name in index] for leg in legs]
        self.first_s = [transition_s(here, leg.regime) for leg in legs]
        self.way_s = [[transition_s(one.regime, other.regime) for other in legs] for one in legs]
        self.drive_s = [leg.drive_s for leg in legs]
        self.first = [leg.first for leg in legs]
        self.finish_by = [INFINITE if leg.finish_by_s is None else leg.finish_by_s for leg in legs]

    def drive(self, leg: int, done: int) -> float:
        """Seconds to drive this leg after those in `done`, without the way to it."""
        rest = self.drive_s[leg]
        for other in self.shared[leg]:
            if done >> other & 1:
                rest = min(rest, max(0.0, self.drive_s[leg] - self.drive_s[other]))
        return rest


def _fill(table: _Table) -> list[list[_State]]:
    """Least time for every reachable (set of legs done, last leg)."""
    count = len(table.legs)
    reached: list[list[_State]] = [[(INFINITE, -1, 0.0, 0.0)] * count for _ in range(1 << count)]
    for leg in range(count):
        if not table.after[leg]:
            cost = table.first_s[leg] + table.drive(leg, 0)
            if cost <= table.finish_by[leg]:
                reached[1 << leg][leg] = (cost, -1, cost, cost if table.first[leg] else 0.0)
    for done in range(1, 1 << count):
        for last in range(count):
            if reached[done][last][0] < INFINITE:
                _go_on(table, reached, done, last)
    return reached


def _go_on(table: _Table, reached: list[list[_State]], done: int, last: int) -> None:
    spent, _, _, firsts = reached[done][last]
    way_s = table.way_s[last]
    for leg, after in enumerate(table.after):
        if done >> leg & 1 or after & ~done:
            continue
        cost = way_s[leg] + table.drive(leg, done)
        total = spent + cost
        row = reached[done | 1 << leg]
        early = firsts + total if table.first[leg] else firsts
        if total <= table.finish_by[leg] and _better(total, early, row[leg]):
            row[leg] = (total, last, cost, early)


def _better(total: float, early: float, than: _State) -> bool:
    """Less time, or as much with the `first` legs sooner."""
    if total < than[0] - SAME_S:
        return True
    return total <= than[0] + SAME_S and early < than[3] - SAME_S


def _trace(table: _Table, reached: list[list[_State]], done: int, last: int) -> Route:
    phases: list[str] = []
    leg_s: list[float] = []
    while last >= 0:
        _, before, cost, _ = reached[done][last]
        phases.append(table.legs[last].phase)
        leg_s.append(cost)
        done, last = done & ~(1 << last), before
    return Route(tuple(reversed(phases)), tuple(reversed(leg_s)))
