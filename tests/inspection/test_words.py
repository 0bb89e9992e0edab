"""Every id of the inspection layer has words, and the pages say what a person needs, with the VIN masked."""

import ast
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from coach.inspection.before import before_the_drive
from coach.inspection.cleared import Loss
from coach.inspection.confirm import PARTNER, UNKNOWABLE
from coach.inspection.findings import Found
from coach.inspection.forecast import forecast
from coach.inspection.needs import needs
from coach.inspection.own_tests import NEEDS
from coach.inspection.scope import EXEMPT_ID
from coach.inspection.two_words import TwoWords
from coach.inspection.verdict import judge
from coach.j1979.model_year import model_year
from coach.j1979.vehicle_info import InUse
from coach.jobs.store import JobStore
from coach.session.confirm import look_at
from coach.simulator.cars import make_car
from coach.words.clearing import CHECKS, HURDLES, checks_page, cleared_page, loss_page
from coach.words.confirmation import MISSING, forecast_words
from coach.words.jobs import job_page, jobs_page
from coach.words.reasons import CHANGES, REASONS
from coach.words.rules import rule_page, rules_page
from coach.words.units import Units
from coach.words.verdicts import CONFIRM, needs_words, verdict_document, verdict_page
from tests.inspection.makers import a_rule, all_rules, findings, vehicle
from tests.inspection.story import THURSDAY, cleared, drive, read

COACH = Path(__file__).parent.parent.parent / "coach"


