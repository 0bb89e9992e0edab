"""Codes of components that petrol and diesel engines share: paragraph (i) of 40 CFR 86.010-18.

Wiring and out-of-range values of inputs and outputs are watched all the time: (i)(3)(iv)(A), (v)(A). Some checks are
not: whether a sensor tells the truth may need a cold engine, and a thermostat shows in the warm-up alone.
"""

from coach.inspection.code_table.rows import GENERAL, MEMORY, Own, part

_FROM_COLD = "(i)(1)(iv)(A): once in a cycle that began below its limit"
_TO_CLOSED_LOOP = "(i)(1)(v)(B): once in a cycle that began below closed loop; Subaru 2012, Mitsubishi 2004"
_AFTER_A_NIGHT = "Toyota 2010 to 2021, P0116; Prius 2021, P011B: cold start compared with the warm stop before"

_COOLING = (
    part("P0128", "(i)(1)(ii)(A)", own=Own("warm_up", _FROM_COLD)),
    part("P0125", "(i)(1)(iii)(B)", own=Own("warm_up", _TO_CLOSED_LOOP)),
    part("P0126", "(i)(1)(iii)(C)", own=Own("warm_up", MEMORY)),
    part("P2181", MEMORY, own=Own("warm_up", MEMORY)),
    part("P0116", "(i)(1)(iii)(C), (D)", own=Own("cold_soak", _AFTER_A_NIGHT)),
    part("P011B", "(i)(3)(ii)(A)", own=Own("cold_soak", _AFTER_A_NIGHT), title="maker"),
    part("P2183", "(i)(3)(ii)(A)", own=Own("cold_soak", MEMORY)),
    part("P0115 P0117-P0119", "(i)(1)(iii)(A)"),
    part("P2182 P2184-P2186", "(i)(3)(ii)(A)"),
    part("P0597-P0599 P2600-P2603", "(i)(3)(iii)(A)"),
)

_RATIONALITY = "P0071 P0096 P0111 P0181 P0186 P0196 P2199 P2610"
_INPUTS = (
    part(_RATIONALITY, "(i)(3)(ii)(A)", own=Own("cold_soak", MEMORY)),
    part("P0068-P0070 P0072-P0074 P0095 P0097-P0099 P0100-P0110 P0112-P0114 P0120-P0124", "(i)(3)(ii)(A)"),
    part("P0176-P0180 P0182-P0185 P0187-P0195 P0197-P0199 P0220-P0229", "(i)(3)(ii)(A)"),
    part("P0016-P0019", "(i)(3)(ii)(D)"),
    part("P0008-P0009", "(i)(3)(ii)(D)"),
    part("P0335-P0349 P0365-P0369 P0385-P0394", "(i)(3)(ii)(A)"),
    part("P0470-P0474 P0544-P0549 P2031-P2036 P2080-P2087", "(i)(3)(ii)(A)"),
    part("P2120-P2140 P2226-P2230 P2539-P2543", "(i)(3)(ii)(A)"),
    part("P0127 P0129 P0169", MEMORY),
    part("P0500-P0503 P2158-P2162 P0510", GENERAL),
    part("P0460 P0462-P0464 P2065 P2067-P2069", "(i)(5)(iii)"),
    part("P0461 P2066", "(i)(5)(iii)", own=Own("fuel_used", MEMORY)),
)
"""Temperature sensors are compared with each other after a night, by common practice; a fuel gauge over a tank."""

_OUTPUTS = (
    part("P0001-P0007 P0090-P0092 P2294-P2296 P2665-P2667", "(i)(3)(iii)(A)", "fuel_system"),
    part("P0065-P0067 P0200-P0212", "(i)(3)(iii)(A)", "fuel_system"),
    part("P0261-P0262 P0264-P0265 P0267-P0268 P0270-P0271 P0273-P0274 P0276-P0277", "(i)(3)(iii)(A)", "fuel_system"),
    part("P0279-P0280 P0282-P0283 P0285-P0286 P0288-P0289 P0291-P0292 P0294-P0295", "(i)(3)(iii)(A)", "fuel_system"),
    part("P0230-P0233 P0627-P0629 P2146-P2157 P2632-P2636", "(i)(3)(iii)(A)", "fuel_system"),
    part("P0475-P0479 P0508-P0509 P0511 P0518", "(i)(3)(iii)(A)"),
    part("P0638-P0639 P2100-P2103 P2109 P2111-P2119 P2163-P2168", "(i)(3)(iii)(A)"),
    part("P0660-P0665 P2004-P2023 P2070-P2071 P2075-P2079", "(i)(3)(i)"),
    part("P0480-P0485 P0691-P0696", GENERAL),
)

_ELECTRICAL = (
    part("P0560-P0563", "(i)(5)(iv)"),
    part("P0641-P0643 P0651-P0653 P0657-P0659 P0685-P0690 P0697-P0699", GENERAL),
    part("P0601-P0607 P2104-P2108 P2110", "(b)(2)(v)"),
    part("P0600", MEMORY),
)

PART_ROWS = (*_COOLING, *_INPUTS, *_OUTPUTS, *_ELECTRICAL)
"""All of them."""
