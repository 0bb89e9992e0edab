"""Real drives cut into pieces, put together again in any way, thinned, with or without witnesses, and what was true.

Drives: DOI 10.35097/1130. The oracle counts from the whole files by itself and shares nothing with the program. What a
piece is followed by is invented: the recorder paused in the same driving cycle, or the key was off and a new one began.
"""

import random
from bisect import bisect_left
from dataclasses import dataclass, field
from functools import cache
from itertools import pairwise

from coach.car.arrivals import Arrival, ClockStep, Reading
from coach.car.car import Car
from coach.car.happenings import Happening
from tests.recordings import DRIVES, arrivals_of

NAMES = ("2017-07-06_ka_rt_normal", "2017-08-02_rt_s_normal", "2018-02-27_ka_ka_normal")
FAST_KMH, IDLE_KMH, COLD_C = 40.2336, 1.609344, -7.0
REST_PCT = 14.1 + 1.6  # the pedal of this car at rest, and three steps of it, read off the files


@dataclass(frozen=True)
class Truth:
    """A whole drive at its full rate. `steps`: from, to, engine runs, fast, stands, foot off, mild enough, km."""

    readings: tuple[Reading, ...]
    times: tuple[float, ...]
    steps: tuple[tuple[float, float, bool, bool, bool, bool, bool, float], ...]
    coolant: tuple[tuple[float, float], ...]

    @property
    def end_t(self) -> float:
        return self.times[-1]


@dataclass
class Counted:
    """What the oracle finds in one stretch, in seconds and kilometres."""

    running_s: float = 0.0
    fast_s: float = 0.0
    idle_s: float = 0.0
    bare_idle_s: float = 0.0
    km: float = 0.0
    cold_running_s: float = 0.0

    def met(self, spare: float, foot: bool) -> bool:
        """Whether it meets the pattern, with a little to spare on either side."""
        idle_s = self.idle_s if foot else self.bare_idle_s
        return self.running_s >= 600 + 5 * spare and self.fast_s >= 300 + 10 * spare and idle_s >= 30 + spare


@cache
def truth(name: str) -> Truth:
    """The drive, read once."""
    readings = tuple(a for a in arrivals_of(DRIVES / f"{name}.csv.gz") if isinstance(a, Reading))
    now: dict[str, float] = {}
    speeds: list[tuple[float, float, bool, bool, float]] = []
    for reading in readings:
        now[reading.signal] = reading.value
        if reading.signal == "speed_kmh" and "rpm" in now:
            foot_off = now.get("pedal_d_pct", 0.0) <= REST_PCT and now.get("pedal_e_pct", 0.0) <= REST_PCT
            speeds.append((reading.t, reading.value, now["rpm"] >= 400, foot_off, now.get("ambient_c", 20.0)))
    steps = tuple(
        (
            *(a[0], b[0], a[2] and b[2], min(a[1], b[1]) >= FAST_KMH, max(a[1], b[1]) <= IDLE_KMH),
            *(a[3] and b[3], b[4] >= COLD_C, (a[1] + b[1]) / 7200 * (b[0] - a[0])),
        )
        for a, b in pairwise(speeds)
    )
    coolant = tuple((r.t, r.value) for r in readings if r.signal == "coolant_c")
    return Truth(readings, tuple(r.t for r in readings), steps, coolant)


def count(drive: Truth, from_t: float, to_t: float) -> Counted:
    """What the oracle counts between two moments."""
    found, idle_s, bare_s = Counted(), 0.0, 0.0
    for a, b, runs, fast, stands, foot_off, warm, km in drive.steps:
        if a < from_t or b > to_t or b - a > 6.0:  # the file itself has a gap
            continue
        found.km += km
        found.cold_running_s += (b - a) * runs
        counts = runs and warm
        found.running_s += (b - a) * counts
        found.fast_s += (b - a) * (counts and fast)
        bare_s = bare_s + b - a if counts and stands else 0.0
        idle_s = idle_s + b - a if counts and stands and foot_off else 0.0
        found.idle_s, found.bare_idle_s = max(found.idle_s, idle_s), max(found.bare_idle_s, bare_s)
    return found


@dataclass
class Piece:
    """A stretch of one drive, where it stands on the recording's clock, and what was before it."""

    drive: Truth
    from_t: float
    to_t: float
    at_t: float
    before: str

    @property
    def end_t(self) -> float:
        return self.at_t + self.to_t - self.from_t


