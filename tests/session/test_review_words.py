"""What a review says of its driving cycles: what is covered, what is "at least", and the reasons that decided.

Tables here are invented but for the published drives (DOI 10.35097/1130). The pattern: 40 CFR 86.010-18(d)(4)(ii).
"""

import inspect
import re
from pathlib import Path

import pytest

from coach.car import driven
from coach.car.totals import CAUSES
from coach.session.review import Reviewed, review
from coach.words.cycles import KEPT, WHY
from coach.words.review import page
from coach.words.review_data import document
from coach.words.units import Units
from tests.recordings import DRIVES

Rows = list[tuple[float, dict[str, float]]]
HEADER = ("rpm", "speed_kmh", "coolant_c", "pedal_d_pct")
REST = {"rpm": 800.0, "speed_kmh": 0.0, "coolant_c": 80.0, "pedal_d_pct": 16.0}
MOVES = {**REST, "rpm": 1800.0, "speed_kmh": 60.0, "pedal_d_pct": 25.0}


def rows(from_t: float, to_t: float, values: dict[str, float]) -> Rows:
    """One row a second; a little life in the engine speed, so that no row repeats another."""
    return [(from_t + i, {**values, "rpm": values["rpm"] and values["rpm"] + i % 7}) for i in range(int(to_t - from_t))]


def reviewed(tmp_path: Path, *parts: Rows) -> Reviewed:
    lines = [",".join(("time_s", *HEADER))]
    lines += [",".join(map(str, (t, *(values[name] for name in HEADER)))) for part in parts for t, values in part]
    (tmp_path / "t.csv").write_text("\n".join(lines) + "\n")
    return review(tmp_path / "t.csv")


def cycle_text(found: Reviewed) -> str:
    text = page(found, Units(), full=False)
    return text[text.index("\nDriving cycle\n") : text.index("\n\nMonitors\n")]


def test_after_a_pause_at_standstill_the_page_still_tells_of_the_whole_drive(tmp_path: Path) -> None:
    found = reviewed(tmp_path, rows(0, 40, REST), rows(40, 740, MOVES), rows(740, 745, REST), rows(753, 756, REST))
    text, data = cycle_text(found), document(found)
    assert "At 12:33 nothing tells whether the key was off: it was one driving cycle, or two." in text
    assert re.search(r"regulated pattern +met$", text, re.MULTILINE)
    assert "running at least 12 min 26 s in all, 12 min 24 s in one part, it needs 10 min" in text
    assert ", at least 11.7 km." in page(found, Units(), full=False)
    told = data["general_denominator"]
    assert (told["met"], told["because"], told["at_least"]) == (True, [], True)
    assert told["in_one_part"]["running_s"] == pytest.approx(744)
    assert data["driving_cycle"]["may_have_begun_t"] == [753.0]
    assert (data["all_driving_cycles"]["count"], data["all_driving_cycles"]["count_at_most"]) == (1, 2)
    assert data["all_driving_cycles"]["at_least"] is True


def test_limits_that_are_all_reached_and_no_verdict_come_with_the_reason(tmp_path: Path) -> None:
    halves = rows(0, 40, REST), rows(40, 360, MOVES), rows(360, 363, REST), rows(375, 700, MOVES)
    found = reviewed(tmp_path, *halves)
    assert "cannot be said: met if all of it was one driving cycle, which nothing tells" in cycle_text(found)
    told = document(found)["general_denominator"]
    assert (told["met"], told["because"]) == (None, ["silence_unproved"])
    assert told["running_s"] > 600 > told["in_one_part"]["running_s"]


