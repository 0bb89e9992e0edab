"""How the car itself takes a fault back: driving cycles without it, for some near the conditions of its freeze frame.

Pure figures of the regulations; what a car did is judged above.
"""

from collections.abc import Mapping
from dataclasses import dataclass

CYCLES_WITHOUT_FAULT = 3
"""Driving cycles in a row in which the monitor ran and found nothing, until the MIL may go out: 40 CFR 86.1806-05(d)(1)
and 86.010-18(b)(3)(i). Some cars put it out at the start of the one after (service information of two makers)."""
WARM_UPS_TO_ERASE = 40  # until the code itself may be erased, with the MIL out: 40 CFR 86.1806-05(e)(3)

SIMILAR_RPM = 375.0  # similar conditions: 13 CCR 1968.2 and 40 CFR 86.1806-05(d)(1), engine speed within 375 rpm
SIMILAR_LOAD_PCT = 20.0  # the same, load within 20 %
WARM_C = 70.0  # "the same warm-up status"; where warm begins is the warm-up cycle's 343 K (UN light-duty definitions)
SIMILAR_FOR = ("misfire", "fuel_system")  # 40 CFR 86.1806-05(d)(1)


@dataclass(frozen=True, slots=True)
class Frame:
    """What a freeze frame says of the conditions: engine speed, load, coolant."""

    rpm: float
    load_pct: float
    coolant_c: float

    @property
    def warm(self) -> bool:
        """Whether the engine was warm."""
        return self.coolant_c >= WARM_C

    def is_near(self, rpm: float, load_pct: float, coolant_c: float) -> bool:
        """Whether a moment is of similar conditions."""
        near = abs(rpm - self.rpm) <= SIMILAR_RPM and abs(load_pct - self.load_pct) <= SIMILAR_LOAD_PCT
        return near and (coolant_c >= WARM_C) == self.warm


def frame_of(frozen: Mapping[str, float]) -> Frame | None:
    """The conditions of a freeze frame; none where it does not hold all three."""
    rpm, load_pct, coolant_c = (frozen.get(name) for name in ("rpm", "load_pct", "coolant_c"))
    return None if rpm is None or load_pct is None or coolant_c is None else Frame(rpm, load_pct, coolant_c)
