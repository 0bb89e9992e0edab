"""What a reading was over a whole recording, in bounded memory: a plot's line with every spike and every gap.

The line is kept as buckets of time, each with its first, lowest, highest and last reading. When there are too many, the
buckets double in width. Two readings further apart than the reading's bridge are never joined.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace

from coach.car.arrivals import Answer, Arrival, ClockStep, LinkChange, Reading
from coach.drive.core import Core

FEET = ("throttle_pct", "pedal_d_pct", "relative_throttle_pct", "relative_pedal_pct", "pedal_e_pct")
"""What tells of the foot; which of them came in closely differs from car to car."""
TRACED = ("speed_kmh", "coolant_c", "rpm", *FEET)
SLOW = frozenset({"coolant_c"})
"""Readings that change slowly: their bridge is the profile's for temperatures, the others' the one for a cruise."""
MOST = 1024  # buckets kept while reading, our judgement: twice what a page can show
FINEST_S = 0.25  # the first width of a bucket, our judgement: a fast adapter brings a reading four times a second

Point = tuple[float, float]
"""(seconds, value)."""
Pieces = tuple[tuple[Point, ...], ...]
"""The line: points of one piece are joined, pieces are not."""


@dataclass(slots=True)
class Bucket:
    """The readings of one stretch of time.

    `gap_before`: not joined with the bucket before. `gaps`: how many lie inside; `gap`: where the only one lies.
    """

    first: Point
    low: Point
    high: Point
    last: Point
    gap_before: bool
    gaps: int = 0
    gap: tuple[float, float] = (0.0, 0.0)

    def take(self, point: Point, apart: bool) -> None:
        """One more reading; `apart`: not joined with the one before."""
        self.join(Bucket(point, point, point, point, apart))

    def join(self, later: "Bucket") -> None:
        """The bucket behind it becomes part of this one."""
        if later.gap_before:
            self.gap = (self.last[0], later.first[0])
        elif later.gaps:
            self.gap = later.gap
        self.gaps += later.gaps + later.gap_before
        self.low = min(self.low, later.low, key=_value)
        self.high = max(self.high, later.high, key=_value)
        self.last = later.last

    def points(self) -> tuple[Point, ...]:
        """First, lowest, highest and last in order of time, each once."""
        return tuple(sorted({self.first, self.low, self.high, self.last}))


@dataclass(slots=True)
class Line:
    """One signal's line. `bridge_s`: readings further apart are not joined. `heard`: how many readings came in."""

    bridge_s: float
    width_s: float = FINEST_S
    heard: int = 0
    apart: bool = True
    buckets: list[Bucket] = field(default_factory=list)

    def take(self, t: float, value: float) -> None:
        """One reading."""
        self.heard += 1
        self._back_to(t)
        point = (t, value)
        last = self.buckets[-1] if self.buckets else None
        apart = self.apart or last is None or t - last.last[0] > self.bridge_s
        self.apart = False
        if last is not None and int(last.first[0] / self.width_s) == int(t / self.width_s):
            last.take(point, apart)
            return
        self.buckets.append(Bucket(point, point, point, point, apart))
        while len(self.buckets) > MOST:
            self.width_s *= 2
            self.buckets = joined(self.buckets, self.width_s)

    def _back_to(self, t: float) -> None:
        """The recording's clock proved wrong and went back: what stood at the wrong times goes."""
        while self.buckets and self.buckets[-1].last[0] > t:
            self.buckets.pop()
            self.apart = True

    def pieces(self, most: int) -> Pieces:
        """The line with at most so many buckets, each of at most four points."""
        buckets, width_s = self.buckets, self.width_s
        while len(buckets) > most:
            width_s *= 2
            buckets = joined(buckets, width_s)
        pieces: list[list[Point]] = []
        for bucket in buckets:
            if bucket.gap_before or not pieces:
                pieces.append([])
            for run in _runs(bucket):
                pieces[-1] += run
                pieces.append([])
            pieces.pop()
        return tuple(tuple(piece) for piece in pieces if piece)


@dataclass(slots=True)
class Trace:
    """The lines of one recording, by signal."""

    lines: dict[str, Line] = field(default_factory=dict)

    def watch(self, arrivals: Iterable[Arrival], core: Core) -> Iterator[Arrival]:
        """Hand the arrivals on; after each was fed to `core`, keep what it brought."""
        for arrival in arrivals:
            yield arrival
            if isinstance(arrival, Answer | Reading):
                self._look(core)
            elif isinstance(arrival, ClockStep | LinkChange):
                for line in self.lines.values():
                    line.apart = True

    def _look(self, core: Core) -> None:
        heard_t, now = core.car.heard_t, core.now
        for signal in TRACED:
            if heard_t.get(signal) == now:
                line = self.lines.get(signal)
                if line is None:
                    bridge_s = core.built.slow_bridge_s if signal in SLOW else core.built.bridge_s
                    line = self.lines[signal] = Line(bridge_s)
                line.take(now, core.car.values[signal])

    def foot(self) -> str:
        """The signal of the foot that came in most often."""
        return max(FEET, key=lambda signal: self.lines[signal].heard if signal in self.lines else 0)


def joined(buckets: list[Bucket], width_s: float) -> list[Bucket]:
    """The same in buckets of this width; the given ones stay as they are."""
    out: list[Bucket] = []
    for bucket in buckets:
        if out and int(out[-1].first[0] / width_s) == int(bucket.first[0] / width_s):
            out[-1].join(bucket)
        else:
            out.append(replace(bucket))
    return out


def _runs(bucket: Bucket) -> Iterator[tuple[Point, ...]]:
    """What may be joined inside a bucket: all of it, the two sides of its gap, or with more gaps every point alone."""
    points = bucket.points()
    if not bucket.gaps:
        yield points
    elif bucket.gaps == 1:
        yield tuple(point for point in points if point[0] <= bucket.gap[0])
        yield tuple(point for point in points if point[0] > bucket.gap[0])
    else:
        yield from ((point,) for point in points)


def _value(point: Point) -> float:
    return point[1]
