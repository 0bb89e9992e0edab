"""The form of a worked case: one car on one day, what the rule's text says of it, and what may be said of it here."""

from typing import Literal

from pydantic import model_validator

from coach.inspection.parts import Day, DrivenBy, Fuel, Monitor, Strict
from coach.j1979.monitors import COMPRESSION, CONTINUOUS, SPARK

Says = Literal["accepted", "refused", "exempt", "undecided"]
Outcome = Literal["ready", "not_ready", "cannot_say", "exempt"]
OUTCOME_OF: dict[Says, Outcome] = {
    "accepted": "ready",
    "refused": "not_ready",
    "exempt": "exempt",
    "undecided": "cannot_say",
}
"""What may be said where the whole rule was read in its source."""


class Case(Strict):
    """A car with every monitor of its kind, complete and clean but for what is named; `lacking` are not there at all.

    `says`: what the text says, by every reading. `outcome`: what may be said of it, where that is less, since a part
    was not read in its source. Miles, minutes of running and warm-ups count since the clear, `odometer_mi` since the
    car was made.
    """

    name: str
    on: Day
    says: Says
    outcome: Outcome | None = None
    model_year: int | None = None
    fuel: Fuel | None = None
    kind: DrivenBy | None = None
    weight_lb: float | None = None
    odometer_mi: float | None = None
    inspected: bool | None = None
    incomplete: tuple[Monitor, ...] = ()
    lacking: tuple[Monitor, ...] = ()
    mil_on: bool = False
    lamp_lights: bool | None = None
    stored: tuple[str, ...] = ()
    pending: tuple[str, ...] = ()
    permanent: tuple[str, ...] = ()
    failed_with: tuple[str, ...] = ()
    warm_ups: float = 3
    distance_mi: float = 40
    run_time_min: float = 70

    @property
    def expected(self) -> Outcome:
        """The outcome it names, else the one that goes with what the text says."""
        return self.outcome or OUTCOME_OF[self.says]

    @property
    def fitted(self) -> frozenset[str]:
        """The monitors a car of this fuel may have."""
        layout = COMPRESSION if self.fuel == "diesel" else SPARK
        return frozenset((*CONTINUOUS, *layout.values()))

    @model_validator(mode="after")
    def _such_monitors(self) -> "Case":
        strange = [monitor for monitor in (*self.incomplete, *self.lacking) if monitor not in self.fitted]
        if strange:
            raise ValueError(f"no {' and no '.join(strange)} on such a car")
        return self
