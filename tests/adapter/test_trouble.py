"""Dialect, wire, link and core in one process under seeded trouble: whatever happens, never falsely complete or clean.

No thread and no port: the dialect answers as soon as it is written to.
"""

from random import Random

import pytest

from coach.adapter.errors import LinkLost
from coach.adapter.link import Link
from coach.adapter.wire import Deadlines, Wire
from coach.car.car import Car
from coach.car.happenings import Happening
from coach.simulator.dialect import Dialect, Trouble
from tests.adapter.cars import ScriptedCar, can_car, old_car
from tests.adapter.fakes import FakePort

SHORT = Deadlines(query_s=0.004, pending_s=0.006, setup_s=0.004, search_s=0.006, dead_s=0.006, quiet_s=0.001)
QUESTIONS = ("0101", "03", "07", "010D", "010C", "0902", "010C0D05", "0141", "0A")


class DialectPort(FakePort):
    """A port in memory with the simulated adapter behind it."""

    def __init__(self, dialect: Dialect) -> None:
        super().__init__()
        self.dialect = dialect

    def write(self, data: bytes) -> int:
        """Hand the bytes to the dialect, take what it says."""
        for piece in self.dialect.receive(data, 0.0):
            self.buffer += piece.data
        return len(data)


def sick_can() -> ScriptedCar:
    """Everything is well in the engine's unit; the second one has the MIL, a code, and one monitor to run."""
    car = can_car()
    car.table |= {
        "0101": {"7E8": "41010007E500", "7E9": "41018104E901"},
        "03": {"7E8": "4300", "7E9": "43010700"},
        "07": {"7E8": "4700", "7E9": "47010701"},
    }
    return car


def sick_old() -> ScriptedCar:
    """The same before CAN, in two units."""
    car = old_car()
    car.table |= {
        "0100": {"10": "4100BE3FA813", "18": "410098180001"},
        "0101": {"10": "41010007E500", "18": "41018104E901"},
        "03": {"10": "43000000000000", "18": "43070000000000"},
        "07": {"10": "47000000000000", "18": "47070100000000"},
    }
    return car


def linked(car: ScriptedCar, protocol: str) -> tuple[Link, Dialect]:
    dialect = Dialect(car, Trouble(), seed=3)
    wire = Wire(DialectPort(dialect), lambda: 1.0, SHORT)
    link = Link(wire, "memory", protocol)
    for command in ("ATE0", "ATH1", f"ATSP{protocol}"):
        link.command(command)
    return link, dialect


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize(("make", "protocol"), [(sick_can, "6"), (sick_old, "3")])
def test_under_any_trouble_nothing_is_complete_or_clean_that_is_not(make: object, protocol: str, seed: int) -> None:
    random = Random(seed)
    vehicle = make()  # type: ignore[operator]
    link, dialect = linked(vehicle, protocol)
    car, out = Car(can=protocol == "6"), list[Happening]()
    number, values, troubled = 0, 0, 0

    def ask(text: str) -> None:
        nonlocal number, values, troubled
        number += 1
        try:
            exchange = link.ask(text)
        except LinkLost:
            troubled += 1
            return
        values += exchange.outcome == "value"
        troubled += exchange.outcome != "value" or bool(exchange.unparsed)
        for arrival in exchange.arrivals(number):
            car.fold(arrival, out)

    for text in ("0100", "0101", "03", "07"):
        ask(text)
    for _ in range(150):
        _disturb(dialect, vehicle, random)
        ask(random.choice(QUESTIONS))
        assert car.monitor_states()["catalyst"] in (None, "incomplete")
        assert car.mil_on() is not False
        assert car.codes("stored") != ()
        assert car.codes("pending") != ()
    assert values > 20
    assert troubled > 20


def _disturb(dialect: Dialect, vehicle: ScriptedCar, random: Random) -> None:
    """Change what is wrong now and then: noise, lost lines, ignition, power, a reboot."""
    if random.random() < 0.2:
        dialect.trouble.noise_rate = random.choice((0.0, 0.1, 0.5))
        dialect.trouble.drop_rate = random.choice((0.0, 0.1, 0.3))
        vehicle.ignition_on = random.random() < 0.85
        dialect.trouble.powered = random.random() < 0.95
    if random.random() < 0.05:
        dialect.reboot()


def test_when_the_trouble_is_over_everything_is_read_again_as_it_is() -> None:
    vehicle = sick_can()
    link, dialect = linked(vehicle, "6")
    car, out = Car(can=True), list[Happening]()
    dialect.trouble.noise_rate = 0.6
    number = 0
    for rate in (0.6, 0.0):
        dialect.trouble.noise_rate = rate
        for text in ("0101", "03", "07", "010D") * 5:
            number += 1
            for arrival in link.ask(text).arrivals(number):
                car.fold(arrival, out)
    assert (car.monitor_states()["catalyst"], car.mil_on()) == ("incomplete", True)
    assert (car.codes("stored"), car.codes("pending")) == (("P0700",), ("P0701",))
