"""The hidden numbers: what each simulated car's monitors want before they run, how long they take, what they measure.

Every threshold here is our own and differs from profiles/*.toml, so that coaching a car by a profile proves something.
They lie within what published procedures show; where a car wants something no profile can say, a comment says so.
"""

from coach.simulator.rules import (
    OPEN,
    Band,
    Continuous,
    Hold,
    Leak,
    LoadStep,
    Measure,
    MonitorRule,
    Regenerated,
    Roll,
    Start,
)

CONTINUOUS = (MonitorRule("misfire"), MonitorRule("fuel_system"), MonitorRule("comprehensive_component"))
CHECKS = (
    Continuous("thermostat", "P0128", "comprehensive_component"),
    Continuous("charging", "P0562", "comprehensive_component"),
    Continuous("misfire", "P0301", "misfire"),
)

# ---------------------------------------------------------------- what is measured; limits our own, units of service 06

SWITCH = Measure("front_sensor_switch_ms", 0x01, 0x05, 0x10, 1, 0, 104, "P0133")
SWITCH_2 = Measure("front_sensor_2_switch_ms", 0x05, 0x05, 0x10, 1, 0, 104, "P0153")
REAR = Measure("rear_sensor_low_v", 0x02, 0x07, 0x0B, 1000, 0, 0.21, "P0139")
HEATER = Measure("front_heater_a", 0x41, 0x81, 0x0E, 1000, 0.26, 2.4, "P0135")
HEATER_REAR = Measure("rear_heater_a", 0x42, 0x81, 0x0E, 1000, 0.22, 2.1, "P0141")
CATALYST = Measure("catalyst_ratio", 0x21, 0x84, 0x20, 256, 0, 0.74, "P0420")
CATALYST_2 = Measure("catalyst_2_ratio", 0x22, 0x84, 0x20, 256, 0, 0.74, "P0430")
EGR = Measure("egr_kpa", 0x31, 0x85, 0x17, 100, 1.45, OPEN, "P0401")
CAP = Measure("tank_pressure_kpa", 0x3C, 0x93, 0x17, 100, 0.95, OPEN, "P0457")
LEAK = Measure("tank_pressure_kpa", 0x3B, 0x92, 0x17, 100, 0.95, OPEN, "P0442")
AIR = Measure("secondary_air_gps", 0x71, 0x81, 0x27, 100, 1.9, OPEN, "P0411")
OXIDATION = Measure("oxidation_heat_c", 0x21, 0x86, 0x16, 10, 38, OPEN, "P0420", offset=-40)
NOX = Measure("nox_conversion_pct", 0x98, 0x87, 0x2F, 100, 42, 100, "P20EE")
SENSOR = Measure("exhaust_sensor_ms", 0x01, 0x88, 0x10, 1, 0, 1900, "P2201")
FILTER = Measure("filter_pressure_kpa", 0xB0, 0x89, 0x17, 100, 0.35, OPEN, "P2002")
CLOGGED = Measure("filter_pressure_kpa", 0xB0, 0x8B, 0x17, 100, 0, 9.0, "P2463")
BOOST = Measure("boost_gap_kpa", 0x85, 0x8A, 0x1A, 1, 0, 24, "P0299")

HEALTHY = {
    "front_sensor_switch_ms": 46.0,
    "front_sensor_2_switch_ms": 52.0,
    "rear_sensor_low_v": 0.08,
    "front_heater_a": 1.46,
    "rear_heater_a": 1.12,
    "catalyst_ratio": 0.19,
    "catalyst_2_ratio": 0.23,
    "egr_kpa": 3.4,
    "tank_pressure_kpa": 2.05,
    "oxidation_heat_c": 71.0,
    "nox_conversion_pct": 68.0,
    "exhaust_sensor_ms": 940.0,
    "boost_gap_kpa": 9.0,
    "misfire_share": 0.0,
}
"""What a sound car measures, by name, where no physics says it."""


def warm(low_c: float) -> Band:
    """Coolant at least this warm."""
    return Band("coolant_c", low_c)


def speed(low_kmh: float, high_kmh: float = OPEN) -> Band:
    """Road speed within these."""
    return Band("speed_kmh", low_kmh, high_kmh)


CLOSED_LOOP = Band("closed_loop", 1, 1)
STANDING = speed(0, 2.5)
EVEN_FOOT = Band("foot_range_pct", 0, 11)  # within four seconds
CHARGED = Band("module_v", 12.9)  # heater tests want a sound supply
LITTLE_VAPOUR = Band("vapour_kpa", -OPEN, 1.2)  # more, and no leak test can tell a leak from the fuel's own pressure
MOUNTAIN_KPA = 74.5  # about 2,500 m

# ---------------------------------------------------------------- the small spark car

