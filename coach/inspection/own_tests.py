"""What start and drive a code's own test needs beside the regulated pattern, and what a recording shows of it.

A finished hot drive runs neither the test of a thermostat nor that of the idle speed. Each kind has its limits here; a
value that nobody told proves nothing.
"""

from collections.abc import Callable
from dataclasses import dataclass

from coach.inspection.code_table.rows import OwnTest

COLD_C = 35.0  # cold start: 4 to 35 °C satisfies all procedures read (Toyota S25, S26); phases.toml cold_start_idle
FREEZING_C = -7.0  # 20 °F: below it a thermostat's test may be off, 40 CFR 86.010-18(i)(1)(iv)(B), (i)(5)(ii)
APART_C = 7.0  # coolant over intake air at a cold start: 4 (VW S1) to 7 °C (Toyota S25); the widest still looks cold
SOAK_S = 8 * 3600.0  # engine off: 7 h (Prius S80) to 8 h (S13, S26) satisfies all read
WARMED_C = 75.0  # the highest limit read below which a thermostat is faulty: 70 to 75 °C (S57, S58)
IDLE_WARM_C = 80.0  # idle speed is judged from 73 (Kia 2015), 75 (Hyundai 2005) and 80 °C (Cadillac 2001); all read
IDLE_S = 35.0  # 5 s of rest and 17 s (Kia 2015), 14 s (Mazda 2013), 20 s (Acura 2007), 3 x 10 s (Subaru 2006)
PULL_RPM = 3800.0  # Acura RDX 2012, P0299: 3,800 rpm with 58.8 degrees of throttle for 4 s (S41)
PULL_S = 4.0  # the same
PULL_LOAD_PCT = 80.0  # our judgement, in place of the throttle's degrees, which no PID tells
PULL_BRIDGE_S = 1.5  # phases.toml [bridge_s] deceleration: the engine speed may have left the band in a longer gap
FRESH_S = 30.0  # phases.toml [bridge_s] temperature: an older one says nothing of now
START_S = 60.0  # our judgement: later a warm coolant says nothing of the start, and intake air has been heated

Fresh = Callable[[str, float], float | None]
"""A signal's value if it is no older than so many seconds, else none."""


@dataclass(frozen=True, slots=True)
class Shown:
    """What one drive shows of it. Degrees Celsius, seconds; none where it was not told.

    `start_…`: at the first engine speed heard, which may be later than the start. `soak_s`: how long the car had stood,
    by the record or by the user's word. `warmest_c`: the coolant. `warm_idle_s`: longest unbroken idle with a warm
    engine and the foot off. `pull_s`: longest stretch at high engine speed and load.
    """

    start_coolant_c: float | None = None
    start_intake_c: float | None = None
    start_ambient_c: float | None = None
    soak_s: float | None = None
    warmest_c: float | None = None
    warm_idle_s: float | None = None
    pull_s: float | None = None


NOTHING = Shown()

NEEDS: dict[OwnTest, str] = {
    "warm_up": "needs_warm_up",
    "cold_start": "needs_cold_start",
    "cold_soak": "needs_cold_soak",
    "warm_idle": "needs_warm_idle",
    "boost_pull": "needs_boost_pull",
    "fuel_used": "needs_fuel_used",
}
"""The id of what is missing while no drive proves that the test could run."""


def began_cold(shown: Shown) -> bool | None:
    """Whether the engine was started cold, in weather that lets a test run; none when nobody told."""
    coolant, air = shown.start_coolant_c, shown.start_ambient_c
    intake = shown.start_intake_c
    outside = air if air is not None else intake
    if coolant is None:
        return None
    if coolant > COLD_C or (outside is not None and outside < FREEZING_C):
        return False
    if intake is None:
        return None if outside is None else coolant - outside <= APART_C
    return coolant - intake <= APART_C


def began_soaked(shown: Shown) -> bool | None:
    """Whether the car had stood long enough for its sensors to agree; none when neither record nor user told."""
    if began_cold(shown) is False:
        return False
    return None if shown.soak_s is None else shown.soak_s >= SOAK_S


