"""A whole session over the simulated car: live equals its own journal, read again; nothing said that no ECU reported.

The cars are the product's own inventions; what is checked is the product against the control units' own words.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from coach.car.arrivals import Arrival, Choice
from coach.car.car import Car
from coach.car.happenings import Happening, MonitorChanged, NoteMade
from coach.drive.current import current_phase
from coach.drive.happenings import HoldPaused, PhaseDriven
from coach.journal.errors import CannotWrite
from coach.journal.reader import open_journal
from coach.journal.records import Context, Header
from coach.journal.writer import JournalWriter
from coach.session.drive import UNRECORDED, Beginning, Drive
from coach.session.live import a_profile
from coach.session.review import review
from coach.session.steering import cue_for
from coach.simulator.cars import make_car
from coach.simulator.driver import Driver
from coach.simulator.simulated_car import SimulatedCar
from coach.words.announce import Announcer
from coach.words.units import Units
from tests.session.in_process import InProcessSource, Misfortune

KNOWN = {"soak_s": 36000.0, "soak_proof": "the simulated car stood for the night"}


def session(
    path: Path, car: SimulatedCar, profile: str | None, misfortune: Misfortune | None = None, seed: int = 1
) -> tuple[Drive, InProcessSource]:
    source = InProcessSource(car, Driver(car, seed), misfortune=misfortune or Misfortune(), seed=seed)

    def record(header: Header, context: Context) -> JournalWriter:
        return JournalWriter(path, header, context)

    beginning = Beginning("simulated", "test", None, a_profile, record, profile, "spark_engine_off_leak", known=KNOWN)
    return Drive(source, beginning), source


def driven(
    drive: Drive, source: InProcessSource, longest_s: float, stop: Callable[[Drive], bool] | None = None
) -> list[Happening]:
    """Read out, then follow the coach until nothing is left or the time is up."""
    source.car.key_on()
    source.start()
    happened: list[Happening] = []
    while source.now() < longest_s:
        happened += drive.step(1.0)
        core = drive.core
        if core is None or drive.state != "driving":
            continue
        plan = core.plan()
        if (not plan.drive and not plan.waiting) or core.stop.ended is not None:
            break
        source.driver.follow(cue_for(core, current_phase(core, plan), bool(plan.waiting)))
    happened += drive.finish("done")
    return happened


@pytest.mark.parametrize(
    ("name", "profile"),
    [("small", "spark_engine_off_leak"), ("estate", "spark_running_leak"), ("diesel", "light_diesel")],
)
def test_what_happened_live_happens_again_from_the_journal(tmp_path: Path, name: str, profile: str) -> None:
    path = tmp_path / "drive.journal"
    drive, source = session(path, make_car(name), profile, Misfortune(lost=0.01, spoiled=0.005, away_every_s=300.0))
    live = driven(drive, source, 700.0)
    assert any(isinstance(h, PhaseDriven | HoldPaused) for h in live)
    again = review(path)
    assert list(again.happenings) == live
    assert again.header.source == "simulated"


def test_a_disk_that_fills_up_ends_the_recording_and_not_the_coaching(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path, written, write = tmp_path / "drive.journal", [0], JournalWriter.write

    def filling(self: JournalWriter, arrival: Arrival) -> None:
        written[0] += 1
        if written[0] > 300:
            raise CannotWrite("No space left on device")
        write(self, arrival)

    monkeypatch.setattr(JournalWriter, "write", filling)
    drive, source = session(path, make_car("small"), "spark_engine_off_leak")
    live = driven(drive, source, 200.0)
    assert drive.core is not None
    assert drive.unrecorded == "No space left on device"
    assert [h.text for h in live if isinstance(h, NoteMade)] == [UNRECORDED]
    said = [entry.text for entry in Announcer(drive.core, Units()).take(tuple(live)) if entry.cue == "NoteMade"]
    assert said == [f"Note: {UNRECORDED}"]
    assert drive.core.now > 150.0
    assert len(list(open_journal(path).arrivals())) == 300


def test_the_car_itself_proposes_its_profile(tmp_path: Path) -> None:
    for name, expected in (
        ("small", "spark_engine_off_leak"),
        ("estate", "spark_running_leak"),
        ("diesel", "light_diesel"),
        ("hybrid", "hybrid"),
    ):
        drive, source = session(tmp_path / f"{name}.journal", make_car(name), None)
        driven(drive, source, 30.0)
        assert drive.core is not None
        assert drive.core.built.profile.id == expected, name


@pytest.mark.parametrize("seed", range(6))
def test_under_random_trouble_nothing_is_said_that_no_control_unit_reports(tmp_path: Path, seed: int) -> None:
    faults = [
        ("lazy_oxygen_sensor",),
        ("misfire",),
        ("stuck_open_thermostat",),
        ("leaking_filler_cap",),
        (),
        ("weak_battery",),
    ]
    car = make_car(("small", "estate", "hatch")[seed % 3], faults=faults[seed], seed=seed)
    trouble = Misfortune(lost=0.05, spoiled=0.03, away_every_s=120.0, away_s=30.0)
    drive, source = session(tmp_path / "d.journal", car, None, trouble, seed)
    happened = driven(drive, source, 600.0)
    assert drive.core is not None
    said = {m for m, state in drive.core.monitor_states().items() if state == "complete"}
    assert said <= complete_by_the_car(car)
    assert all(h.after in ("complete", "incomplete", "unsupported") for h in happened if isinstance(h, MonitorChanged))


def complete_by_the_car(car: SimulatedCar) -> set[str]:
    """What every control unit that has a monitor calls complete, asked directly, without any trouble."""
    from coach.j1979.readiness import decode_readiness

    car.key_on()
    told = [decode_readiness(reply.payload[2:]) for reply in car.ask(b"\x01\x01") if reply.payload[0] == 0x41]
    supported = set().union(*(readiness.supported for readiness in told))
    return {m for m in supported if all(m in r.complete for r in told if m in r.supported)}


def test_what_only_the_whole_read_out_tells_of_the_rule_comes_in_as_a_choice_and_is_judged_again(
    tmp_path: Path,
) -> None:
    """The counters since the clear are not among the first questions, and an exception of a rule may look at them."""
    path = tmp_path / "drive.journal"

    def rule(car: Car) -> dict[str, Any]:
        told = "warm_ups_since_clear" in car.values
        return {"id": "of-the-test", "name": "A rule", "refuses": [] if told else ["rule_unsure"]}

    def target(car: Car) -> tuple[str, ...]:
        return ("catalyst",) if "warm_ups_since_clear" in car.values else ("catalyst", "evaporative_system")

    car = make_car("small")
    source = InProcessSource(car, Driver(car, 1))

    def record(header: Header, context: Context) -> JournalWriter:
        return JournalWriter(path, header, context)

    drive = Drive(source, Beginning("simulated", "test", None, a_profile, record, target=target, rule=rule))
    live = driven(drive, source, 60.0)
    assert drive.core is not None
    assert drive.core.wanted.target == ("catalyst",)
    assert drive.core.wanted.rule is not None
    assert drive.core.wanted.rule.refuses == frozenset()
    reader = open_journal(path)
    told = [a.choice for a in reader.arrivals() if isinstance(a, Choice)]
    assert told == [{"target": ["catalyst"], "rule": {"id": "of-the-test", "name": "A rule", "refuses": []}}]
    assert reader.context is not None
    assert reader.context.target == ["catalyst", "evaporative_system"]
    assert list(review(path).happenings) == live
