"""Tables of other people in many layouts: one value a row, names in other languages, units in the cells.

The values are invented. Factors of units are those of NIST SP 811, appendix B; the words are common practice.
"""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from coach.car.arrivals import Reading
from coach.importer.columns import ImportProblem, guess
from coach.importer.imported import open_import
from coach.importer.table import open_table
from coach.session.review import review
from coach.words.imports import report_lines
from coach.words.review_data import denominator, warm_up

WANTED = [
    Reading(0.0, "speed_kmh", 50.0),
    Reading(0.0, "coolant_c", 20.0),
    Reading(1.0, "speed_kmh", 51.0),
    Reading(1.0, "coolant_c", 21.0),
]


def readings(path: Path, text: str, **columns: str) -> list[Reading]:
    (path / "t.csv").write_text(text, encoding="utf-8")
    found = open_import(path / "t.csv", columns)
    return sorted((a for a in found.arrivals() if isinstance(a, Reading)), key=lambda a: (a.t, -ord(a.signal[0])))


def told(path: Path) -> list[str]:
    found = open_import(path / "t.csv")
    list(found.arrivals())
    return report_lines(found.report)


LONG = {
    "name and unit": "time,name,value,unit\n0,Vehicle speed,50,km/h\n0,Coolant temperature,20,°C\n"
    "1,Vehicle speed,51,km/h\n1,Coolant temperature,21,°C\n",
    "signals of ours": "t;signal;value\n0;speed_kmh;50\n0;coolant_c;20\n1;speed_kmh;51\n1;coolant_c;21\n",
    "quotes, another order, commas": '"Wert";"Einheit";"Signal";"Zeit"\n"50,0";"km/h";"Geschwindigkeit";"100,0"\n'
    '"20,0";"°C";"Kühlmitteltemperatur";"100,0"\n"51";"km/h";"Geschwindigkeit";"101,0"\n'
    '"21";"°C";"Kühlmitteltemperatur";"101,0"\n',
    "one signal after the other": "time,name,value\n0,speed_kmh,50\n1,speed_kmh,51\n0,coolant_c,20\n1,coolant_c,21\n",
    "one after the other over midnight": "time,name,value\n23:59:59,speed_kmh,50\n00:00:00,speed_kmh,51\n"
    "23:59:59,coolant_c,20\n00:00:00,coolant_c,21\n",
    "a name not known": "time,name,value\n0,speed_kmh,50\n0,coolant_c,20\n0,gear,3\n1,speed_kmh,51\n1,coolant_c,21",
}


@pytest.mark.parametrize("text", LONG.values(), ids=LONG.keys())
def test_a_table_with_one_value_in_each_row_is_read(tmp_path: Path, text: str) -> None:
    assert readings(tmp_path, text) == WANTED
    assert "one value in each row, by its name" in told(tmp_path)


def test_a_name_of_a_long_table_may_be_mapped_and_unknown_ones_are_listed(tmp_path: Path) -> None:
    text = "time,name,value,unit\n0,tacho,31.07,mph\n0,mood,1,\n1,tacho,32,mph\n"
    assert readings(tmp_path, text, tacho="speed_kmh:mph")[0] == Reading(0.0, "speed_kmh", round(31.07 * 1.609344, 6))
    with pytest.raises(ImportProblem, match="no column is a known signal"):
        open_import(tmp_path / "t.csv")


