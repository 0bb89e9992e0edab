"""Codes of diesel engines by paragraph (g) of 40 CFR 86.010-18, but for oxygen sensors and common parts.

Titles read at makers: Chevrolet Express diesel 2010 to 2013 (reductant, NOx sensors), Toyota diesels (particulate
filter, NOx sensor), Chevrolet T series 2008 (P2463), BMW 335d 2010 and X5 35d 2009 (P2459, P203B, P22A7), Mazda 3 2.2
(P2459).
"""

from coach.inspection.code_table.rows import GENERAL, MEMORY, Own, Row, part

_FUEL, _BOOST, _EGR = "fuel_system", "boost_pressure", "egr_vvt"
_NMHC, _NOX, _FILTER, _SENSOR = "nmhc_catalyst", "nox_aftertreatment", "particulate_filter", "exhaust_gas_sensor"

_AT_IDLE = Own("warm_idle", "(g)(2)(iii)(A): at idle, once in a driving cycle")


def _misfire(codes: str, mids: tuple[int, ...]) -> Row:
    return Row(codes, "misfire", "(g)(2)(ii)", True, mids=mids, own=_AT_IDLE)


_MISFIRE = (
    _misfire("P0300 P0313-P0314 P0316 P0363", tuple(range(0xA1, 0xAE))),
    *(_misfire(f"P{300 + n:04d}", (0xA1 + n,)) for n in range(1, 13)),
)

_FUEL_SYSTEM = (
    Row("P0087-P0088 P2288 P2290 P2292", _FUEL, "(g)(1)(ii)(A)", True),
    Row("P0148", _FUEL, "(g)(1)(ii)(B)", True),
    Row("P0149", _FUEL, "(g)(1)(ii)(C)", True),
    Row("P0263 P0266 P0269 P0272 P0275 P0278 P0281 P0284 P0287 P0290 P0293 P0296", _FUEL, "(g)(1)(ii)(B)", True),
    Row(
        "P02CC P02CD P02CE P02CF P02D0 P02D1 P02D2 P02D3 P02D4 P02D5 P02D6 P02D7 P02D8 P02D9 P02DA P02DB",
        _FUEL,
        "(g)(1)(ii)(B)",
        True,
        title="memory",
    ),
    Row("P0170-P0175", _FUEL, "(g)(1)(ii)(E), (i)(6)(iii)", True),
    Row("P0093-P0094", _FUEL, MEMORY, True),
    part("P0089 P2293 P0216 P0251-P0260 P2283-P2287 P2623-P2625", "(g)(1)(i)", _FUEL),
    part("P2264-P2268", GENERAL, _FUEL),
)

_EXHAUST_RETURN = (
    Row("P0401", _EGR, "(g)(3)(ii)(A)", True, mids=(0x31, 0x32, 0x33, 0x34)),
    Row("P0402", _EGR, "(g)(3)(ii)(B)", True, mids=(0x31, 0x32, 0x33, 0x34)),
    Row("P0400 P2413", _EGR, "(g)(3)(ii)", True, mids=(0x31, 0x32, 0x33, 0x34)),
    Row("P2457", _EGR, "(g)(3)(ii)(E)", mids=(0x31, 0x32, 0x33, 0x34), title="memory"),
    part("P0403-P0409 P0486-P0490 P2141-P2145 P2425-P2427", "(g)(3)(i)", _EGR),
    part("P042E P042F P045A P045B P045C P045D P045E P045F P046C P046D P046E P046F", "(g)(3)(i)", _EGR, title="memory"),
    part("P245A P245B P245C P245D", "(g)(3)(i)", _EGR, title="memory"),
)
"""Low and high flow are watched all the time: (g)(3)(iii)(A); the cooler under conditions the maker defines."""

_BOOSTED = (
    Row("P0299 P2262", _BOOST, "(g)(4)(ii)(A)", True, mids=(0x85, 0x86)),
    Row("P0234", _BOOST, "(g)(4)(ii)(B)", True, mids=(0x85, 0x86)),
    Row("P2263", _BOOST, "(g)(4)(ii)", True, mids=(0x85, 0x86)),
    Row("P226C", _BOOST, "(g)(4)(ii)(C)", mids=(0x85, 0x86), title="memory"),
    Row("P026A", _BOOST, "(g)(4)(ii)(E)", title="memory"),
    part("P0033-P0035 P0039 P0045-P0049 P0235-P0250 P2261 P2562-P2566", "(g)(4)(i)", _BOOST),
    part("P007C P007D", "(g)(4)(i)", _BOOST, title="maker"),
)
"""Boost too low and too high is watched all the time: (g)(4)(iii)(A)."""

_CATALYSTS = (
    Row("P0420-P0422", _NMHC, "(g)(5)(ii)", mids=(0x21,)),
    Row("P0430-P0432", _NMHC, "(g)(5)(ii)", mids=(0x22,)),
    part("P0425-P0428 P0435-P0438", "(i)(3)(i)", _NMHC),
)
"""On a Toyota diesel P0420 is judged in a forced regeneration, by the heat the oxidation catalyst makes of fuel."""

