"""How likely the next drive completes each monitor: Beta-binomial, always with its interval and its evidence.

Counted are drives of the regulated pattern: the car's own in-use counters, at most as many as they are worth, and the
job's drives. All parameters are whole numbers, so the Beta distribution is a binomial tail and needs no library.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import comb

from coach.j1979.vehicle_info import PAIR_MONITORS, InUse

CAR_WORTH = 20  # our judgement: another driver's years tell of the car, not of this drive; at most as good as 20 drives
SHARE = 0.9  # our judgement: an interval that holds the truth nine times in ten
STEPS = 60  # halvings of the interval 0 to 1: far below what is shown


@dataclass(frozen=True, slots=True)
class Forecast:
    """Chance that the next drive of the regulated pattern completes the monitor, 0 to 1, and its 90 % interval.

    `car_ran` in `car_drives`: in-use counters, none where the car has none. `job_ran` in `job_drives`: the job's own.
    """

    monitor: str
    chance: float
    low: float
    high: float
    car_ran: int | None
    car_drives: int | None
    job_ran: int
    job_drives: int


def beta_cdf(x: float, a: int, b: int) -> float:
    """P(Beta(a, b) <= x) for whole a, b >= 1: the chance of at least a successes in a + b - 1 trials."""
    n = a + b - 1
    return sum(comb(n, k) * x**k * (1.0 - x) ** (n - k) for k in range(a, n + 1))


def beta_quantile(share: float, a: int, b: int) -> float:
    """The x below which a share of Beta(a, b) lies, by halving."""
    low, high = 0.0, 1.0
    for _ in range(STEPS):
        middle = (low + high) / 2
        low, high = (middle, high) if beta_cdf(middle, a, b) < share else (low, middle)
    return (low + high) / 2


def chance_within(drives: int, a: int, b: int) -> float:
    """Chance of at least one completion in so many drives, Beta-binomial with whole parameters."""
    missed = 1.0
    for k in range(drives):
        missed *= (b + k) / (a + b + k)
    return 1.0 - missed


def forecast(monitor: str, in_use: InUse | None, job_ran: int, job_drives: int) -> Forecast | None:
    """One monitor's forecast; none without any evidence. A flat prior: before any drive every chance is as likely."""
    ran, drives = _worst_pair(monitor, in_use)
    if not drives and not job_drives:
        return None
    worth = min(CAR_WORTH, drives or 0)
    hits = round(worth * min(ran or 0, drives or 0) / drives) if drives else 0
    a, b = 1 + hits + job_ran, 1 + worth - hits + job_drives - job_ran
    tail = (1.0 - SHARE) / 2
    low, high = beta_quantile(tail, a, b), beta_quantile(1.0 - tail, a, b)
    return Forecast(monitor, a / (a + b), low, high, ran, drives, job_ran, job_drives)


def forecasts(
    monitors: tuple[str, ...], in_use: InUse | None, job: Mapping[str, tuple[int, int]]
) -> dict[str, Forecast | None]:
    """A forecast for each monitor; `job`: how often it ran in how many of the job's drives of the pattern."""
    return {monitor: forecast(monitor, in_use, *job.get(monitor, (0, 0))) for monitor in monitors}


def _worst_pair(monitor: str, in_use: InUse | None) -> tuple[int | None, int | None]:
    """Numerator and denominator of the pair with the lowest ratio; a numerator may exceed its denominator."""
    if in_use is None:
        return None, None
    pairs = [in_use.pairs[name] for name, of in PAIR_MONITORS.items() if of == monitor and name in in_use.pairs]
    driven = [(ran, drives) for ran, drives in pairs if drives]
    return min(driven, key=lambda pair: pair[0] / pair[1]) if driven else (None, None)