WIDE = {
    "German": "Zeit [s];Fahrzeuggeschwindigkeit [km/h];Kühlmitteltemperatur [°C]\n0,0;50,0;20,0\n1,0;51,0;21,0\n",
    "French": "Temps (s);Vitesse (km/h);Température liquide de refroidissement (°C)\n0,0;50;20\n1,0;51;21\n",
    "units in the cells": "time,SPEED,COOLANT_TEMP\n0,50 kph,20 degree_Celsius\n1,51 kph,21 degree_Celsius\n",
    "units spelt out": "time,SPEED,COOLANT_TEMP\n0,50 kilometer_per_hour,20 °C\n1,51 kilometer / hour,21 °C",
    "PIDs": "Time (sec),[01] 0D Vehicle speed (km/h),0x05 Engine coolant temperature (C)\n0,50,20\n1,51,21\n",
    "who says it": "time_s,obd_speed_kmh,Coolant (ECU)(°C)\n0,50,20\n1,51,21\n",
    "units behind a sign": "t,Vehicle Speed:km/h,ECT in °C\n0,50,20\n1,51,21\n",
    "kelvin and a unit in two words": "t,speed_km_h,ECT (K)\n0,50,293.15\n1,51,294.15\n",
    "an empty column of the same signal": "t,speed (km/h),vehicle speed [km/h],ECT (°C)\n0,,50,20\n1,,51,21\n",
    "a clock that stands still": "GPS Time,Device Time,speed (km/h),ECT (°C)\n"
    "12:00:00,01-May-2023 12:00:00.000,50,20\n12:00:00,01-May-2023 12:00:01.000,51,21\n",
    "milliseconds behind a colon": "Time,speed (km/h),ECT (°C)\n12:00:00:500,50,20\n12:00:01:500,51,21\n",
    "hundredths": "time (1/100 s),speed (km/h),ECT (°C)\n0,50,20\n100,51,21\n",
    "two zones": "time,speed (km/h),ECT (°C)\n2023-10-29T02:59:59+02:00,50,20\n2023-10-29T02:00:00+01:00,51,21\n",
    "a sign of a comment before the header": "# time_s,speed_kmh,coolant_c\n0,50,20\n1,51,21\n",
    "minutes and seconds, as said": "time (mm:ss),speed (km/h),ECT (°C)\n00:59,50,20\n01:00,51,21\n",
    "minutes and seconds, as rows go": "time,speed (km/h),ECT (°C)\n00:59,50,20\n01:00,51,21\n",
    "milliseconds alone": "ms,speed (km/h),ECT (°C)\n0,50,20\n1000,51,21\n",
    "ISO 8601 without signs": "time,speed (km/h),ECT (°C)\n20230501T120059Z,50,20\n20230501T120100Z,51,21\n",
    "thousands of milliseconds parted by dots": "Zeit [ms];Geschwindigkeit [km/h];Kühlmitteltemperatur [°C]\n"
    "0;50,0;20,0\n1.000;51,0;21,0\n",
    "days of a spreadsheet": "time,speed (km/h),ECT (°C)\n45047.9,50,20\n45047.900011574,51,21\n",
}


@pytest.mark.parametrize("text", WIDE.values(), ids=WIDE.keys())
def test_names_units_and_times_of_many_recorders(tmp_path: Path, text: str) -> None:
    assert readings(tmp_path, text) == WANTED


@pytest.mark.parametrize(
    "header", ["speed (gps)", "GPS speed (km/h)", "coolant (l)", "rpm (km/h)", "fuel (l)", "pedal e (V)"]
)
def test_another_quantity_is_not_taken(header: str) -> None:
    assert guess(0, header) is None


def test_a_unit_of_time_that_is_not_known_is_asked_for(tmp_path: Path) -> None:
    text = "time (jiffies),speed (km/h)\n0,50\n100,51\n"
    with pytest.raises(ImportProblem, match=r"does not read as time.*=time:ms"):
        readings(tmp_path, text)
    assert readings(tmp_path, text, **{"time (jiffies)": "time:1/100 s"})[-1].t == 1.0


def test_a_unit_that_does_not_show_is_asked_for_by_its_column(tmp_path: Path) -> None:
    readings(tmp_path, "t,speed (km/h),coolant\n0,50,68\n1,51,68\n")
    assert "no unit shows in coolant, not used; name it, as --column 'coolant=coolant_c:°C'" in told(tmp_path)


def test_a_share_is_no_percentage(tmp_path: Path) -> None:
    rows = "".join(f"{i},50,{i / 100}\n" for i in range(1, 50))
    assert {a.signal for a in readings(tmp_path, "t,speed (km/h),throttle\n" + rows)} == {"speed_kmh"}
    assert {a.signal for a in readings(tmp_path, "t,speed (km/h),throttle (%)\n" + rows)} == {
        "speed_kmh",
        "throttle_pct",
    }


