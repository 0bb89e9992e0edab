"""Before the drive: what is measured, what this car does not tell, and what only a person can look at.

Each check says its figures and where they come from; nothing here blocks a drive, it is for the reader.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from coach.inspection.findings import Findings

State = Literal["in_order", "not_in_order", "not_measurable", "ask"]

REST_LOW_V = 12.4
"""Battery at rest: Jeep JK service information 2007, and a general table of 2009 in which 12.24 V is half charged."""
KEY_ON_V = 0.4  # our judgement: what the ignition's own load takes away; every reading here is with the key on
CHARGE_LOW_V, CHARGE_HIGH_V = 13.5, 14.8  # at idle: the same; the upper figure from memory
FUEL_LOW_PCT, FUEL_HIGH_PCT = 30.0, 70.0
"""Half to three quarters, or 30 to 70 %: S15, S26, S59 of the profiles' sources."""
FUEL_SOURCE = "service information of three makers, 2009 to 2021"
MONITOR_FUEL_LOW_PCT, MONITOR_FUEL_HIGH_PCT = 15.0, 85.0  # 13 CCR 1968.2(e)(4.3.3); the lower figure from memory
COLD_COOLANT_LOW_C, COLD_COOLANT_HIGH_C = 4.4, 35.0  # 40 to 95 °F at the start: 40 CFR 86.010-18(d)(4)(iii)
COLD_APART_C = 7.0  # coolant no more than 12 °F above the air outside: the same paragraph
IDLE_RELEARN = ("throttle", "battery")  # after work on these: Infiniti I30 2001, idle learning preconditions
RELEARN_CODES = ("P012", "P022", "P0638", "P0639", "P210", "P211", "P213", "P2172", "P2173", "P2174", "P2175", "P2176")
"""Beginnings of the codes whose SAE J2012 title is of the throttle's sensors or actuator, as python-OBD prints them."""
NOT_THROTTLE = ("P0125", "P0126", "P0127", "P0128", "P0129")
"""Coolant, thermostat and air, among them."""


@dataclass(frozen=True, slots=True)
class Check:
    """One check. `value` between `low` and `high` (either none: open), in the unit its id ends with."""

    id: str
    state: State
    value: float | None = None
    low: float | None = None
    high: float | None = None
    source: str = ""
    codes: tuple[str, ...] = ()


def before_the_drive(
    findings: Findings, running: bool | None, repaired: str = "", codes: tuple[str, ...] = ()
) -> tuple[Check, ...]:
    """All checks. `running`: the engine, none when not told. `repaired`: the part worked on, in the user's words, and
    the codes it was repaired for."""
    values = findings.values
    return (
        *_battery(values, running),
        *_fuel(values),
        *_cold(values),
        *_codes(findings),
        *_asked(repaired, codes),
    )


def wants_relearn(repaired: str, codes: tuple[str, ...]) -> bool:
    """Whether the work was on the throttle or the battery, by the user's words or by the codes."""
    by_words = any(word in repaired.lower() for word in IDLE_RELEARN)
    return by_words or any(code.startswith(RELEARN_CODES) and code not in NOT_THROTTLE for code in codes)


def _measured(name: str, value: float | None, low: float | None, high: float | None, source: str) -> Check:
    if value is None:
        return Check(name, "not_measurable", None, low, high, source)
    good = (low is None or value >= low) and (high is None or value <= high)
    return Check(name, "in_order" if good else "not_in_order", value, low, high, source)


def _battery(values: Mapping[str, float], running: bool | None) -> Iterator[Check]:
    """The module's own voltage; the adapter's is of the plug, some tenths lower."""
    volts = values.get("module_v", values.get("adapter_v"))
    if running is True:
        source = "service information of 2007; the upper figure from memory"
        yield _measured("charging_v", volts, CHARGE_LOW_V, CHARGE_HIGH_V, source)
    else:
        source = "service information of 2007: 12.4 V at rest; less 0.4 V for the ignition's own load, our judgement"
        yield _measured("battery_rest_v", volts if running is False else None, REST_LOW_V - KEY_ON_V, None, source)


def _fuel(values: Mapping[str, float]) -> Iterator[Check]:
    level = values.get("fuel_level_pct")
    if level is None:
        yield Check("fuel_pct", "ask", None, FUEL_LOW_PCT, FUEL_HIGH_PCT, FUEL_SOURCE)
        return
    yield _measured("fuel_pct", level, FUEL_LOW_PCT, FUEL_HIGH_PCT, FUEL_SOURCE)
    if not MONITOR_FUEL_LOW_PCT <= level <= MONITOR_FUEL_HIGH_PCT:
        source = "13 CCR 1968.2(e)(4.3.3); the lower figure from memory"
        yield _measured("fuel_for_leak_test_pct", level, MONITOR_FUEL_LOW_PCT, MONITOR_FUEL_HIGH_PCT, source)


def _cold(values: Mapping[str, float]) -> Iterator[Check]:
    source = "40 CFR 86.010-18(d)(4)(iii)"
    coolant = values.get("coolant_c")
    yield _measured("start_coolant_c", coolant, COLD_COOLANT_LOW_C, COLD_COOLANT_HIGH_C, source)
    air = values.get("ambient_c", values.get("intake_c"))
    apart = None if coolant is None or air is None else coolant - air
    yield _measured("start_coolant_over_air_c", apart, None, COLD_APART_C, source)


def _codes(findings: Findings) -> Iterator[Check]:
    """None stored or pending: Chrysler-group service information, OBD II Monitor Run Process; New York's S63."""
    for kind in ("stored", "pending"):
        found = getattr(findings, kind)
        state: State = "not_measurable" if found.clean is None else "in_order" if found.clean else "not_in_order"
        yield Check(
            f"{kind}_codes",
            state,
            source="service information, 2008 to 2012; an inspection programme",
            codes=found.present,
        )


ASKED = (
    ("coolant_level", "service information, 2003 to 2011; the level itself from memory"),
    ("leaks_and_filler_cap", "service information of 2004; hoses from memory"),
    ("loads_off", "service information of three makers, 1996 to 2005"),
    ("road_worthy", "common practice"),
)
"""What only a person can look at, in turn by S58, by S9, by S4, S9 and S60 of the profiles' sources."""


def _asked(repaired: str, codes: tuple[str, ...]) -> Iterator[Check]:
    yield from (Check(name, "ask", source=source) for name, source in ASKED)
    if wants_relearn(repaired, codes):
        yield Check("idle_relearn", "ask", source="service information of 2001")
