"""Scripted vehicles for the tests of the link: a table of answers, nothing more."""

from dataclasses import dataclass, field

from coach.simulator.vehicle import BusProtocol, Reply

MAP_00 = "4100BE3FA813"
EIGHT = {
    "010C": "410C1AF8",
    "010D": "410D32",
    "0105": "41057B",
    "0104": "410440",
    "0111": "411126",
    "010F": "410F46",
    "0110": "41100123",
    "012F": "412F80",
}
VIN_DATA = b"W0L000051T2123456"  # sample of Scapy's test file, reference standards.md section 3


@dataclass
class ScriptedCar:
    """Answers from a table: request in hex to what each ECU says, several PIDs put together where the bus is CAN."""

    bus: BusProtocol = "can_11_500"
    table: dict[str, dict[str, str]] = field(default_factory=dict)
    ignition_on: bool = True
    battery_v: float = 12.4
    multi: bool = True
    asked: list[str] = field(default_factory=list)

    def advance(self, t: float) -> None:
        """Nothing changes by itself."""

    def ask(self, request: bytes) -> tuple[Reply, ...]:
        """The table's answers."""
        text = request.hex().upper()
        self.asked.append(text)
        if text in self.table or request[0] != 1 or len(request) == 2:
            found = self.table.get(text, {})
            return tuple(Reply(ecu, bytes.fromhex(said)) for ecu, said in found.items() for said in said.split("|"))
        if not self.bus.startswith("can"):
            return ()
        return self._several(request)

    def _several(self, request: bytes) -> tuple[Reply, ...]:
        joined: dict[str, bytes] = {}
        for pid in request[1:] if self.multi else request[1:2]:
            for ecu, said in self.table.get(f"01{pid:02X}", {}).items():
                joined[ecu] = joined.get(ecu, b"\x41") + bytes.fromhex(said)[1:]
        return tuple(Reply(ecu, payload) for ecu, payload in joined.items())


def can_car(**changes: object) -> ScriptedCar:
    """A car on CAN 11/500 with two ECUs: readiness in both, sensors in the first."""
    table: dict[str, dict[str, str]] = {request: {"7E8": said} for request, said in EIGHT.items()}
    table |= {
        "0100": {"7E8": MAP_00, "7E9": "410098180001"},
        "0101": {"7E8": "41018307E561", "7E9": "410100040000"},
        "03": {"7E8": "4300", "7E9": "43010700"},
        "07": {"7E8": "47020133D00F", "7E9": "4700"},
        "0902": {"7E8": "490201" + VIN_DATA.hex()},
    }
    car = ScriptedCar(table=table)
    for name, value in changes.items():
        setattr(car, name, value)
    return car


def old_car(bus: BusProtocol = "iso_9141") -> ScriptedCar:
    """A car before CAN: one ECU with the source byte 10."""
    table = {request: {"10": said} for request, said in EIGHT.items()}
    table |= {
        "0100": {"10": MAP_00},
        "0101": {"10": "41018307E561"},
        "03": {"10": "43013301340000|43020000000000"},
        "07": {"10": "47000000000000"},
        "0902": {"10": "|".join(f"4902{i:02X}{part.hex()}" for i, part in _numbered())},
    }
    return ScriptedCar(bus=bus, table=table)


def _numbered() -> list[tuple[int, bytes]]:
    data = VIN_DATA.rjust(20, b"\0")
    return [(1 + i // 4, data[i : i + 4]) for i in range(0, 20, 4)]