def test_what_a_sensor_without_a_value_shows_is_no_value(tmp_path: Path) -> None:
    rows = "".join(f"{i},{255 if i == 3 else 50},{-40 if i < 5 else 85},900\n" for i in range(70))
    found = readings(tmp_path, "t,speed (km/h),ECT (°C),rpm\n" + rows)
    assert max(a.value for a in found if a.signal == "speed_kmh") == 50
    assert min(a.value for a in found if a.signal == "coolant_c") == 85
    assert warm_up(review(tmp_path / "t.csv").core) is not True  # a start at -40 °C would make it true


def test_an_engine_speed_with_thousands_parted_by_a_dot(tmp_path: Path) -> None:
    found = readings(tmp_path, "Zeit [s];Drehzahl [1/min];Motorlast [%]\n0;850;20,1\n1;1.527;20,2\n")
    assert [a.value for a in found if a.signal == "rpm"] == [850.0, 1527.0]


def test_fuel_without_a_unit_may_be_anything(tmp_path: Path) -> None:
    found = readings(tmp_path, "t,rpm,Fuel,Fuel level (%)\n0,850,1.5,60\n1,851,1.4,60\n")
    assert {a.value for a in found if a.signal == "fuel_level_pct"} == {60.0}


def test_two_rows_in_the_wrong_order_add_no_time(tmp_path: Path) -> None:
    rows = [f"{t},{t}" for t in (0, 2, 1, 3, 4, 5)]
    found = readings(tmp_path, "t,speed_kmh\n" + "\n".join(rows) + "\n")
    assert [(a.t, a.value) for a in found] == [(float(t), float(t)) for t in range(6)]
    assert not [line for line in told(tmp_path) if "steps back" in line]
    rows = [f"{t},{v}" for v, t in enumerate((10, 11, 10.5, 10.6, 11.6))]
    found = readings(tmp_path, "t,speed_kmh\n" + "\n".join(rows) + "\n")
    assert [(a.t, a.value) for a in found] == [(0, 0), (1, 1), (1, 2), (1.1, 3), (2.1, 4)]  # a clock that was set


def test_the_day_of_a_table_is_kept(tmp_path: Path) -> None:
    readings(tmp_path, "time,speed (km/h)\n2023-05-01T12:00:00+02:00,50\n2023-05-01T12:00:01+02:00,51\n")
    assert open_import(tmp_path / "t.csv").began == "2023-05-01T12:00:00+02:00"
    readings(tmp_path, "time,speed (km/h)\n1682935200000,50\n1682935201000,51\n")
    assert open_import(tmp_path / "t.csv").began == "2023-05-01T10:00:00+00:00"
    assert datetime(2023, 5, 1, 10, tzinfo=UTC) - datetime(1970, 1, 1, tzinfo=UTC) == timedelta(seconds=1682935200)


def test_an_idle_counts_where_only_the_throttle_plate_is_recorded(tmp_path: Path) -> None:
    """40 CFR 86.010-18(d)(4)(ii): 600 s running, 300 s at 25 mph or more, one idle of 30 s, here the last."""
    rows = [
        f"{t},{0 if t < 5 or t > 640 else 80},{2000 + t % 3},{12 if t < 5 or t > 640 else 25 + t % 2},20"
        for t in range(700)
    ]
    readings(tmp_path, "t,speed_kmh,rpm,throttle_pct,ambient_c\n" + "\n".join(rows) + "\n")
    found = denominator(review(tmp_path / "t.csv").core)
    assert found["met"] is True
    assert found["longest_idle_s"] > 50


@pytest.mark.parametrize("text", ['t,"vehicle\nspeed"\n0,1\n1,2\n', '"time\n",rpm\nx,1\ny,2\n'])
def test_a_header_of_two_lines_is_told_in_one(tmp_path: Path, text: str) -> None:
    (tmp_path / "t.csv").write_text(text)
    with pytest.raises(ImportProblem) as caught:
        open_table(tmp_path / "t.csv")
    assert "=" in str(caught.value)
    assert "\n" not in str(caught.value)
