"""Tables as people save them: forms of time, encodings, decimal commas, notes and units above the rows.

The rows are invented; the published drive (DOI 10.35097/1130) is cut and thinned where its layout is meant.
"""

import gzip
from pathlib import Path

import pytest

from coach.car.arrivals import ClockStep, Reading
from coach.importer.columns import ImportProblem
from coach.importer.table import Table, open_table
from tests.recordings import DRIVES, played


def table(tmp_path: Path, text: str | bytes, **mapping: str) -> Table:
    raw = text if isinstance(text, bytes) else text.encode()
    (tmp_path / "t.csv").write_bytes(raw)
    return open_table(tmp_path / "t.csv", mapping)


def speeds(found: Table) -> list[tuple[float, float]]:
    return [(r.t, r.value) for r in found.readings() if isinstance(r, Reading) and r.signal == "speed_kmh"]


TIMES = [
    ("time_s", ["10", "10.5", "12"], "seconds"),
    ("Time (ms)", ["10000", "10500", "12000"], "milliseconds"),
    ("Time(sec)", ["0", "0.5", "2"], "seconds"),
    ("timestamp", ["2026-03-01T07:00:00", "2026-03-01T07:00:00.500", "2026-03-01T07:00:02"], "ISO 8601"),
    (
        "timestamp",
        ["2026-03-01 07:00:00+01:00", "2026-03-01 07:00:00.5+01:00", "2026-03-01 07:00:02+01:00"],
        "ISO 8601",
    ),
    ("timestamp", ["1772348400000", "1772348400500", "1772348402000"], "milliseconds since 1970"),
    (
        "timestamp",
        ["1772348400000000000", "1772348400500000000", "1772348402000000000"],
        "nanoseconds since 1970",
    ),
    ("timestamp", ["1772348400", "1772348400.5", "1772348402"], "seconds since 1970"),
    ("Time", ["23:59:59.000", "23:59:59.500", "00:00:01.000"], "clock time"),
    ("Time", ["11:59:59.0 PM", "11:59:59.5 PM", "12:00:01.0 AM"], "clock time"),
    ("Clock time", ["01.03.2026 07:00:00", "01.03.2026 07:00:00.5", "01.03.2026 07:00:02"], "clock time"),
    ("time", ["59:58.5", "59:59.0", "00:00.5"], "minutes and seconds"),
]


@pytest.mark.parametrize(("header", "cells", "form"), TIMES)
def test_every_usual_form_of_time_gives_the_same_seconds(
    tmp_path: Path, header: str, cells: list[str], form: str
) -> None:
    rows = "".join(f"{cell};{speed}\n" for cell, speed in zip(cells, (50, 51, 52), strict=True))
    found = table(tmp_path, f"{header};speed_kmh\n{rows}")
    assert speeds(found) == [(0.0, 50.0), (0.5, 51.0), (2.0, 52.0)]
    assert found.report.time_form == form


def test_a_column_of_dates_gives_way_to_the_column_that_counts(tmp_path: Path) -> None:
    found = table(tmp_path, "timestamp,Time (s),speed_kmh\n2026-03-01,0,50\n2026-03-01,1,51\n")
    assert speeds(found) == [(0.0, 50.0), (1.0, 51.0)]


def test_the_user_may_name_the_time_and_its_unit(tmp_path: Path) -> None:
    found = table(tmp_path, "n,speed_kmh\n1,50\n2,51\n", n="time:min")
    assert speeds(found) == [(0.0, 50.0), (60.0, 51.0)]
    with pytest.raises(ImportProblem, match="no unit of time"):
        table(tmp_path, "n,speed_kmh\n1,50\n2,51\n", n="time:kg")


def test_milliseconds_without_a_unit_are_known_by_their_size_and_said(tmp_path: Path) -> None:
    rows = "".join(f"{i * 100},{i % 90}\n" for i in range(600))
    found = table(tmp_path, "time,speed_kmh\n" + rows)
    assert speeds(found)[-1][0] == pytest.approx(59.9)
    assert "milliseconds" in found.report.time_form


