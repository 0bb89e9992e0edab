"""What may be concluded of a car: a row a situation that once led to a word nobody could sign.

Bytes after SAE J1979; the cars are invented. That silence and rubbish are never "clean" is the project's own law.
"""

import pytest

from coach.car.arrivals import Answer, Choice, Damaged
from coach.car.car import Car
from coach.car.conclusion import Conclusion
from coach.car.happenings import FindingDoubted, FindingSettled
from coach.car.known import Known
from coach.words.doubts import lasting
from tests.car.told import CLEAN, DONE, LIT, OPEN, Talk, told

BOTH = (("7E8", DONE), ("7E9", DONE))


def concluded(talk: Talk) -> Conclusion:
    return told(talk)[0].conclude()


def after_all(talk: Talk) -> Conclusion:
    """The same after clean answers of every unit to every question."""
    return concluded(talk.ask("0100", ("7E8", "4100FE3EB813"), ("7E9", "410080000000")).everything(*BOTH))


def test_clean_answers_of_every_unit_conclude_everything() -> None:
    found = concluded(Talk().everything(*BOTH))
    assert (found.standing, found.mil.on, found.again) == ("complete", False, ())
    assert {one.state for one in found.monitors.values()} == {"complete", "unsupported"}
    assert {kind: one.certain for kind, one in found.codes.items()} == {"stored": (), "pending": (), "permanent": ()}


@pytest.mark.parametrize(
    ("readiness", "codes", "standing"),
    [
        (DONE, CLEAN, "complete"),
        (OPEN, CLEAN, "incomplete"),
        (LIT, {**CLEAN, "03": "43010420"}, "fault"),
        (DONE, {**CLEAN, "07": "47010420"}, "fault"),
        (DONE, {**CLEAN, "0A": "4A010420"}, "fault"),
        (DONE, {"03": "4300", "07": "4700"}, "uncertain"),
        (DONE, {}, "uncertain"),
    ],
)
def test_one_word_means_one_thing(readiness: str, codes: dict[str, str], standing: str) -> None:
    talk = Talk().ask("0101", ("7E8", readiness))
    for text, said in codes.items():
        talk.ask(text, ("7E8", said))
    assert concluded(talk).standing == standing


TROUBLE = {
    "stayed_pending_01": (lambda t: t.ask("0101", ("7E8", DONE), ("7E9", "7F0178")), "readiness", "pending"),
    "stayed_pending_03": (lambda t: t.ask("03", ("7E8", "4300"), ("7E9", "7F0378")), "stored", "pending"),
    "two_words_01": (lambda t: t.ask("0101", ("7E8", LIT), ("7E8", DONE), ("7E9", DONE)), "readiness", "contradicted"),
    "two_words_01_later_worse": (
        lambda t: t.ask("0101", ("7E8", OPEN), ("7E8", DONE), ("7E9", DONE)),
        "readiness",
        "contradicted",
    ),
    "two_words_03": (
        lambda t: t.ask("03", ("7E8", "43010135"), ("7E8", "4300"), ("7E9", "4300")),
        "stored",
        "contradicted",
    ),
    "stray_codes": (lambda t: t.ask("010C", ("7E8", "410C0000")).stray("7E9", "43010135"), "stored", "not_asked"),
    "stray_readiness": (
        lambda t: t.ask("010C", ("7E8", "410C0000")).stray("7E9", "410181076500"),
        "readiness",
        "not_asked",
    ),
    "other_codes_asked": (
        lambda t: t.ask("07", ("7E8", "4700"), ("7E9", "43010135"), ("7E9", "4700")),
        "stored",
        "wrong_echo",
    ),
    "garbled_list": (
        lambda t: t.ask("0100", ("7E8", "4100FE3EB813")).garbled("7EA 06 41 00 8? 00"),
        "readiness",
        "unparsed",
    ),
    "garbled_codes": (lambda t: t.ask("03", *CODES).garbled("7EA 04 43 01 0? 35"), "stored", "unparsed"),
    "no_word": (lambda t: t.ask("0101", outcome="no_answer"), "readiness", "silent"),
    "garbage": (lambda t: t.ask("0101", outcome="garbled"), "readiness", "garbled"),
    "refused": (lambda t: t.ask("0101", ("7E8", DONE), ("7E9", "7F0122")), "readiness", "refused"),
    "line_lost": (lambda t: t.add(Damaged(t.t, 7)), "permanent", "line_lost"),
}
CODES = (("7E8", "4300"), ("7E9", "4300"))


@pytest.mark.parametrize("trouble", TROUBLE)
def test_doubt_falls_on_the_finding_and_ends_with_clean_answers(trouble: str) -> None:
    make, finding, why = TROUBLE[trouble]
    talk = make(Talk().everything(*BOTH))
    found = concluded(talk)
    reason = found.mil.why if finding == "readiness" else found.codes[finding].why
    assert (found.standing, reason) == ("uncertain", why)
    assert found.again, "what would end the doubt is asked again"
    assert after_all(talk).standing == "complete"


