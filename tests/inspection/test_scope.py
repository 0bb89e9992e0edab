"""Whether a car is inspected there at all: by age, model year, weight, fuel and mileage, and what nobody told.

Every row names the source that the rule's own file gives in full; the day is 2026-11-25.
"""

from dataclasses import replace

import pytest

from coach.inspection.needs import needs, target
from coach.inspection.scope import exemption, scope
from coach.inspection.verdict import judge, judge_any
from coach.words.outcomes import headline
from coach.words.verdicts import needs_words, verdict_document, verdict_page
from tests.inspection.makers import a_rule, all_rules, findings, vehicle

TWO_OPEN = findings("evaporative_system", "catalyst")

EXEMPT = (  # place, the car, how sure, source
    ("us-il", {"model_year": 2025}, "found", "epa.illinois.gov: a 2012 car was first due in 2016"),
    ("us-ga", {"model_year": 2025}, "found", "cleanairforce.com: in 2022 model year 2020 and newer"),
    ("us-wi", {"model_year": 2025}, "found", "Trans 131.03: when four model years old"),
    ("us-co", {"model_year": 2025}, "found", "cdphe.colorado.gov: a 2011 car was first due in 2018"),
    ("us-ny", {"model_year": 2025}, "found", "dmv.ny.gov"),
    ("us-tx", {"model_year": 2025}, "found", "30 TAC 114.50: two to 24 years old"),
    ("us-ct", {"model_year": 2025}, "found", "ctemissions.com: in 2015 model years 2012 to 2015"),
    ("us-de", {"model_year": 2022}, "found", "7 DE Admin. Code 1131: five, the orders seven"),
    ("us-in", {"model_year": 2023}, "found", "cleanaircarcheck.com: 2015 the newest due in 2019"),
    ("us-or", {"model_year": 2025}, "found-2nd", "in 2024 model year 2021 and newer"),
    ("us-oh", {"model_year": 2025}, "found-2nd", "ORC 3704.14 of 2006, repeated since"),
    ("us-az", {"model_year": 2025}, "found-2nd", "first five model years"),
    ("us-ca-smogcheck", {"model_year": 2025}, "found-2nd", "lists of the department, copied by stations"),
    ("us-nc", {"model_year": 2025, "odometer_km": 20_000.0}, "found-2nd", "three newest below 70,000 mi"),
    ("us-ma", {"model_year": 2011}, "memory", "15 model years old; for light petrol from memory"),
    ("us-va", {"model_year": 2000}, "found", "deq.virginia.gov: less than 25 model years before 1 January"),
    ("us-mo", {"gvwr_lb": 14_001.0}, "found", "dnr.mo.gov: to 8,500 lb"),
    ("us-il", {"gvwr_lb": 14_001.0}, "found", "epa.illinois.gov: to 14,000 lb"),
    ("us-ma", {"gvwr_lb": 14_001.0, "model_year": 2015}, "found-2nd", "emissions.org: to 14,000 lb"),
    ("us-il", {"fuel": "diesel"}, "found", "epa.illinois.gov: no diesel"),
    ("us-nv", {"fuel": "diesel"}, "found", "NAC 445B.589: opacity on a dynamometer"),
    ("us-wa", {}, "found", "ecology.wa.gov: ended 2020-01-01"),
)


@pytest.mark.parametrize(("place", "car", "sure", "source"), EXEMPT)
def test_a_car_that_is_not_inspected_there_gets_no_verdict_and_is_told_so(
    place: str, car: dict[str, object], sure: str, source: str
) -> None:
    rule, vehicle_there = a_rule(place), vehicle(**car)  # type: ignore[arg-type]
    for found in (findings(), TWO_OPEN, findings(mil_on=True)):
        told = judge(rule, found, vehicle_there)
        assert (told.outcome, told.readings) == ("exempt", ()), source
        assert told.exempt is not None and told.exempt.sure == sure
        assert told.unverified is (sure != "found")
        assert ("as far as is known" in headline(told)) is (sure != "found")