_REDUCTANT = (
    Row("P2000", _NOX, "(g)(7)(ii)(A)", mids=(0x90,)),
    Row("P2001", _NOX, "(g)(7)(ii)(A)", mids=(0x91,)),
    Row("P20EE", _NOX, "(g)(6)(ii)(A)", mids=(0x98,), title="maker"),
    Row("P20EF", _NOX, "(g)(6)(ii)(A)", mids=(0x99,), title="memory"),
    Row("P207F", _NOX, "(g)(6)(ii)(D)", title="maker"),
    Row("P2BA9", _NOX, "(g)(6)(ii)(C), (D)", True, title="page"),
    Row("P202E P204F P20E8 P20E9", _NOX, "(g)(6)(ii)(B)", True, title="maker"),
    Row("P208E P20F4 P20F5 P2BA8 P2BAA", _NOX, "(g)(6)(ii)(B)", True, title="memory"),
    part("P203F", "(g)(6)(ii)(C)", _NOX, title="page"),
    part("P2BA7", "(g)(6)(ii)(C)", _NOX, title="memory"),
    part("P203B", "(g)(6)(i)", _NOX, title="maker"),
    part("P203A P203C P203D P203E P204A P204B P204C P204D P204E", "(g)(6)(i)", _NOX, title="memory"),
    part("P205A P205B P205C P205D P205E P208A P208B P208C P208D", "(g)(6)(i)", _NOX, title="memory"),
    part("P2037-P2064", "(g)(6)(i)", _NOX),
)
"""Delivery and quantity of reductant are watched all the time: (g)(6)(iii)(B); efficiency and quality are not.

Two public pages differ on P2BA9, too little reductant or too poor: it is judged as both.
"""

_NOX_SENSORS = (
    Row("P2201 P2214", _SENSOR, "(g)(9)(iv)(A)"),
    Row("P229F", _SENSOR, "(g)(9)(iv)(A)", title="page"),
    Row("P2200 P2202-P2204 P2213 P2215-P2217", _SENSOR, "(g)(9)(iv)(B)", True),
    Row("P229E P22A0 P22A1", _SENSOR, "(g)(9)(iv)(B)", True, title="maker"),
    Row("P2205-P2212 P2218-P2225", _SENSOR, "(g)(9)(vi)(B)", True),
    Row("P220E P22A3 P22A7", _SENSOR, "(g)(9)(vi)(B)", True, title="maker"),
    Row("P24AE P24AF P24B0 P24B1", _SENSOR, "(g)(9)(v)", True, title="memory"),
)

_FILTERS = (
    Row("P2002", _FILTER, "(g)(8)(ii)(A)", mids=(0xB0,)),
    Row("P2003", _FILTER, "(g)(8)(ii)(A)", mids=(0xB1,)),
    Row("P244A", _FILTER, "(g)(8)(ii)(A), (D)", mids=(0xB0,), title="maker"),
    Row("P244B P2463", _FILTER, "(g)(8)(ii)(C)", mids=(0xB0,), title="maker"),
    Row("P2458 P244C", _FILTER, "(g)(8)(ii)(C)", mids=(0xB0,), title="maker"),
    Row("P244E", _FILTER, "(g)(8)(ii)(C)", mids=(0xB1,), title="maker"),
    Row("P2459", _FILTER, "(g)(8)(ii)(B)", mids=(0xB0,), title="maker"),
    Row("P242F", _FILTER, "(g)(8)(i)", mids=(0xB0,), title="page"),
    Row("P244D", _FILTER, MEMORY, mids=(0xB0,), title="memory"),
    Row("P244F", _FILTER, MEMORY, mids=(0xB1,), title="memory"),
    part("P2452 P2453 P2454 P2455", "(i)(3)(ii)(A)", _FILTER, title="page"),
    part("P2456", "(i)(3)(ii)(A)", _FILTER, title="memory"),
    part("P242A P242B P242C P242D P242E", "(i)(3)(ii)(A)", _FILTER, title="memory"),
)

_VALVE_TIMING = (
    Row("P0011-P0012 P0014-P0015", _EGR, "(g)(10)(ii)", mids=(0x35,)),
    Row("P0021-P0022 P0024-P0025", _EGR, "(g)(10)(ii)", mids=(0x36,)),
    Row("P000A P000B", _EGR, "(g)(10)(ii)(B)", mids=(0x35,), title="page"),
    Row("P000C P000D", _EGR, "(g)(10)(ii)(B)", mids=(0x36,), title="page"),
    part("P0010 P0013 P0020 P0023 P2088-P2095 P0026-P0029 P0075-P0086", "(g)(10)(i)", _EGR),
)

_PREHEATED = Own("cold_start", "(d)(4)(iv): parts that work at the start alone")
_DIESEL_PARTS = (
    part("P0380 P0382 P0670-P0684", "(i)(3)(iii)(D)", own=_PREHEATED),
    part("P0540-P0543 P0640 P2604-P2609", "(i)(3)(iii)(D)", own=_PREHEATED),
    part("P0381", "(i)(3)(iii)(E)"),
    part("P0505-P0507 P0519", "(i)(3)(iii)(C)", own=Own("warm_idle", "by the makers named for petrol engines")),
    part("P2428-P2429", MEMORY),
)

DIESEL_ROWS = (
    *_MISFIRE,
    *_FUEL_SYSTEM,
    *_EXHAUST_RETURN,
    *_BOOSTED,
    *_CATALYSTS,
    *_REDUCTANT,
    *_NOX_SENSORS,
    *_FILTERS,
    *_VALVE_TIMING,
    *_DIESEL_PARTS,
)
"""All of them."""
