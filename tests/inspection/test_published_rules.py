"""One row a published rule, both sides of each limit. The numbers are typed from the sources named in each row."""

from typing import Any

import pytest

from coach.inspection.clauses import Vehicle
from coach.inspection.verdict import judge
from tests.inspection.makers import a_rule, all_rules, findings, vehicle

PETROL = ("evaporative_system", "catalyst", "oxygen_sensor")
DIESEL = ("particulate_filter", "nmhc_catalyst", "egr_vvt")

# rule, model years at both ends of the row, fuel, allowed, read in its own source, source
ROWS = (
    ("us-federal", (1996, 2000), "gasoline", 2, True, "40 CFR 85.2222(c)(2)"),
    ("us-federal", (2001, 2024), "gasoline", 1, True, "40 CFR 85.2222(c)(2)"),
    ("us-epa-guidance-2001", (1996, 2000), "gasoline", 2, False, "EPA420-R-01-015, quoted by a car maker"),
    ("us-epa-guidance-2001", (2001, 2024), "gasoline", 1, False, "EPA420-R-01-015, quoted by a car maker"),
    ("us-ca-smogcheck", (1996, 1999), "gasoline", 1, False, "bureau's table, state referee and trade page 2015"),
    ("us-ca-smogcheck", (1998, 2006), "diesel", 0, False, "the same"),
    ("us-ny", (2002, 2002), "gasoline", 1, True, "dmv.ny.gov brochure, EPA guidelines"),
    ("us-ny", (2024, 2024), "diesel", 1, True, "dmv.ny.gov brochure, EPA guidelines"),
    ("us-ma", (2001, 2024), "gasoline", 1, True, "vehicletest.state.ma.us motorist page"),
    ("us-il", (1996, 2000), "gasoline", 2, True, "35 Ill. Adm. Code 276.209(c)"),
    ("us-il", (2001, 2024), "gasoline", 1, True, "35 Ill. Adm. Code 276.209(c)"),
    ("us-or", (1996, 2000), "gasoline", 2, True, "OAR 340-256-0355(1)"),
    ("us-or", (2001, 2024), "gasoline", 1, True, "OAR 340-256-0355(1)"),
    ("us-or", (1997, 2008), "diesel", 0, True, "OAR 340-256-0355(2)"),
    ("us-or", (2009, 2024), "diesel", 1, True, "OAR 340-256-0355(2)"),
    ("us-ga", (1996, 2000), "gasoline", 2, True, "programme leaflet: fail at three"),
    ("us-ga", (2001, 2024), "gasoline", 1, True, "programme leaflet: fail at two"),
    ("us-nc", (2006, 2023), "gasoline", 1, True, "15A NCAC 02D .1005, 40 CFR 85.2222 by reference"),
    ("us-wi", (1996, 2000), "gasoline", 2, True, "Trans 131.03(6)(d)1, 40 CFR 85.2222 by reference"),
    ("us-wi", (2001, 2024), "gasoline", 1, True, "Trans 131.03(6)(d)1, 40 CFR 85.2222 by reference"),
    ("us-wi", (2007, 2024), "diesel", 1, True, "Trans 131.03(6)(d)1; diesel from 2007 on second hand"),
    ("us-tx", (2002, 2024), "gasoline", 1, False, "second hand; no state text read"),
    ("us-pa", (1996, 2000), "gasoline", 2, False, "second hand; 67 Pa. Code 177.203(b)(1) not readable"),
    ("us-pa", (2001, 2024), "gasoline", 1, False, "second hand; 67 Pa. Code 177.203(b)(1) not readable"),
    ("us-nj", (1996, 2000), "gasoline", 2, False, "from memory"),
    ("us-nj", (2001, 2024), "gasoline", 1, False, "from memory"),
    ("us-ct", (1996, 2000), "gasoline", 2, False, "from memory"),
    ("us-ct", (2001, 2024), "diesel", 1, False, "from memory"),
    ("us-md", (1996, 2000), "gasoline", 2, True, "COMAR 11.14.08.02 D, 40 CFR 85.2222 by reference"),
    ("us-md", (2001, 2024), "gasoline", 1, True, "COMAR 11.14.08.02 D, 40 CFR 85.2222 by reference"),
    ("us-va", (2001, 2024), "gasoline", 1, False, "from memory"),
    ("us-az", (1996, 2000), "gasoline", 2, False, "repair shop's page; R18-2-1006 not readable"),
    ("us-az", (2001, 2024), "gasoline", 1, False, "repair shop's page; R18-2-1006 not readable"),
    ("us-ut", (1996, 2000), "gasoline", 2, False, "exam preparation page"),
    ("us-ut", (2001, 2024), "gasoline", 1, False, "exam preparation page"),
    ("us-nv", (1996, 2000), "gasoline", 2, False, "inspector course"),
    ("us-nv", (2001, 2024), "gasoline", 1, False, "inspector course"),
    ("us-vt", (1996, 2000), "gasoline", 2, False, "from memory"),
    ("us-vt", (2001, 2024), "gasoline", 1, False, "from memory"),
    ("us-mo", (1996, 2000), "gasoline", 2, True, "Gateway programme page"),
    ("us-mo", (2001, 2024), "gasoline", 1, True, "Gateway programme page"),
    ("us-mo", (1997, 2009), "diesel", 0, True, "Gateway programme page"),
    ("us-mo", (2010, 2024), "diesel", 1, True, "Gateway programme page"),
    ("us-ri", (1996, 2000), "gasoline", 2, True, "state regulation 34.4, 40 CFR 85.2222 (2018) by reference"),
    ("us-ri", (2001, 2024), "gasoline", 1, True, "state regulation 34.4, 40 CFR 85.2222 (2018) by reference"),
    ("us-ri", (2001, 2024), "diesel", 1, True, "state regulation 34.4; diesel by 280-RICR-30-15-1.4"),
    ("us-other-unverified", (1996, 2000), "gasoline", 2, False, "from memory"),
    ("us-other-unverified", (2001, 2024), "gasoline", 1, False, "from memory"),
    ("us-oh", (2001, 2024), "diesel", 1, False, "from memory"),
    ("us-de", (2001, 2024), "gasoline", 1, False, "from memory"),
    ("us-me", (2001, 2024), "gasoline", 1, False, "from memory"),
    ("us-nh", (2001, 2024), "gasoline", 1, False, "from memory"),
    ("us-dc", (2001, 2024), "gasoline", 1, False, "from memory"),
    ("us-in", (2001, 2024), "gasoline", 1, False, "from memory"),
    ("us-la", (2001, 2024), "gasoline", 1, False, "from memory, and against it a shop's all complete"),
    ("us-nm", (2001, 2024), "gasoline", 1, False, "from memory"),
    ("at-57a", (2011, 2024), "gasoline", 0, True, "PBStV Anlage 2a, 6, by the chamber's notice of 2018"),
    ("cn-gb18285", (2013, 2024), "gasoline", 2, False, "from memory"),
    ("ca-on-driveclean", (1998, 2008), "gasoline", 1, False, "second hand, quoting the ministry"),
)
CASES = [(rule, year, *rest) for rule, years, *rest in ROWS for year in sorted(set(years))]