@pytest.mark.parametrize(
    ("encoding", "said"), [("utf-8", "utf-8"), ("utf-8-sig", "utf-8-sig"), ("cp1252", "cp1252"), ("utf-16", "utf-16")]
)
def test_a_degree_sign_is_read_in_every_usual_encoding(tmp_path: Path, encoding: str, said: str) -> None:
    found = table(tmp_path, "time_s;Coolant temperature (°C)\n0;80,5\n".encode(encoding))
    assert list(found.readings()) == [Reading(0.0, "coolant_c", 80.5)]
    assert found.report.encoding == said


def test_notes_and_a_delimiter_line_before_the_header_are_passed_over(tmp_path: Path) -> None:
    found = table(tmp_path, "sep=;\n# invented drive; by hand\n\nTime (s);Vehicle Speed (km/h)\n0;50\n1;51\n")
    assert speeds(found) == [(0.0, 50.0), (1.0, 51.0)]
    assert found.report.notes == 3


def test_units_in_a_row_of_their_own_are_taken_into_the_header(tmp_path: Path) -> None:
    found = table(tmp_path, "Time,Vehicle Speed,Coolant Temp\ns,mph,°F\n0,50,212\n")
    assert list(found.readings()) == [Reading(0.0, "speed_kmh", 80.4672), Reading(0.0, "coolant_c", 100.0)]


def test_quoted_decimal_commas_and_thousands_are_told_apart(tmp_path: Path) -> None:
    found = table(tmp_path, 'time_s,Speed (km/h),rpm\n"0,5","12,3","1,234"\n"1,5","12,4","1,250.5"\n')
    values = [(r.signal, r.value) for r in found.readings() if isinstance(r, Reading)]
    assert values == [("speed_kmh", 12.3), ("rpm", 1234.0), ("speed_kmh", 12.4), ("rpm", 1250.5)]


def test_marks_for_missing_are_blank_not_bad(tmp_path: Path) -> None:
    found = table(tmp_path, "time_s,speed_kmh\n0,50\n1,-\n2,N/A\n3,NaN\n4,null\n")
    assert len(speeds(found)) == 1
    assert (found.report.blank_cells, found.report.bad_cells) == (4, 0)


def test_the_same_signal_twice_takes_the_first_and_says_so(tmp_path: Path) -> None:
    text = "time_s,Vehicle Speed (km/h),Speed (mph)\n0,50,31\n"
    assert table(tmp_path, text).report.doubled_columns == ("Speed (mph)",)
    chosen = table(tmp_path, text, **{"Speed (mph)": "speed_kmh:mph"})
    assert speeds(chosen)[0][1] == pytest.approx(49.9, abs=0.1)


def test_rows_that_run_backwards_or_hold_nothing_are_refused(tmp_path: Path) -> None:
    with pytest.raises(ImportProblem, match="backwards"):
        list(table(tmp_path, "time_s,speed_kmh\n" + "".join(f"{9 - i},50\n" for i in range(9))).readings())
    with pytest.raises(ImportProblem, match="not one value"):
        list(table(tmp_path, "time_s,speed_kmh\n0,x\n1,x\n2,x\n").readings())


# ---------------------------------------------------------------- carried forward, frozen


def held_rows(seconds: int, refresh_s: float, rows_per_s: int = 10) -> str:
    """Three channels written ten times a second, each new only every `refresh_s`."""
    lines = ["time_s,speed_kmh,rpm,maf_gps"]
    for i in range(seconds * rows_per_s):
        t = i / rows_per_s
        cycle = int(t / refresh_s)
        lines.append(f"{t:.1f},{70 + cycle % 2},{1800 + cycle * 7919 % 97},{12 + cycle * 31 % 17}")
    return "\n".join(lines) + "\n"


def test_values_carried_forward_count_once_a_refresh(tmp_path: Path) -> None:
    found = table(tmp_path, held_rows(120, refresh_s=1.0))
    got = speeds(found)
    assert found.report.layout == "held"
    assert 100 <= len(got) <= 130  # one a second, not ten


