"""Every row of the table of codes: well formed, its titles where it says they stand, its paragraph of its own engine.

Titles: SAE J2012 as python-OBD's `codes.py` prints them. Paragraphs: 40 CFR 86.010-18 as printed in the CFR of 2015.
"""

import re
from collections import Counter

import pytest
from obd.codes import DTC

from coach.inspection.code_table import ROWS, TABLES
from coach.inspection.code_table.rows import CFR, EDITION, MEMORY, Assignment, Row, codes_of
from coach.inspection.own_tests import NEEDS
from coach.j1979.dtc import is_code
from coach.j1979.monitors import COMPRESSION, CONTINUOUS, MONITORS, SPARK
from coach.j1979.readiness import Ignition
from coach.j1979.test_results import monitor_of

KINDS: tuple[Ignition, ...] = ("spark", "compression")
BITS = {"spark": {*SPARK.values(), *CONTINUOUS}, "compression": {*COMPRESSION.values(), *CONTINUOUS}}
ELSEWHERE = ("13 CCR 1968.2(e)(2), its title only", "Acura RDX 2012, service information")
PARTS = "comprehensive_component"

# monitor: one of these words stands in every title assigned to it that the list prints
WORDS = {
    "oxygen_sensor_heater": ("HO2S Heater", "O2 Sensor Heater"),
    "oxygen_sensor": ("O2 Sensor",),
    "misfire": ("Misfire",),
    "fuel_system": (
        "Fuel Trim", "System Too Lean", "System Too Rich", "Fuel Rail/System Pressure", "Fuel Delivery Error",
        "Fuel Timing", "Contribution/Balance", "Injector Control Pressure", "Fuel System Leak",
    ),
    "catalyst": ("Catalyst System", "Warm Up Catalyst", "Main Catalyst"),
    "nmhc_catalyst": ("Catalyst System", "Warm Up Catalyst", "Main Catalyst"),
    "heated_catalyst": ("Heated Catalyst",),
    "evaporative_system": ("Evaporative Emission System",),
    "secondary_air": ("Secondary Air Injection System",),
    "egr_vvt": ("Exhaust Gas Recirculation", "Camshaft Position", "Rocker Arm Actuator"),
    "nox_aftertreatment": ("NOx Trap",),
    "particulate_filter": ("Particulate Trap",),
    "ac_or_gpf": ("Particulate Trap",),
    "boost_pressure": ("Turbo",),
    "exhaust_gas_sensor": ("NOx Sensor", "O2 Sensor", "HO2S Heater"),
}  # fmt: skip

EVERY = [(kind, row) for kind in KINDS for row in ROWS[kind]]
ALL = [(kind, known) for kind in KINDS for known in TABLES[kind].values()]


def rows_of(kind: Ignition) -> tuple[Row, ...]:
    return ROWS[kind]


@pytest.mark.parametrize("kind", KINDS)
def test_the_table_holds_at_least_four_hundred_codes_of_each_kind_of_engine(kind: Ignition) -> None:
    assert len(TABLES[kind]) >= 400


@pytest.mark.parametrize("kind", KINDS)
def test_no_code_stands_twice_and_every_code_is_one(kind: Ignition) -> None:
    counted = Counter(code for row in rows_of(kind) for code in codes_of(row))
    assert [code for code, count in counted.items() if count > 1] == []
    assert all(is_code(code) and code.startswith(("P0", "P2")) for code in counted)
    assert len(counted) == len(TABLES[kind])


def test_every_row_is_of_a_monitor_its_engine_has_and_of_a_known_system() -> None:
    for kind, row in EVERY:
        assert row.monitor in BITS[kind], row
        assert row.system is None or row.system in MONITORS, row
        assert row.partner is None or row.partner in BITS[kind], row


def test_a_title_stands_where_its_row_says() -> None:
    for kind, row in EVERY:
        for code in codes_of(row):
            assert (row.title == "list") == (code in DTC), f"{kind} {code} {row.title} {DTC.get(code)}"


def test_every_code_of_a_monitor_is_about_its_system_by_its_published_title() -> None:
    for kind, known in ALL:
        if known.monitor != PARTS and known.title == "list":
            title = DTC[known.code]
            assert any(word in title for word in WORDS[known.monitor]), f"{kind} {known.code} {title}"


def test_no_title_of_a_system_is_left_to_another_monitor() -> None:
    for _, known in ALL:
        title = DTC.get(known.code, "")
        if "Heater C" in title and title.startswith(("HO2S", "O2 Sensor H")):
            assert known.monitor in ("oxygen_sensor_heater", "exhaust_gas_sensor"), known.code
        if "Leak Detected" in title and "Evaporative" in title:
            assert known.monitor == "evaporative_system", known.code
        if title.startswith(("Evaporative", "EVAP")) and "Circuit" in title:
            assert (known.monitor, known.system) == (PARTS, "evaporative_system"), known.code


# Titles with the word circuit that are no wiring faults: the sensor's answer or the heater's current is judged
ANSWERS = re.compile(r"(O2|NOx) Sensor Circuit (Slow|Range/Performance)|O2 Sensor Heater Circuit$")


