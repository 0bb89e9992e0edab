"""Tables of physical values: what is taken, what is not, and that nothing is dropped in silence.

The layout "one channel new in each row" is that of the published drives, DOI 10.35097/1130.
"""

import gzip
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coach.car.arrivals import ClockStep, Reading
from coach.importer.columns import ImportProblem, guess
from coach.importer.table import Table, open_table
from tests.recordings import DRIVES


def table(tmp_path: Path, text: str, **mapping: str) -> Table:
    (tmp_path / "t.csv").write_text(text, encoding="utf-8")
    return open_table(tmp_path / "t.csv", mapping)


def test_headers_of_the_trade_are_taken_with_their_units(tmp_path: Path) -> None:
    found = table(tmp_path, "Time (s);Vehicle Speed [mph];Engine Coolant Temperature (°F);Engine RPM\n0,5;50;212;800\n")
    assert list(found.readings()) == [
        Reading(0.0, "speed_kmh", 80.4672),
        Reading(0.0, "coolant_c", 100.0),
        Reading(0.0, "rpm", 800.0),
    ]


def test_a_column_without_unit_is_not_guessed_but_listed(tmp_path: Path) -> None:
    found = table(tmp_path, "time_s,speed,rpm,lambda\n0,50,800,1\n")
    assert found.report.unknown_columns == ("lambda",)
    assert found.report.without_unit == ("speed",)
    assert guess(0, "speed") is None
    named = table(tmp_path, "time_s,speed,rpm\n0,50,800\n", speed="speed_kmh:mph")
    assert Reading(0.0, "speed_kmh", 80.4672) in list(named.readings())


def test_a_cell_carried_forward_is_not_a_new_reading() -> None:
    found = open_table(DRIVES / "2017-08-02_rt_s_normal.csv.gz")
    arrivals = list(found.readings())
    assert found.report.layout == "turns"
    assert found.report.resyncs == 0
    readings = [arrival for arrival in arrivals if isinstance(arrival, Reading)]
    assert len(readings) == found.report.rows  # one channel a row, not ten
    speeds = [reading.t for reading in readings if reading.signal == "speed_kmh"]
    assert 0.8 < (speeds[-1] - speeds[0]) / (len(speeds) - 1) < 1.0
    assert [(number, step) for number, step in found.report.steps_back] == [(394, 0.466)]
    assert [arrival.back_s for arrival in arrivals if isinstance(arrival, ClockStep)] == [0.466]


def test_empty_cells_bad_cells_and_impossible_values_are_counted_and_not_used(tmp_path: Path) -> None:
    found = table(tmp_path, "time_s,speed_kmh,coolant_c\n0,50,\n1,x,90\n2,999,90\nno,1,1\n3,nan,90\n")
    readings = list(found.readings())
    assert [r for r in readings if isinstance(r, Reading) and r.signal == "speed_kmh"] == [
        Reading(0.0, "speed_kmh", 50.0)
    ]
    report = found.report
    assert (report.blank_cells, report.bad_cells, report.out_of_range, report.bad_row_count) == (2, 1, 1, 1)


def test_time_stands_still_where_the_clock_steps_back(tmp_path: Path) -> None:
    found = table(tmp_path, "time_s,speed_kmh\n10,50\n11,50\n5,50\n6,50\n")
    assert list(found.readings()) == [
        Reading(0.0, "speed_kmh", 50.0),
        Reading(1.0, "speed_kmh", 50.0),
        ClockStep(1.0, 6.0),
        Reading(1.0, "speed_kmh", 50.0),
        Reading(2.0, "speed_kmh", 50.0),
    ]


BAD = [
    ("", "empty"),
    ("time_s,speed_kmh\n", "no row below"),
    ("speed_kmh,rpm\n1,2\n", "no column of time"),
    ("time_s,lambda\n1,2\n", "no column is a known signal"),
    ("time,speed_kmh\nnever,2\n", "does not read as time"),
]


@pytest.mark.parametrize(("text", "said"), BAD)
def test_a_table_that_cannot_be_used_gets_one_clear_line(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(ImportProblem, match=said) as found:
        table(tmp_path, text)
    assert "\n" not in str(found.value)


def test_mistakes_in_a_mapping_name_the_nearest_signal(tmp_path: Path) -> None:
    with pytest.raises(ImportProblem, match="the nearest is speed_kmh"):
        table(tmp_path, "time_s,v\n0,1\n", v="speed_km")
    with pytest.raises(ImportProblem, match="no unit of speed_kmh"):
        table(tmp_path, "time_s,v\n0,1\n", v="speed_kmh:psi")
    with pytest.raises(ImportProblem, match="not there"):
        table(tmp_path, "time_s,v\n0,1\n", w="speed_kmh")


def test_missing_folder_binary_and_damaged_files_get_one_clear_line(tmp_path: Path) -> None:
    with pytest.raises(ImportProblem, match="no such file"):
        open_table(tmp_path / "gone.csv")
    with pytest.raises(ImportProblem, match="a folder"):
        open_table(tmp_path)
    (tmp_path / "b").write_bytes(bytes(range(256)))
    with pytest.raises(ImportProblem):
        open_table(tmp_path / "b")
    rows = "".join(f"{i},{i * 7919 % 200}\n" for i in range(9000))
    packed = gzip.compress(("time_s,speed_kmh\n" + rows).encode())
    (tmp_path / "cut.csv.gz").write_bytes(packed[: len(packed) // 2])
    found = open_table(tmp_path / "cut.csv.gz")
    assert 1000 < len(list(found.readings())) < 9000
    assert found.report.truncated


@settings(
    max_examples=100, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.binary(max_size=200) | st.text(alphabet='time_s,;\t\n0123456789.-ep"kmh', max_size=200).map(str.encode))
def test_anything_at_all_is_read_or_refused_in_words(tmp_path: Path, raw: bytes) -> None:
    (tmp_path / "f.csv").write_bytes(raw)
    try:
        list(open_table(tmp_path / "f.csv").readings())
    except ImportProblem:
        return


def test_the_turn_is_found_in_a_recording_that_was_cut_out_of_the_middle(tmp_path: Path) -> None:
    with gzip.open(DRIVES / "2018-02-27_ka_ka_normal.csv.gz", "rt") as whole:
        lines = whole.readlines()
    (tmp_path / "cut.csv").write_text("".join([lines[0], *lines[5004:9000]]))
    found = open_table(tmp_path / "cut.csv")
    readings = list(found.readings())
    assert (found.report.layout, found.report.resyncs) == ("turns", 0)
    assert len(readings) == found.report.rows == 3996


def test_a_table_with_every_channel_new_in_every_row_is_read_whole(tmp_path: Path) -> None:
    rows = "".join(f"{i},{i % 90},{800 + i},{60 + i % 3}\n" for i in range(200))
    found = table(tmp_path, "time_s,speed_kmh,rpm,coolant_c\n" + rows)
    assert len(list(found.readings())) == 600
    assert found.report.layout == "rows"
