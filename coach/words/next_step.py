"""Words for what comes next: one sentence a step, a table; what the step is, `coach.inspection.next_step` decides."""

from collections.abc import Iterable, Iterator
from typing import Any

from coach.inspection.next_step import NextStep
from coach.j1979.similar import CYCLES_WITHOUT_FAULT, WARM_UPS_TO_ERASE
from coach.words.names import MONITOR_NAMES
from coach.words.units import Units, capital, listed, pattern_words

COUNTS = ("no", "one", "two", "three", "four", "five")
CYCLES = f"{COUNTS[CYCLES_WITHOUT_FAULT]} driving cycles without the fault"
STEP_WORDS: dict[str, str] = {
    "mend": "{codes}: repair first; then coach clear, or {cycles}, puts the MIL out. Monitors may not run while a code"
    " stands.",
    "clean_cycles": "{codes}: stored, and nothing is pending. Once it is mended {cycles} put the MIL out and keep"
    " readiness (coach drive --target clean-cycles); coach clear is quicker and resets readiness.",
    "ages_out": f"{{codes}}: stored with the MIL off. The car drops it after {WARM_UPS_TO_ERASE} warm-up cycles without"
    " the fault; coach clear does so at once and resets readiness.",
    "second_drive": "{codes}: pending, seen once. A second drive confirms or drops it; coach drive watches for it.",
    "result_outside_limits": "A test result of the {monitors} lies outside its limits although it is complete: a code"
    " may come. Look into that before an inspection.",
    "drive": "{monitors} still to run: coach drive guides through what is needed.",
    "wait_for_permanent": "{codes}: permanent alone. Only the car itself erases it, after its own monitor has run and"
    " passed in a drive of the regulated pattern ({pattern}) and the key was off.",
    "read_again": "Not everything could be read for certain: read again, with the key on and the adapter pushed fully"
    " in.",
    "say_what_was_done": "A control unit is not the one this car had: with coach job change --unit ADDRESS=WHAT say"
    " whether it was reprogrammed, replaced or taken_out. Until then nothing can be said for certain.",
    "find_the_car": "Another car answers than the one before: nothing it says counts here. Plug into the first one, or"
    " open a job for this one.",
    "nothing": "Every monitor the car has is complete and no code stands. Confirm with your local programme.",
}
"""By the step's id."""
ABOUT_CODES = ("mend", "clean_cycles", "ages_out", "second_drive", "wait_for_permanent", "result_outside_limits")
"""Next steps that are about codes and what may become one; a drive for monitors is planned anyway."""
NO_CODE = "The MIL"
"""It is commanded and no code was named."""


def step_words(step: NextStep, units: Units) -> str:
    """One step in one or two sentences."""
    return capital(
        STEP_WORDS[step.id].format(
            codes=listed(list(step.codes)) if step.codes else NO_CODE,
            monitors=listed([MONITOR_NAMES[monitor] for monitor in step.monitors]),
            cycles=CYCLES,
            pattern=pattern_words(units),
        )
    )


def step_lines(steps: Iterable[NextStep], units: Units) -> Iterator[str]:
    """All of them, one a line."""
    yield from (step_words(step, units) for step in steps)


def steps_data(steps: Iterable[NextStep]) -> list[dict[str, Any]]:
    """The same as data."""
    return [{"id": step.id, "codes": list(step.codes), "monitors": list(step.monitors)} for step in steps]
