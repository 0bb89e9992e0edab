"""Law 4 and the mistakes of a rule's file: nobody else clears, and every mistake names file, key and nearest key."""

import ast
from pathlib import Path

import pytest

from coach.inspection.before import before_the_drive
from coach.inspection.findings import Found
from coach.inspection.rules import RuleError, parse_rule
from coach.session.rules import a_rule, rule_paths
from tests.inspection.makers import findings

COACH = Path(__file__).parent.parent.parent / "coach"


SOURCES = {path: path.read_text(encoding="utf-8") for path in sorted(COACH.rglob("*.py"))}


def outside(*folders: str) -> dict[str, str]:
    """The product's files outside these folders, by path below coach/."""
    away = [COACH / folder for folder in folders]
    return {
        path.relative_to(COACH).as_posix(): text
        for path, text in SOURCES.items()
        if not any(folder in path.parents for folder in away)
    }


def test_only_the_clear_asks_for_a_link_that_may_clear() -> None:
    assert "allow_clear" in SOURCES[COACH / "adapter/link.py"]
    assert [path for path, text in outside("adapter").items() if "allow_clear" in text] == ["session/clear.py"]
    user = ast.walk(ast.parse(SOURCES[COACH / "session/clear.py"]))
    calls = [node for node in user if isinstance(node, ast.Call) and any(w.arg == "allow_clear" for w in node.keywords)]
    assert len(calls) == 1


def test_only_the_clear_names_the_command_outside_the_adapter_and_the_simulated_car() -> None:
    found = [
        path
        for path, text in outside("adapter", "simulator").items()
        if '"04"' in text and any(isinstance(n, ast.Constant) and n.value == "04" for n in ast.walk(ast.parse(text)))
    ]
    assert found == ["session/clear.py"]


def test_no_other_module_takes_the_clearing_link_from_it() -> None:
    users = [path for path, text in outside("session").items() if "session.clear import" in text]
    assert set(users) <= {"words/clearing.py", "cli/clear.py"}


def text_of(rule_id: str) -> str:
    return next(path for path in rule_paths() if path.stem == rule_id).read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("allowed = 1", "alowed = 1", "unknown key, the nearest known key is 'allowed'"),
        ('fuel = "any"', 'fuel = "wood"', "fuel"),
        ('status = "active"', "", "status: missing"),
        ("allowed = 2", "allowed = -2", "allowed is a count"),
        ("allowed = 2", 'allowed = 2\nonly = ["catalist"]', "no monitor 'catalist'"),
        ("first_model_year = 2001", "first_model_year = 2001\nlast_model_year = 1999", "is after"),
        ('sure = "found"', 'sure = "certain"', "sure"),
        (
            "schema_version = 2",
            "schema_version = 1",
            "schema_version: 1 is another form than this program's; it reads 2",
        ),
        ("before_model_year = 1996", "before_modelyear = 1996", "the nearest known key is 'before_model_year'"),
        ('source = "r" }', 'source = "q" }', "scope.exempt.0.source: no 'q' in scope.sources"),
        ("{ before_model_year = 1996, unclear", "{ words", "scope.exempt.0: names no car"),
        ('name = "older than the text"', 'name = "MIL commanded on"', "case.'MIL commanded on': twice"),
        ("[mil]", "[mil", "not TOML"),
    ],
)
def test_a_mistake_names_file_and_key(old: str, new: str, said: str) -> None:
    text = text_of("us-federal")
    assert old in text
    with pytest.raises(RuleError) as caught:
        parse_rule(text.replace(old, new), "mine.toml")
    assert any(line.startswith("mine.toml: ") and said in line for line in caught.value.mistakes)


def test_an_unknown_rule_names_those_there_are(tmp_path: Path) -> None:
    with pytest.raises(KeyError, match="us-federal"):
        a_rule("us-feral")
    own = tmp_path / "own.toml"
    own.write_text(text_of("us-il"))
    assert a_rule(str(own)).id == "us-il"


def test_every_rule_has_its_source_and_its_date_and_the_id_of_its_file() -> None:
    for path in rule_paths():
        rule = a_rule(path.stem)
        assert rule.id == path.stem
        assert rule.source and rule.source_date


# ---------------------------------------------------------------- before the drive


def states(running: bool | None, repaired: str = "", codes: Found | None = None, **values: float) -> dict[str, str]:
    found = findings(values=values, **({"stored": codes} if codes is not None else {}))
    return {check.id: check.state for check in before_the_drive(found, running, repaired)}


def test_each_check_is_measured_or_said_not_to_be_or_asked() -> None:
    told = states(False, "throttle body", module_v=12.2, fuel_level_pct=91.0, coolant_c=60.0, ambient_c=18.0)
    assert told["battery_rest_v"] == "in_order"
    assert (told["fuel_pct"], told["fuel_for_leak_test_pct"]) == ("not_in_order", "not_in_order")
    assert told["start_coolant_c"] == "not_in_order"
    assert told["idle_relearn"] == told["coolant_level"] == "ask"
    bare = states(None)
    assert bare["battery_rest_v"] == bare["start_coolant_c"] == "not_measurable"
    assert bare["fuel_pct"] == "ask"
    assert "idle_relearn" not in bare


# 13.5 to 14.8 V: Jeep JK service information 2007, the upper figure from memory; 30 to 70 %: S15, S26, S59 of
# the profiles' sources
@pytest.mark.parametrize(
    ("volts", "state"), [(13.4, "not_in_order"), (13.5, "in_order"), (14.8, "in_order"), (14.9, "not_in_order")]
)
def test_charging_is_in_order_between_its_published_limits(volts: float, state: str) -> None:
    assert states(True, module_v=volts)["charging_v"] == state


@pytest.mark.parametrize(
    ("pct", "state"), [(29.0, "not_in_order"), (30.0, "in_order"), (70.0, "in_order"), (71.0, "not_in_order")]
)
def test_fuel_is_right_between_30_and_70_percent(pct: float, state: str) -> None:
    assert states(False, fuel_level_pct=pct)["fuel_pct"] == state


def test_codes_that_are_uncertain_are_not_in_order() -> None:
    assert states(False)["stored_codes"] == "in_order"
    assert states(False, codes=Found(None))["stored_codes"] == "not_measurable"
    assert states(False, codes=Found(None, ("P0420",)))["stored_codes"] == "not_in_order"