def test_a_circuit_fault_is_never_settled_by_the_bit_of_its_system() -> None:
    wiring = [
        known
        for _, known in ALL
        if re.search(r"Circuit|Low Input|High Input", DTC.get(known.code, "")) and not ANSWERS.match(DTC[known.code])
    ]
    assert len(wiring) > 500
    assert [known.code for known in wiring if not known.circuit] == []
    sensors = ("oxygen_sensor", "oxygen_sensor_heater", "exhaust_gas_sensor", "fuel_system")
    assert {known.monitor for known in wiring} <= {PARTS, *sensors}


def test_each_kind_of_engine_cites_its_own_paragraphs_and_common_ones() -> None:
    for kind, known in ALL:
        if known.source in (MEMORY, *ELSEWHERE):
            continue
        own = re.escape(CFR) + (r"\((h|i|b)\)" if kind == "spark" else r"\((g|i|b)\)")
        assert re.match(own, known.source), f"{kind} {known.code} {known.source}"
        assert known.source.endswith(f", {EDITION}"), known.source


def test_every_monitor_watches_for_some_code() -> None:
    assert {known.monitor for _, known in ALL} == set(MONITORS)


def test_what_rests_on_memory_is_counted() -> None:
    """A paragraph or a title from memory says so; a change of these numbers is to be explained."""
    codes = {known.code: known for _, known in ALL}
    assert sum(known.source == MEMORY for known in codes.values()) <= 25
    assert sum(known.title == "memory" for known in codes.values()) <= 85
    assert all(known.unread == (known.source == MEMORY or known.title == "memory") for known in codes.values())
    assert sum(known.title in ("maker", "page") for known in codes.values()) >= 45


def test_every_test_id_is_of_the_rows_own_monitor() -> None:
    as_petrol = {"nmhc_catalyst": "catalyst", "ac_or_gpf": "particulate_filter"}
    for kind, row in EVERY:
        for mid in row.mids:
            told = monitor_of(mid)
            fits = {row.monitor, as_petrol.get(row.monitor, row.monitor)}
            if row.monitor == "exhaust_gas_sensor":
                fits |= {"oxygen_sensor", "oxygen_sensor_heater"}
            assert told in fits, f"{kind} {row.codes} {mid:02X} {told}"


def test_a_need_of_its_own_has_a_source_an_id_and_a_finished_cycle() -> None:
    wanted = [known for _, known in ALL if known.own is not None]
    assert {known.own for known in wanted} == set(NEEDS)
    for known in wanted:
        assert known.own_from and known.circuit and known.monitor in CONTINUOUS, known
    assert all(not known.own_from for _, known in ALL if known.own is None)


# 40 CFR 86.010-18(i)(1)(iv)(A), (v)(B) thermostat and closed loop from cold; (h)(4) cold-start strategy; (i)(3)(iii)(B)
# idle; service information named in the rows; P0446 in the leak test: Bravada 2003, Firebird 2002, ES 330 2004
@pytest.mark.parametrize(
    ("code", "own", "partner"),
    [
        ("P0128", "warm_up", None),
        ("P0125", "warm_up", None),
        ("P0126", "warm_up", None),
        ("P0116", "cold_soak", None),
        ("P011B", "cold_soak", None),
        ("P0117", None, None),
        ("P0506", "warm_idle", None),
        ("P0507", "warm_idle", None),
        ("P0511", None, None),
        ("P052A", "cold_start", None),
        ("P0299", "boost_pull", None),
        ("P0461", "fuel_used", None),
        ("P0446", None, "evaporative_system"),
        ("P0498", None, "evaporative_system"),
        ("P2404", None, "evaporative_system"),
        ("P0443", None, None),
        ("P0412", None, "secondary_air"),
        ("P0420", None, None),
    ],
)
def test_a_petrol_code_says_what_start_and_drive_its_own_test_needs(
    code: str, own: str | None, partner: str | None
) -> None:
    known: Assignment = TABLES["spark"][code]
    assert (known.own, known.partner) == (own, partner)


def test_a_diesels_misfire_is_watched_at_idle_and_its_glow_plugs_at_a_cold_start() -> None:
    # 40 CFR 86.010-18(g)(2)(iii)(A), (d)(4)(iv)
    assert (TABLES["compression"]["P0301"].own, TABLES["compression"]["P0671"].own) == ("warm_idle", "cold_start")


# python-OBD `commands.py`: 39 cap off or 0.150 in, 3A 0.090, 3B 0.040, 3C 0.020 in, 3D purge flow
@pytest.mark.parametrize(
    ("code", "mids"),
    [
        ("P0455", {0x39, 0x3A, 0x3B, 0x3C}),
        ("P0457", {0x39, 0x3A, 0x3B, 0x3C}),
        ("P0442", {0x3B, 0x3C}),
        ("P0456", {0x3C}),
        ("P0441", {0x3D}),
    ],
)
def test_a_leak_is_measured_by_its_own_hole_and_by_smaller_ones_never_by_a_larger(code: str, mids: set[int]) -> None:
    known = TABLES["spark"][code]
    assert set(known.mids) == mids
    assert known.own_result is (code == "P0456")
