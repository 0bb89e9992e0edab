"""A target is reached only with its monitors complete, the MIL certainly off, no code, and the named rule content.

The answers are written byte by byte after SAE J1979; the car is invented. Which codes are of misfire: SAE J2012.
"""

import pytest

from coach.car.arrivals import Arrival, Choice, Request
from coach.car.happenings import Happening
from coach.cli.drive import outcome_code
from coach.drive.happenings import TargetBarred, TargetReached
from coach.drive.target import BARS, DOUBTS
from coach.words.announce import Announcer
from coach.words.before import after_lines, before_lines
from coach.words.coaching import view
from coach.words.sentences import BARRED_BY
from coach.words.standing import NOT_READ, codes_line
from coach.words.units import Units
from tests.drive.test_credit import readings
from tests.recordings import ask, fed

DONE, LIT, NO_LEAK_TEST = "410100076500", "410181076500", "410100076504"
P0128, NOTHING = "43010128", {"03": "4300", "07": "4700", "0A": "4A00"}
ENOUGH = "You may stop: nothing more is needed."


def told(ready: str = DONE, **codes: str | None) -> list[Arrival]:
    """A read-out: readiness, then the codes; a service that is none was not answered."""
    said = {**NOTHING, **{name[1:]: raw for name, raw in codes.items()}}
    arrivals = ask(0, 1, "0101", ("7E8", ready))
    for number, (service, raw) in enumerate(said.items(), start=2):
        arrivals += ask(float(number), number, service, *([("7E8", raw)] if raw is not None else []))
    return [*arrivals, Request(9.0, 99, "010D"), *readings(10, 3, speed_kmh=0.0)]


CASES: list[tuple[str, dict[str, str | None], tuple[str, ...], str]] = [
    (DONE, {}, (), ENOUGH),
    (DONE, {"s0A": None}, ("permanent_not_offered",), "You may stop: the monitors are complete."),
    (LIT, {"s03": P0128}, ("mil_on", "stored"), "You may stop: the MIL is still on."),
    (LIT, {"s03": P0128, "s07": "47010128"}, ("mil_on", "stored", "pending"), "You may stop: P0128 has to be mended."),
    (DONE, {"s03": P0128}, ("stored",), "You may stop: P0128 is still stored."),
    (DONE, {"s07": "47010301"}, ("pending",), "You may stop: P0301 is pending, seen once."),
    (DONE, {"s0A": "4A010420"}, ("permanent",), "You may stop: P0420 is left as a permanent code."),
    (DONE, {"s03": None}, ("stored_unknown",), "You may stop: the monitors are complete."),
    (DONE, {"s07": None}, ("pending_unknown",), "You may stop: the monitors are complete."),
    (LIT, {"s03": None}, ("mil_on", "stored_unknown"), "You may stop: the MIL is on."),
]


@pytest.mark.parametrize(("ready", "codes", "bars", "instruction"), CASES)
def test_complete_monitors_are_enough_only_with_the_mil_off_and_no_code(
    ready: str, codes: dict[str, str | None], bars: tuple[str, ...], instruction: str
) -> None:
    core, happened = fed(told(ready, **codes))
    now, seen = core.standing(), view(core, Units())
    assert now.complete
    assert tuple(bar.id for bar in now.bars) == bars
    assert (core.target_reached, seen.instruction) == (not bars, instruction)
    assert seen.kind == ("barred" if bars else "done")
    assert bool(of(happened, TargetReached)) is not bool(bars)
    surely = [bar for bar in bars if bar not in DOUBTS]
    assert outcome_code(core) == (0 if not bars else 1 if surely else 3)


def of(happened: list[Happening], kind: type[Happening]) -> list[Happening]:
    return [h for h in happened if isinstance(h, kind)]


def test_what_stands_against_it_is_told_once_when_everything_was_read() -> None:
    core, happened = fed(told(LIT, s03=P0128))
    barred = of(happened, TargetBarred)
    assert [(h.by, h.codes) for h in barred if isinstance(h, TargetBarred)] == [(("mil_on", "stored"), ("P0128",))]
    for arrival in [*told(LIT, s03=P0128)]:
        assert not of(list(core.feed(arrival)), TargetBarred)


def test_with_nothing_against_it_the_target_is_reached_as_soon_as_the_codes_are_read() -> None:
    core, happened = fed(ask(0, 1, "0101", ("7E8", DONE)))
    assert not core.target_reached
    for arrival in told(s0A="4A00")[2:]:
        happened += core.feed(arrival)
    reached = of(happened, TargetReached)
    assert len(reached) == 1
    assert 3.0 <= reached[0].t <= 4.1  # the last of them was answered then, or within the second after
    assert not of(happened, TargetBarred)