def test_an_answer_behind_a_later_one_is_no_word_of_now() -> None:
    talk = Talk().everything(*BOTH)
    first = talk.number + 1
    talk.ask("0101", ("7E9", DONE)).ask("0101", ("7E8", OPEN), ("7E9", DONE))
    talk.add(Answer(talk.t + 0.5, first, "7E8", bytes.fromhex(DONE)))
    assert concluded(talk).monitors["catalyst"].state is None


def test_a_stray_frame_of_a_unit_that_never_answers_stays_and_the_user_may_say_that_it_was_taken_out() -> None:
    talk = Talk().everything(("7E8", DONE)).stray("7E9", "410181076500")
    talk.everything(("7E8", DONE)).everything(("7E8", DONE))
    assert concluded(talk).standing == "uncertain"
    assert concluded(talk.add(Choice(talk.t, {"unit": {"7E9": "taken_out"}}))).standing == "complete"


def test_one_stray_frame_at_the_beginning_does_not_hide_readiness_to_the_end() -> None:
    talk = Talk().stray("7E8", "410181076500").ask("0101", ("7E8", OPEN)).ask("0101", ("7E8", DONE))
    _, happened = told(talk)
    assert concluded(talk).monitors["catalyst"].state == "complete"
    assert [h.after for h in happened if getattr(h, "monitor", "") == "catalyst"] == ["incomplete", "complete"]


def test_doubt_and_its_end_are_told_with_how_long_it_stood() -> None:
    talk = Talk().everything(*BOTH).stray("7E9", "43010135").ask("03", *CODES)
    _, happened = told(talk)
    kinds = [h for h in happened if isinstance(h, FindingDoubted | FindingSettled)]
    assert [(type(h).__name__, h.item) for h in kinds] == [("FindingDoubted", "03"), ("FindingSettled", "03")]


def test_a_doubtful_unit_makes_neither_complete_nor_incomplete() -> None:
    talk = Talk().ask("0101", ("7E8", DONE), ("7E9", OPEN)).ask("0101", ("7E8", DONE))
    assert concluded(talk).monitors["catalyst"].state is None
    talk = Talk().ask("0101", ("7E8", OPEN), ("7E9", DONE)).ask("0101", ("7E8", OPEN))
    assert concluded(talk).monitors["catalyst"].state == "incomplete"


# ---------------------------------------------------------------- only some units asked


def test_a_recording_in_which_one_unit_was_asked_says_nothing_of_the_car() -> None:
    talk = Talk().ask("0101", ("7E8", DONE), to="7E8")
    for text, clean in CLEAN.items():
        talk.ask(text, ("7E8", clean), to="7E8")
    found = concluded(talk)
    assert (found.standing, found.monitors["catalyst"].why) == ("uncertain", "not_all_asked")


def test_each_unit_asked_by_itself_is_enough_where_all_units_are_known() -> None:
    talk = Talk().ask("0100", ("7E8", "4100FE3EB813"), ("7E9", "410080000000"))
    for unit in ("7E8", "7E9"):
        for text, clean in {"0101": DONE, **CLEAN}.items():
            talk.ask(text, (unit, clean), to=unit)
    assert concluded(talk).standing == "complete"


# ---------------------------------------------------------------- permanent codes, odd readiness


@pytest.mark.parametrize(
    ("model_year", "standing", "offered"),
    [(2009, "complete", False), (2015, "uncertain", None), (None, "uncertain", None)],
)
def test_silence_to_0a_is_not_offered_only_on_a_car_known_to_be_older(
    model_year: int | None, standing: str, offered: bool | None
) -> None:
    talk = Talk().ask("0101", ("7E8", DONE)).ask("03", ("7E8", "4300")).ask("07", ("7E8", "4700"))
    talk.ask("0A", outcome="no_answer")
    car = Car(can=True)
    car.remember(Known(model_year=model_year, year_now=2026))
    found = told(talk, car)[0].conclude()
    assert (found.standing, found.codes["permanent"].offered) == (standing, offered)
    assert ("0A" in found.again) is (offered is None)


def test_what_readiness_should_not_hold_is_said() -> None:
    assert concluded(Talk().ask("0101", ("7E8", "410100876500"))).odd == (("7E8", "B7"),)
    found = concluded(Talk().everything(("7E8", "410100070000")))
    assert found.standing == "uncertain"
    assert found.monitors["catalyst"].why == "only_continuous"


def test_doubt_that_lasts_is_told_with_its_beginning_and_its_reason() -> None:
    talk = Talk().everything(*BOTH).stray("7E9", "43010135")
    car, _ = told(talk)
    assert lasting(car) == ""
    for _ in range(12):
        talk.ask("010C", ("7E8", "410C0000"))
    car, _ = told(talk)
    assert lasting(car) == (
        "The stored codes: not readable since 0:04, a control unit spoke without being asked, or too late (7E9)."
    )
    assert lasting(told(talk.ask("03", *CODES))[0]) == ""
