"""Nothing is concluded against the truth, over many invented histories of cars, and the program is not mute.

The cars, their units and their troubles are invented (tests/truth/world.py, life.py); what a fair reader may conclude
at most follows from what was asked, what came in, and what was true (tests/truth/world.py, `Unit`).
"""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.car.record import Record
from tests.truth.life import make_history
from tests.truth.program import PLANTED, Deaf
from tests.truth.runner import Table, run, run_many, seeded
from tests.truth.talk import TROUBLES

PARTS, EACH = 16, 500  # 8,000 histories, in parts so that they spread over the processors; many more in the benchmark
SILENT_SHARE = 0.005  # after trouble that clean answers end, the program concludes in at least 99.5 %


@pytest.mark.parametrize("part", range(PARTS))
def test_nothing_is_concluded_against_the_truth_and_clean_answers_are_concluded_from(part: int) -> None:
    table = run_many(seeded(part, EACH), Record)
    failing = {what: data.hex() for what, data in table.failing.items() if what in table.wrong}
    assert not table.wrong, failing
    assert not table.mute_clean, {what: data.hex() for what, data in table.failing.items() if "clean" in what}
    assert table.clean > EACH // 5 and table.ended > EACH // 5
    assert table.mute_ended_histories <= max(2, SILENT_SHARE * table.ended)  # of two hundred one is half a percent


@settings(max_examples=150, derandomize=True, deadline=None)
@given(st.binary(max_size=160))
def test_nothing_is_concluded_against_the_truth_at_any_moment(data: bytes) -> None:
    assert not run(make_history(data, every_moment=True), Record()).wrong


def test_the_generator_makes_every_kind_of_trouble() -> None:
    made = Table()
    for data in seeded(99, 1500):
        made.made.update(make_history(data).made)
    kinds = {
        *TROUBLES,
        *(f"clear_{way}" for way in ("proved", "refused_by_one", "link_lost", "pending", "garbled", "no_answer")),
        *("clear_one_silent", "clear_uds", "clear_by_others", "relinked", "car_swapped", "unit_altered"),
        *("told_of_a_unit", "asked_one_only", "file_gone", "several_without_names", "key_cycle", "drive"),
    }
    assert not {kind for kind in kinds if not made.made[kind]}


@pytest.mark.parametrize("fault", PLANTED)
def test_a_planted_fault_is_found(fault: str) -> None:
    table = run_many(seeded(7, 1500), lambda: Deaf(PLANTED[fault]))
    assert any(not what.startswith("exception") for what in table.wrong)


def test_the_same_bytes_give_the_same_history() -> None:
    data = next(iter(seeded(3, 1)))
    assert list(make_history(data).told()) == list(make_history(data).told())
