"""The general denominator and the distance of one driving cycle, counted as the car itself would count them.

After a silence that nothing judges a new span begins: the cycle may have begun there, or before. A pattern is met when
one span alone meets it, and missed when all of them together do not.
"""

from dataclasses import dataclass, fields, replace
from functools import reduce

from coach.car.counting import Counting
from coach.car.totals import NEEDED, Totals

AMBIENT_MIN_C = -7.0  # 20 °F: 40 CFR 86.010-18(d)(4)(ii), rounded as regulators do
BARO_MIN_KPA = 75.2  # 2,440 m (8,000 ft) in the ISA standard atmosphere: 101.325 * (1 - 2.25577e-5 * 2440) ** 5.25588


@dataclass(slots=True)
class Denominator(Counting):
    """Running totals of the driving cycle now running; what it inherits is of its latest span, which is surely of it.

    `earlier`: the spans before, which are of this cycle or of another. `ended_`: of cycles that are surely over.
    """

    earlier: tuple[Totals, ...] = ()
    ended_s: float = 0.0
    ended_km: float = 0.0
    ended_unseen: bool = False

    def copy(self) -> "Denominator":
        """An independent copy; the earlier spans are never changed."""
        longest = self.longest.copy() if self.longest is not None else None
        still = longest if self._still is self.longest else self._still and self._still.copy()
        streaks = replace(self.could_idle), replace(self.could_idle_off)
        return replace(self, longest=longest, _still=still, could_idle=streaks[0], could_idle_off=streaks[1])

    # ------------------------------------------------------------ spans

    def split(self, t: float, clock_set: bool = False) -> None:
        """At `t` nobody knows whether a new driving cycle began: what comes now is counted by itself."""
        gap_from_t = self.last_t if self._gap_from_t is None else self._gap_from_t
        self.earlier = (*self.earlier, self._span())
        self._begin_span(Totals(t, clock_set=clock_set))
        self._gap_from_t = gap_from_t if self.last_kmh is not None else None

    def join(self, since_t: float) -> None:
        """No new cycle began after `since_t`: the spans begun since are one with the one before."""
        while self.earlier and self.from_t > since_t:
            if self._gap_from_t is not None:  # no speed was heard behind the gap so far
                self._gap_from_t, self._parted = None, True
            self._take(self.earlier[-1].then(self._span()))
            self.earlier = self.earlier[:-1]

    def begin(self, t: float, since_t: float, started_t: float | None) -> "Denominator":
        """A new cycle began after `since_t`; what surely belongs to the one before comes back, as its own totals.

        `started_t`: when the engine was started for it; none when unknown, and any span since may be its first.
        """
        spans = self.spans()
        kept = tuple(span for span in spans if span.from_t > since_t)
        closed = _of(spans[: len(spans) - len(kept)])
        ended = closed.joined()
        self.ended_s, self.ended_km = self.ended_s + ended.running_s, self.ended_km + ended.distance_km
        self.ended_unseen = self.ended_unseen or closed.at_least or bool(kept)
        self.earlier = kept[:-1]
        if not kept:
            self._begin_span(Totals(t))
            self._unseen_since(t, t if started_t is None else started_t)
        elif started_t is not None:
            self.join(kept[0].from_t)
            self.begun_at(started_t)
        return closed

    def _unseen_since(self, t: float, started_t: float) -> None:
        """A cycle that began without a silence: up to the next speed it was not seen; what lies before is not its."""
        if self.last_kmh is not None and self.last_t < t:
            self._gap_from_t = started_t
        elif self.last_kmh is not None:
            self.gap_s, self.gap_to_t = t - started_t, t

    def begun_at(self, started_t: float) -> None:
        """What lies before the start of the engine is no gap of this cycle."""
        self.clock_set = False
        if self._gap_from_t is not None:
            self._gap_from_t = max(self._gap_from_t, started_t)
        self.gap_s = min(self.gap_s, max(0.0, self.gap_to_t - started_t))

    def engine_heard(self) -> None:
        """The first engine speed: what was counted with the engine taken as running was not seen."""
        self.earlier = tuple(_not_assumed(span) for span in self.earlier)
        self._take(_not_assumed(self._span()))
        self._unsure_s = self._unsure_fast_s = 0.0
        self._stand_no_more()

    def _span(self) -> Totals:
        span = Totals(*(getattr(self, name) for name in _OF_A_SPAN))
        span.could_idle, span.could_idle_off = replace(self.could_idle), replace(self.could_idle_off)
        return span

    def _take(self, span: Totals) -> None:
        for name in _OF_A_SPAN:
            setattr(self, name, getattr(span, name))

    def _begin_span(self, span: Totals) -> None:
        self._take(span)
        self._gap_from_t = None
        self._unsure_s = self._unsure_fast_s = 0.0
        self._stand_no_more()

    # ------------------------------------------------------------ what may be said

    def spans(self) -> tuple[Totals, ...]:
        """Every span, the latest last."""
        return (*self.earlier, self._span())

    def joined(self) -> Totals:
        """All spans taken as one driving cycle."""
        return reduce(Totals.then, self.spans(), Totals())

    def fullest(self) -> Totals:
        """The span that alone met the pattern, else the one that came nearest by its running time."""
        return max(self.spans(), key=lambda span: (span.alone_t is not None, span.counted_running_s))

    @property
    def met_t(self) -> float | None:
        """When the pattern was surely met, by one span alone; none when it was not, or nobody knows."""
        return next((span.alone_t for span in self.earlier if span.alone_t is not None), self.alone_t)

    @property
    def told_met(self) -> bool:
        """Whether it was told that this cycle has met the pattern."""
        return self.told or any(span.told for span in self.earlier)

    @property
    def at_least(self) -> bool:
        """Something of this cycle was not seen: every figure is a lower bound."""
        whole = self.joined()
        return whole.unseen_s > 0 or whole.clock_set

    @property
    def whole_at_least(self) -> bool:
        """The same of the whole recording."""
        return self.ended_unseen or self.at_least

    @property
    def whole_running_s(self) -> float:
        """Seconds driven or idled in the whole recording, earlier driving cycles included."""
        return self.ended_s + sum(span.running_s for span in self.earlier) + self.running_s

    @property
    def whole_distance_km(self) -> float:
        """Kilometres of the whole recording, earlier driving cycles included."""
        return self.ended_km + sum(span.distance_km for span in self.earlier) + self.distance_km

    def lacking(self) -> tuple[str, ...]:
        """The parts that are surely missing, whatever was not seen: running, fast, idle."""
        whole = self.joined()
        if whole.timed_s == 0 or whole.clock_set:
            return ()
        return tuple(part for part, most_s in whole.most().items() if most_s < NEEDED[part])

    def lacks(self) -> tuple[str, ...]:
        """Which parts this cycle surely still misses: fast, idle, running; none once the latest span has met it."""
        parts = (
            ("fast", self.counted_fast_s < NEEDED["fast"]),
            ("idle", self.counted_idle_s < NEEDED["idle"]),
            ("running", self.counted_running_s < NEEDED["running"]),
        )
        return () if self.alone_t is not None else tuple(name for name, missing in parts if missing)

    def missed(self) -> bool | None:
        """True when the pattern was surely not met, whatever the unseen time held; none when it may have been."""
        return True if self.lacking() else None


_OF_A_SPAN = tuple(part.name for part in fields(Totals))


def _of(spans: tuple[Totals, ...]) -> Denominator:
    """Totals of a cycle that is over."""
    found = Denominator(earlier=spans[:-1])
    if spans:
        found._take(spans[-1])
    return found


def _not_assumed(span: Totals) -> Totals:
    """The same span, what needs a running engine not seen."""
    return replace(
        Totals(),
        **{name: getattr(span, name) for name in _WITHOUT_ENGINE},
        timed_s=span.timed_s,
        unseen_s=span.unseen_s + span.timed_s,
    )


_WITHOUT_ENGINE = (
    *("from_t", "distance_km", "top_kmh", "samples", "gap_s", "gap_to_t", "clock_set"),
    *("could_running_s", "could_fast_s", "could_idle", "could_idle_off"),
)
