"""A code that comes up on the drive ends the plan for its own monitor and those that wait for it, and for no other.

P0135 is the front oxygen sensor's heater (SAE J2012, the table of coach/inspection/codes.py names its sources).
"""

from coach.car.arrivals import Arrival
from coach.car.happenings import CycleBegan
from coach.drive.core import Core
from coach.inspection.codes import code_monitors
from tests.drive.test_credit import readings
from tests.recordings import ask, fed

OPEN = "410100076565"


def drive(codes: list[Arrival], *, known: bool = True) -> Core:
    before = [*ask(0, 1, "0101", ("7E8", OPEN)), *ask(1, 2, "03", ("7E8", "4300")), *ask(2, 3, "07", ("7E8", "4700"))]
    core, _ = fed(before)
    core.wanted.monitors_of_codes = code_monitors("spark") if known else {}
    for arrival in [*readings(3, 60, rpm=1500.0, coolant_c=85.0, speed_kmh=50.0), *codes]:
        core.feed(arrival)
    return core


def why(core: Core) -> dict[str, str]:
    return {found.monitor: found.reason for found in core.plan().not_today}


def test_the_repaired_heaters_code_ends_the_plan_for_the_heater_and_what_waits_for_it() -> None:
    core = drive(ask(70, 4, "07", ("7E8", "47010135")))
    assert why(core)["oxygen_sensor_heater"] == "code"
    assert why(core)["oxygen_sensor"] == "code"  # it waits for the heater
    assert why(core)["catalyst"] == "code"  # which waits for the oxygen sensor in turn
    assert not {"sensor_cruise", "highway_cruise"} & set(core.plan().phases)


def test_a_code_that_stood_before_the_drive_ends_nothing() -> None:
    before = [
        *ask(0, 1, "0101", ("7E8", OPEN)),
        *ask(1, 2, "03", ("7E8", "4300")),
        *ask(2, 3, "07", ("7E8", "47010135")),
    ]
    core, happened = fed(before)
    core.wanted.monitors_of_codes = code_monitors("spark")
    assert not [h for h in happened if isinstance(h, CycleBegan)]
    assert "code" not in why(core).values()  # three clean drives may put it out


def test_a_code_of_something_else_ends_nothing() -> None:
    assert "code" not in why(drive(ask(70, 4, "07", ("7E8", "47011234")))).values()
