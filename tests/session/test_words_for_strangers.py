"""What a reader meets has names: no ids of questions and flags. The answers are invented."""

from coach.j1979.signals import SIGNALS
from coach.words.doubts import WHY, asked_words
from coach.words.readout import LOOPS, value_words
from coach.words.units import Units


def test_what_was_asked_is_said_by_its_name() -> None:
    assert asked_words("01 01") == "readiness and the MIL"
    assert asked_words("01 00") == "what it reads now"
    assert asked_words("09 04") == "its identity and counters"
    assert asked_words("22 F1 90") == "22 F1 90", "what nobody here has a name for stays as it is"


def test_the_fuel_control_of_a_freeze_frame_is_said_in_words() -> None:
    assert value_words("fuel_system_1", 2.0, Units()) == "closed loop"
    assert value_words("fuel_system_1", 3.0, Units()) == "3, reserved", "two flags at once stand in no table"
    assert all(flag == 0 or flag & (flag - 1) == 0 for flag in LOOPS)
    assert "PID" not in SIGNALS["fuel_system_1"].name


def test_no_reason_for_doubt_is_an_id() -> None:
    assert not [words for words in WHY.values() if "_" in words]