def eight_years_on(year: int, fuel: str = "gasoline", **changed: Any) -> Vehicle:
    """A car at an age that every programme looks at, and summoned by it: OBD decides in Colorado from 7 to 10 years."""
    return vehicle(year, fuel, on=f"{year + 8}-11-25", inspected=True, **changed)


@pytest.mark.parametrize(("rule_id", "year", "fuel", "allowed", "found", "source"), CASES)
def test_as_many_as_the_source_allows_pass_and_one_more_does_not(
    rule_id: str, year: int, fuel: str, allowed: int, found: bool, source: str
) -> None:
    monitors = DIESEL if fuel == "diesel" else PETROL
    rule, car = a_rule(rule_id), eight_years_on(year, fuel)
    within = judge(rule, findings(*monitors[:allowed], diesel=fuel == "diesel"), car)
    beyond = judge(rule, findings(*monitors[: allowed + 1], diesel=fuel == "diesel"), car)
    assert within.readings[0].outcome == "ready", source
    assert beyond.readings[0].outcome == "not_ready", source
    assert within.outcome == ("ready" if found else "cannot_say")
    assert (beyond.outcome, beyond.by_known_readings) == ("not_ready", not found)


def test_every_active_rule_with_a_number_has_a_row() -> None:
    counted = {r.id for r in all_rules() if any(x.allowed is not None for y in r.reading for x in y.limit)}
    apart = {"us-co", "us-ca-cleantruck"}  # rules of another shape, in tests of their own below
    assert counted - apart == {row[0] for row in ROWS}
    assert len(all_rules()) == 46


