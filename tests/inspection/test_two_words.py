"""Model year and fuel by the car's word and by the user's: whose holds, and that both are told. The VINs are invented.

Which VIN proves a year: 49 CFR 565.15 Table VII and its rule for the seventh character (73 FR 23367).
"""

import pytest

from coach.car.arrivals import Arrival
from coach.car.car import Car
from coach.inspection.two_words import TwoWords
from coach.inspection.verdict import judge
from coach.j1979.model_year import model_year
from coach.session.rules import vehicle_of
from coach.words.two_words import differences, two_words_data, two_words_lines
from coach.words.verdicts import changes, verdict_document, verdict_page
from tests.inspection.makers import ON, a_rule, findings
from tests.inspection.test_codes import with_digit
from tests.recordings import ask

PROVED = with_digit("1ZZAA00A030000001")  # a figure in the seventh place and the letter 3: 2003
NO_DIGIT = PROVED[:8] + ("1" if PROVED[8] != "1" else "2") + PROVED[9:]
ELSEWHERE = "ZZZSM0000S0000001"  # the letter S: 1995 or 2025
OPEN = with_digit("1ZZAA00A0C0000001")  # the letter C is 2012 on such a car, the figure says before 2010


@pytest.mark.parametrize(
    ("vin", "user", "against", "holds", "by", "differ"),
    [
        (PROVED, None, False, 2003, "car", False),
        (PROVED, 2003, False, 2003, "car", False),
        (PROVED, 2000, False, 2003, "car", True),
        (PROVED, 2000, True, 2000, "user", True),
        (OPEN, None, False, None, None, False),
        (OPEN, 2012, False, 2012, "user", False),
        (OPEN, 2000, False, None, None, True),
        (OPEN, 2000, True, 2000, "user", True),
        (NO_DIGIT, 2003, False, 2003, "user", False),
        (NO_DIGIT, 2000, False, None, None, True),
        (ELSEWHERE, None, False, None, None, False),
        (ELSEWHERE, 1995, False, 1995, "user", False),
        (ELSEWHERE, 2012, False, 2012, "user", True),
        (None, 2012, False, 2012, "user", False),
        ("no VIN", 2012, False, 2012, "user", False),
        (None, None, True, None, None, False),
        (PROVED, None, True, 2003, "car", False),
    ],
)
def test_the_cars_own_word_holds_unless_the_user_says_that_it_is_wrong(
    vin: str | None, user: int | None, against: bool, holds: int | None, by: str | None, differ: bool
) -> None:
    told = TwoWords(model_year(vin, 2026), None, user, None, against)
    assert (told.model_year, told.model_year_by, told.years_differ) == (holds, by, differ)
    if differ:
        (line,) = differences(told)
        assert str(user) in line and any(str(year) in line for year in told.vin.candidates)
    else:
        assert differences(told) == ()


@pytest.mark.parametrize(
    ("car", "user", "against", "holds", "by"),
    [
        ("gasoline", None, False, "gasoline", "car"),
        ("gasoline", "diesel", False, "gasoline", "car"),
        ("gasoline", "diesel", True, "diesel", "user"),
        (None, "diesel", False, "diesel", "user"),
        ("diesel", "diesel", True, "diesel", "user"),
        (None, None, False, None, None),
    ],
)
def test_so_does_its_word_on_the_fuel(
    car: str | None, user: str | None, against: bool, holds: str | None, by: str | None
) -> None:
    told = TwoWords(model_year(None, 2026), car, None, user, against)  # type: ignore[arg-type]
    assert (told.fuel, told.fuel_by) == (holds, by)
    both = car is not None and user not in (None, car)
    assert len(differences(told)) == both
    if both:
        assert "The car says petrol, you say diesel" in differences(told)[0]


def a_car(vin: str) -> Car:
    """A petrol car, all complete, that tells its VIN."""
    car = Car(can=True)
    told: list[Arrival] = [
        *ask(1.0, 1, "0101", ("7E8", "410100076500")),
        *ask(2.0, 2, "0902", ("7E8", f"490201{vin.encode().hex()}")),
    ]
    for arrival in told:
        car.fold(arrival, [])
    return car


def test_a_year_the_vin_has_no_room_for_is_told_twice_and_gives_no_verdict_until_the_car_is_called_wrong() -> None:
    rule, car = a_rule("us-federal"), a_car(OPEN)
    vehicle, told = vehicle_of(car, ON, year=2000)
    verdict = judge(rule, findings(), vehicle)
    page = verdict_page(verdict, told)
    assert verdict.outcome == "cannot_say"
    assert "2012" in page and "you say 2000" in page and "--against-the-car" in page
    assert any("--against-the-car" in line for line in changes(verdict))
    block = verdict_document(verdict, told)["vehicle"]
    assert (block["model_year"], block["model_year_by"], block["user_says"]["model_year"]) == (None, None, 2000)
    vehicle, told = vehicle_of(car, ON, year=2000, against_the_car=True)
    assert judge(rule, findings(), vehicle).outcome == "ready"  # 40 CFR 85.2222(c)(1): two may be open up to 2000


def test_an_older_year_than_the_vin_proves_does_not_loosen_the_rule() -> None:
    rule, car = a_rule("us-federal"), a_car(PROVED)
    two_open = findings("catalyst", "oxygen_sensor")  # 40 CFR 85.2222(c): two may be open to 2000, one from 2001 on
    vehicle, told = vehicle_of(car, ON, year=2000)
    assert judge(rule, two_open, vehicle).outcome == "not_ready"
    assert "The car's VIN says 2003, you say 2000: the car's word holds" in verdict_page(
        judge(rule, two_open, vehicle), told
    ).replace("\n  ", " ")
    assert two_words_data(told)["car_says"]["model_year"] == 2003


def test_every_answer_to_what_a_vin_tells_has_words() -> None:
    vins = (None, "no VIN", "ZZZSM0000U0000001", PROVED, ELSEWHERE, NO_DIGIT, OPEN)
    told = {model_year(vin, 2026).why: next(two_words_lines(TwoWords(model_year(vin, 2026)))) for vin in vins}
    assert len(told) == 7 and all(line.endswith(".") or "--model-year" in line for line in told.values())
