"""What a verdict rests on: codes, MIL, permanent codes, retest, scope, and doubt, which is never taken as clean."""

from dataclasses import replace

import pytest

from coach.inspection.findings import Found
from coach.inspection.needs import needs, target
from coach.inspection.verdict import judge, judge_any
from coach.j1979.monitors import MONITORS
from coach.words.verdicts import changes
from tests.inspection.makers import a_rule, all_rules, findings, vehicle

FEDERAL = a_rule("us-federal")
CODE = Found(("P0420",), ("P0420",))


def ids(told: object) -> set[str]:
    return {reason.id for reading in told.readings for reason in reading.reasons}  # type: ignore[attr-defined]


def test_a_commanded_mil_fails_by_the_federal_text_and_a_stored_code_without_it_passes() -> None:
    lit = judge(FEDERAL, findings(mil_on=True, stored=CODE), vehicle())  # 40 CFR 85.2222(d)(1)
    assert lit.outcome == "not_ready"
    dark = judge(FEDERAL, findings(stored=CODE), vehicle())  # 85.2222(d)(2)
    assert dark.outcome == "ready"
    assert judge(FEDERAL, findings(), vehicle(lamp_lights=False)).outcome == "not_ready"  # 85.2222(d)(4)


def test_california_fails_the_stored_code_that_the_federal_text_passes() -> None:
    told = judge(a_rule("us-ca-smogcheck"), findings(stored=CODE), vehicle())  # 16 CCR 3340.42.2(c)(4)
    assert told.outcome == "not_ready"
    assert "stored_fails" in ids(told)
    assert any(conflict.id == "stored_code" for conflict in told.rule.conflict)


def test_where_no_source_says_what_a_stored_code_does_it_cannot_be_said() -> None:
    told = judge(a_rule("us-ny"), findings(stored=CODE), vehicle())
    assert told.outcome == "cannot_say"
    assert "stored_not_stated" in ids(told)


@pytest.mark.parametrize(
    ("warm_ups", "miles", "expected"),
    [(15.0, 200.0, "permanent_excepted"), (14.0, 200.0, "permanent_counts"), (15.0, 199.9, "permanent_counts")],
)
def test_a_permanent_code_in_california_and_its_exception_of_15_warm_ups_and_200_miles(
    warm_ups: float, miles: float, expected: str
) -> None:
    found = findings(permanent=Found(("P0135",)), warm_ups=warm_ups, distance_km=miles * 1.609344)
    told = judge(a_rule("us-ca-smogcheck"), found, vehicle(2012))
    assert expected in ids(told)
    assert told.outcome == ("not_ready" if expected == "permanent_counts" else "cannot_say")


def test_a_permanent_code_is_no_matter_before_2019_07_and_open_on_cars_before_2010() -> None:
    rule, found = a_rule("us-ca-smogcheck"), findings(permanent=Found(("P0135",)))
    old = judge(rule, found, vehicle(2012, on="2019-06-30"))
    assert "permanent_not_considered" in ids(old)
    assert "permanent_older_car" in ids(judge(rule, found, vehicle(2009)))


def test_a_permanent_code_decides_only_where_a_source_says_so() -> None:
    found = findings(permanent=Found(("P0135",)))
    assert judge(FEDERAL, found, vehicle()).outcome == "ready"  # the federal text has no such rule
    told = judge(a_rule("us-il"), found, vehicle())
    assert told.outcome == "cannot_say"
    assert "permanent_not_considered_unsure" in ids(told)


@pytest.mark.parametrize("rule_id", ["us-il", "us-ma", "us-or", "us-md", "us-mo"])
def test_at_a_retest_the_monitor_of_a_catalyst_code_must_be_complete_where_the_rule_says_so(rule_id: str) -> None:
    again = vehicle(failed_with=("P0420",))
    assert judge(a_rule(rule_id), findings("catalyst"), vehicle()).outcome == "ready"
    assert judge(a_rule(rule_id), findings("catalyst"), again).outcome == "not_ready"
    assert judge(a_rule(rule_id), findings("evaporative_system"), again).outcome == "ready"


