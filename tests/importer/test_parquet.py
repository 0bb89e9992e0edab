"""Parquet: the same guessing of columns, units and time as a table of text, from typed columns."""

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pyarrow
import pyarrow.parquet
import pytest

from coach.car.arrivals import Reading
from coach.importer.columns import ImportProblem
from coach.importer.imported import open_import
from coach.session.review import review
from tests.importer.captures import asked_for

BEGAN = datetime(2026, 3, 1, 7, 0, tzinfo=UTC)


def made(path: Path, **columns: Any) -> Path:
    """A Parquet file with a name that says nothing."""
    file = path / "drive.dat"
    names = {name.replace("__", " "): values for name, values in columns.items()}
    pyarrow.parquet.write_table(pyarrow.table(names), file, row_group_size=7)
    return file


def readings(file: Path, mapping: dict[str, str] | None = None) -> list[tuple[float, str, float]]:
    """Every reading."""
    found = open_import(file, mapping)
    assert found.kind == "parquet"
    return [(r.t, r.signal, r.value) for r in found.arrivals() if isinstance(r, Reading)]


TIMES: list[tuple[str, list[Any]]] = [
    ("time_s", [0.0, 0.5, 2.0]),
    ("time__(ms)", [1000, 1500, 3000]),
    ("timestamp", [BEGAN, BEGAN + timedelta(seconds=0.5), BEGAN + timedelta(seconds=2)]),
    ("timestamp", [(BEGAN + timedelta(seconds=s)).replace(tzinfo=None) for s in (0, 0.5, 2)]),
    ("elapsed", [timedelta(seconds=s) for s in (0, 0.5, 2)]),
    ("timestamp", ["2026-03-01T07:00:00", "2026-03-01T07:00:00.500", "2026-03-01T07:00:02"]),
]


@pytest.mark.parametrize(("header", "times"), TIMES)
def test_time_of_every_type_gives_the_same_seconds(tmp_path: Path, header: str, times: list[Any]) -> None:
    file = made(tmp_path, **{header: times, "vehicle__speed__(mph)": [10.0, None, 20.0]})
    assert readings(file) == [
        (0.0, "speed_kmh", pytest.approx(16.09344)),
        (2.0, "speed_kmh", pytest.approx(32.18688)),
    ]


def test_several_row_groups_and_columns_of_integers_are_read_through(tmp_path: Path) -> None:
    file = made(
        tmp_path, time_s=list(range(50)), rpm=[800 + i for i in range(50)], coolant_c=[20] * 50, remark=["x"] * 50
    )
    found = readings(file)
    assert len([1 for _, signal, _ in found if signal == "rpm"]) == 50
    assert review(file).arrivals == len(found)


def test_a_column_may_be_named(tmp_path: Path) -> None:
    file = made(tmp_path, x=[0.0, 1.0], v=[10.0, 20.0])
    assert readings(file, {"x": "time", "v": "speed_kmh:km/h"}) == [
        (0.0, "speed_kmh", 10.0),
        (1.0, "speed_kmh", 20.0),
    ]
    with pytest.raises(ImportProblem, match="no column of time"):
        open_import(file)


def test_a_damaged_parquet_file_is_told_in_a_line(tmp_path: Path) -> None:
    file = made(tmp_path, time_s=[0.0, 1.0], rpm=[1.0, 2.0])
    raw = file.read_bytes()
    for spoilt in (raw[:40], raw[:-8], raw[:30] + b"\xff" * 40 + raw[70:]):
        file.write_bytes(spoilt)
        with pytest.raises(ImportProblem, match=r"drive\.dat: ") as told:
            list(open_import(file).arrivals())
        assert "\n" not in str(told.value)


def test_without_its_library_the_message_says_how_to_get_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = made(tmp_path, time_s=[0.0, 1.0], rpm=[1.0, 2.0])
    monkeypatch.setitem(__import__("sys").modules, "pyarrow", None)
    with pytest.raises(ImportProblem, match=re.escape(f"pip install '{asked_for('parquet')}'")):
        open_import(file)
