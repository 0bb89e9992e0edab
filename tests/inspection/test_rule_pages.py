"""A rule's page promises what the verdicts by it do, marks what was not read, and shows what sources disagree on.

The five contradictions are those the project's research of the published rules lists; each stands in the rules they are
about: 16 CCR 3340.42.2, the bureau's table and newsletter, 40 CFR 85.2222, EPA420-R-01-015, state rules on the retest.
"""

import pytest

from coach.inspection.findings import Found
from coach.inspection.verdict import judge
from coach.words.rules import rule_page, rules_page
from coach.words.verdicts import verdict_page
from tests.inspection.makers import a_rule, all_rules, findings, vehicle

IDS = tuple(rule.id for rule in all_rules())
YEARS = (1996, 1999, 2003, 2012, 2018, 2024)


def can_be_ready(rule_id: str) -> bool:
    """Whether any clean car with everything complete is ready by it."""
    rule = a_rule(rule_id)
    weights = (None, 6000.0, 16000.0)
    return any(
        judge(rule, findings(diesel=fuel == "diesel"), vehicle(year, fuel, gvwr_lb=weight, inspected=said)).outcome
        == "ready"
        for year in YEARS
        for fuel in ("gasoline", "diesel")
        for weight in weights
        for said in (None, True)
    )


@pytest.mark.parametrize("rule_id", IDS)
def test_a_page_says_ready_is_possible_exactly_where_a_verdict_can_be_ready(rule_id: str) -> None:
    page = rule_page(a_rule(rule_id))
    assert ("It can say ready" in page) is can_be_ready(rule_id)
    assert "found-2nd" not in page and "read in its own source)" not in page


@pytest.mark.parametrize("rule_id", IDS)
def test_an_unverified_verdict_names_what_was_not_read_and_never_only_calls_itself_so(rule_id: str) -> None:
    rule = a_rule(rule_id)
    for kind in ({}, {"stored": Found(("P0420",))}):
        told = judge(rule, findings(**kind), vehicle(2018))
        page = " ".join(verdict_page(told).split())
        if told.unverified and told.outcome == "cannot_say":
            said = page.split("This verdict is unverified: ")[1].split(".")[0]
            assert any(
                word in said for word in ("second hand", "from memory", "not the newest", "no rule text", "not read")
            )


def test_the_five_contradictions_of_the_sources_are_shown_where_they_matter() -> None:
    pages = {rule_id: " ".join(rule_page(a_rule(rule_id)).split()) for rule_id in IDS}
    california, federal = pages["us-ca-smogcheck"], pages["us-federal"]
    assert "any two monitors, later copies" in california
    assert "all monitors complete, with exceptions, brought in gradually" in california
    assert "still prints two (1996-2000) and one (2001 on)" in california
    for rule_id in (
        "us-federal",
        "us-epa-guidance-2001",
        "us-il",
        "us-ma",
        "us-or",
        "us-wi",
        "us-wa",
        "us-mo",
        "us-md",
    ):
        assert "At a retest the federal text calls an unset monitor no bar" in pages[rule_id]
    assert "California fails a reported code" in federal and "California fails a reported code" in california
    assert "more than one way" in california


def test_the_list_is_no_surer_than_the_number_it_stands_for() -> None:
    lines = {line.split()[0]: line for line in rules_page(all_rules()).splitlines()}
    assert "read in its source" in lines["us-wi"]  # Trans 131.03(6)(d)1 takes in 40 CFR 85.2222
    assert "second hand" in lines["de-au"]  # the law was read, that the exhaust is measured in every case was not
    assert "second hand" in lines["us-ca-smogcheck"]
    assert "older text" in lines["us-co"]
