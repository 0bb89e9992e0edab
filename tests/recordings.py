"""Where the published recordings stand, and how a test runs one through the core."""

from pathlib import Path

from coach.car.arrivals import Answer, Arrival, Request
from coach.car.happenings import Happening
from coach.drive.core import Core, make_core
from coach.drive.profile import Profile, parse_profile
from coach.importer.table import open_table
from coach.library import profile_text

REFERENCE = Path(__file__).parent / "reference"
SCHEDULES = REFERENCE / "schedules"
DRIVES = REFERENCE / "drives"


def a_profile(name: str = "spark_engine_off_leak") -> Profile:
    """A shipped profile."""
    return parse_profile(profile_text(name), name)


def arrivals_of(path: Path) -> list[Arrival]:
    """All arrivals of a table."""
    return list(open_table(path).readings())


def ask(t: float, number: int, text: str, *answers: tuple[str, str]) -> list[Arrival]:
    """One question and what each ECU answered, in hex."""
    said: list[Arrival] = [Answer(t + 0.05, number, ecu, bytes.fromhex(raw)) for ecu, raw in answers]
    return [Request(t, number, text), *said]


def fed(arrivals: list[Arrival], profile: str = "spark_engine_off_leak") -> tuple[Core, list[Happening]]:
    """A core on CAN that has seen all of it and is still running, and what happened."""
    core = make_core(a_profile(profile), can=True)
    return core, [happening for arrival in arrivals for happening in core.feed(arrival)]


def played(arrivals: list[Arrival], profile: str = "spark_engine_off_leak") -> tuple[Core, list[Happening]]:
    """A core that has seen all of it, and what happened."""
    core = make_core(a_profile(profile), can=True)
    happened: list[Happening] = []
    for arrival in arrivals:
        happened.extend(core.feed(arrival))
    happened.extend(core.finish(core.now))
    return core, happened
