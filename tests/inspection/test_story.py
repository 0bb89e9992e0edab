"""The story from first read-out to sign-off, with the simulated car: repaired, and not really repaired."""

import gzip
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

import coach.session.clear as session_clear
from coach.adapter.link import Link
from coach.car.arrivals import Arrival, Reading, Request
from coach.inspection.needs import target
from coach.inspection.verdict import judge
from coach.jobs.store import JobStore
from coach.journal.errors import CannotWrite
from coach.journal.writer import JournalWriter
from coach.library import shipped
from coach.session.confirm import look_at
from coach.session.rules import a_rule, vehicle_of
from coach.simulator.cars import make_car
from coach.simulator.simulated_car import SimulatedCar
from coach.words.clearing import cleared_page
from tests.inspection.makers import vehicle
from tests.inspection.story import THURSDAY, cleared, drive, read

FRIDAY = THURSDAY + timedelta(hours=12, minutes=40)


def a_car() -> SimulatedCar:
    """P0135 stored, MIL on, a permanent copy; the key is on, the engine off."""
    car = make_car("small", faults=["open_sensor_heater"], cleared=False, fuel_pct=60.0)
    car.key_on()
    car.advance(car.clock_s + 3)
    return car


pytestmark = pytest.mark.usefixtures("no_pauses")


def test_the_repaired_car_is_cleared_driven_accepted_and_confirmed(tmp_path: Path) -> None:
    car = a_car()
    job = JobStore(tmp_path).new(THURSDAY, ("P0135",), "front oxygen sensor")
    read(car, job, "before", THURSDAY)
    first = look_at(job).evidence
    assert first is not None
    assert judge(a_rule("us-federal"), first.findings, vehicle(2012)).outcome == "not_ready"
    latest = look_at(job).latest
    assert latest is not None
    known, told = vehicle_of(latest.car, "2026-11-20")  # its invented VIN is of no place where it would prove a year
    assert (known.fuel, known.model_year, told.vin.likely) == ("gasoline", None, 2025)
    assert vehicle_of(latest.car, "2026-11-20", year=2012)[0].model_year == 2012
    latest.car.fold(Reading(99.0, "odometer_km", 88_412.0), [])
    assert vehicle_of(latest.car, "2026-11-20")[0].odometer_km == 88_412.0
    assert vehicle_of(latest.car, "2026-11-20", odometer_km=90_000.0)[0].odometer_km == 90_000.0
    car.key_on()
    car.advance(car.clock_s + 3)
    car.repair("open_sensor_heater")

    done = cleared(car, job)
    assert done.state == "cleared"
    assert {ecu.address: ecu.done for ecu in done.ecus} == {"7E8": True, "7E9": True}
    assert done.permanent == ("P0135",)
    assert done.loss is not None
    assert (done.loss.stored, done.loss.frozen_by, done.loss.permanent) == (("P0135",), ("P0135",), ("P0135",))

    evening = look_at(job)
    assert evening.confirmations[0].outcome == "not_yet"
    assert {one.id for one in evening.confirmations[0].missing} >= {"monitor_incomplete", "permanent_stands"}
    assert evening.evidence is not None
    accepted = target(a_rule("us-il"), evening.evidence.findings, vehicle(2012), job.record.codes)
    assert "oxygen_sensor_heater" in accepted
    assert "evaporative_system" not in accepted

    car.soak(10.6)
    drive(car, job, FRIDAY, accepted)
    morning = look_at(job)
    assert morning.evidence is not None
    found = morning.evidence.findings
    assert found.permanent.clean is True
    told = morning.confirmations[0]
    assert (told.outcome, told.missing) == ("confirmed", ())
    assert [test.mid for test in told.tests] == [0x41]
    assert told.tests[0].passed is True
    assert found.in_state("incomplete", continuous=False) == ("evaporative_system",)
    outcomes = {rule: judge(a_rule(rule), found, vehicle(2012)).outcome for rule in ("us-federal", "us-il", "us-tx")}
    assert outcomes == {"us-federal": "ready", "us-il": "ready", "us-tx": "cannot_say"}
    assert morning.job_ran["oxygen_sensor_heater"] == (1, 1)


def test_the_car_that_was_not_really_repaired_is_never_confirmed(tmp_path: Path) -> None:
    car = a_car()
    job = JobStore(tmp_path).new(THURSDAY, ("P0135",), "front oxygen sensor")
    assert cleared(car, job).state == "cleared"
    car.soak(10.6)
    drive(car, job, FRIDAY, ("oxygen_sensor_heater",))
    told = look_at(job).confirmations[0]
    assert told.outcome == "came_back"
    assert told.since is not None
    assert (told.since.kind, told.since.began) == ("pending", FRIDAY.isoformat())


def test_a_misfire_that_returns_in_the_first_drive_is_told_with_its_time(tmp_path: Path) -> None:
    job = JobStore(tmp_path).new(THURSDAY, ("P0301",), "ignition coil")
    path = job.new_file("drive", FRIDAY)
    path.write_bytes(gzip.decompress((shipped("replays") / "misfire_comes_back.journal.gz").read_bytes()))
    told = look_at(job).confirmations[0]
    assert told.outcome == "came_back"
    assert told.since is not None
    assert (told.since.kind, 60 < told.since.t < 240) == ("pending", True)