def test_oregon_and_maryland_want_the_leak_test_too_at_a_retest_and_illinois_does_not() -> None:
    again, found = vehicle(failed_with=("P0442",)), findings("evaporative_system")
    assert judge(a_rule("us-or"), found, again).outcome == "not_ready"  # OAR 340-256-0355
    assert judge(a_rule("us-md"), found, again).outcome == "not_ready"  # COMAR 11.14.08.12 B(1)(b)
    assert judge(a_rule("us-il"), found, again).outcome == "ready"


def test_at_a_federal_retest_the_sources_contradict_and_it_is_not_settled() -> None:
    told = judge(FEDERAL, findings("catalyst"), vehicle(failed_with=("P0420",)))
    assert told.outcome == "cannot_say"
    assert "retest_contradictory" in ids(told)
    assert {c.id for c in told.rule.conflict} >= {"retest", "stored_code"}


def test_the_five_contradictions_of_the_sources_are_shown_where_they_matter() -> None:
    shown = {(rule.id, conflict.id) for rule in all_rules() for conflict in rule.conflict}
    california = {("us-ca-smogcheck", one) for one in ("diesel_2007", "all_complete", "old_paragraph", "stored_code")}
    federal = {("us-federal", "retest"), ("us-federal", "stored_code")}
    assert california | federal <= shown


@pytest.mark.parametrize(
    "changed",
    [
        {"monitors": dict.fromkeys(MONITORS)},
        {"monitors": dict.fromkeys(MONITORS, "unsupported")},
        {"mil_on": None},
        {"stored": Found(None)},
        {"pending": Found(None)},
    ],
)
def test_whatever_is_uncertain_is_never_ready(changed: dict[str, object]) -> None:
    told = judge(FEDERAL, replace(findings(), **changed), vehicle())  # type: ignore[arg-type]
    assert told.outcome == "cannot_say"


def test_one_uncertain_monitor_is_enough_for_doubt_although_one_may_be_incomplete() -> None:
    found = findings()
    found = replace(found, monitors={**found.monitors, "catalyst": None})
    assert judge(FEDERAL, found, vehicle()).outcome == "cannot_say"


def test_what_is_surely_wrong_stays_wrong_beside_a_doubt() -> None:
    found = findings("catalyst", "oxygen_sensor")
    found = replace(found, monitors={**found.monitors, "egr_vvt": None}, stored=Found(None))
    assert judge(FEDERAL, found, vehicle()).outcome == "not_ready"


def test_without_model_year_or_fuel_it_cannot_be_said_but_both_sides_of_the_step_are_shown() -> None:
    assert judge(FEDERAL, findings(), vehicle(None)).outcome == "cannot_say"
    assert judge(FEDERAL, findings(), vehicle(2012, None)).outcome == "cannot_say"
    both = judge_any(FEDERAL, findings("catalyst", "oxygen_sensor"), vehicle(None))
    assert [(v.vehicle.model_year, v.outcome) for v in both] == [(1996, "ready"), (2001, "not_ready")]


def test_outside_its_scope_a_rule_says_nothing() -> None:
    newer = judge(a_rule("us-ny"), findings(), vehicle(2025))  # this year minus 2, down to greater than minus 25
    older = judge(a_rule("us-ny"), findings(), vehicle(2001))
    assert [judge(a_rule("us-ny"), findings(), vehicle(year)).outcome for year in (2002, 2024)] == ["ready", "ready"]
    assert {newer.outcome, older.outcome} == {"exempt"}
    heavy = judge(FEDERAL, findings(), vehicle(gvwr_lb=8501))
    assert heavy.outcome == "cannot_say"
    assert judge(FEDERAL, findings(), vehicle(gvwr_lb=8500)).outcome == "ready"
    assert judge(FEDERAL, findings(), vehicle(1995)).outcome == "cannot_say"


def test_new_jerseys_weight_bands_have_first_years_of_their_own() -> None:
    rule = a_rule("us-nj")  # N.J.A.C. 13:20-43.8
    for weight_lb, first in ((8500, 1996), (8501, 2008), (14000, 2008), (14001, 2014)):
        for year in (first - 1, first):
            told = judge(rule, findings(), vehicle(year, gvwr_lb=weight_lb))
            assert ("exempt" in {r.effect for r in told.scope}) == (year < first)


