"""One row a published rule, both sides of each limit. The numbers are typed from the sources named in each row."""

import pytest

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
    ("us-wi", (1996, 2000), "gasoline", 2, False, "Trans 131, EPA June 2001 guidance by reference"),
    ("us-wi", (2001, 2024), "gasoline", 1, False, "Trans 131, EPA June 2001 guidance by reference"),
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
    ("us-other-unverified", (1996, 2000), "gasoline", 2, False, "from memory"),
    ("us-other-unverified", (2001, 2024), "gasoline", 1, False, "from memory"),
    ("ca-on-driveclean", (1998, 2024), "gasoline", 1, False, "second hand, quoting the ministry"),
)
CASES = [(rule, year, *rest) for rule, years, *rest in ROWS for year in sorted(set(years))]


@pytest.mark.parametrize(("rule_id", "year", "fuel", "allowed", "found", "source"), CASES)
def test_as_many_as_the_source_allows_pass_and_one_more_does_not(
    rule_id: str, year: int, fuel: str, allowed: int, found: bool, source: str
) -> None:
    monitors = DIESEL if fuel == "diesel" else PETROL
    rule, car = a_rule(rule_id), vehicle(year, fuel)
    within = judge(rule, findings(*monitors[:allowed], diesel=fuel == "diesel"), car)
    beyond = judge(rule, findings(*monitors[: allowed + 1], diesel=fuel == "diesel"), car)
    assert within.readings[0].outcome == "ready", source
    assert beyond.readings[0].outcome == "not_ready", source
    settled = found and not any(reason.effect == "open" for reason in within.scope)
    assert within.outcome == ("ready" if settled else "cannot_say")
    assert beyond.outcome == ("not_ready" if settled else "cannot_say")


def test_every_active_rule_with_a_number_has_a_row() -> None:
    counted = {r.id for r in all_rules() if any(x.allowed is not None for y in r.reading for x in y.limit)}
    apart = {"us-co", "us-ca-cleantruck"}  # rules of another shape, in tests of their own below
    assert counted - apart == {row[0] for row in ROWS}
    assert len(all_rules()) == 30


def test_california_petrol_2000_and_newer_lets_only_the_leak_test_go() -> None:
    rule = a_rule("us-ca-smogcheck")  # bureau's table, second hand
    for year in (2000, 2024):
        assert judge(rule, findings("evaporative_system"), vehicle(year)).readings[0].outcome == "ready"
        assert judge(rule, findings("catalyst"), vehicle(year)).readings[0].outcome == "not_ready"


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
    assert told.outcome == "cannot_say"  # one of the two readings is second hand only


def test_colorado_lets_one_go_but_never_the_sensors_or_the_catalyst() -> None:
    rule = a_rule("us-co")  # 5 CCR 1001-13 Part C II.C, text of 2015
    one = judge(rule, findings("egr_vvt"), vehicle(2018))
    assert (one.readings[0].outcome, one.outcome) == ("ready", "cannot_say")  # amended in 2017
    assert judge(rule, findings("egr_vvt", "secondary_air"), vehicle(2018)).outcome == "not_ready"
    for monitor in ("oxygen_sensor", "oxygen_sensor_heater", "catalyst"):
        assert judge(rule, findings(monitor), vehicle(2018)).outcome == "not_ready"
    ends = {year: judge(rule, findings(), vehicle(year)).scope for year in (2015, 2016, 2019, 2020)}
    assert [bool({r.id for r in told} & {"older_than_window", "newer_than_window"}) for told in ends.values()] == [
        True,
        False,
        False,
        True,
    ]
    assert judge(rule, findings(), vehicle(2000)).outcome == "cannot_say"  # no number for older ones was found


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
    assert told.outcome == "cannot_say"  # that these numbers are in force is second hand
    two = judge(rule, findings(*DIESEL[:2], diesel=True, warm_ups=0.0, distance_km=0.0, run_time_min=0.0), car)
    assert two.readings[0].outcome == "ready"


def test_programmes_that_ended_and_rules_that_do_not_count_readiness_never_say_ready() -> None:
    for rule_id in ("us-wa", "ca-on-driveclean", "ca-bc-aircare"):  # ended 2020-01-01, 2019-04-01, 2014-12-31
        told = judge(a_rule(rule_id), findings(), vehicle(2012))
        assert told.outcome == "cannot_say"
        assert "programme_ended" in {reason.id for reason in told.scope}
    for rule_id in ("eu-2014-45", "uk-mot"):
        told = judge(a_rule(rule_id), findings(*PETROL), vehicle(2012))
        assert told.outcome == "cannot_say"
        assert "not_counted" in {reason.id for reason in told.readings[0].reasons}