def test_california_petrol_2000_and_newer_lets_only_the_leak_test_go() -> None:
    rule = a_rule("us-ca-smogcheck")  # bureau's table, second hand
    for year in (2000, 2024):
        car = eight_years_on(year)
        assert judge(rule, findings("evaporative_system"), car).readings[0].outcome == "ready"
        assert judge(rule, findings("catalyst"), car).readings[0].outcome == "not_ready"


def test_california_shows_the_rule_of_2025_beside_the_table_and_settles_nothing() -> None:
    rule, found = a_rule("us-ca-smogcheck"), findings("evaporative_system")
    told = judge(rule, found, vehicle(2012))  # bureau newsletter, fall 2025: all complete from 2025-10-01
    assert [(r.reading.id, r.outcome) for r in told.readings] == [
        ("working_table", "ready"),
        ("all_complete", "not_ready"),
    ]
    assert told.outcome == "cannot_say"
    assert told.contradictory
    before = judge(rule, found, vehicle(2012, on="2025-09-30"))
    assert [r.reading.id for r in before.readings] == ["working_table"]
    assert before.outcome == "cannot_say"  # second hand never reads "ready"


def test_california_diesel_2007_shows_both_lists() -> None:
    rule, car = a_rule("us-ca-smogcheck"), vehicle(2007, "diesel")
    told = judge(rule, findings("egr_vvt", "boost_pressure", diesel=True), car)
    assert {r.reading.id: r.outcome for r in told.readings} == {
        "working_table": "not_ready",
        "list_of_2015": "ready",
        "all_complete": "not_ready",
    }
    assert told.outcome == "cannot_say"
    soot = judge(rule, findings("particulate_filter", "nmhc_catalyst", diesel=True), car)
    assert [r.outcome for r in soot.readings] == ["ready", "ready", "not_ready"]


def test_three_incomplete_fail_in_california_by_every_reading_and_one_of_them_is_read_in_its_source() -> None:
    told = judge(a_rule("us-ca-smogcheck"), findings(*PETROL), vehicle(2012))
    assert {r.outcome for r in told.readings} == {"not_ready"}
    assert told.outcome == "not_ready"
    assert told.by_known_readings and told.unverified  # one of the two readings is second hand only


def test_colorado_lets_one_go_but_never_the_sensors_or_the_catalyst() -> None:
    rule = a_rule("us-co")  # 5 CCR 1001-13 Part C II.C, text of 2015
    one = judge(rule, findings("egr_vvt"), vehicle(2018))
    assert (one.readings[0].outcome, one.outcome) == ("ready", "cannot_say")  # amended in 2017
    assert judge(rule, findings("egr_vvt", "secondary_air"), vehicle(2018)).outcome == "not_ready"
    for monitor in ("oxygen_sensor", "oxygen_sensor_heater", "catalyst"):
        assert judge(rule, findings(monitor), vehicle(2018)).outcome == "not_ready"
    ends = {year: judge(rule, findings("egr_vvt"), vehicle(year)) for year in (2015, 2016, 2019, 2020)}
    assert [told.outcome for told in ends.values()] == ["exempt", "cannot_say", "cannot_say", "exempt"]
    assert ends[2015].exempt is not None and ends[2015].exempt.id == "another_test"  # the dynamometer, from 11 years on
    assert ends[2020].exempt is not None and ends[2020].exempt.id == "not_inspected"  # the first seven model years
    hybrid = judge(rule, findings(), vehicle(2000, kind="hybrid"))
    assert hybrid.outcome == "cannot_say"  # by OBD at any age, and no number for one so old was found


CLEAN_TRUCK = (  # air board's criteria page: any one of 5 warm-ups, 200 miles, 400 minutes, two incomplete at most
    ({"warm_ups": 5.0, "distance_km": 0.0, "run_time_min": 0.0}, True),
    ({"warm_ups": 4.0, "distance_km": 199.0 * 1.609344, "run_time_min": 399.0}, False),
    ({"warm_ups": 0.0, "distance_km": 200.0 * 1.609344, "run_time_min": 0.0}, True),
    ({"warm_ups": 0.0, "distance_km": 0.0, "run_time_min": 400.0}, True),
)


