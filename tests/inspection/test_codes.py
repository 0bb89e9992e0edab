"""The table of codes against the titles of SAE J2012 as python-OBD prints them, and model years from invented VINs."""

import pytest
from obd.codes import DTC

from coach.inspection.before import wants_relearn
from coach.inspection.codes import CFR, MEMORY, TABLE, assignment
from coach.j1979.model_year import model_year

# monitor: one of these words stands in every title assigned to it
WORDS = {
    "oxygen_sensor_heater": ("HO2S Heater", "O2 Sensor Heater"),
    "oxygen_sensor": ("O2 Sensor",),
    "misfire": ("Misfire",),
    "fuel_system": ("Fuel Trim", "System Too Lean", "System Too Rich"),
    "catalyst": ("Catalyst System", "Warm Up Catalyst", "Main Catalyst"),
    "heated_catalyst": ("Heated Catalyst",),
    "evaporative_system": ("Evaporative Emission System",),
    "secondary_air": ("Secondary Air Injection System",),
    "egr_vvt": ("Exhaust Gas Recirculation", "Camshaft Position"),
    "nox_aftertreatment": ("NOx Trap",),
    "particulate_filter": ("Particulate Trap",),
    "boost_pressure": ("Turbo",),
    "exhaust_gas_sensor": ("NOx Sensor",),
}


def test_every_code_of_a_monitor_is_about_its_system_by_its_published_title() -> None:
    for code, known in TABLE.items():
        if known.monitor != "comprehensive_component" and code not in ("P20EE", "P20EF"):
            assert any(word in DTC[code] for word in WORDS[known.monitor]), f"{code} {DTC[code]}"


def test_no_title_of_a_system_is_left_to_another_monitor() -> None:
    for code, known in TABLE.items():
        title = DTC.get(code, "")
        if "Heater C" in title and title.startswith(("HO2S", "O2 Sensor H")):
            assert known.monitor == "oxygen_sensor_heater", code
        if "Leak Detected" in title and "Evaporative" in title:
            assert known.monitor == "evaporative_system", code
        if known.system == "evaporative_system" and "Circuit" in title:
            assert known.monitor == "comprehensive_component", code


@pytest.mark.parametrize(
    ("code", "monitor", "circuit", "mids"),
    [
        ("P0420", "catalyst", False, {0x21}),
        ("P0430", "catalyst", False, {0x22}),
        ("P0442", "evaporative_system", False, set()),
        ("P0443", "comprehensive_component", True, set()),
        ("P0411", "secondary_air", False, set()),
        ("P0401", "egr_vvt", False, set()),
        ("P0132", "oxygen_sensor", True, {0x01}),
        ("P0133", "oxygen_sensor", False, {0x01}),
        ("P0135", "oxygen_sensor_heater", False, {0x41}),
        ("P0161", "oxygen_sensor_heater", False, {0x46}),
        ("P0031", "oxygen_sensor_heater", True, {0x41}),
        ("P0301", "misfire", True, set()),
        ("P0171", "fuel_system", True, set()),
    ],
)
def test_well_known_codes(code: str, monitor: str, circuit: bool, mids: set[int]) -> None:
    known = assignment(code, "spark")
    assert known is not None
    assert (known.monitor, known.circuit, set(known.mids)) == (monitor, circuit, mids)


# 40 CFR 86.010-18 of the CFR of 2015, by paragraph: what runs all the time proves nothing by its bit alone
@pytest.mark.parametrize(
    ("code", "paragraph", "all_the_time"),
    [
        ("P0135", "(h)(8)(iv)(A)", False),  # current or voltage drop of the heater, under conditions the maker defines
        ("P0031", "(h)(8)(iv)(B)", True),  # open and short circuits of the heater, continuously: (h)(8)(vii)(B)
        ("P0133", "(h)(8)(ii)(A)", False),
        ("P0132", "(h)(8)(ii)(B)", True),  # (h)(8)(v)(B)
        ("P0171", "(h)(1)(ii)(B)", True),  # (h)(1)(iii)
        ("P0442", "(h)(7)(ii)", False),
        ("P0443", "(h)(7)(i)", True),
        ("P0401", "(h)(3)(ii)", False),
        ("P0403", "(h)(3)(i)", True),
        ("P0011", "(h)(9)(ii)", False),
        ("P0010", "(h)(9)(i)", True),
        ("P0299", "(g)(4)(ii)", True),  # (g)(4)(iii)(A)
        ("P0128", "(i)(1)", True),
    ],
)
def test_a_codes_paragraph_says_whether_a_run_of_the_monitor_is_enough(
    code: str, paragraph: str, all_the_time: bool
) -> None:
    known = TABLE[code]
    assert (known.source, known.circuit) == (CFR + paragraph, all_the_time)