def test_no_rule_that_is_second_hand_or_from_memory_ever_says_ready() -> None:
    for rule in all_rules():
        told = judge(rule, findings(), vehicle(2012))
        limits = [reading.limit for reading in told.readings]
        if told.outcome == "ready":
            assert all(limit is not None and limit.sure == "found" for limit in limits)
            assert len(limits) == 1


def test_what_the_rule_lets_go_is_the_longest_wait_first_and_never_the_repaired_monitor() -> None:
    found = findings("evaporative_system", "catalyst")
    told = needs(a_rule("us-il"), found, vehicle())
    assert (told.must, told.may_stay_open, told.let_go()) == ((), 1, ("evaporative_system",))
    assert told.wanted() == ("catalyst",)
    kept = needs(a_rule("us-il"), found, vehicle(), ("P0442",))
    assert kept.let_go() == ("catalyst",)
    assert kept.must == ("evaporative_system",)


def test_the_target_is_what_the_strictest_reading_accepts() -> None:
    found = findings("evaporative_system", "catalyst")
    accepted = target(a_rule("us-ca-smogcheck"), found, vehicle())
    assert "evaporative_system" in accepted  # since 2025-10-01 one reading wants all of them
    assert "evaporative_system" not in target(a_rule("us-il"), found, vehicle())
    aim = target(a_rule("us-co"), findings("catalyst", "egr_vvt"), vehicle(2018))
    assert "catalyst" in aim
    assert "egr_vvt" not in aim


def test_without_a_known_number_everything_is_wanted() -> None:
    told = needs(FEDERAL, findings("catalyst"), vehicle(None))
    assert (told.must, told.known) == (("catalyst",), False)


@pytest.mark.parametrize(
    ("rule_id", "year", "fuel", "weight_lb", "outcome"),
    [  # OAR 340-256-0355: heavy petrol from 2013, diesel light only; mva.maryland.gov: trucks from 2008, to 14,000 lb
        ("us-or", 2012, "gasoline", 8500.0, "ready"),
        ("us-or", 2012, "gasoline", 8501.0, "exempt"),
        ("us-or", 2013, "gasoline", 8501.0, "ready"),
        ("us-or", 2012, "diesel", 8500.0, "ready"),
        ("us-or", 2012, "diesel", 8501.0, "exempt"),
        ("us-md", 2007, "gasoline", 8500.0, "ready"),
        ("us-md", 2007, "gasoline", 8501.0, "exempt"),
        ("us-md", 2008, "gasoline", 8501.0, "ready"),
        ("us-md", 2008, "gasoline", 14001.0, "exempt"),
        ("us-md", 2008, "diesel", 6000.0, "exempt"),
    ],
)
def test_a_heavy_vehicle_is_not_judged_by_the_first_year_of_light_ones(
    rule_id: str, year: int, fuel: str, weight_lb: float, outcome: str
) -> None:
    found = findings(diesel=fuel == "diesel")
    assert judge(a_rule(rule_id), found, vehicle(year, fuel, gvwr_lb=weight_lb)).outcome == outcome


def test_the_truck_check_never_says_ready_petrol_is_outside_it_and_that_it_is_in_force_is_second_hand() -> None:
    rule = a_rule("us-ca-cleantruck")
    petrol = judge(rule, findings("catalyst", "egr_vvt", "oxygen_sensor"), vehicle(2020, gvwr_lb=16000.0))
    assert {reason.id for reason in petrol.scope if reason.effect == "open"} == {"may_be_exempt"}
    assert judge(rule, findings(), vehicle(2020, gvwr_lb=16000.0, kind="plain")).outcome == "exempt"
    diesel = judge(rule, findings(diesel=True), vehicle(2020, "diesel", gvwr_lb=16000.0))
    assert (petrol.outcome, diesel.outcome) == ("cannot_say", "cannot_say")


def test_with_the_mil_on_its_codes_are_named_and_none_is_said_to_pass() -> None:
    told = judge(a_rule("us-il"), findings(mil_on=True, stored=Found(("P0135",))), vehicle(2012))
    reasons = {reason.id: reason for reason in told.readings[0].reasons}
    assert reasons["mil_on"].codes == ("P0135",)
    assert "stored_no_effect" not in reasons
    assert "repair what lights the MIL: P0135" in changes(told)