@pytest.mark.parametrize(("since", "enough"), CLEAN_TRUCK)
def test_the_truck_check_takes_any_one_minimum_of_operation_since_the_clear(
    since: dict[str, float], enough: bool
) -> None:
    rule, car = a_rule("us-ca-cleantruck"), vehicle(2018, "diesel", gvwr_lb=16000)
    told = judge(rule, findings(*DIESEL, diesel=True, **since), car)
    assert told.readings[0].outcome == ("ready" if enough else "not_ready")
    assert told.outcome == ("cannot_say" if enough else "not_ready")  # that these numbers are in force is second hand
    assert told.by_known_readings is not enough
    two = judge(rule, findings(*DIESEL[:2], diesel=True, warm_ups=0.0, distance_km=0.0, run_time_min=0.0), car)
    assert two.readings[0].outcome == "ready"


def test_where_a_programme_ended_no_car_is_inspected_and_before_that_its_rule_stands() -> None:
    ended = {"us-wa": True, "ca-on-driveclean": True, "us-tn": False, "us-id": False, "ca-bc-aircare": False}
    for rule_id, read in ended.items():  # 2020-01-01, 2019-04-01, 2022-01-14, 2023-07-01, 2014-12-31
        told = judge(a_rule(rule_id), findings(*PETROL), vehicle(2012))
        assert (told.outcome, told.unverified, told.readings) == ("exempt", not read, ())
    before = judge(a_rule("ca-on-driveclean"), findings(*PETROL), vehicle(2012, on="2019-03-31"))
    assert before.outcome == "not_ready"
    truck = judge(a_rule("ca-on-driveclean"), findings(diesel=True), vehicle(2012, "diesel", gvwr_lb=16000.0))
    assert truck.outcome == "cannot_say"  # heavy diesel is still tested


def test_rules_that_do_not_count_readiness_never_say_ready() -> None:
    for rule_id in ("eu-2014-45", "uk-mot", "de-au"):
        told = judge(a_rule(rule_id), findings(*PETROL), vehicle(2012))
        assert told.outcome == "cannot_say"
        assert "not_counted" in {reason.id for reason in told.readings[0].reasons}


LEADS_TO = {  # the reference's notes on each rule
    "jp-obd": "rejection",  # the ministry's panel: passes with at least one monitor complete
    "mx-megalopolis": "rejection",  # the capital's ministry: any of five incomplete
    "cn-gb18285": "rejection",  # from memory
    "de-au": "nothing",  # VkBl 158/2017: the exhaust is measured in every case
    "uk-mot": "nothing",  # from memory: readiness is not read
    "nl-apk": "another_test",  # rdw.nl: an exhaust test where the reading does not meet the demands
    "at-57a": "another_test",  # PBStV Anlage 2a: the reading may stand in for the measurement
    "eu-2014-45": "not_stated",
    "us-co": "another_test",  # 5 CCR 1001-13: a dynamometer test while the MIL is off
    "us-il": "rejection",
}


def test_abroad_each_place_says_what_not_being_ready_leads_to() -> None:
    assert {rule_id: a_rule(rule_id).not_ready.leads_to for rule_id in LEADS_TO} == LEADS_TO


def test_japan_wants_one_monitor_complete_and_mexico_five_by_name() -> None:
    car = vehicle(2023, inspected=True)
    every = tuple(m for m, state in findings().monitors.items() if state == "complete")
    assert judge(a_rule("jp-obd"), findings(*every), car).outcome == "not_ready"
    assert judge(a_rule("jp-obd"), findings(*every[1:]), car).outcome == "cannot_say"  # a continuous one: not stated
    assert judge(a_rule("jp-obd"), findings(*every[:-1]), car).readings[0].outcome == "ready"
    mexico = a_rule("mx-megalopolis")
    for monitor in every:
        outcome = judge(mexico, findings(monitor), vehicle(2012)).readings[0].outcome
        named = {"misfire", "fuel_system", "comprehensive_component", "catalyst", "oxygen_sensor"}
        assert outcome == ("not_ready" if monitor in named else "ready")


def test_where_some_readiness_is_wanted_but_which_was_not_read_only_all_complete_is_clear() -> None:
    apk = a_rule("nl-apk")
    assert judge(apk, findings(), vehicle(2012)).readings[0].outcome == "ready"
    told = judge(apk, findings("egr_vvt"), vehicle(2012))
    assert [reason.id for reason in told.readings[0].reasons if reason.effect == "open"] == ["demand_unread"]
