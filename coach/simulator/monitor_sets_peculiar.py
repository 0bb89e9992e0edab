"""The monitors of the peculiar cars: logic that no profile can express. Thresholds are our own, as in `monitor_sets`.

The coupé counts nothing complete before it has run in two driving cycles in a row; the roadster's leak test and its
sensor test shut each other out; the plug-in tests nothing while it drives electrically; the van's NOx catalyst waits
for fluid that is liquid, and all its tests stand still while the power take-off works.
"""

from dataclasses import replace

from coach.simulator import monitor_sets as ordinary
from coach.simulator.monitor_sets import (
    CHARGED,
    CLOSED_LOOP,
    CONTINUOUS,
    EVEN_FOOT,
    LITTLE_VAPOUR,
    MOUNTAIN_KPA,
    STANDING,
    speed,
    warm,
)
from coach.simulator.rules import OPEN, Band, Hold, Leak, LoadStep, Measure, MonitorRule, Roll, Start

SCR = Measure("scr_conversion_pct", 0x98, 0x87, 0x2F, 100, 42, 100, "P20EE")
WITHOUT_PTO = (Band("pto_on", 0, 0),)
COLD = Start(
    coolant_low_c=4,
    coolant_high_c=36,
    over_intake_c=7,
    ambient_low_c=3,
    fuel_low_pct=16,
    fuel_high_pct=84,
    baro_low_kpa=MOUNTAIN_KPA,
)

# ---------------------------------------------------------------- the coupé: two driving cycles in a row

COUPE = (
    *CONTINUOUS,
    MonitorRule(
        "oxygen_sensor_heater",
        ways=(Hold((CHARGED, Band("run_time_s", 20)), 100),),
        measures=(ordinary.HEATER, ordinary.HEATER_REAR),
    ),
    MonitorRule(
        "oxygen_sensor",
        ways=(Hold((speed(57, 94), warm(68), CLOSED_LOOP), 205),),
        measures=(ordinary.SWITCH, ordinary.REAR),
    ),
    MonitorRule(
        "catalyst",
        ways=(Hold((speed(75, 114), warm(72), Band("catalyst_c", 470, 800), EVEN_FOOT), 260),),
        measures=(ordinary.CATALYST,),
    ),
    MonitorRule(
        "evaporative_system",
        start=COLD,
        ways=(Hold((speed(66, 108), warm(72)), 310),),
        gives_up=(LITTLE_VAPOUR,),
        purged_first=True,
        measures=(ordinary.LEAK,),
    ),
)

# ---------------------------------------------------------------- the roadster: leak test or sensor test, not both

ROADSTER = (
    *CONTINUOUS,
    MonitorRule(
        "oxygen_sensor_heater",
        ways=(Hold((STANDING, CHARGED), 58, window_s=500), Hold((warm(66), CHARGED), 150)),
        any_way=True,
        measures=(ordinary.HEATER, ordinary.HEATER_REAR),
    ),
    MonitorRule(
        "oxygen_sensor",
        # the leak test shuts the purge valve, and the sensor test wants it open: a warm restart is the way out
        ways=(Hold((speed(58, 95), warm(71), CLOSED_LOOP), 230),),
        excluded_by=("evaporative_system",),
        measures=(ordinary.SWITCH, ordinary.REAR),
        pairs=("O2S1", "SO2S1"),
    ),
    MonitorRule(
        "catalyst",
        ways=(Hold((speed(72, 115), warm(72), Band("catalyst_c", 465, 800), CLOSED_LOOP), 240),),
        after=("oxygen_sensor",),
        measures=(ordinary.CATALYST,),
        pairs=("CAT1",),
    ),
    MonitorRule(
        "egr_vvt",
        ways=(Roll((warm(68),), from_kmh=74, to_kmh=62, shortest_s=5, repeats=2),),
        measures=(ordinary.EGR,),
        pairs=("EGR",),
    ),
    MonitorRule(
        "evaporative_system",
        start=COLD,
        ways=(Hold((speed(54, 110), warm(62)), 280),),
        gives_up=(LITTLE_VAPOUR,),
        purged_first=True,
        measures=(ordinary.CAP,),
        pairs=("EVAP",),
    ),
)

# ---------------------------------------------------------------- the plug-in: only a burning engine is tested

PLUG_IN = (
    *CONTINUOUS,
    MonitorRule(
        "oxygen_sensor_heater",
        ways=(Hold((CHARGED,), 110),),
        measures=(ordinary.HEATER, ordinary.HEATER_REAR),
    ),
    MonitorRule(
        "oxygen_sensor",
        ways=(Hold((speed(56, 98), warm(67), CLOSED_LOOP), 210),),
        measures=(ordinary.SWITCH, ordinary.REAR),
        pairs=("O2S1", "SO2S1"),
    ),
    MonitorRule(
        "catalyst",
        ways=(Hold((speed(62, 112), warm(69), Band("catalyst_c", 440, 800)), 360),),
        measures=(ordinary.CATALYST,),
        pairs=("CAT1",),
    ),
    MonitorRule(
        "egr_vvt",
        ways=(Hold((speed(50, 108), warm(68), Band("load_pct", 22, 90)), 140),),
        measures=(ordinary.EGR,),
        pairs=("EGR",),
    ),
    MonitorRule(
        "evaporative_system",
        start=replace(COLD, over_intake_c=OPEN),
        leak=Leak(840, 58, 16, 84, ambient_high_c=36, begin_h=5.2, takes_s=1200, bands=(LITTLE_VAPOUR,)),
        purged_first=True,
        measures=(ordinary.CAP,),
        pairs=("EVAP",),
    ),
)

# ---------------------------------------------------------------- the van: exhaust fluid, power take-off


def _van(rule: MonitorRule) -> MonitorRule:
    """The light diesel's rules, with what this van has of its own."""
    if rule.id == "nox_aftertreatment":
        window = (speed(50, 126), warm(66), Band("scr_c", 210, 380), Band("dosing", 1, 1))
        rule = replace(rule, ways=(Hold(window, 430),), measures=(SCR,))
    if rule.id == "boost_pressure":
        rule = replace(rule, ways=(LoadStep((warm(62),), foot_pct=45, pull_s=3.5, from_kmh=32, to_kmh=60, repeats=2),))
    return replace(rule, only=WITHOUT_PTO) if rule.ways else rule


VAN = tuple(_van(rule) for rule in ordinary.DIESEL)