SMALL = (
    *CONTINUOUS,
    MonitorRule(
        "oxygen_sensor_heater",
        # a cold idle of about a minute, or, started warm, some minutes of hot running
        ways=(
            Hold((STANDING, CHARGED), 66, window_s=400, cold_start=True),
            Hold((warm(67), CHARGED, CLOSED_LOOP), 170),
        ),
        any_way=True,
        measures=(HEATER, HEATER_REAR),
    ),
    MonitorRule(
        "oxygen_sensor",
        ways=(Hold((speed(56, 93), warm(66), CLOSED_LOOP, EVEN_FOOT, Band("rpm", 1150, 3300)), 212),),
        after=("oxygen_sensor_heater",),
        measures=(SWITCH, REAR),
        pairs=("O2S1", "SO2S1"),
    ),
    MonitorRule(
        "catalyst",
        ways=(
            Hold(
                (
                    speed(74, 116),
                    warm(71),
                    Band("catalyst_c", 470, 790),
                    Band("run_time_s", 390),
                    EVEN_FOOT,
                    CLOSED_LOOP,
                ),
                285,
            ),
        ),
        after=("oxygen_sensor",),
        measures=(CATALYST,),
        pairs=("CAT1",),
    ),
    MonitorRule(
        "egr_vvt",
        ways=(Roll((warm(69),), from_kmh=76, to_kmh=63, shortest_s=6, repeats=2),),
        measures=(EGR,),
        pairs=("EGR",),
    ),
    MonitorRule(
        "evaporative_system",
        # after a cold start, 17 minutes' drive and a warm engine the car waits until the tank has cooled
        start=Start(
            coolant_low_c=3,
            coolant_high_c=36,
            over_intake_c=6,
            ambient_low_c=2,
            fuel_low_pct=15,
            fuel_high_pct=85,
            baro_low_kpa=MOUNTAIN_KPA,
        ),
        leak=Leak(1020, 72, 15, 85, ambient_high_c=38, begin_h=4.9, takes_s=1500, bands=(LITTLE_VAPOUR,)),
        purged_first=True,
        measures=(CAP,),
        pairs=("EVAP",),
    ),
)

# ---------------------------------------------------------------- the older six-cylinder estate

ESTATE = (
    *CONTINUOUS,
    MonitorRule(
        "oxygen_sensor_heater",
        ways=(Hold((CHARGED, STANDING), 95, window_s=700, cold_start=True), Hold((warm(72), CHARGED, speed(30)), 240)),
        any_way=True,
        measures=(HEATER, HEATER_REAR),
    ),
    MonitorRule(
        "secondary_air",
        # the pump runs at the first idle only: no second chance in a drive
        ways=(Hold((STANDING, Band("pumping_air", 1, 1)), 52, window_s=150, cold_start=True),),
        start=Start(coolant_low_c=2, coolant_high_c=37, over_intake_c=7),
        measures=(AIR,),
    ),
    MonitorRule(
        "oxygen_sensor",
        ways=(Hold((speed(58, 92), warm(73), CLOSED_LOOP, Band("foot_range_pct", 0, 13)), 262),),
        measures=(SWITCH, SWITCH_2),
    ),
    MonitorRule(
        "catalyst",
        ways=(Hold((speed(76, 112), warm(76), Band("catalyst_c", 480, 800), Band("foot_range_pct", 0, 13)), 330),),
        after=("oxygen_sensor",),
        measures=(CATALYST, CATALYST_2),
    ),
    MonitorRule(
        "egr_vvt",
        ways=(Roll((warm(70),), from_kmh=72, to_kmh=62, shortest_s=5, repeats=2),),
        measures=(EGR,),
    ),
    MonitorRule(
        "evaporative_system",
        # with the engine running; it waits for the oxygen sensors to be complete
        start=Start(
            coolant_low_c=3,
            coolant_high_c=40,
            over_intake_c=8,
            ambient_low_c=3,
            fuel_low_pct=17,
            fuel_high_pct=83,
            baro_low_kpa=MOUNTAIN_KPA,
        ),
        gives_up=(LITTLE_VAPOUR,),
        purged_first=True,
        ways=(Hold((speed(70, 106), warm(74), Band("foot_range_pct", 0, 14)), 395, continuous=True, pause_s=25),),
        after=("oxygen_sensor",),
        measures=(LEAK,),
    ),
)

# ---------------------------------------------------------------- the hybrid: everything counts with the engine on only

