"""Findings and vehicles for the tests: a petrol car with the usual monitors, all complete and clean unless said."""

from functools import cache
from typing import Any

from coach.inspection.clauses import Vehicle
from coach.inspection.findings import Findings, Found
from coach.j1979.monitors import COMPRESSION, CONTINUOUS, MONITORS, SPARK
from coach.session import rules

ON = "2026-11-25"
NONE = Found(())


def findings(*incomplete: str, diesel: bool = False, lacking: tuple[str, ...] = (), **changed: Any) -> Findings:
    """All monitors of such a car complete but those named; `lacking` are not there at all."""
    has = {*CONTINUOUS, *(COMPRESSION if diesel else SPARK).values()} - set(lacking)
    states = {m: "unsupported" if m not in has else "incomplete" if m in incomplete else "complete" for m in MONITORS}
    made: dict[str, Any] = {
        "monitors": states,
        "mil_on": False,
        "stored": NONE,
        "pending": NONE,
        "permanent": NONE,
        "ignition": "compression" if diesel else "spark",
        "warm_ups": 3.0,
        "distance_km": 60.0,
        "run_time_min": 70.0,
    }
    return Findings(**{**made, **changed})


def vehicle(model_year: int | None = 2012, fuel: Any = "gasoline", **changed: Any) -> Vehicle:
    """Such a car today."""
    return Vehicle(**{"on": ON, "model_year": model_year, "fuel": fuel, **changed})


a_rule, all_rules = cache(rules.a_rule), cache(rules.all_rules)
"""Rules are frozen: read once for all tests."""
