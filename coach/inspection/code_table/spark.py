"""Codes of petrol engines by paragraph (h) of 40 CFR 86.010-18, but for oxygen sensors and common parts.

Test ids of service 06: python-OBD `commands.py`. A leak test that passed for a small hole speaks for every larger one,
never the other way: 39 cap off or 0.150 in, 3A 0.090, 3B 0.040, 3C 0.020 in, 3D purge flow (hexadecimal).
"""

from coach.inspection.code_table.rows import GENERAL, MEMORY, Own, Row, part

_CATALYST, _HEATED = "catalyst", "heated_catalyst"
_FUEL, _EVAP, _AIR, _EGR = "fuel_system", "evaporative_system", "secondary_air", "egr_vvt"
_BOOST = "boost_pressure"

_MISFIRE = (
    Row("P0300 P0313-P0314 P0316 P0363", "misfire", "(h)(2)", True, mids=tuple(range(0xA1, 0xAE))),
    *(Row(f"P{300 + n:04d}", "misfire", "(h)(2)", True, mids=(0xA1 + n,)) for n in range(1, 13)),
)
"""A1 is the engine's misfire in general, A2 to AD that of cylinders 1 to 12."""

_MIXTURE = (
    Row("P0170-P0172 P2177-P2178 P2187-P2188 P2191-P2192", _FUEL, "(h)(1)(ii)(B)", True, mids=(0x81,)),
    Row("P0173-P0175 P2179-P2180 P2189-P2190 P2193-P2194", _FUEL, "(h)(1)(ii)(B)", True, mids=(0x82,)),
    Row("P2096-P2097", _FUEL, "(h)(1)(ii)(A)", True, mids=(0x81,)),
    Row("P2098-P2099", _FUEL, "(h)(1)(ii)(A)", True, mids=(0x82,)),
    Row("P0087-P0088", _FUEL, "(h)(1)(ii)(A)", True),
    Row("P0148", _FUEL, MEMORY, True),
    part("P0089 P2293", "(i)(3)(iii)(A)", _FUEL),
)

_CATALYSTS = (
    Row("P0420-P0422", _CATALYST, "(h)(6)", mids=(0x21,)),
    Row("P0430-P0432", _CATALYST, "(h)(6)", mids=(0x22,)),
    Row("P0423-P0424", _HEATED, "13 CCR 1968.2(e)(2), its title only", mids=(0x61,)),
    Row("P0433-P0434", _HEATED, "13 CCR 1968.2(e)(2), its title only", mids=(0x62,)),
    part("P0425-P0428 P0435-P0438", "(i)(3)(i)", _CATALYST),
    part("P0429 P0439", GENERAL, _HEATED, own=Own("cold_start", MEMORY)),
)

_LARGER = (0x39, 0x3A, 0x3B, 0x3C)
_IN_THE_LEAK_TEST = "(h)(7)(i)"
_EVAPORATIVE = (
    Row("P0440", _EVAP, "(h)(7)(ii)"),
    Row("P0441 P0497", _EVAP, "(h)(7)(ii)(A)", mids=(0x3D,)),
    Row("P0496", _EVAP, "(h)(7)(i), a valve's own fault or the system's", True, mids=(0x3D,)),
    Row("P0455 P0457", _EVAP, "(h)(7)(ii)(B)", mids=_LARGER),
    Row("P0442", _EVAP, "(h)(7)(ii)(B)", mids=(0x3B, 0x3C)),
    Row("P0456", _EVAP, "(h)(7)(ii)(B); a hole of 0.020 in: 40 CFR 86.1806-17(b)(1)", mids=(0x3C,), own_result=True),
    Row("P2421-P2422", _EVAP, "(h)(7)(i), a valve's own fault or the system's", True),
    Row("P2450-P2451", _EVAP, "(h)(7)(i), a valve's own fault or the system's", True, title="memory"),
    part("P0446-P0449 P0498-P0499 P2400-P2407 P2418-P2420", _IN_THE_LEAK_TEST, _EVAP, partner=_EVAP),
    part("P0451 P0454", _IN_THE_LEAK_TEST, _EVAP, partner=_EVAP),
    part("P0443-P0445 P0450 P0452-P0453 P0458-P0459 P0465-P0469 P2408-P2412", "(h)(7)(i)", _EVAP),
    part("P2024-P2028", "(h)(7)(i)", _EVAP),
)
"""Vent, leak pump and switching valve work in the leak test alone, and there a pressure sensor that sticks shows.

P0446 is set inside the leak test on a Bravada of 2003, a Firebird of 2002 and an ES 330 of 2004 (service information);
for the others of these rows it is our judgement by what the part is for.
"""

