"""A soak is proved by the last drive's own record or not at all. The journals are made by the simulated car."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from coach.car.car import Car
from coach.cli.check import keep, read_once
from coach.jobs.errors import JobError
from coach.jobs.store import JobStore
from coach.journal.errors import CannotWrite
from coach.journal.reader import open_journal
from coach.journal.writer import JournalWriter
from coach.session.for_job import for_job
from coach.session.live import Wanted, begin
from coach.session.remembered import PROOF, LastDrive, known_since, known_since_any, last_drive
from coach.simulator.cars import make_car
from coach.simulator.driver import Driver
from tests.recordings import ask
from tests.session.in_process import InProcessSource
from tests.session.test_drive import driven, session

ENDED = datetime.fromisoformat("2026-03-01T20:00:00+00:00")
NOW = ENDED + timedelta(hours=10)


def car_now(distance_km: float, count: int) -> Car:
    car = Car(can=True)
    car.values["distance_since_clear_km"] = distance_km
    car.ignition_counts["7E8"] = count
    return car


LAST = LastDrive(ENDED, 12.0, {"7E8": 100}, 64.0, starts=1)


def test_an_unmoved_distance_and_one_ignition_cycle_prove_the_night() -> None:
    assert known_since(LAST, car_now(12.0, 101), NOW) == {
        "soak_s": 36000.0,
        "soak_proof": PROOF,
        "fuel_before_pct": 64.0,
    }


def test_a_car_that_was_moved_or_started_meanwhile_proves_nothing() -> None:
    for car in (car_now(13.0, 101), car_now(12.0, 102), car_now(12.0, 100), Car(can=True)):
        assert "soak_s" not in known_since(LAST, car, NOW)
    assert known_since(None, car_now(12.0, 101), NOW) == {}
    assert "soak_s" not in known_since(LAST, car_now(12.0, 101), ENDED - timedelta(hours=1))


def test_each_start_is_counted_once_wherever_the_counters_were_read() -> None:
    parked = LastDrive(ENDED, 12.0, {"7E8": 100}, 64.0)  # read with the engine off and not started after, as by a clear
    assert known_since(parked, car_now(12.0, 100), NOW)["soak_s"] == 36000.0
    assert "soak_s" not in known_since(parked, car_now(12.0, 101), NOW)  # somebody let it idle meanwhile
    running = car_now(12.0, 101)
    running.cycle.running, running.values["run_time_s"] = True, 300.0
    assert known_since(parked, running, NOW)["soak_s"] == 35700.0  # started five minutes ago
    running.ignition_counts["7E8"] = 102
    assert "soak_s" not in known_since(parked, running, NOW)


def test_another_cars_later_drive_does_not_take_the_proof_away() -> None:
    other = LastDrive(ENDED + timedelta(hours=2), 90.0, {"7E8": 7}, 20.0)
    assert known_since_any((LAST, other, None), car_now(12.0, 101), NOW)["soak_s"] == 36000.0
    assert known_since_any((LAST, other), car_now(12.0, 103), NOW) == {"fuel_before_pct": 20.0}
    assert known_since_any((None,), car_now(12.0, 101), NOW) == {}


def test_the_end_of_a_journal_tells_its_counters(tmp_path: Path) -> None:
    path = tmp_path / "d.journal"
    drive, source = session(path, make_car("small"), "spark_engine_off_leak")
    driven(drive, source, 60.0)
    assert last_drive(path) is None  # a simulated drive in the tests has no wall clock
    lines = path.read_bytes().split(b"\n")
    lines[0] = (
        lines[0]
        .replace(b'"program":"test"', b'"program":"test","began":"2026-03-01T20:00:00+00:00"')
        .replace(b',"began":null', b"")
    )
    path.write_bytes(b"\n".join(lines))
    found = last_drive(path)
    assert found is not None and found.ended > ENDED
    assert found.distance_km is not None and found.ignition_counts["7E8"] > 0
    assert found.starts == 1  # the counters were read with the key on; the engine was started after it
    assert last_drive(tmp_path / "gone") is None
    path.write_bytes(path.read_bytes().replace(b"20:00:00+00:00", b"20:00:00"))
    assert last_drive(path) is None  # without a zone nobody knows how long ago that was


def test_a_drive_in_a_job_takes_the_night_and_the_repair_from_the_job(tmp_path: Path) -> None:
    now = datetime.now(UTC).astimezone()
    car, job = make_car("small"), JobStore(tmp_path).new(now, ("P0135",))
    car.key_on()
    evening = read_once(InProcessSource(car, Driver(car)), "live")
    assert evening is not None
    keep(replace(evening, began=(now - timedelta(hours=9)).isoformat()), job)
    car.soak(9)
    source = InProcessSource(car, Driver(car))
    drive, kept = begin(for_job(Wanted("", folder=tmp_path), job), print, source=source)  # type: ignore[arg-type]
    car.key_on()
    source.start()
    while drive.state != "driving":
        drive.step(1.0)
    drive.finish("done")
    assert kept.path is not None and kept.path.parent == job.folder
    reader = open_journal(kept.path)
    context = reader.context
    reader.close()
    assert context is not None and context.known is not None
    assert context.known["soak_s"] == pytest.approx(9 * 3600, abs=120)
    assert (context.known["soak_proof"], context.known["repaired"]) == (PROOF, {"P0135": "oxygen_sensor_heater"})
    assert [one.state for one in job.again().ledger()] == ["whole", "whole"]  # read-out and drive, each at its end


def test_a_drive_whose_journal_cannot_be_begun_leaves_no_gap_in_its_job(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    car, job = make_car("small"), JobStore(tmp_path).new(datetime.now(UTC), ("P0135",))

    def full(*_arguments: object, **_named: object) -> JournalWriter:
        raise CannotWrite("the disk is full")

    monkeypatch.setattr("coach.session.live.JournalWriter", full)
    source = InProcessSource(car, Driver(car))
    drive, _kept = begin(for_job(Wanted("", folder=tmp_path), job), print, source=source)  # type: ignore[arg-type]
    car.key_on()
    source.start()
    with pytest.raises(CannotWrite):
        while drive.state != "driving":
            drive.step(1.0)
    assert [(one.state, one.lost) for one in job.again().ledger()] == [("empty", False)]


def test_a_drive_of_a_job_is_for_what_the_jobs_own_rule_wants_unless_something_else_is_asked_for(
    tmp_path: Path,
) -> None:
    job = JobStore(tmp_path).new(datetime.now(UTC), ("P0135",))
    job.told(rule="us-federal", model_year=2012, fuel="gasoline")
    car = Car(can=True)
    for arrival in ask(1.0, 1, "0101", ("7E8", "410100076565")):
        car.fold(arrival, [])
    by_rule = for_job(Wanted(""), job).target(car)
    assert by_rule is not None and "oxygen_sensor_heater" in by_rule  # the repaired code's own is never let go
    assert "evaporative_system" not in by_rule  # 40 CFR 85.2222(c)(2): one may be incomplete
    assert for_job(Wanted("", target=lambda _car: ("catalyst",)), job).target(car) == ("catalyst",)
    job.told(rule=str(tmp_path / "gone.toml"))
    with pytest.raises(JobError, match="name another with --rules"):
        for_job(Wanted(""), job)
