"""The plan puts the repaired system's monitor first where that costs no driving time, and says which phase confirms it.

Which monitor a code belongs to: coach/inspection/codes.py with its sources. Order and times: the shipped profiles.
"""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from coach.drive.core import Core
from coach.jobs.store import JobStore
from coach.journal.records import Context, Header
from coach.session.repaired import repaired_monitors
from coach.session.review import core_for
from coach.words.before import before_lines
from coach.words.coaching import view
from coach.words.units import Units
from tests.recordings import a_profile, ask

PETROL = "41010007FFFF"  # every spark monitor there and incomplete
DIESEL = "4101000FEBEB"
HEADER = Header(1, "simulated", "test", None, None, None, True)


def begun(folder: Path, codes: tuple[str, ...], profile: str, readiness: str = PETROL, **chosen: str) -> Core:
    """A drive in a job with these codes, read out after a proved night, the engine off and the coolant at 15 °C."""
    job = JobStore(folder).new(datetime(2026, 11, 19, tzinfo=UTC), codes, chosen=chosen)
    arrivals = [
        *ask(0, 1, "0101", ("7E8", readiness)),
        *ask(1, 2, "010C", ("7E8", "410C0000")),
        *ask(2, 3, "0105", ("7E8", "410537")),
        *ask(3, 4, "010F", ("7E8", "410F37")),
    ]
    blind = core_for(None, HEADER, a_profile(profile))
    for arrival in arrivals:
        blind.feed(arrival)
    known = {"soak_s": 36000.0, **repaired_monitors(job, blind.car)}
    core = core_for(Context(known=known), HEADER, a_profile(profile))
    for arrival in arrivals:
        core.feed(arrival)
    return core


@pytest.mark.parametrize(
    ("codes", "profile", "readiness", "sooner", "later"),
    [
        (("P0135",), "spark_running_leak", PETROL, "cold_start_idle", "sensor_cruise"),
        (("P0420",), "spark_running_leak", PETROL, "highway_cruise", "closed_throttle_decel"),
        (("P0401",), "spark_running_leak", PETROL, "closed_throttle_decel", "highway_cruise"),
        (("P0442",), "spark_running_leak", PETROL, "leak_test_cruise", "highway_cruise"),
        (("P0420",), "spark_engine_off_leak", PETROL, "highway_cruise", "closed_throttle_decel"),
        (("P0401",), "spark_engine_off_leak", PETROL, "closed_throttle_decel", "highway_cruise"),
        (("P0401",), "light_diesel", DIESEL, "load_step", "diesel_hot_cruise"),
        (("P2002",), "light_diesel", DIESEL, "load_step", "diesel_hot_cruise"),  # town, road, highway: no detour for it
    ],
)
def test_the_repaired_monitors_phase_comes_first_and_costs_nothing(
    tmp_path: Path, codes: tuple[str, ...], profile: str, readiness: str, sooner: str, later: str
) -> None:
    plan = begun(tmp_path, codes, profile, readiness).plan()
    assert plan.phases.index(sooner) < plan.phases.index(later)
    assert plan.driving_s == pytest.approx(begun(tmp_path, (), profile, readiness).plan().driving_s)


def test_a_cold_start_stays_first_whatever_was_repaired(tmp_path: Path) -> None:
    for profile in ("spark_engine_off_leak", "spark_running_leak", "hybrid"):
        for codes in ((), ("P0420",), ("P0442",)):
            assert begun(tmp_path, codes, profile).plan().phases[0] == "cold_start_idle"


def test_the_users_own_choice_for_a_makers_code_is_driven_for_and_its_return_ends_the_plan_for_it(
    tmp_path: Path,
) -> None:
    core = begun(tmp_path, ("P1420",), "spark_engine_off_leak", P1420="catalyst")
    assert core.wanted.repaired == {"P1420": "catalyst"}
    assert core.plan().phases.index("highway_cruise") < core.plan().phases.index("closed_throttle_decel")
    for arrival in [*ask(5, 5, "03", ("7E8", "4300")), *ask(6, 6, "07", ("7E8", "4700"))]:
        core.feed(arrival)
    for arrival in ask(70, 7, "07", ("7E8", "47011420")):
        core.feed(arrival)
    assert {late.monitor: late.reason for late in core.plan().not_today}["catalyst"] == "code"


def test_the_plan_says_which_phase_confirms_the_repair(tmp_path: Path) -> None:
    said = list(before_lines(begun(tmp_path, ("P0420",), "spark_engine_off_leak"), Units(False), ""))
    assert [line for line in said if "can confirm the repair of P0420" in line] == [
        line for line in said if "Highway cruise" in line or "catalyst cruise" in line.lower()
    ]
    parked = list(before_lines(begun(tmp_path, ("P0442",), "spark_engine_off_leak"), Units(False), ""))
    assert any("after the drive" in line and "can confirm the repair of P0442" in line for line in parked)
    page = view(begun(tmp_path, ("P0135",), "spark_engine_off_leak"), Units(False))
    assert "the repair of P0135" in page.serves


def test_what_no_phase_confirms_is_said_too(tmp_path: Path) -> None:
    misfire = " ".join(before_lines(begun(tmp_path, ("P0301",), "spark_engine_off_leak"), Units(False), ""))
    assert "P0301" in misfire and "regulated pattern" in misfire
