"""What is told of the pattern and of the warm-up cycle beside what the simulated car itself has counted.

The car counts by 40 CFR 86.010-18(d)(4)(ii) and the UN warm-up cycle, at every step of its own; the hybrid counts the
time its drive is active. Some answers are lost and the link is away now and then.
"""

from pathlib import Path

import pytest

from coach.car.driven import pattern_met
from coach.car.happenings import CycleBegan, GeneralDenominatorMet, WarmUpCycleCompleted
from coach.simulator.cars import make_car
from tests.session.in_process import Misfortune
from tests.session.test_drive import driven, session

DRIVES = (
    ("small", Misfortune(), 1100.0),
    ("estate", Misfortune(lost=0.05, away_every_s=200.0, away_s=20.0), 1100.0),
    ("hybrid", Misfortune(lost=0.05, spoiled=0.02, away_every_s=60.0, away_s=26.0), 900.0),
    ("small", Misfortune(away_every_s=400.0), 500.0),
)


@pytest.mark.parametrize(("name", "misfortune", "seconds"), DRIVES)
def test_no_more_is_told_than_the_car_itself_has_counted(
    name: str, misfortune: Misfortune, seconds: float, tmp_path: Path
) -> None:
    car = make_car(name, seed=3, soaked_h=10)
    before = [(ecu.counters.general_denominator, ecu.since_clear.warm_ups) for ecu in car.ecus]
    drive, source = session(tmp_path / "d.journal", car, None, misfortune, 3)
    happened = driven(drive, source, seconds)
    assert drive.core is not None
    now = [(ecu.counters.general_denominator, ecu.since_clear.warm_ups) for ecu in car.ecus]
    met = max(b[0] - a[0] for a, b in zip(before, now, strict=True))
    warm = max(b[1] - a[1] for a, b in zip(before, now, strict=True))
    assert len([h for h in happened if isinstance(h, GeneralDenominatorMet)]) <= met
    assert len([h for h in happened if isinstance(h, WarmUpCycleCompleted)]) <= warm
    assert not [h for h in happened if isinstance(h, CycleBegan)]
    (cycle,) = drive.core.car.cycles()
    assert pattern_met(cycle.pattern) in ((True, None) if met else (False, None))
    assert cycle.warm_up in ((True, None) if warm else (False, None))
    if misfortune == Misfortune():
        assert (pattern_met(cycle.pattern), cycle.warm_up) == (bool(met), bool(warm))
