"""What an inspection looks at, taken from the state of the car: readiness, MIL, codes, operation since the clear.

None is unknown or uncertain everywhere, and never clean.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from coach.car.happenings import MonitorState
from coach.car.state import CarState
from coach.inspection.parts import Fuel
from coach.j1979.monitors import CONTINUOUS
from coach.j1979.readiness import Ignition

KM_PER_MILE = 1.609344


@dataclass(frozen=True, slots=True)
class Found:
    """Codes of one kind: `certain` none unless every ECU that should have answered did; `said` by anyone, `sure` by one
    beyond doubt.

    `offered`: false where the car is known to be older than the service; none where nobody can say.
    """

    certain: tuple[str, ...] | None
    said: tuple[str, ...] = ()
    offered: bool | None = True
    sure: tuple[str, ...] | None = None

    @property
    def present(self) -> tuple[str, ...]:
        """Every code somebody reported, certain or not: a doubt about another ECU takes none of them away."""
        return tuple(sorted({*(self.certain or ()), *self.said}))

    @property
    def clean(self) -> bool | None:
        """True when there is surely none, false when there surely is one, none when nobody can say."""
        if self.present if self.sure is None else self.sure:
            return False
        return True if self.certain == () else None


@dataclass(frozen=True, slots=True)
class Findings:
    """The findings of one read-out. Kilometres, minutes of engine running, counted since the clear."""

    monitors: Mapping[str, MonitorState]
    mil_on: bool | None
    stored: Found
    pending: Found
    permanent: Found
    ignition: Ignition | None = None
    warm_ups: float | None = None
    distance_km: float | None = None
    run_time_min: float | None = None
    values: Mapping[str, float] = field(default_factory=dict)

    @property
    def supported(self) -> tuple[str, ...]:
        """Monitors the car has, as far as it said."""
        return tuple(m for m, state in self.monitors.items() if state in ("complete", "incomplete"))

    def in_state(self, state: MonitorState, *, continuous: bool) -> tuple[str, ...]:
        """Monitors in one state; `continuous` takes misfire, fuel system and components too."""
        return tuple(m for m, s in self.monitors.items() if s == state and (continuous or m not in CONTINUOUS))

    @property
    def distance_mi(self) -> float | None:
        """Miles since the clear."""
        return None if self.distance_km is None else self.distance_km / KM_PER_MILE

    @property
    def fuel(self) -> Fuel | None:
        """The fuel by the layout of readiness; petrol includes gas."""
        return None if self.ignition is None else "gasoline" if self.ignition == "spark" else "diesel"


def findings_of(state: CarState) -> Findings:
    """The findings as they stand in this state of the car."""
    ecus = tuple(state.ecus.values())
    values = state.values
    return Findings(
        monitors=state.monitor_states(),
        mil_on=state.mil_on(),
        stored=_found(state, "stored"),
        pending=_found(state, "pending"),
        permanent=_found(state, "permanent"),
        ignition=next((ecu.readiness.ignition for ecu in ecus if ecu.readiness is not None), None),
        warm_ups=_lowest(state, "warm_ups_since_clear"),
        distance_km=_lowest(state, "distance_since_clear_km"),
        run_time_min=_lowest(state, "run_time_since_clear_min"),
        values=dict(values),
    )


def _lowest(state: CarState, signal: str) -> float | None:
    """The lowest that any ECU counts since the clear: nobody has counted less for certain."""
    told = [value for (_, name), (value, _) in state.counters.items() if name == signal]
    return min(told) if told else state.values.get(signal)


def _found(state: CarState, kind: str) -> Found:
    found = state.conclude().codes[kind]
    return Found(found.certain, found.said, found.offered, found.sure)
