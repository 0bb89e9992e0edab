"""Well-known codes by the table of codes, and model years from invented VINs. The table's rows: test_code_table.py."""

import pytest
from obd.codes import DTC

from coach.inspection.before import wants_relearn
from coach.inspection.codes import assignment
from coach.j1979.model_year import model_year

EDITION = ", CFR of 2015"


@pytest.mark.parametrize(
    ("code", "monitor", "circuit", "mids"),
    [
        ("P0420", "catalyst", False, {0x21}),
        ("P0430", "catalyst", False, {0x22}),
        ("P0443", "comprehensive_component", True, set()),
        ("P0411", "secondary_air", False, set()),
        ("P0401", "egr_vvt", False, {0x31, 0x32, 0x33, 0x34}),
        ("P0011", "egr_vvt", False, {0x35}),
        ("P0132", "oxygen_sensor", True, {0x01}),
        ("P0133", "oxygen_sensor", False, {0x01}),
        ("P2196", "oxygen_sensor", False, {0x01}),
        ("P2A00", "oxygen_sensor", False, {0x01}),
        ("P013E", "oxygen_sensor", False, {0x02}),
        ("P0135", "oxygen_sensor_heater", False, {0x41}),
        ("P0161", "oxygen_sensor_heater", False, {0x46}),
        ("P0031", "oxygen_sensor_heater", True, {0x41}),
        ("P0300", "misfire", True, set(range(0xA1, 0xAE))),
        ("P0301", "misfire", True, {0xA2}),
        ("P0312", "misfire", True, {0xAD}),
        ("P0171", "fuel_system", True, {0x81}),
        ("P0174", "fuel_system", True, {0x82}),
        ("P0087", "fuel_system", True, set()),
        ("P0016", "comprehensive_component", True, set()),
        ("P0299", "comprehensive_component", True, set()),  # no readiness bit for boost on a petrol engine
        ("P0234", "comprehensive_component", True, set()),
    ],
)
def test_well_known_codes_of_petrol_engines(code: str, monitor: str, circuit: bool, mids: set[int]) -> None:
    known = assignment(code, "spark")
    assert known is not None
    assert (known.monitor, known.circuit, set(known.mids)) == (monitor, circuit, mids)


@pytest.mark.parametrize(
    ("code", "monitor", "circuit", "paragraph"),
    [
        ("P0420", "nmhc_catalyst", False, "(g)(5)(ii)"),
        ("P0133", "exhaust_gas_sensor", False, "(g)(9)(ii)(A)"),
        ("P0135", "exhaust_gas_sensor", False, "(g)(9)(vi)(A)"),
        ("P0299", "boost_pressure", True, "(g)(4)(ii)(A)"),
        ("P0234", "boost_pressure", True, "(g)(4)(ii)(B)"),
        ("P0401", "egr_vvt", True, "(g)(3)(ii)(A)"),
        ("P0087", "fuel_system", True, "(g)(1)(ii)(A)"),
        ("P0301", "misfire", True, "(g)(2)(ii)"),
        ("P2002", "particulate_filter", False, "(g)(8)(ii)(A)"),
        ("P2463", "particulate_filter", False, "(g)(8)(ii)(C)"),
        ("P244A", "particulate_filter", False, "(g)(8)(ii)(A), (D)"),
        ("P242F", "particulate_filter", False, "(g)(8)(i)"),
        ("P2452", "comprehensive_component", True, "(i)(3)(ii)(A)"),
        ("P229F", "exhaust_gas_sensor", False, "(g)(9)(iv)(A)"),
        ("P203F", "comprehensive_component", True, "(g)(6)(ii)(C)"),
        ("P20E8", "nox_aftertreatment", True, "(g)(6)(ii)(B)"),
        ("P2BA9", "nox_aftertreatment", True, "(g)(6)(ii)(C), (D)"),
        ("P20EE", "nox_aftertreatment", False, "(g)(6)(ii)(A)"),
    ],
)
def test_well_known_codes_of_diesels_cite_diesel_paragraphs(
    code: str, monitor: str, circuit: bool, paragraph: str
) -> None:
    known = assignment(code, "compression")
    assert known is not None
    assert (known.monitor, known.circuit, known.source) == (
        monitor,
        circuit,
        f"40 CFR 86.010-18{paragraph}{EDITION}",
    )


# 40 CFR 86.010-18 of the CFR of 2015, by paragraph: what runs all the time proves nothing by its bit alone
@pytest.mark.parametrize(
    ("code", "paragraph", "all_the_time"),
    [
        ("P0135", "(h)(8)(iv)(A)", False),  # current or voltage drop of the heater, under conditions the maker defines
        ("P0031", "(h)(8)(iv)(B)", True),  # open and short circuits of the heater, continuously: (h)(8)(vii)(B)
        ("P0133", "(h)(8)(ii)(A)", False),
        ("P0132", "(h)(8)(ii)(B)", True),  # (h)(8)(v)(B)
        ("P0139", "(h)(8)(iii)(A)", False),  # the sensor behind the catalyst: (h)(8)(vi)(A)
        ("P0171", "(h)(1)(ii)(B)", True),  # (h)(1)(iii)
        ("P0442", "(h)(7)(ii)(B)", False),
        ("P0443", "(h)(7)(i)", True),
        ("P0401", "(h)(3)(ii)", False),
        ("P0403", "(h)(3)(i)", True),
        ("P0011", "(h)(9)(ii)", False),
        ("P0010", "(h)(9)(i)", True),
        ("P0128", "(i)(1)(ii)(A)", True),
        ("P0016", "(i)(3)(ii)(D)", True),  # camshaft and crankshaft aligned
        ("P0506", "(i)(3)(iii)(B)", True),
    ],
)
def test_a_petrol_codes_paragraph_says_whether_a_run_of_the_monitor_is_enough(
    code: str, paragraph: str, all_the_time: bool
) -> None:
    known = assignment(code, "spark")
    assert known is not None
    assert (known.source, known.circuit) == (f"40 CFR 86.010-18{paragraph}{EDITION}", all_the_time)


@pytest.mark.parametrize("code", ["P0040", "P2278", "P2414", "P1135", "P3400", "U0100", "B1234", "P0999", "nonsense"])
def test_what_is_in_no_table_has_no_monitor(code: str) -> None:
    assert assignment(code, "spark") is None
    assert assignment(code, "compression") is None


def test_a_code_of_one_kind_of_engine_is_no_code_of_the_other() -> None:
    assert assignment("P0456", "spark") and not assignment("P0456", "compression")  # a diesel has no vapour test
    assert assignment("P20EE", "compression") and not assignment("P20EE", "spark")
    assert assignment("P0671", "compression") and not assignment("P0671", "spark")  # glow plugs


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