def test_the_page_of_an_exempt_car_says_who_does_not_inspect_it_why_how_sure_and_where_it_was_read() -> None:
    page = " ".join(verdict_page(judge(a_rule("us-il"), TWO_OPEN, vehicle(2025))).split())
    assert "Illinois does not inspect it: a car less than 4 years old is not inspected" in page
    assert "a 2012 car was first due in 2016 (read in its source)" in page
    assert "http://www.epa.illinois.gov" in page
    assert "incomplete" not in page and "not ready" not in page
    other = " ".join(verdict_page(judge(a_rule("us-nv"), TWO_OPEN, vehicle(2012, "diesel"))).split())
    assert "Nevada does not judge it by what it tells: a diesel car" in other and "opacity on a dynamometer" in other
    unsure = " ".join(verdict_page(judge(a_rule("us-az"), TWO_OPEN, vehicle(2023))).split())
    assert "second hand" in unsure and "--inspected yes" in unsure


def test_an_exempt_car_as_data_has_its_own_outcome_with_words_and_sources() -> None:
    told = verdict_document(judge(a_rule("us-il"), TWO_OPEN, vehicle(2025)))
    assert (told["outcome"], told["readings"], told["unverified"]) == ("exempt", [], False)
    assert told["exempt"]["id"] == "not_inspected"
    assert told["exempt"]["sources"][0].startswith("http://www.epa.illinois.gov")
    assert verdict_document(judge(a_rule("us-il"), TWO_OPEN, vehicle(2012)))["exempt"] is None


HANGS = (  # place, the car, what settles it as exempt, what settles it as inspected
    ("us-mo", {}, {"inspected": False, "odometer_km": 9_000.0}, {"odometer_km": 64_400.0}),  # new, below 40,000 mi
    ("us-md", {}, {"inspected": False}, {"inspected": True}),  # first owner, titled new in the state
    ("us-ri", {}, {"inspected": False, "odometer_km": 9_000.0}, {"odometer_km": 38_700.0}),  # below 24,000 mi
    ("us-nc", {}, {"odometer_km": 112_000.0}, {"odometer_km": 112_700.0}),  # 70,000 mi
)


@pytest.mark.parametrize(("place", "car", "out", "due"), HANGS)
def test_where_an_exemption_hangs_on_what_the_car_does_not_tell_it_is_asked_and_never_guessed(
    place: str, car: dict[str, object], out: dict[str, object], due: dict[str, object]
) -> None:
    rule, new = a_rule(place), vehicle(2025, **car)
    unsaid = judge(rule, TWO_OPEN, new)
    assert (unsaid.outcome, unsaid.readings[0].outcome) == ("cannot_say", "not_ready")
    assert "may_be_exempt" in {reason.id for reason in unsaid.scope}
    assert judge(rule, findings(), new).outcome == "ready"  # it is so too if it is not inspected at all
    assert judge(rule, TWO_OPEN, replace(new, **out)).outcome == "exempt"  # type: ignore[arg-type]
    assert judge(rule, TWO_OPEN, replace(new, **due)).outcome == "not_ready"  # type: ignore[arg-type]
    assert any("--inspected" in line or "--odometer-mi" in line for line in verdict_document(unsaid)["changes"])


def test_where_another_test_may_stand_in_ready_is_not_said_either() -> None:
    austria = a_rule("at-57a")  # PBStV Anlage 2a: from Euro 5 on
    assert judge(austria, findings(), vehicle(2014)).outcome == "cannot_say"
    assert judge(austria, findings(), vehicle(2014, inspected=True)).outcome == "ready"
    assert judge(austria, findings(), vehicle(2006, inspected=False)).outcome == "exempt"


def test_the_users_word_outweighs_what_is_only_second_hand_and_never_what_was_read() -> None:
    second_hand = judge(a_rule("us-az"), TWO_OPEN, vehicle(2023, inspected=True))
    assert second_hand.outcome == "not_ready"
    assert "said_inspected" in {reason.id for reason in second_hand.scope}
    assert judge(a_rule("us-il"), TWO_OPEN, vehicle(2023, inspected=True)).outcome == "exempt"


