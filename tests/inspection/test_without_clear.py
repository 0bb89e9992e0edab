"""The way without a clear, from the read-out with the fault to the MIL out: coached, three driving cycles, on the line.

Car, fault and driver are invented. Three driving cycles in which the monitor ran and found nothing put the MIL out:
40 CFR 86.1806-05(d)(1), 86.010-18(b)(3)(i); the simulated control unit follows the same paragraphs by its own code.
"""

from datetime import timedelta
from pathlib import Path

import pytest

from coach.car.happenings import MilChanged
from coach.drive.happenings import CleanCycleDriven, CoachingEnded, TargetReached
from coach.jobs.store import Job, JobStore
from coach.session.clean_cycles import counted
from coach.session.confirm import look_at
from coach.session.review import review
from coach.simulator.cars import make_car
from coach.simulator.simulated_car import SimulatedCar
from coach.words.before import after_lines, before_lines
from coach.words.jobs import job_document, job_page
from coach.words.units import Units
from tests.inspection.line import Driven, checked, driven
from tests.inspection.story import THURSDAY

pytestmark = pytest.mark.usefixtures("no_pauses")


def stored(folder: Path, fault: str, code: str, mended: bool) -> tuple[SimulatedCar, Job]:
    """The fault has been there for two driving cycles: stored, MIL on. Read out into a new job, then mended or not."""
    car = make_car("small", faults=[fault], cleared=False, fuel_pct=66.0, soaked_h=10.0)
    job = JobStore(folder).new(THURSDAY, (code,), "front oxygen sensor")
    told = checked(car, job, THURSDAY)
    assert (told.codes("stored"), told.mil_on()) == ((code,), True)
    if mended:
        car.repair(fault)
    return car, job


def cycle(car: SimulatedCar, job: Job, day: int) -> Driven:
    car.soak(10)
    return driven(car, job, THURSDAY + timedelta(days=day), clean=True, longest_s=2400.0)


def test_three_coached_cycles_without_the_fault_put_the_mil_out_and_the_count_is_right(tmp_path: Path) -> None:
    car, job = stored(tmp_path, "lazy_oxygen_sensor", "P0133", mended=True)
    for day in (1, 2, 3):
        before = counted(look_at(job))
        done = cycle(car, job, day)
        assert before == {"P0133": day - 1}
        told = [h for h in done.happened if isinstance(h, CleanCycleDriven)]
        assert [(h.codes, h.number, h.wanted) for h in told] == [(("P0133",), day, 3)]
        assert not any(isinstance(h, CoachingEnded) for h in done.happened)
        assert set(done.core.car.monitor_states().values()) <= {"complete", "unsupported"}  # readiness is kept
        assert (done.core.car.mil_on(), done.core.target_reached) == ((day < 3), day == 3)
    assert any(isinstance(h, MilChanged) and h.after is False for h in done.happened)
    assert [h.monitors for h in done.happened if isinstance(h, TargetReached)] == [("oxygen_sensor",)]
    assert counted(look_at(job)) == {}  # nothing is stored any more
    assert "The MIL is out and no code stands" in "\n".join(after_lines(done.core, Units()))


def test_what_was_coached_live_is_judged_the_same_from_the_recording(tmp_path: Path) -> None:
    car, job = stored(tmp_path, "lazy_oxygen_sensor", "P0133", mended=True)
    done = cycle(car, job, 1)
    _, path = job.again().files("drive")[-1]
    assert list(review(path).happenings) == done.happened


def test_before_the_drive_and_in_the_job_it_is_said_what_the_way_saves_and_costs(tmp_path: Path) -> None:
    car, job = stored(tmp_path, "lazy_oxygen_sensor", "P0133", mended=True)
    done = cycle(car, job, 1)
    seen = look_at(job)
    pages = job_page(seen, Units()).replace("\n    ", " "), "\n".join(before_lines(done.core, Units(), ""))
    assert "The way without a clear, P0133: 1 of 3 driving cycles without the fault" in pages[0]
    assert "The way without a clear, for P0133: three driving cycles without the fault" in pages[1]
    for page in pages:
        assert "It saves: readiness is kept" in page
        assert "It costs: three driving cycles, the key off after each" in page
    document = job_document(seen)
    assert document["clean_cycles"] == {"P0133": 1}
    assert document["next_steps"][0] == {"id": "clean_cycles", "codes": ["P0133"], "monitors": []}


def test_with_the_fault_still_there_no_cycle_is_counted_and_the_mil_stays_on(tmp_path: Path) -> None:
    car, job = stored(tmp_path, "lazy_oxygen_sensor", "P0133", mended=False)
    done = cycle(car, job, 1)
    assert counted(look_at(job)) == {"P0133": 0}
    assert not done.core.target_reached
    assert done.core.car.mil_on()
