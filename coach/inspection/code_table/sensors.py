"""Codes of oxygen and air-fuel ratio sensors and their heaters, for petrol and for diesel engines.

Test ids 01 to 10 (hexadecimal) are the sensors, 41 to 50 their heaters: bank 1 sensor 1 to bank 4 sensor 4, four a bank
(python-OBD `commands.py`).
"""

from collections.abc import Iterator
from dataclasses import dataclass

from coach.inspection.code_table.rows import Row
from coach.j1979.readiness import Ignition


@dataclass(frozen=True, slots=True)
class _Place:
    """One sensor. `mid`: its test id; its heater's is 40 (hexadecimal) above. `newer`: titles read at makers'.

    `heater` and `response`: run under conditions the maker defines. `heater_wiring` and `wiring`: watched all the time.
    `newer`: response codes that are younger than python-OBD's list: Cadillac Escalade 2013 and Nissan Maxima 2019.
    """

    mid: int
    heater: str
    heater_wiring: str
    response: str
    newer: str
    wiring: str


_FRONT_WIRING = "P2231 P2237-P2239 P2243-P2246 P2251-P2253 P2297 P2626-P2628"
_FRONT_2_WIRING = "P2234 P2240-P2242 P2247-P2250 P2254-P2256 P2298 P2629-P2631"
_PLACES = (
    _Place(
        0x01,
        "P0053 P0135",
        "P0030-P0032",
        "P0133 P2195-P2196 P2A00",
        "P014C P014D P015A P015B",
        f"P0130-P0132 P0134 {_FRONT_WIRING}",
    ),
    _Place(
        0x02,
        "P0054 P0141",
        "P0036-P0038",
        "P0139 P2270-P2271 P2A01",
        "P013A P013B P013E P013F",
        "P0136-P0138 P0140 P2232",
    ),
    _Place(0x03, "P0055 P0147", "P0042-P0044", "P0145 P2274-P2275 P2A02", "", "P0142-P0144 P0146 P2233"),
    _Place(
        0x05,
        "P0059 P0155",
        "P0050-P0052",
        "P0153 P2197-P2198 P2A03",
        "P014E P014F P015C P015D",
        f"P0150-P0152 P0154 {_FRONT_2_WIRING}",
    ),
    _Place(
        0x06,
        "P0060 P0161",
        "P0056-P0058",
        "P0159 P2272-P2273 P2A04",
        "P013C P013D P014A P014B",
        "P0156-P0158 P0160 P2235",
    ),
    _Place(0x07, "P0061 P0167", "P0062-P0064", "P0165 P2276-P2277 P2A05", "", "P0162-P0164 P0166 P2236"),
)
_FRONT = (0x01, 0x05)
HEATER_MID = 0x40

# petrol: sensors before the catalyst (ii), their wiring all the time by (v)(B); behind it (iii), out of range all the
# time by (vi)(B); heaters (iv), their wiring all the time by (vii)(B)
# diesel: before the aftertreatment (ii), behind it (iii), wiring all the time by (vii)(C); heaters (vi), by (viii)(B)
_SPARK = {"front": "(h)(8)(ii)(A)", "front_wiring": "(h)(8)(ii)(B)", "rear": "(h)(8)(iii)(A)"}
_SPARK |= {"rear_wiring": "(h)(8)(iii)(B), (D)", "heater": "(h)(8)(iv)(A)", "heater_wiring": "(h)(8)(iv)(B)"}
_DIESEL = {"front": "(g)(9)(ii)(A)", "front_wiring": "(g)(9)(ii)(B)", "rear": "(g)(9)(iii)(A)"}
_DIESEL |= {"rear_wiring": "(g)(9)(iii)(B)", "heater": "(g)(9)(vi)(A)", "heater_wiring": "(g)(9)(vi)(B)"}


def sensor_rows(ignition: Ignition) -> Iterator[Row]:
    """The rows of one kind of engine: a diesel has one monitor for sensors and heaters (SAE J1979)."""
    spark = ignition == "spark"
    where = _SPARK if spark else _DIESEL
    sensor, heater = ("oxygen_sensor", "oxygen_sensor_heater") if spark else ("exhaust_gas_sensor",) * 2
    for place in _PLACES:
        end = "front" if place.mid in _FRONT else "rear"
        heats = (place.mid + HEATER_MID,)
        yield Row(place.heater, heater, where["heater"], mids=heats)
        yield Row(place.heater_wiring, heater, where["heater_wiring"], True, mids=heats)
        yield Row(place.response, sensor, where[end], mids=(place.mid,))
        if place.newer:
            yield Row(place.newer, sensor, where[end], mids=(place.mid,), title="maker")
        yield Row(place.wiring, sensor, where[f"{end}_wiring"], True, mids=(place.mid,))