def made(kind: str, *files: str) -> set[str]:
    """The ids with which a kind of record is made in these files; those kept in a variable `name` too."""
    found: set[str] = set()
    for file in files:
        for node in ast.walk(ast.parse((COACH / file).read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == kind and node.args:
                found |= texts(node.args[0])
            elif isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "name" and kind == "Reason":
                found |= texts(node.value)
    return found


def texts(node: ast.AST) -> set[str]:
    """The texts an expression may be; `{kind}` stands for stored and pending, and in confirm.py for permanent too."""
    if isinstance(node, ast.JoinedStr):
        parts = [part.value if isinstance(part, ast.Constant) else "{kind}" for part in node.values]
        return {"".join(parts).replace("{kind}", kind) for kind in ("stored", "pending")}
    if isinstance(node, ast.IfExp):
        return texts(node.body) | texts(node.orelse)
    return {node.value} if isinstance(node, ast.Constant) and isinstance(node.value, str) else set()


def test_every_reason_missing_thing_hurdle_and_check_has_words() -> None:
    reasons = made("Reason", "inspection/clauses.py", "inspection/scope.py", "inspection/verdict.py")
    reasons |= set(EXEMPT_ID.values())
    assert len(reasons) > 40
    assert reasons <= set(REASONS)
    missing = made("Missing", "inspection/confirm.py")
    assert len(missing) > 15
    assert missing <= set(MISSING)
    assert set(MISSING) >= UNKNOWABLE | set(NEEDS.values()) | set(PARTNER.values())
    assert made("Hurdle", "session/clear.py") == set(HURDLES)
    told = before_the_drive(findings(values={"fuel_level_pct": 91.0}), False, "throttle")
    told += before_the_drive(findings(), True)
    assert {check.id for check in told} == set(CHECKS)
    assert set(CHANGES) <= set(REASONS)


def test_a_page_of_a_verdict_says_rule_reasons_change_source_and_to_confirm() -> None:
    told = judge(a_rule("us-ca-smogcheck"), findings("evaporative_system"), vehicle(2012))
    page = verdict_page(told, TwoWords(model_year("ZZZSM0000S0000001", 2026, False)))
    assert "cannot say." in page.splitlines()[0]
    assert "more than one way" in page
    assert "all monitors complete, in force since 2025-10-01" in page
    assert "1995 or 2025: say which with --model-year" in page
    assert "16 CCR 3340.42.2(b) still prints" in page
    assert page.endswith(CONFIRM)


def test_the_verdict_as_data_has_one_shape() -> None:
    told = verdict_document(judge(a_rule("us-il"), findings("catalyst", "egr_vvt"), vehicle(2012)))
    assert list(told)[:2] == ["schema", "version"]
    assert (told["schema"], told["outcome"]) == ("coach.verdict", "not_ready")
    assert told["readings"][0]["reasons"][0]["monitors"] == ["catalyst", "egr_vvt"]
    assert told["changes"] == ["complete all but 1 of catalyst and EGR or VVT"]


@pytest.mark.parametrize(
    "rule_id", [path.stem for path in sorted((COACH.parent / "profiles/inspection").glob("*.toml"))]
)
def test_every_rule_has_a_page_and_a_verdict_in_words(rule_id: str) -> None:
    rule = a_rule(rule_id)
    assert rule.source.split()[0] in rule_page(rule)
    awful = findings("catalyst", "egr_vvt", "evaporative_system", mil_on=True, stored=Found(None, ("P0420",)))
    page = verdict_page(judge(rule, awful, vehicle(2012, failed_with=("P0420", "P1234"))))
    assert CONFIRM in page
    assert verdict_page(judge(rule, awful, vehicle(None, None))).startswith(rule.name)


def test_the_list_of_rules_and_what_is_still_needed_are_one_line_each() -> None:
    assert len(rules_page(all_rules()).splitlines()) == 46
    told = needs(a_rule("us-il"), findings("catalyst", "evaporative_system"), vehicle())
    assert needs_words(told) == "To be accepted here: catalyst; evaporative system may stay open."
    assert "evaporative system may stay open" in needs_words(
        needs(a_rule("us-il"), findings("evaporative_system"), vehicle())
    )


def test_a_forecast_never_stands_without_interval_and_evidence() -> None:
    told = forecast("catalyst", InUse(516, 1717, {"CAT1": (500, 516)}, 0), 0, 1)
    assert told is not None
    words = forecast_words(told)
    assert "87 in 100" in words
    assert "500 runs in 516 drives" in words
    assert "nine times in ten" in words


def test_before_a_clear_none_is_said_only_of_what_every_control_unit_told() -> None:
    told = Loss((), (), (), (), False, (), False, 12.4)
    page = loss_page(told)
    assert "readiness: none is complete now" in page
    assert "codes stored: none; pending: none" in page
    silent = replace(told, stored=("P0420",), uncertain=frozenset({"readiness", "stored", "pending", "permanent"}))
    page = loss_page(silent)
    assert "readiness: not told for certain" in page
    assert "codes stored: P0420, and perhaps more; pending: not told for certain" in page
    assert "permanent codes: not told for certain" in page
    assert "none" not in page


def test_checks_show_figures_and_sources() -> None:
    page = checks_page(before_the_drive(findings(values={"module_v": 11.6, "fuel_level_pct": 64.0}), False), Units())
    assert (
        "not in order         battery at rest, key on: 11.6 V, wanted at least 12.0 V (service information of 2007:"
        in page
    )
    assert "in order             fuel level: 64 %, wanted at least 30 % and at most 70 %" in page
    assert "look yourself" in page


# ---------------------------------------------------------------- a job from end to end


def test_the_job_of_the_story_is_told_at_every_step(tmp_path: Path, no_pauses: None) -> None:
    car = make_car("small", faults=["open_sensor_heater"], cleared=False, fuel_pct=60.0)
    job = JobStore(tmp_path).new(THURSDAY, ("P0135",), "front oxygen sensor", "", 88_412.0)
    car.repair("open_sensor_heater")
    car.key_on()
    car.advance(car.clock_s + 3)
    losses: list[str] = []
    done = cleared(car, job, seen=lambda loss: losses.append(loss_page(loss)))
    assert "P0135" in losses[0]
    assert "Three driving cycles" in losses[0]
    assert "7E9 confirmed it" in cleared_page(done)
    assert "rightly still there: P0135" in cleared_page(done)
    car.soak(10.6)
    drive(car, job, THURSDAY + timedelta(hours=12), ("oxygen_sensor_heater", "oxygen_sensor", "catalyst"))
    read(car, job, "between", THURSDAY + timedelta(hours=13))

    seen = look_at(job)
    assert "confirmed." in job_page(seen, Units())
    assert job_page(seen, Units()).splitlines()[1] == "SIMULATED: this is no real car."
    assert "P0135; front oxygen sensor; 4 files" in jobs_page((job,))
    assert jobs_page((), damaged=1) == "No job that can be read; 1 cannot."


def test_without_a_model_year_every_span_of_years_is_told_and_none_is_guessed() -> None:
    rule, found, car = a_rule("us-federal"), findings("catalyst", "oxygen_sensor"), vehicle(None)
    page = verdict_page(judge(rule, found, car), findings=found)  # 40 CFR 85.2222(c)(2): two, then one
    assert "cannot say." in page.splitlines()[0]
    assert "  1996 to 2000: ready\n  2001 on: not ready" in page
    assert "by model year" not in verdict_page(judge(rule, found, vehicle(2012)), findings=found)