HYBRID = (
    *CONTINUOUS,
    MonitorRule(
        "oxygen_sensor_heater",
        ways=(Hold((CHARGED, Band("run_time_s", 20)), 130),),
        measures=(HEATER, HEATER_REAR),
    ),
    MonitorRule(
        "oxygen_sensor",
        ways=(Hold((speed(58, 96), warm(68), CLOSED_LOOP), 225),),
        measures=(SWITCH, REAR),
        pairs=("O2S1", "SO2S1"),
    ),
    MonitorRule(
        "catalyst",
        ways=(Hold((speed(63, 108), warm(70), Band("catalyst_c", 440, 800)), 410),),
        measures=(CATALYST,),
        pairs=("CAT1",),
    ),
    MonitorRule(
        "egr_vvt",
        ways=(Hold((speed(52, 104), warm(69), Band("load_pct", 24, 88)), 150),),
        measures=(EGR,),
        pairs=("EGR",),
    ),
    MonitorRule(
        "evaporative_system",
        start=Start(
            coolant_low_c=4,
            coolant_high_c=37,
            ambient_low_c=4,
            fuel_low_pct=14,
            fuel_high_pct=86,
            baro_low_kpa=MOUNTAIN_KPA,
        ),
        leak=Leak(900, 60, 14, 86, ambient_high_c=36, begin_h=5.3, takes_s=1100, bands=(LITTLE_VAPOUR,)),
        purged_first=True,
        measures=(CAP,),
        pairs=("EVAP",),
    ),
)

# ---------------------------------------------------------------- the light diesel

DIESEL = (
    MonitorRule("misfire", ways=(Hold((STANDING, warm(55)), 28),)),
    MonitorRule("fuel_system", ways=(Hold((warm(62), speed(40)), 200),), pairs=("FUEL",)),
    MonitorRule("comprehensive_component"),
    MonitorRule(
        "nmhc_catalyst",
        # only in the heat of a regeneration
        ways=(Hold((Band("regenerating", 1, 1), Band("catalyst_c", 520), speed(45)), 160),),
        measures=(OXIDATION,),
        pairs=("HCCAT",),
    ),
    MonitorRule(
        "nox_aftertreatment",
        ways=(Hold((speed(63, 126), warm(68), Band("catalyst_c", 190, 440), Band("ambient_c", 2)), 520),),
        measures=(NOX,),
        pairs=("NCAT",),
    ),
    MonitorRule(
        "boost_pressure",
        ways=(LoadStep((warm(64),), foot_pct=42, pull_s=3.0, from_kmh=30, to_kmh=61, repeats=2),),
        measures=(BOOST,),
        pairs=("BP",),
    ),
    MonitorRule(
        "exhaust_gas_sensor",
        ways=(Hold((speed(66, 124), warm(68), Band("foot_range_pct", 0, 16)), 430),),
        measures=(SENSOR,),
        pairs=("EGS",),
    ),
    MonitorRule(
        "particulate_filter",
        ways=(Regenerated((speed(48), warm(66)), after_s=75),),
        measures=(FILTER, CLOGGED),
        pairs=("PM",),
    ),
    MonitorRule(
        "egr_vvt",
        ways=(Hold((speed(38, 88), warm(61), Band("load_pct", 6, 70)), 105),),
        measures=(EGR,),
        pairs=("EGR",),
    ),
)

# ---------------------------------------------------------------- the hatchback

HATCH = (
    *CONTINUOUS,
    MonitorRule(
        "oxygen_sensor_heater",
        ways=(Hold((CHARGED, Band("run_time_s", 15)), 88),),
        measures=(HEATER, HEATER_REAR),
    ),
    MonitorRule(
        "oxygen_sensor",
        ways=(Hold((speed(55, 96), warm(65), CLOSED_LOOP), 190),),
        measures=(SWITCH, REAR),
        pairs=("O2S1", "SO2S1"),
    ),
    MonitorRule(
        "catalyst",
        # a dead-still foot gives this catalyst test nothing to measure: it wants some movement within four seconds
        ways=(Hold((speed(70, 118), warm(72), Band("catalyst_c", 455, 800), Band("foot_range_pct", 1.0, 24)), 190),),
        after=("oxygen_sensor",),
        measures=(CATALYST,),
        pairs=("CAT1",),
    ),
    MonitorRule(
        "egr_vvt",
        ways=(LoadStep((warm(66),), foot_pct=38, pull_s=2.5, from_kmh=28, to_kmh=58, repeats=2),),
        measures=(EGR,),
        pairs=("EGR",),
    ),
    MonitorRule(
        "evaporative_system",
        start=Start(
            coolant_low_c=3,
            coolant_high_c=40,
            over_intake_c=9,
            ambient_low_c=3,
            fuel_low_pct=16,
            fuel_high_pct=84,
            baro_low_kpa=MOUNTAIN_KPA,
        ),
        gives_up=(LITTLE_VAPOUR,),
        purged_first=True,
        ways=(Hold((speed(60, 112), warm(70)), 300),),
        measures=(CAP,),
        pairs=("EVAP",),
    ),
)
