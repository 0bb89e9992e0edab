"""Codes of one control unit: pending after one failing driving cycle, stored with the MIL after the second, permanent.

Two-trip logic and permanent codes as 40 CFR 86.010-18(b)(2), (b)(3) and (k)(4)(iv)(F) describe them.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

CLEAN_CYCLES = 3  # driving cycles without the fault that put the MIL out: 40 CFR 86.010-18(b)(3)(i)
MOST_PERMANENT = 4  # at least four are kept, earliest first: 40 CFR 86.010-18(k)(4)(iv)(F)

Frame = Mapping[int, bytes]


@dataclass(slots=True)
class FaultMemory:
    """`pending`: code to the driving cycle that saw it last; `stored`: code to clean cycles since; `frame`: see 02."""

    keeps_permanent: bool
    pending: dict[str, int] = field(default_factory=dict)
    stored: dict[str, int] = field(default_factory=dict)
    permanent: list[str] = field(default_factory=list)
    frame: Frame | None = None
    frame_code: str | None = None
    _failed: set[str] = field(default_factory=set)
    _passed: set[str] = field(default_factory=set)

    @property
    def mil_on(self) -> bool:
        """The lamp is lit for stored codes only."""
        return bool(self.stored)

    def fail(self, code: str, cycle: int, frame: Frame) -> None:
        """A monitor found this fault in driving cycle number `cycle`; `frame` is what the car was doing."""
        if code in self._failed:
            return
        self._failed.add(code)
        if code in self.stored:
            self.stored[code] = 0
        elif code in self.pending and self.pending[code] < cycle:
            self._store(code, frame)
        self.pending[code] = cycle

    def passed(self, code: str) -> None:
        """A monitor looked for this fault and did not find it."""
        self._passed.add(code)

    def end_cycle(self, regulated_drive: bool) -> None:
        """Key-off. `regulated_drive`: the drive met the general denominator, so permanent codes may go."""
        clean = self._passed - self._failed
        for code in clean:
            self.pending.pop(code, None)
            if code in self.stored:
                self._clean(code)
            elif regulated_drive and code in self.permanent:
                self.permanent.remove(code)
        self._failed.clear()
        self._passed.clear()

    def clear(self) -> None:
        """Service 04: everything but the permanent codes."""
        self.pending.clear()
        self.stored.clear()
        self._failed.clear()
        self._passed.clear()
        self.frame = self.frame_code = None

    def _store(self, code: str, frame: Frame) -> None:
        self.stored[code] = 0
        if self.frame is None:
            self.frame, self.frame_code = frame, code
        if self.keeps_permanent and code not in self.permanent and len(self.permanent) < MOST_PERMANENT:
            self.permanent.append(code)

    def _clean(self, code: str) -> None:
        self.stored[code] += 1
        if self.stored[code] < CLEAN_CYCLES:
            return
        del self.stored[code]
        if code in self.permanent:
            self.permanent.remove(code)
        if self.frame_code == code:
            self.frame = self.frame_code = None