def test_with_the_word_not_typed_or_the_engine_running_nothing_is_sent(tmp_path: Path) -> None:
    car = a_car()
    job = JobStore(tmp_path).new(THURSDAY, ("P0135",))
    assert cleared(car, job, typed="yes").state == "left"
    car.start()
    car.advance(car.clock_s + 5)
    asked: list[object] = []
    done = cleared(car, job, seen=asked.append)
    assert (done.state, [hurdle.id for hurdle in done.hurdles], asked) == ("refused", ["engine_running"], [])
    assert "P0135" in car.ecus[0].memory.stored
    assert [entry.kind for entry, _ in job.files()] == ["before", "before"]


def test_a_flat_battery_keeps_the_clear_back(tmp_path: Path) -> None:
    car = make_car("small", faults=["weak_battery"], cleared=False)
    car.key_on()
    car.advance(car.clock_s + 5)
    done = cleared(car, JobStore(tmp_path).new(THURSDAY))
    assert [hurdle.id for hurdle in done.hurdles] == ["battery_low"]


def test_a_component_is_confirmed_by_a_finished_cycle_whose_pending_codes_were_read_after_it(tmp_path: Path) -> None:
    car = make_car("small", faults=["stuck_open_thermostat"], cleared=False, fuel_pct=60.0)
    car.key_on()
    car.advance(car.clock_s + 3)
    car.repair("stuck_open_thermostat")
    job = JobStore(tmp_path).new(THURSDAY, ("P0128",), "thermostat")
    assert cleared(car, job).state == "cleared"
    evening = look_at(job).confirmations[0]
    assert "no_cycle" in {one.id for one in evening.missing}
    car.soak(10.6)
    drive(car, job, FRIDAY, ("oxygen_sensor_heater", "oxygen_sensor", "catalyst"))
    seen = look_at(job)
    told = seen.confirmations[0]
    assert (told.outcome, told.missing) == ("confirmed", ())
    assert seen.drives[0].driven.running_s > 600


def test_a_thermostat_is_not_confirmed_by_a_drive_that_began_warm(tmp_path: Path) -> None:
    car = make_car("small", faults=["stuck_open_thermostat"], cleared=False, fuel_pct=60.0, soaked_h=0.1)
    car.key_on()
    car.advance(car.clock_s + 3)
    car.repair("stuck_open_thermostat")
    job = JobStore(tmp_path).new(THURSDAY, ("P0128", "P0117"), "thermostat")
    assert cleared(car, job).state == "cleared"
    drive(car, job, FRIDAY, ("oxygen_sensor_heater", "oxygen_sensor", "catalyst"))
    seen = look_at(job)
    start_c = seen.drives[0].shown.start_coolant_c
    assert start_c is not None and start_c > 60
    thermostat, wiring = ({one.id for one in told.missing} for told in seen.confirmations)
    assert seen.confirmations[0].outcome == "not_yet"
    assert "needs_warm_up" in thermostat - wiring  # the sensor's wiring needs no cold engine


def test_a_disk_that_fills_up_at_the_command_does_not_hide_what_it_did(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    car, job = a_car(), JobStore(tmp_path).new(THURSDAY, ("P0135",))
    write, full = JournalWriter.write, []

    def filling(self: JournalWriter, arrival: Arrival) -> None:
        full.append(isinstance(arrival, Request) and arrival.text == "04")
        if any(full):
            raise CannotWrite("No space left on device")
        write(self, arrival)

    monkeypatch.setattr(JournalWriter, "write", filling)
    done = cleared(car, job)
    assert (done.state, done.unrecorded) == ("cleared", "No space left on device")
    assert "P0135" not in car.ecus[0].memory.stored
    assert "could not be recorded to its end: No space left" in cleared_page(done)


def test_a_stop_by_the_user_after_the_command_says_that_nobody_knows(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    car, job = a_car(), JobStore(tmp_path).new(THURSDAY, ("P0135",))

    def stopped(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(session_clear, "_verify", stopped)
    assert cleared(car, job).state == "cannot_say"


def test_a_stop_while_the_port_closes_does_not_hide_what_the_command_did(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    close = Link.close

    def stopped(link: Link) -> None:
        close(link)
        raise KeyboardInterrupt

    monkeypatch.setattr(Link, "close", stopped)
    assert cleared(a_car(), JobStore(tmp_path).new(THURSDAY, ("P0135",))).state == "cleared"


@pytest.mark.parametrize(("when", "state"), [("before", "refused"), ("after", "cannot_say")])
def test_only_the_car_that_was_read_out_is_cleared_and_only_its_words_show_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, when: str, state: str
) -> None:
    car = a_car()
    car.key_on()
    car.advance(car.clock_s + 3)
    job = JobStore(tmp_path).new(THURSDAY, ("P0135",), "front oxygen sensor")

    def another(*_: object) -> None:
        car.body.vin = "ZZZAS0000N0000009"

    look = session_clear._verify

    def swapped(*how: Any) -> Any:
        another()
        return look(*how)

    if when == "after":
        monkeypatch.setattr(session_clear, "_verify", swapped)
    done = cleared(car, job, seen=another if when == "before" else lambda _: None)
    assert done.state == state
    assert [one.id for one in done.hurdles] == (["another_car"] if when == "before" else [])
