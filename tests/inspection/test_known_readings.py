"""Not ready by every known reading: said where no reading that anybody wrote down lets the car pass; ready never so.

The cars are invented: a petrol car of 2018 whose codes were just cleared, with all five monitors of such a car open.
"""

import pytest

from coach.inspection.findings import Found
from coach.inspection.verdict import judge
from coach.words.outcomes import headline
from coach.words.verdicts import verdict_document, verdict_page
from tests.inspection.makers import a_rule, all_rules, findings, vehicle

JUST_CLEARED = findings(
    "evaporative_system",
    "catalyst",
    "oxygen_sensor",
    "oxygen_sensor_heater",
    "egr_vvt",
    lacking=("heated_catalyst", "secondary_air", "ac_or_gpf"),
    warm_ups=0.0,
    distance_km=0.0,
    run_time_min=0.0,
)
CAR = vehicle(2018, inspected=True)
READ = {
    "us-federal",
    "us-ga",
    "us-il",
    "us-ma",
    "us-md",
    "us-mo",
    "us-nc",
    "us-ny",
    "us-or",
    "us-ri",
    "us-wi",
    "at-57a",
}
"""Rules whose number was read in its own source: their "not ready" needs no addition."""
NOT_BY_NUMBER = {"eu-2014-45", "uk-mot", "de-au"}  # readiness is not counted there, or the member state chooses
OPEN_STILL = {"nl-apk", "jp-obd"}  # which readiness is wanted was not read; one continuous monitor may be enough
NOT_THIS_CAR = {"us-ca-cleantruck", "us-wa", "us-tn", "us-id", "ca-bc-aircare", "ca-on-driveclean"}


@pytest.mark.parametrize("place", sorted(rule.id for rule in all_rules()))
def test_a_just_cleared_car_is_not_ready_wherever_readiness_is_counted(place: str) -> None:
    told = judge(a_rule(place), JUST_CLEARED, CAR)
    if place in NOT_BY_NUMBER | OPEN_STILL | NOT_THIS_CAR:
        assert told.outcome in ("cannot_say", "exempt")
        return
    assert told.outcome == "not_ready"
    assert told.by_known_readings is (place not in READ)
    assert ("not ready by every known reading" in headline(told)) is (place not in READ)


def test_it_says_what_was_not_read_and_that_every_reading_says_so() -> None:
    told = judge(a_rule("us-nj"), JUST_CLEARED, CAR)
    page = " ".join(verdict_page(told).split())
    assert "Every reading of the rule that anybody has written down says so; it is unverified all the same" in page
    assert "how many monitors may be incomplete is from memory" in page
    data = verdict_document(told)
    assert (data["outcome"], data["by_every_known_reading"], data["unverified"]) == ("not_ready", True, True)


def test_one_reading_that_lets_the_car_pass_is_enough_to_leave_it_open() -> None:
    california, leak = a_rule("us-ca-smogcheck"), findings("evaporative_system")
    told = judge(california, leak, vehicle(2012))
    assert {reading.outcome for reading in told.readings} == {"ready", "not_ready"}
    assert (told.outcome, told.by_known_readings) == ("cannot_say", False)
    assert judge(a_rule("us-la"), leak, vehicle(2012)).outcome == "cannot_say"  # a shop wants all, the federal text not


def test_a_reading_that_cannot_say_leaves_it_open_too() -> None:
    told = judge(a_rule("us-nj"), findings(mil_on=None), vehicle(2012))
    assert told.outcome == "cannot_say"


def test_ready_is_never_said_by_known_readings() -> None:
    for rule in all_rules():
        for year in (2008, 2012, 2016, 2018):
            told = judge(rule, findings(), vehicle(year, inspected=True))
            assert not (told.outcome == "ready" and (told.by_known_readings or told.unverified)), rule.id


def test_an_older_text_refuses_only_as_far_as_is_known() -> None:
    told = judge(a_rule("us-co"), findings("catalyst"), vehicle(2018))  # 5 CCR 1001-13 of 2015, amended in 2017
    assert (told.outcome, told.by_known_readings) == ("not_ready", True)
    assert "not the newest" in " ".join(verdict_page(told).split())


def test_a_programme_nobody_knows_to_run_refuses_only_a_car_that_the_user_says_is_inspected() -> None:
    for place in ("us-nh", "us-other-unverified"):
        assert judge(a_rule(place), JUST_CLEARED, vehicle(2018)).outcome == "cannot_say"
        assert judge(a_rule(place), JUST_CLEARED, CAR).outcome == "not_ready"


def test_a_commanded_mil_refuses_where_no_number_fits_the_car() -> None:
    lit = findings(diesel=True, mil_on=True, stored=Found(("P2463",)))
    told = judge(a_rule("us-ut"), lit, vehicle(2012, "diesel"))  # no number for diesel was found
    assert (told.outcome, told.by_known_readings) == ("not_ready", True)
    assert judge(a_rule("us-ut"), findings(diesel=True), vehicle(2012, "diesel")).outcome == "cannot_say"
    japan = judge(a_rule("jp-obd"), findings(mil_on=True), CAR)  # obd.naltec.go.jp: not by itself
    assert "mil_on" not in {reason.id for reading in japan.readings for reason in reading.reasons}


def test_what_not_being_ready_leads_to_is_said_with_it() -> None:
    page = " ".join(verdict_page(judge(a_rule("at-57a"), JUST_CLEARED, CAR)).split())
    assert "Not ready there means: it gets another test instead; the exhaust is measured" in page
    page = " ".join(verdict_page(judge(a_rule("de-au"), JUST_CLEARED, CAR)).split())
    assert "readiness changes nothing; the exhaust is measured in every case (second hand" in page
    assert verdict_document(judge(a_rule("nl-apk"), JUST_CLEARED, CAR))["not_ready_leads_to"] == "another_test"
