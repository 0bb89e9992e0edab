"""Invented cars told byte by byte, after the layouts of SAE J1979 (tests/j1979/test_worked_examples.py)."""

from collections.abc import Iterable

from coach.car.arrivals import Answer, Arrival, LinkChange, Outcome, Request, Unparsed
from coach.car.car import Car
from coach.car.happenings import Happening

DONE, OPEN, LIT = "410100076500", "410100076565", "410181076500"
VIN_A, VIN_B = "ZZZTM0000T0000001", "ZZZTM0000T0000002"
CLEAN = {"03": "4300", "07": "4700", "0A": "4A00"}


def vin(text: str) -> str:
    """The answer that tells it, on CAN."""
    return f"490201{text.encode().hex()}"


def calid(text: str) -> str:
    """The answer that tells one calibration id, on CAN."""
    return f"490401{text.encode().ljust(16, bytes(1)).hex()}"


class Talk:
    """A recording in the making: every question a second after the one before."""

    def __init__(self) -> None:
        self.said: list[Arrival] = []
        self.t = 0.0
        self.number = 0

    def ask(self, text: str, *answers: tuple[str, str], to: str | None = None, outcome: str = "") -> "Talk":
        """A question and what each unit answered, in hex; `outcome` when it brought no value."""
        self.t, self.number = self.t + 1.0, self.number + 1
        self.said.append(Request(self.t, self.number, text, to))
        self.said += [Answer(self.t + 0.05, self.number, unit, bytes.fromhex(raw)) for unit, raw in answers]
        if outcome:
            self.said.append(Outcome(self.t + 0.2, self.number, outcome, ""))  # type: ignore[arg-type]
        return self

    def stray(self, unit: str, raw: str) -> "Talk":
        """A frame that nobody asked for, behind the last question."""
        self.said.append(Answer(self.t + 0.2, None, unit, bytes.fromhex(raw)))
        return self

    def garbled(self, line: str) -> "Talk":
        """A line that nobody can make out, with the last question."""
        self.said.append(Unparsed(self.t + 0.1, self.number, (line,)))
        return self

    def link(self, state: str) -> "Talk":
        """The link changes."""
        self.t += 1.0
        self.said.append(LinkChange(self.t, state, ""))  # type: ignore[arg-type]
        return self

    def add(self, arrival: Arrival) -> "Talk":
        """Anything else."""
        self.said.append(arrival)
        return self

    def everything(self, *units: tuple[str, str], **other: str) -> "Talk":
        """Readiness of each unit as given, no codes of any kind, all of them asked."""
        self.ask("0101", *units)
        for text, clean in CLEAN.items():
            self.ask(text, *((unit, other.get(f"_{text}", clean)) for unit, _ in units))
        return self


def told(arrivals: Talk | Iterable[Arrival], car: Car | None = None) -> tuple[Car, list[Happening]]:
    """A car on CAN that has heard all of it, and what happened."""
    car = car or Car(can=True)
    out: list[Happening] = []
    for arrival in arrivals.said if isinstance(arrivals, Talk) else arrivals:
        car.fold(arrival, out)
    car.end(out)
    return car, out