def test_in_the_middle_of_a_read_out_nothing_is_reached_before_the_permanent_codes_were_asked_for() -> None:
    _, happened = fed(told(s0A="4A010420"))
    assert not of(happened, TargetReached)
    assert [h.by for h in happened if isinstance(h, TargetBarred)] == [("permanent",)]


def test_a_code_that_comes_takes_the_word_back_and_one_that_goes_gives_it_again() -> None:
    core, _ = fed(told(s0A="4A00"))
    assert core.target_reached
    happened = [h for a in ask(20, 50, "07", ("7E8", "47010442")) for h in core.feed(a)]
    assert not core.target_reached
    assert [h.codes for h in happened if isinstance(h, TargetBarred)] == [("P0442",)]
    happened = [h for a in ask(30, 51, "07", ("7E8", "4700")) for h in core.feed(a)]
    assert core.target_reached
    assert of(happened, TargetReached)


def test_doubt_about_the_codes_takes_the_word_back_without_a_happening() -> None:
    core, _ = fed(told())
    for arrival in [Request(20.0, 50, "07"), Request(21.0, 51, "010D")]:
        core.feed(arrival)
    assert not core.target_reached
    assert core.standing().doubtful
    assert "whether a code is pending" in view(core, Units()).note


# ---------------------------------------------------------------- the named rule


@pytest.mark.parametrize(
    ("refuses", "held", "bars"),
    [
        ([], "4A010420", ()),
        (["permanent"], "4A010420", ("permanent",)),
        (["permanent"], "4A00", ()),
        (["permanent_unknown", "permanent_not_offered"], None, ("permanent_not_offered",)),
        (["rule_unsure"], "4A00", ("rule_unsure",)),
        (["rule_against"], "4A00", ("rule_against",)),
    ],
)
def test_the_rule_that_was_named_decides_on_permanent_codes_and_on_itself(
    refuses: list[str], held: str | None, bars: tuple[str, ...]
) -> None:
    core, _ = fed([])
    core.learn({"rule": {"id": "of-the-test", "name": "A rule of the test", "refuses": refuses}})
    for arrival in told(s0A=held):
        core.feed(arrival)
    assert tuple(bar.id for bar in core.standing().bars) == bars
    assert (view(core, Units()).instruction == ENOUGH) is not bool(bars)


def test_a_monitor_the_rule_lets_go_stays_listed_as_open() -> None:
    core, _ = fed(told(NO_LEAK_TEST))
    rule = {"id": "of-the-test", "name": "A rule of the test", "refuses": []}
    core.feed(Choice(20.0, {"target": ["catalyst", "oxygen_sensor"], "rule": rule}))
    seen = view(core, Units())
    assert seen.instruction == ENOUGH
    assert seen.beside == "evaporative system: left open, the rule lets it go"
    assert "Evaporative system: left open, the rule lets it go" in seen.note
    assert any("Evaporative system: left open, the rule lets it go" in line for line in after_lines(core, Units()))


# ---------------------------------------------------------------- MIL and codes in every headline


@pytest.mark.parametrize(
    ("ready", "codes", "line"),
    [
        (DONE, {}, ""),
        ("410181076504", {"s03": P0128}, "MIL on; P0128 stored"),
        (NO_LEAK_TEST, {"s07": "47010301", "s0A": "4A010420"}, "P0301 pending; P0420 permanent"),
    ],
)
def test_the_page_names_mil_and_codes_while_there_are_any(ready: str, codes: dict[str, str], line: str) -> None:
    core, _ = fed(told(ready, **codes))
    assert (view(core, Units()).codes, codes_line(core)) == (line, line)
    page = list(before_lines(core, Units(), ""))
    assert (f"{line}." in page) is bool(line)
    said = [one.text for one in Announcer(core, Units()).take(()) if one.cue == "codes"]
    assert said == ([f"{line}."] if line else [])


def test_mil_and_codes_are_said_once_and_not_again_and_again() -> None:
    core, _ = fed(told("410181076504", s03=P0128))
    announcer = Announcer(core, Units())
    announcer.take(())
    for arrival in readings(20, 600, rpm=1500.0, speed_kmh=50.0):
        assert not [one for one in announcer.take(core.feed(arrival)) if one.cue == "codes"]


def test_everything_that_may_stand_against_a_target_has_words() -> None:
    assert set(BARRED_BY) == set(BARS)
    assert set(NOT_READ) == set(DOUBTS) - {"rule_unsure"}