def test_a_recorder_slower_than_the_bridge_times_nothing_however_many_rows_it_writes(tmp_path: Path) -> None:
    found = table(tmp_path, held_rows(900, refresh_s=8.0))
    arrivals = list(found.readings())
    assert found.report.layout == "held"
    core, _happened = played(arrivals)
    assert core.car.denominator.fast_s < 30.0


def test_a_frozen_recorder_brings_nothing_while_the_engine_runs(tmp_path: Path) -> None:
    lines = ["time_s,speed_kmh,rpm,maf_gps"]
    for t in range(200):
        moving = t if t < 60 or t >= 120 else 60
        lines.append(f"{t},{50 + moving % 5},{1500 + moving * 7919 % 97},{10 + moving * 31 % 7}")
    found = table(tmp_path, "\n".join(lines) + "\n")
    got = [t for t, _ in speeds(found)]
    assert not [t for t in got if 60 < t < 120]
    assert [(begin, end) for _, begin, end in found.report.frozen] == [(60.0, 119.0)]


def test_a_recorder_that_asks_ten_signals_in_turn_every_ten_seconds_is_slow_and_not_frozen(tmp_path: Path) -> None:
    """A real drive (DOI 10.35097/1130) as such a recorder would have it: one cell new in each row, a row a second."""
    with gzip.open(DRIVES / "2018-02-27_ka_ka_normal.csv.gz", "rt") as whole:
        header, *rows = (line.rstrip("\n").split(",") for line in whole)
    now, slow, at = [""] * (len(header) - 1), [",".join(header)], 0
    for second in range(int(float(rows[-1][0]))):
        while float(rows[at + 1][0]) <= second:
            at += 1
        asked = second % len(now)
        now[asked] = rows[at][asked + 1]
        slow.append(",".join((str(second), *now)))
    found = table(tmp_path, "\n".join(slow) + "\n")
    readings = list(found.readings())
    assert (found.report.layout, found.report.frozen, found.report.resyncs) == ("turns", [], 0)
    assert len([r for r in readings if not isinstance(r, ClockStep)]) > 0.99 * found.report.rows


def test_standing_with_the_engine_stopped_is_no_frozen_recorder(tmp_path: Path) -> None:
    lines = ["time_s,speed_kmh,rpm,maf_gps"] + [f"{t},0,0,0" for t in range(60)]
    found = table(tmp_path, "\n".join(lines) + "\n")
    assert len(speeds(found)) == 60
    assert found.report.frozen == []


def test_one_lost_row_does_not_make_carried_cells_new(tmp_path: Path) -> None:
    with gzip.open(DRIVES / "2017-08-02_rt_s_normal.csv.gz", "rt") as whole:
        lines = whole.readlines()
    whole_core, _happened = played(list(open_table(DRIVES / "2017-08-02_rt_s_normal.csv.gz").readings()))
    for cut in (500, 1200):
        (tmp_path / "lost.csv").write_text("".join([*lines[:cut], *lines[cut + 1 :]]))
        found = open_table(tmp_path / "lost.csv")
        arrivals = list(found.readings())
        assert found.report.layout == "turns"
        core, _happened = played(arrivals)
        for phase in ("highway_cruise", "stop_and_go", "sensor_cruise"):
            tracker, whole = core.trackers[phase], whole_core.trackers[phase]
            assert abs((tracker.remaining_s() or 0.0) - (whole.remaining_s() or 0.0)) < 5.0


def test_every_second_row_of_a_drive_in_turn_is_read_as_carried_forward(tmp_path: Path) -> None:
    with gzip.open(DRIVES / "2017-08-02_rt_s_normal.csv.gz", "rt") as whole:
        lines = whole.readlines()
    (tmp_path / "thin.csv").write_text("".join([lines[0], *lines[1::2]]))
    found = open_table(tmp_path / "thin.csv")
    readings = [r for r in found.readings() if not isinstance(r, ClockStep)]
    assert found.report.layout == "held"
    assert len(readings) < 4 * found.report.rows  # ten columns, two of them new
