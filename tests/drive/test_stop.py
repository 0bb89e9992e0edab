"""When coaching ends, and that what stood before does not end it: one table.

Codes by SAE J2012: P0301 misfire of cylinder 1, P0171 too lean, P0420 catalyst, P0128 thermostat. The car is invented.
"""

import pytest

from coach.car.arrivals import Arrival
from coach.car.happenings import AnotherCarAnswered
from coach.drive.core import Core
from coach.drive.happenings import CoachingEnded
from coach.drive.stop import REASONS, StopWatch
from coach.words.coaching import view
from coach.words.sentences import AFTER_ENDS, ENDS, sentence
from coach.words.units import Units
from tests.drive.test_credit import readings
from tests.recordings import ask, fed

READY, LIT = "410100076565", "410181076565"


def drive(stored: str, pending: str, later: list[Arrival], *, repaired: str = "", clean: bool = False) -> Core:
    """A read-out, a minute with the engine running, then what comes later."""
    core, _ = fed([])
    known = {"repaired": {repaired: "catalyst"}} if repaired else {}
    core.learn({**known, "clean_cycles": {"chosen": clean}})
    before = [*ask(0, 1, "0101", ("7E8", LIT if stored != "4300" else READY))]
    before += [*ask(1, 2, "03", ("7E8", stored)), *ask(2, 3, "07", ("7E8", pending))]
    for arrival in [*before, *readings(3, 60, rpm=1500.0, coolant_c=85.0, speed_kmh=50.0), *later]:
        core.feed(arrival)
    return core


def stored(raw: str, t: float = 70.0, number: int = 10) -> list[Arrival]:
    return ask(t, number, "03", ("7E8", raw))


def pending(raw: str, t: float = 80.0, number: int = 11) -> list[Arrival]:
    return ask(t, number, "07", ("7E8", raw))


@pytest.mark.parametrize(
    ("first", "later", "how", "reason"),
    [
        (("4300", "4700"), pending("47010301"), {}, "misfire_code"),
        (("4300", "4700"), pending("47010171"), {}, "fuel_code"),
        (("4300", "4700"), pending("47010420"), {}, None),
        (("4300", "4700"), pending("47010420"), {"repaired": "P0420"}, "repaired_code"),
        (("4300", "4700"), ask(70, 10, "0101", ("7E8", LIT)), {}, "mil_on"),
        (("43010301", "47010301"), pending("47010301"), {}, None),  # it stood before
        (("43010301", "4700"), pending("47010301"), {}, "misfire_code"),  # stored of old, and seen once more
        (("43010128", "4700"), pending("47010128"), {}, None),
        (("43010128", "4700"), pending("47010128"), {"clean": True}, "repaired_code"),  # what it is to put out
        (
            ("4300", "47010301"),
            [*pending("4700"), *pending("47010301", 90.0, 12)],
            {},
            "misfire_code",
        ),  # it had gone
    ],
)
def test_what_ends_coaching_and_what_does_not(
    first: tuple[str, str], later: list[Arrival], how: dict[str, object], reason: str | None
) -> None:
    core = drive(*first, later, **how)  # type: ignore[arg-type]
    assert (core.stop.ended.reason if core.stop.ended is not None else None) == reason


def test_another_car_ends_coaching_whatever_the_engine_does_and_the_recording_goes_on() -> None:
    watch, out = StopWatch(110.0, 12.0), []
    watch.happened(AnotherCarAnswered(5.0, "7E8", "vin"), False, out)
    watch.happened(AnotherCarAnswered(6.0, "7E9", "cvn"), True, out)
    assert [(h.reason, h.detail) for h in out if isinstance(h, CoachingEnded)] == [("another_car", "vin")]


def test_with_another_car_at_the_adapter_nothing_is_reached_and_nobody_is_told_to_stop_at_once() -> None:
    read = [*ask(0, 1, "0101", ("7E8", "410100076500")), *stored("4300", 1, 2), *pending("4700", 2, 3)]
    core, _ = fed([*read, *ask(3, 4, "0A", ("7E8", "4A00"))])
    assert core.target_reached
    core.stop.happened(AnotherCarAnswered(5.0, "7E8", "vin"), False, [])
    assert not core.target_reached
    seen = view(core, Units())
    assert seen.kind == "stop"
    assert "Ease off" not in seen.instruction
    assert seen.note == "This is not the car the drive began with. Coaching has ended; the recording goes on."


def test_every_reason_has_its_words() -> None:
    assert set(ENDS) == set(AFTER_ENDS) == set(REASONS)
    for reason in REASONS:
        assert AFTER_ENDS[reason] in sentence(CoachingEnded(1.0, reason, "", None, None), Units(), {})