def test_two_proved_cycles_are_each_told_with_their_own_figures(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    lines = ["time_s,rpm,speed_kmh,coolant_c,run_time_s"]
    lines += [f"{t},{1500 + t % 7},50,{20 + t / 10:.0f},{t + 1}" for t in range(600)]
    lines += [f"{t},{1500 + t % 7},50,{60 + t / 100:.0f},{t - 2996}" for t in range(3000, 3200)]
    path.write_text("\n".join(lines) + "\n")
    found = review(path)
    text, data = cycle_text(found), document(found)
    assert "The recording holds 2 driving cycles." in text
    assert re.search(r"1 of 2, 0:00 to 9:59\n +warm-up cycle +complete: .*\n +regulated pattern +not met", text)
    assert re.search(r"2 of 2, 50:00 to 53:19\n +warm-up cycle +(not complete|cannot be said)", text)
    cycles = data["all_driving_cycles"]["cycles"]
    assert [round(one["general_denominator"]["running_s"]) for one in cycles] == [599, 199]
    assert data["general_denominator"]["running_s"] == cycles[1]["general_denominator"]["running_s"]
    assert (data["driving_cycle"]["from_t"], data["driving_cycle"]["to_t"]) == (3000.0, 3199.0)


def test_the_standstill_of_a_real_drive_is_told_with_what_decided() -> None:
    found = review(DRIVES / "2017-08-02_rt_s_normal.csv.gz")
    text = cycle_text(found)
    assert "longest standstill 1 min 6 s: the engine was off for 1 min 3 s of it" in text
    assert "not met in what was recorded: no idle long enough" in text
    assert document(found)["general_denominator"]["longest_standing_because"] == ["engine_off"]


def test_the_engine_is_not_said_to_be_off_where_the_foot_decided() -> None:
    """Ten standstills of 11 to 63 s in this drive, the engine running in all of them."""
    found = review(DRIVES / "2018-02-27_ka_ka_normal.csv.gz")
    assert "longest standstill 1 min 3 s: the accelerator was touched for 1.5 s of it" in cycle_text(found)
    assert "not met: a part of it was too cold to count" in cycle_text(found)


def test_a_recorder_too_slow_to_be_timed_is_the_only_one_that_is_called_so(tmp_path: Path) -> None:
    slow = [(10.0 * i, MOVES | {"rpm": 1800.0 + i % 7}) for i in range(200)]
    text = cycle_text(reviewed(tmp_path, slow))
    assert "cannot be said: no speed in this recording comes closely enough to be timed" in text
    assert "nothing tells whether the key was off" not in text
    quick = cycle_text(reviewed(tmp_path, rows(0, 100, REST), rows(120, 200, REST)))
    assert "comes closely enough" not in quick


def test_many_moments_and_many_cycles_are_told_in_few_words(tmp_path: Path) -> None:
    parts = [rows(100 * i, 100 * i + 60 + i, REST) for i in range(6)]
    text = cycle_text(reviewed(tmp_path, *parts))
    assert "At 1:40, 3:20 and 3 more times nothing tells whether the key was off" in text
    assert "up to 6." in text


def test_every_reason_has_words() -> None:
    """The ids that the deciding functions can give, read out of their own text."""
    functions = (driven.why_not, driven._weather, driven._unknown)
    given = {name for function in functions for name in re.findall(r'"([a-z]+_[a-z_]+)"', inspect.getsource(function))}
    given |= {f"short_{part}" for part in driven.NEEDED} | {"hybrid", "unseen"}
    assert given == set(WHY)
    assert set(KEPT) == set(CAUSES)


def test_the_data_of_a_cycle_has_one_shape(tmp_path: Path) -> None:
    """Unknown is null and never absent: also where nothing was timed and where no engine speed was recorded."""
    empty = [(10.0 * i, MOVES | {"rpm": 1800.0 + i % 7}) for i in range(20)]
    full = document(review(DRIVES / "2018-02-27_ka_ka_normal.csv.gz"))
    other = document(reviewed(tmp_path, empty))
    for key in ("driving_cycle", "general_denominator", "all_driving_cycles"):
        assert list(full[key]) == list(other[key])
    assert other["general_denominator"]["running_s"] is None
    assert other["general_denominator"]["surely"] is None
    assert (full["version"], full["general_denominator"]["surely"]["at_25_mph_or_more_s"]) == (3, 0.0)


TWO_CARS = """>0101
7E8 06 41 01 00 07 E5 00
>0902
7E8 10 14 49 02 01 5A 5A 5A
7E8 21 53 4D 30 30 30 30 53
7E8 22 30 30 30 30 30 30 31
>ATZ
ELM327 v1.5
>0101
7E8 06 41 01 00 07 E5 00
>0902
7E8 10 14 49 02 01 5A 5A 5A
7E8 21 53 4D 30 30 30 30 53
7E8 22 30 30 30 30 30 30 32
"""


def test_behind_another_car_it_is_not_said_that_nothing_is_needed_any_more(tmp_path: Path) -> None:
    (tmp_path / "t.txt").write_text(TWO_CARS)
    text = page(review(tmp_path / "t.txt"), Units(), full=False)
    assert "\nStill needed\n  nothing by what was last told; whether that still holds cannot be said\n" in text
    assert "Another car answers than the one before" in text
    (tmp_path / "t.txt").write_text(TWO_CARS.partition(">ATZ")[0])
    assert "\nStill needed\n  nothing\n" in page(review(tmp_path / "t.txt"), Units(), full=False)