_SECONDARY_AIR = (
    Row("P0410-P0411", _AIR, "(h)(5)(ii)"),
    Row("P0491", _AIR, "(h)(5)(ii)(A)", mids=(0x71,)),
    Row("P0492", _AIR, "(h)(5)(ii)(A)", mids=(0x72,)),
    Row("P2440-P2447", _AIR, "(h)(5)(i)"),
    Row("P2448-P2449", _AIR, "(h)(5)(ii)(B)", title="memory"),
    part("P0412-P0419 P2257-P2260 P2431 P2436", "(h)(5)(i)", _AIR, partner=_AIR),
    part("P2430 P2432-P2435 P2437-P2439", "(h)(5)(i)", _AIR),
)
"""Pump and valves work after a cold start alone, when their monitor runs: our judgement by what they are for."""

_EXHAUST_RETURN = (
    Row("P0400-P0402 P2413", _EGR, "(h)(3)(ii)", mids=(0x31, 0x32, 0x33, 0x34)),
    part("P0403-P0409 P0486-P0490 P2141-P2145 P2425-P2427", "(h)(3)(i)", _EGR),
    part("P042E P042F P045A P045B P045C P045D P045E P045F P046C P046D P046E P046F", "(h)(3)(i)", _EGR, title="memory"),
)

_COLD_START = "(h)(4)(iii); only in the cold start: Lincoln MKZ 2012, Nissan Maxima 2019, Kia 2015"
_VALVE_TIMING = (
    Row("P0011-P0012 P0014-P0015 P2646-P2647 P2651-P2652", _EGR, "(h)(9)(ii)", mids=(0x35,)),
    Row("P0021-P0022 P0024-P0025 P2656-P2657 P2661-P2662", _EGR, "(h)(9)(ii)", mids=(0x36,)),
    Row("P000A P000B", _EGR, "(h)(9)(ii)(B)", mids=(0x35,), title="page"),
    Row("P000C P000D", _EGR, "(h)(9)(ii)(B)", mids=(0x36,), title="page"),
    part("P0010 P0013 P0020 P0023 P2088-P2095 P0026-P0029 P0075-P0086", "(h)(9)(i)", _EGR),
    part("P2645 P2648-P2650 P2653-P2655 P2658-P2660 P2663-P2664", "(h)(9)(i)", _EGR),
    part("P052A P052B P052C P052D", "(h)(4)(ii)", _EGR, own=Own("cold_start", _COLD_START), title="maker"),
)

_IDLE = (
    part(
        "P0505-P0507 P0519",
        "(i)(3)(iii)(B)",
        own=Own("warm_idle", "Kia 2014 and 2015, Hyundai 2005, Cadillac 2001, Subaru 2006, Acura 2007"),
    ),
    part("P050A", "(h)(4)(ii)", own=Own("cold_start", "(h)(4)(i)"), title="page"),
    part("P050B P050D P050E", "(h)(4)(ii)", own=Own("cold_start", "(h)(4)(i)"), title="memory"),
)
"""The idle speed is judged warm, standing and with the foot off; its cold-start strategy in the cold start."""

_UNDER_LOAD = Own("boost_pull", "Acura RDX 2012, P0299")
_PETROL_PARTS = (
    part("P0299", "Acura RDX 2012, service information", _BOOST, own=_UNDER_LOAD),
    part("P0234 P2262-P2263", MEMORY, _BOOST, own=_UNDER_LOAD),
    part("P0033-P0035 P0039 P0045-P0049 P0235-P0250 P2261 P2562-P2566", "(i)(3)(i)", _BOOST),
    part("P0320-P0323 P0324-P0334", "(i)(3)(i)"),
    part("P0350-P0362 P2300-P2335", GENERAL),
    part("P04DB", "(i)(2)", title="memory"),
    Row("P2002", "ac_or_gpf", MEMORY, mids=(0xB0,)),
    Row("P2003", "ac_or_gpf", MEMORY, mids=(0xB1,)),
    Row("P2463 P244A P244B", "ac_or_gpf", MEMORY, title="maker"),
    part("P2452 P2453 P2454 P2455", "(i)(3)(ii)(A)", "ac_or_gpf", title="page"),
    part("P2456", "(i)(3)(ii)(A)", "ac_or_gpf", title="memory"),
)
"""Petrol engines have no readiness bit for boost; that bit 4 is the petrol particulate filter is second hand."""

SPARK_ROWS = (
    *_MISFIRE,
    *_MIXTURE,
    *_CATALYSTS,
    *_EVAPORATIVE,
    *_SECONDARY_AIR,
    *_EXHAUST_RETURN,
    *_VALVE_TIMING,
    *_IDLE,
    *_PETROL_PARTS,
)
"""All of them."""
