"""Jumping through a recording: copies of the core every so many arrivals, bounded in number, and feeding on from there.

Pure: it holds arrivals and cores and looks at no clock. The same moment gives the same core, however it was reached.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from coach.car.arrivals import Arrival
from coach.car.happenings import Happening
from coach.drive.core import Core

EVERY = 400  # arrivals between two copies: some 20 ms of feeding; a copy takes a quarter of a millisecond (measured)
MOST = 512  # copies kept, some 20 kB each; beyond it every other one goes and the distance doubles
FEET = ("throttle_pct", "pedal_d_pct", "relative_throttle_pct", "relative_pedal_pct", "pedal_e_pct")
"""What tells of the foot; which of them came in closely differs from car to car."""
PLOTTED = ("speed_kmh", "coolant_c", "rpm", *FEET)
SAMPLE_S = 1.0  # the plots' finest step

Samples = list[tuple[float, float]]
"""(seconds, value), the oldest first."""


@dataclass(slots=True)
class Scrub:
    """A recording one can jump in. Build it with `built` or step by step with `building`."""

    arrivals: Sequence[Arrival]
    fresh: Core
    happenings: list[Happening] = field(default_factory=list)
    samples: dict[str, Samples] = field(default_factory=dict)
    every: int = EVERY
    end_t: float = 0.0
    done: int = 0
    _copies: list[tuple[int, Core]] = field(default_factory=list)
    _times: list[float] = field(default_factory=list)

    def building(self) -> Iterator[int]:
        """Walk through the recording once; gives how many arrivals were taken, now and then."""
        core = self.fresh.copy()
        self._times = _rising([arrival.t for arrival in self.arrivals])
        self.end_t = self._times[-1] if self._times else 0.0
        self._copies = [(0, core.copy())]
        for number, arrival in enumerate(self.arrivals):
            if number and number % self.every == 0:
                self._keep(number, core)
                self.done = number
                yield number
            self.happenings += core.feed(arrival)
            self._sample(core)
        self.happenings += core.finish(self.end_t)
        self.done = len(self.arrivals)
        yield self.done

    def _keep(self, number: int, core: Core) -> None:
        self._copies.append((number, core.copy()))
        if len(self._copies) > MOST:
            self._copies = self._copies[::2]
            self.every *= 2

    def _sample(self, core: Core) -> None:
        for signal in PLOTTED:
            heard_t = core.car.heard_t.get(signal)
            if heard_t is None or heard_t != core.now:
                continue
            samples = self.samples.setdefault(signal, [])
            if not samples or heard_t - samples[-1][0] >= SAMPLE_S:
                samples.append((heard_t, core.car.values[signal]))

    def foot(self) -> str:
        """The signal of the foot that came in most often."""
        return max(FEET, key=lambda signal: len(self.samples.get(signal, [])))

    # ------------------------------------------------------------ jumping

    def at(self, t: float) -> "Player":
        """The core as it was at `t`, to go on from: all arrivals up to and with `t` are fed."""
        wanted = bisect_right(self._times, t)
        place = bisect_right(self._copies, wanted, key=lambda kept: kept[0]) - 1
        number, kept = self._copies[max(0, place)]
        player = Player(self, kept.copy(), number)
        player.forward(t)
        return player

    def index(self, t: float) -> int:
        """How many arrivals there are up to and with `t`."""
        return bisect_right(self._times, t)

    def next_happening(self, t: float, kinds: tuple[type[Happening], ...]) -> Happening | None:
        """The first happening of these kinds after `t`."""
        return next((h for h in self.happenings if h.t > t and isinstance(h, kinds)), None)

    def previous_happening(self, t: float, kinds: tuple[type[Happening], ...]) -> Happening | None:
        """The last happening of these kinds before `t`."""
        return next((h for h in reversed(self.happenings) if h.t < t and isinstance(h, kinds)), None)

    def trail(self, t: float, span_s: float) -> Samples:
        """The speeds of the `span_s` before `t`, km/h."""
        samples = self.samples.get("speed_kmh", [])
        first = bisect_left(samples, (t - span_s, 0.0))
        return samples[first : bisect_right(samples, (t, float("inf")))]


@dataclass(slots=True)
class Player:
    """A core somewhere in a recording, and how many arrivals it has taken."""

    scrub: Scrub
    core: Core
    number: int

    def forward(self, t: float) -> tuple[Happening, ...]:
        """Feed what came in up to and with `t`; the happenings it brought."""
        until = self.scrub.index(t)
        happened: list[Happening] = []
        for arrival in self.scrub.arrivals[self.number : until]:
            happened += self.core.feed(arrival)
        self.number = max(self.number, until)
        return tuple(happened)


def built(arrivals: Sequence[Arrival], fresh: Core) -> Scrub:
    """A recording walked through to its end."""
    scrub = Scrub(arrivals, fresh)
    for _ in scrub.building():
        pass
    return scrub


def _rising(times: list[float]) -> list[float]:
    """Times for searching: a record from the past stands at the newest time before it."""
    newest = 0.0
    for at, t in enumerate(times):
        newest = max(newest, t)
        times[at] = newest
    return times