@dataclass
class TrueCycle:
    """A driving cycle as it really was: its pieces, its engine start and the coolant then."""

    pieces: list[Piece] = field(default_factory=list)
    started_t: float = 0.0
    start_c: float = 0.0

    def counted(self) -> Counted:
        """All of it from its first recorded moment to its last, the pauses between included."""
        return count(self.pieces[0].drive, self.pieces[0].from_t, self.pieces[-1].to_t)

    def warmed(self, seen: bool) -> bool:
        """Whether it was a warm-up cycle by its last recorded moment; `seen`: by what is recorded alone."""
        drive, since_t = self.pieces[0].drive, self.pieces[0].from_t
        spans = [(p.from_t, p.to_t) for p in self.pieces] if seen else [(since_t, self.pieces[-1].to_t)]
        hot = [c for t, c in drive.coolant for a, b in spans if a <= t <= b]
        return bool(hot) and max(hot) >= max(71.0, self.start_c + 22.0)


@dataclass
class Recording:
    """What a recorder made of it, and the cycles that were driven."""

    arrivals: list[Arrival]
    cycles: list[TrueCycle]
    pieces: list[Piece]
    thinned: bool
    witness: bool


def make(seed: int) -> Recording:
    """Any cuts, any joins, any thinning; the same for the same seed."""
    rng = random.Random(seed)
    pieces, cycles = _pieces(rng)
    witness, keep = rng.random() < 0.4, rng.choice((1.0, 1.0, 0.5, 0.25, 0.12))
    arrivals: list[Arrival] = []
    for piece, cycle in ((piece, one) for one in cycles for piece in one.pieces):
        if piece.before == "clock":
            arrivals.append(ClockStep(piece.at_t, rng.uniform(100, 4000)))
        arrivals += _readings(piece, cycle, witness, keep, rng)
    return Recording(arrivals, cycles, pieces, keep < 1, witness)


def _pieces(rng: random.Random) -> tuple[list[Piece], list[TrueCycle]]:
    drive = truth(rng.choice(NAMES))
    pieces: list[Piece] = []
    cycles: list[TrueCycle] = []
    at_t, from_t, before = 0.0, _cut(rng, drive, 0.0), "start"
    for _ in range(rng.choice((1, 2, 2, 3, 4))):
        if drive.end_t - from_t < 60:
            break
        to_t = min(drive.end_t, from_t + rng.choice((90, 300, 700, 1200, 4000)) * rng.uniform(0.5, 1.5))
        piece = Piece(drive, from_t, to_t, at_t, before)
        pieces.append(piece)
        if before in ("off", "clock", "start"):
            begun_t = drive.times[0] if before == "start" else from_t  # the first was under way, the others start here
            cycles.append(TrueCycle(started_t=begun_t, start_c=_coolant_at(drive, begun_t)))
        cycles[-1].pieces.append(piece)
        before = rng.choice(("paused", "paused", "off", "off", "clock"))
        if before == "paused":
            from_t = to_t + rng.choice((8, 30, 200)) * rng.uniform(0.8, 1.5)
            at_t = piece.end_t + from_t - to_t
        else:
            drive = truth(rng.choice(NAMES))
            from_t = _cut(rng, drive, 0.0)
            at_t = piece.end_t + (0.0 if before == "clock" else rng.choice((70, 700, 9000)) * rng.uniform(0.9, 1.5))
    return pieces, cycles


def _cut(rng: random.Random, drive: Truth, from_t: float) -> float:
    """Anywhere, or where the car stands, as recorders are paused."""
    anywhere = rng.uniform(from_t, drive.end_t * 0.8)
    standing = [step[0] for step in drive.steps if step[4] and from_t <= step[0] <= drive.end_t * 0.8]
    return rng.choice((from_t, anywhere, rng.choice(standing)))


def _coolant_at(drive: Truth, t: float) -> float:
    at = bisect_left(drive.coolant, (t, 0.0))
    return drive.coolant[min(at, len(drive.coolant) - 1)][1]


def _readings(piece: Piece, cycle: TrueCycle, witness: bool, keep: float, rng: random.Random) -> list[Arrival]:
    drive, shift_t = piece.drive, piece.at_t - piece.from_t
    low, high = bisect_left(drive.times, piece.from_t), bisect_left(drive.times, piece.to_t)
    told: list[Arrival] = []
    next_t = 0.0
    for reading in drive.readings[low:high]:
        if keep < 1 and rng.random() > keep:
            continue
        t = round(reading.t + shift_t, 3)
        if witness and t >= next_t:
            told.append(Reading(t, "run_time_s", float(int(reading.t - cycle.started_t))))
            next_t = t + 5.0
        told.append(Reading(t, reading.signal, reading.value))
    return told


def folded(arrivals: list[Arrival]) -> tuple[Car, list[Happening]]:
    """A car that has seen all of it, and what happened."""
    car, out = Car(), list[Happening]()
    for arrival in arrivals:
        car.expire(arrival.t, out)
        car.fold(arrival, out)
    return car, out