def test_every_row_names_its_source_or_says_that_it_is_from_memory() -> None:
    sources = {known.source for known in TABLE.values()}
    assert all(source.startswith((f"{CFR}(", "13 CCR 1968.2(e)")) or source == MEMORY for source in sources)
    assert sum(known.source == MEMORY for known in TABLE.values()) < 40  # coils, fuel level, speed, voltage


@pytest.mark.parametrize("code", ["P0040", "P2278", "P2414", "P1135", "P3400", "U0100", "B1234", "P0999", "nonsense"])
def test_what_is_in_no_table_has_no_monitor(code: str) -> None:
    assert assignment(code, "spark") is None


def test_on_a_diesel_the_same_codes_belong_to_its_own_monitors() -> None:
    names = {code: assignment(code, "compression") for code in ("P0420", "P0133", "P0299", "P2002", "P20EE")}
    assert {code: one.monitor for code, one in names.items() if one} == {
        "P0420": "nmhc_catalyst",
        "P0133": "exhaust_gas_sensor",
        "P0299": "boost_pressure",
        "P2002": "particulate_filter",
        "P20EE": "nox_aftertreatment",
    }
    assert assignment("P0299", "spark") is None  # no such bit on a petrol car


def with_digit(vin: str) -> str:
    """The same with its check digit at the ninth place, by 49 CFR 565.15(c): weights, transliteration, modulo 11."""
    weights = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)
    values = dict(zip("ABCDEFGHJKLMNPRSTUVWXYZ", (*range(1, 9), *range(1, 6), 7, 9, *range(2, 10)), strict=True))
    total = sum(
        weight * values.get(char, int(char) if char.isdigit() else 0) for weight, char in zip(weights, vin, strict=True)
    )
    return vin[:8] + ("X" if total % 11 == 10 else str(total % 11)) + vin[9:]


# 49 CFR 565.15 Table VII, and its rule for the seventh character (73 FR 23367)
@pytest.mark.parametrize(
    ("seventh", "letter", "can", "year"),
    [
        ("A", "C", True, 2012),
        ("0", "Y", False, 2000),
        ("0", "1", False, 2001),
        ("0", "9", True, 2009),
        ("A", "A", True, 2010),
        ("0", "T", False, 1996),
        ("A", "T", True, 2026),
    ],
)
def test_a_north_american_vin_proves_its_model_year(seventh: str, letter: str, can: bool, year: int) -> None:
    told = model_year(with_digit(f"1ZZAA0{seventh}A0{letter}0000001"), 2026, can)
    assert told.year == year


def test_elsewhere_the_letter_is_a_proposal_to_be_confirmed() -> None:
    told = model_year("ZZZSM0000S0000001", 2026, True)
    assert (told.year, told.likely, told.why) == (None, 2025, "outside_north_america")
    both = model_year("ZZZSM0000S0000001", 2026, False)
    assert (both.year, both.likely, both.candidates) == (None, None, (1995, 2025))


@pytest.mark.parametrize(
    ("vin", "why"), [(None, "no_vin"), ("ZZZ", "not_a_vin"), ("ZZZSM0000U0000001", "no_year_letter")]
)
def test_what_is_no_vin_gives_no_year(vin: str | None, why: str) -> None:
    assert model_year(vin, 2026).why == why


def test_a_wrong_check_digit_is_no_proof() -> None:
    right = with_digit("1ZZAA0AA0C0000001")
    wrong = right[:8] + ("1" if right[8] != "1" else "2") + right[9:]
    assert model_year(right, 2026, True).year == 2012
    assert (model_year(wrong, 2026, True).year, model_year(wrong, 2026, True).likely) == (None, 2012)


def test_work_on_the_throttle_is_known_by_the_titles_of_its_codes() -> None:
    for code in (c for c in DTC if wants_relearn("", (c,))):
        assert "Throttle" in DTC[code] or "Idle Position" in DTC[code], f"{code} {DTC[code]}"
    for code in ("P0121", "P0221", "P0638", "P2100", "P2119", "P2135", "P2176"):
        assert wants_relearn("", (code,)), code
    assert wants_relearn("new Throttle body", ()) and not wants_relearn("coil", ("P0301", "P0128"))