def test_a_weight_that_nobody_told_is_a_cars_and_that_is_said_but_a_truck_programme_asks() -> None:
    told = judge(a_rule("us-nj"), findings(), vehicle(2007))
    assert ("weight_not_told", "for") in {(reason.id, reason.effect) for reason in told.scope}
    truck = judge(a_rule("us-ca-cleantruck"), findings(diesel=True), vehicle(2018, "diesel"))
    assert ("weight_not_told", "open") in {(reason.id, reason.effect) for reason in truck.scope}
    assert truck.outcome == "cannot_say"


def test_a_hybrid_is_one_only_where_the_user_says_so_and_the_page_says_what_was_taken() -> None:
    rule = a_rule("us-co")  # aircarecolorado.com: hybrids by OBD at any later age
    plain, hybrid = vehicle(2012), vehicle(2012, kind="hybrid")
    assert judge(rule, findings("catalyst"), plain).outcome == "exempt"
    assert judge(rule, findings("catalyst"), hybrid).outcome == "not_ready"
    note = scope(a_rule("us-nv"), vehicle(2022))
    assert "kind_not_told" in {reason.id for reason in note}
    assert judge(a_rule("us-nv"), findings(), vehicle(2022, kind="hybrid")).outcome == "exempt"


def test_without_a_model_year_every_span_is_told_from_the_newest_exemption_to_the_oldest() -> None:
    spans = judge_any(a_rule("us-ny"), TWO_OPEN, vehicle(None))
    outcomes = {one.vehicle.model_year: one.outcome for one in spans}
    assert (outcomes[1996], outcomes[2002], outcomes[2025]) == ("exempt", "not_ready", "exempt")
    page = verdict_page(judge(a_rule("us-ny"), TWO_OPEN, vehicle(None)), findings=TWO_OPEN)
    assert "  1996 to 2001: not inspected there\n  2002 to 2024: not ready\n  2025 on: not inspected there" in page


def test_what_holds_for_every_year_needs_no_model_year() -> None:
    assert judge(a_rule("us-il"), TWO_OPEN, vehicle(None, "diesel")).outcome == "exempt"
    told = judge(a_rule("de-au"), TWO_OPEN, vehicle(None))
    assert [reading.outcome for reading in told.readings] == ["ready"]


def test_without_the_fuel_a_car_that_is_out_by_age_is_out_all_the_same() -> None:
    assert judge(a_rule("us-il"), TWO_OPEN, vehicle(2025, None)).outcome == "exempt"
    assert judge(a_rule("us-il"), TWO_OPEN, vehicle(2012, None)).outcome == "cannot_say"


def test_for_an_exempt_car_a_drive_is_for_the_repair_and_every_monitor_is_wanted() -> None:
    rule, car = a_rule("us-il"), vehicle(2025)
    told = needs(rule, TWO_OPEN, car)
    assert (told.exempt, told.known, told.let_go()) == (True, False, ())
    assert "not inspected here" in needs_words(told)
    assert {"evaporative_system", "catalyst"} <= set(target(rule, TWO_OPEN, car))


def test_every_exemption_that_was_not_from_memory_has_an_address_or_a_citation_and_a_date_or_says_it_has_none() -> None:
    facts = [(rule, fact) for rule in all_rules() for fact in rule.scope.exempt]
    assert len(facts) > 200
    for rule, fact in facts:
        assert fact.sure == "memory" or fact.letters, rule.id
        assert all(rule.scope.sources[letter] for letter in fact.letters)


def test_of_several_exemptions_the_surest_is_told() -> None:
    told = scope(a_rule("us-az"), vehicle(2025, "diesel", kind="electric"))
    best = exemption(told)
    assert len(told) == 3 and best is not None and best.sure == "found"