def could_run(own: OwnTest | None, shown: Shown) -> bool:
    """Whether the drive proves that the code's own test could run. Without a need of its own every drive does."""
    return {
        None: True,
        "warm_up": began_cold(shown) is True and _reached(shown.warmest_c, WARMED_C),
        "cold_start": began_cold(shown) is True,
        "cold_soak": began_soaked(shown) is True,
        "warm_idle": _reached(shown.warm_idle_s, IDLE_S),
        "boost_pull": _reached(shown.pull_s, PULL_S),
        "fuel_used": False,  # nothing recorded tells it; the car alone does, by erasing its permanent copy of the code
    }[own]


def _reached(value: float | None, least: float) -> bool:
    return value is not None and value >= least


class OwnTestWatch:
    """Watches one drive for what own tests need. `soak_s`: how long the car stood before it, none when not known."""

    def __init__(self, soak_s: float | None = None) -> None:
        self._soak_s = soak_s
        self._start_t: float | None = None
        self._start_c: dict[str, float | None] = {"coolant_c": None, "intake_c": None, "ambient_c": None}
        self._warmest_c: float | None = None
        self._idle_from_s: float | None = None
        self._warm_idle_s: float | None = None
        self._pull: tuple[float, float] | None = None
        self._pull_s: float | None = None

    def see(self, t: float, running: bool | None, idle_s: float, fresh: Fresh) -> None:
        """One moment: seconds, engine, the unbroken idle so far, and each signal's value if it is no older than asked.

        `running` is none when nobody told: then nothing is seen.
        """
        if not running:
            self._idle_from_s = self._pull = None
            return
        coolant_c = fresh("coolant_c", FRESH_S)
        self._see_start(t, coolant_c, fresh)
        if coolant_c is not None:
            self._warmest_c = max(coolant_c, self._warmest_c if self._warmest_c is not None else coolant_c)
        self._see_idle(coolant_c, idle_s)
        self._see_pull(t, fresh("rpm", PULL_BRIDGE_S), fresh("load_pct", PULL_BRIDGE_S))

    def stood(self, soak_s: float | None) -> None:
        """How long the car had stood, as the user says; what was known before stays."""
        self._soak_s = soak_s if self._soak_s is None else self._soak_s

    def shown(self) -> Shown:
        """What was seen up to now."""
        start = (self._start_c["coolant_c"], self._start_c["intake_c"], self._start_c["ambient_c"])
        return Shown(*start, self._soak_s, self._warmest_c, self._warm_idle_s, self._pull_s)

    def _see_start(self, t: float, coolant_c: float | None, fresh: Fresh) -> None:
        """The first coolant heard with the engine running: it rises from the start on, so cold now was cold then."""
        if self._start_t is None and coolant_c is not None:
            ran_s = fresh("run_time_s", FRESH_S)
            late = coolant_c > COLD_C and (ran_s is None or ran_s > START_S)
            self._start_t, self._start_c["coolant_c"] = t, None if late else coolant_c
        if self._start_t is not None and t - self._start_t <= START_S:
            for signal in ("intake_c", "ambient_c"):
                if self._start_c[signal] is None:
                    self._start_c[signal] = fresh(signal, FRESH_S)

    def _see_idle(self, coolant_c: float | None, idle_s: float) -> None:
        if coolant_c is None or coolant_c < IDLE_WARM_C or idle_s <= 0.0:
            self._idle_from_s = None
            return
        if self._idle_from_s is None or idle_s < self._idle_from_s:
            self._idle_from_s = idle_s
        self._warm_idle_s = max(self._warm_idle_s or 0.0, idle_s - self._idle_from_s)

    def _see_pull(self, t: float, rpm: float | None, load_pct: float | None) -> None:
        if rpm is None or load_pct is None or rpm < PULL_RPM or load_pct < PULL_LOAD_PCT:
            self._pull = None
            return
        began, last = self._pull if self._pull is not None else (t, t)
        if t - last > PULL_BRIDGE_S:
            began = t
        self._pull = (began, t)
        self._pull_s = max(self._pull_s or 0.0, t - began)
