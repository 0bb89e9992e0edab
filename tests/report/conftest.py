"""A simulated repair that was filed, with hostile words of the user in it; made once for all that only read it."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from types import SimpleNamespace

import pytest

from coach.adapter.setup import _library
from coach.inspection.verdict import judge
from coach.jobs.store import Job, JobStore
from coach.session.filed import JobReport, file_job
from coach.simulator.cars import make_car
from coach.words.paper import Page
from coach.words.report import page_of
from coach.words.units import Units
from tests.inspection.makers import a_rule, vehicle
from tests.inspection.story import THURSDAY, cleared, drive, read

PART = "<script>alert('part')</script> & \"sensor\" `x` |*b*| <img src=x onerror=y>"
NOTE = "\u202egnp.exe\x1b[31m\x00 Заметка, שלום, 日本語 [a](javascript:b) https://a.invalid/ # 1. z"
MADE = "2026-11-21T09:00+01:00"


@dataclass(frozen=True)
class Filed:
    """The job, its folder of jobs, its report and its page."""

    jobs: Path
    job: Job
    report: JobReport
    page: Page


@pytest.fixture(scope="session")
def filed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Filed]:
    """P0135 read, repaired, cleared, driven and read again, by the story of the inspection's tests."""
    jobs = tmp_path_factory.mktemp("filed")
    car = make_car("small", faults=["open_sensor_heater"], cleared=False, fuel_pct=60.0)
    car.key_on()
    car.advance(car.clock_s + 3)
    job = JobStore(jobs).new(THURSDAY, ("P0135",), PART, NOTE, 88_412.0)
    read(car, job, "before", THURSDAY)
    car.key_on()
    car.advance(car.clock_s + 3)
    car.repair("open_sensor_heater")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(_library(), "time", SimpleNamespace(sleep=lambda _seconds: None))
        cleared(car, job)
    car.soak(10.6)
    drive(car, job, THURSDAY + timedelta(hours=12, minutes=40), ("oxygen_sensor_heater", "oxygen_sensor", "catalyst"))
    read(car, job, "between", THURSDAY + timedelta(hours=14))
    seen, drives, hashes = file_job(job)
    assert seen.evidence is not None
    judged = (judge(a_rule("us-il"), seen.evidence.findings, vehicle(2012)), None)
    report = JobReport(seen, MADE, (judged,), drives, hashes)
    yield Filed(jobs, job, report, page_of(report, Units()))
