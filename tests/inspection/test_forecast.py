"""The forecast against a reference library: values of scipy 1.17.1, scipy.stats.beta and betabinom."""

import pytest

from coach.inspection.forecast import beta_cdf, beta_quantile, chance_within, forecast
from coach.j1979.vehicle_info import InUse

# a, b: ppf(0.05), ppf(0.95), cdf(0.5), 1 - betabinom.pmf(0, 3, a, b)
SCIPY = (
    (1, 1, 0.05, 0.95, 0.5, 0.75),
    (3, 5, 0.128756393, 0.658738564, 0.7734375, 0.708333333333),
    (19, 3, 0.729448301, 0.959900464, 0.000110626221, 0.995059288538),
    (22, 2, 0.809796033, 0.984325929, 2.861023e-06, 0.998461538462),
    (2, 9, 0.036771438, 0.394163302, 0.9892578125, 0.423076923077),
)


@pytest.mark.parametrize(("a", "b", "low", "high", "half", "three"), SCIPY)
def test_the_beta_distribution_agrees_with_the_reference_library(
    a: int, b: int, low: float, high: float, half: float, three: float
) -> None:
    assert beta_quantile(0.05, a, b) == pytest.approx(low, abs=1e-8)
    assert beta_quantile(0.95, a, b) == pytest.approx(high, abs=1e-8)
    assert beta_cdf(0.5, a, b) == pytest.approx(half, abs=1e-11)
    assert chance_within(3, a, b) == pytest.approx(three, abs=1e-11)


def in_use(**pairs: tuple[int, int]) -> InUse:
    return InUse(516, 1717, pairs, 0)


def test_no_evidence_is_no_number() -> None:
    assert forecast("catalyst", None, 0, 0) is None
    assert forecast("catalyst", in_use(CAT1=(0, 0)), 0, 0) is None  # not equipped: both zero
    assert forecast("oxygen_sensor_heater", in_use(CAT1=(572, 516)), 0, 0) is None  # no pair counts it


def test_the_lowest_pair_speaks_and_a_numerator_above_its_denominator_is_every_time() -> None:
    # a real car's counters (reference standards.md section 3): CAT 572 of 516, EVAP 181 of 70
    told = forecast("catalyst", in_use(CAT1=(572, 516), CAT2=(40, 400)), 0, 0)
    assert told is not None
    assert (told.car_ran, told.car_drives) == (40, 400)
    always = forecast("evaporative_system", in_use(EVAP=(181, 70)), 0, 0)
    assert always is not None
    assert always.chance == pytest.approx(21 / 22)
    assert always.low < always.chance < always.high < 1.0


def test_the_jobs_own_drives_move_the_chance_and_many_years_count_as_twenty_drives() -> None:
    before = forecast("catalyst", in_use(CAT1=(900, 1000)), 0, 0)
    after = forecast("catalyst", in_use(CAT1=(900, 1000)), 0, 3)
    alone = forecast("catalyst", None, 1, 2)
    assert before is not None and after is not None and alone is not None
    assert before.chance == pytest.approx(19 / 22)
    assert after.chance == pytest.approx(19 / 25)
    assert (alone.chance, alone.job_ran, alone.job_drives) == (0.5, 1, 2)
    assert alone.high - alone.low > before.high - before.low
