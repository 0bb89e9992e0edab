"""What would be better for the phases to come, though it stops none of them: told before the wheels turn."""

from collections.abc import Iterator

from coach.drive.core import Core
from coach.drive.gates import Failed
from coach.drive.plan import Plan
from coach.words.gates import gate_seen, limits_words
from coach.words.reasons import monitor_names
from coach.words.units import Units, capital


def better_lines(core: Core, plan: Plan, units: Units) -> Iterator[str]:
    """One line a condition, for all the monitors it is better for; what warming up brings by itself is left out."""
    found: dict[Failed, tuple[str, ...]] = {}
    for planned in (*plan.drive, *plan.park):
        for failed in core.trackers[planned.phase].gate.outside_better(core.car, core.facts):
            if not failed.later:
                found[failed] = tuple(dict.fromkeys((*found.get(failed, ()), *planned.monitors)))
    for failed, monitors in found.items():
        window = limits_words(failed.gate, failed.low, failed.high, units)
        seen = capital(gate_seen(failed.gate, failed.value, units))
        yield f"{seen}: {window} is better for {monitor_names(monitors)}; it stops nothing."
