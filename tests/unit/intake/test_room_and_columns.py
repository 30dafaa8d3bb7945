"""Room logs, any columns, workbooks."""

from __future__ import annotations

import contextlib
import datetime as dt
import io

import numpy as np
import openpyxl
import pytest

from bibula.intake import (
    Source,
    Wanted,
    read_columns,
    read_room_log,
    read_weighing_columns,
    read_weighing_groups,
    read_weighings,
)
from bibula.quantities.errors import InputError

ROOMS = {
    "percent in the header": "Zeit [min];Temperatur [°C];rel. Feuchte [%]\n0;20,5;50,5\n15;21,5;48\n",
    "fraction": "time [min],temperature [°C],RH [1]\n0,20.5,0.505\n15,21.5,0.48\n",
    "no units": "timestamp,temperature,humidity\n2024-05-02 08:00,20.5,50.5\n2024-05-02 08:15,21.5,48\n",
    "fraction without a unit": "time [min],T [°C],RH\n0,20.5,0.505\n15,21.5,0.48\n",
    "units in cells": "time,temp,rh\n0 min,20.5 °C,50.5 %\n15 min,21.5 °C,48 %\n",
    "fahrenheit": "time [min],temp [°F],rh [%]\n0,68.9,50.5\n15,70.7,48\n",
    "kelvin": "time [min],temp [K],rh [%]\n0,293.65,50.5\n15,294.65,48\n",
    "date and time apart": "Date;Heure;Température (°C);HR (%)\n"
    "02/05/2024;23:50:00;20,5;50,5\n03/05/2024;00:05:00;21,5;48\n",
    "spanish": "Fecha y hora;Temperatura (°C);Humedad relativa (%)\n"
    "13/05/2024 08:00;20,5;50,5\n13/05/2024 08:15;21,5;48\n",
    "italian": "Ora;Temperatura (°C);Umidità (%)\n23:50;20,5;50,5\n00:05;21,5;48\n",
    "a row without values": "time [min],temp [°C],rh [%]\n0,20.5,50.5\n5,,\n15,21.5,48\n",
    "dew point beside": "time [min],temp [°C],rh [%],dew point temp [°C]\n0,20.5,50.5,9.9\n15,21.5,48,10\n",
    "a unit as the name": "Zeit [s];°C;RH [%]\n0;20,5;50,5\n900;21,5;48\n",
    "tabs": "t / min\tT / °C\tRH / %\n0\t20.5\t50.5\n15\t21.5\t48\n",
}


@pytest.mark.parametrize("text", ROOMS.values(), ids=ROOMS.keys())
def test_room_dialect(text):
    source = Source("room.csv", text.encode())
    options = {"date_order": "dmy"} if "02/05/2024" in text else {}
    log = read_room_log(source, **options)
    assert log.time_s.tolist() == [0, 900]
    assert log.temperature_c.tolist() == pytest.approx([20.5, 21.5])
    assert log.humidity.tolist() == pytest.approx([0.505, 0.48])
    again = read_room_log(source, **log.options)
    assert np.array_equal(log.temperature_c, again.temperature_c)
    assert again.options == log.options


def test_humidity_just_above_saturation_is_set_to_it():
    log = read_room_log(Source("r.csv", b"time [s],temp [C],rh [%]\n0,20,100.4\n9,20,99\n"))
    assert log.humidity.tolist() == pytest.approx([1.0, 0.99])
    assert "set to 100 %" in log.notes[-1]


def test_mean_over_a_span_is_weighted_by_time():
    log = read_room_log(Source("r.csv", b"time [s],temp [C],rh [%]\n0,20,50\n10,20,50\n30,24,40\n"))
    assert log.mean_over(0, 30) == pytest.approx(((10 * 20 + 20 * 22) / 30, (10 * 0.5 + 20 * 0.45) / 30))
    with pytest.raises(ValueError, match="inside the log"):
        log.mean_over(0, 31)


@pytest.mark.parametrize(
    ("header", "values", "wanted", "expected"),
    [
        ("depth [mm],water", "1.5,7", Wanted("depth", unit="m"), 1.5e-3),
        ("flux [mm/d],x", "8.64,7", Wanted(role="flux", unit="m/s"), 1e-7),
        ("flux (kg/(m² s)),x", "0.25,7", Wanted(role="flux", unit="kg/m2/s"), 0.25),
        ("flux [g m^-2 h^-1],x", "3600,7", Wanted(role="flux", unit="kg/m2/s"), 1e-3),
        ("m [mg],x", "12,7", Wanted(role="mass", unit="kg"), 12e-6),
        ("depth,x", "1.5,7", Wanted(1, unit="m", file_unit="cm"), 0.015),
        ("depth,x", "1.5,7", "depth", 1.5),
    ],
)
def test_column_with_its_unit(header, values, wanted, expected):
    got = read_columns(Source("p.csv", f"{header}\n{values}\n{values}\n".encode()), {"y": wanted})
    assert got["y"].tolist() == pytest.approx([expected, expected], rel=1e-12)


@pytest.mark.parametrize(
    ("wanted", "pattern"),
    [
        ({"y": Wanted("depth", unit="m")}, "unit is not given, and m is needed"),
        ({"y": Wanted("flux", unit="m/s")}, "'kg/m2/s' cannot be turned into m/s"),
        ({"y": Wanted("depth", low=2)}, "line 2, column 1.*1.5.* is not between 2 and inf"),
        ({"y": "height"}, "there is no column 'height'"),
        ({"y": Wanted(role="humidity")}, "no column is named as humidity"),
        ({"y": "blanks"}, "line 3.*this cell is blank"),
        ({"y": Wanted("flux", role="time", unit="h")}, "times are read in seconds"),
        ({}, "no columns are asked for"),
    ],
)
def test_refused_columns(wanted, pattern):
    text = "depth,flux [kg/m2/s],blanks\n1.5,7,1\n2.5,7,\n"
    with pytest.raises(InputError, match=pattern):
        read_columns(Source("p.csv", text.encode()), wanted)


def test_rows_with_blanks_can_be_left_out():
    text = b"depth,flux,blanks\n1.5,7,1\n2.5,7,\n3.5,7,3\n"
    got = read_columns(Source("p.csv", text), {"depth": "depth", "y": "blanks"}, skip_blank=True)
    assert got["depth"].tolist() == [1.5, 3.5]


def workbook(*sheets):
    book = openpyxl.Workbook()
    book.remove(book.active)
    for number, rows in enumerate(sheets, 1):
        page = book.create_sheet(f"Sheet {number}")
        for row in rows:
            page.append(row)
    buffer = io.BytesIO()
    book.save(buffer)
    return Source("bench.xlsx", buffer.getvalue())


MIDNIGHT = dt.datetime.fromisoformat("2024-05-01T23:59:00")
READINGS = [[0, 12.5], [1, 12.25], [2, 12.125]]
BOOKS = {
    "numbers": [["time [min]", "mass [g]"], *READINGS],
    "keys, blank row and units": [
        ["Sample", "slab A"],
        [],
        ["time", "mass"],
        ["min", "g"],
        [0, 12.5],
        [1, 12.25],
        [2, 12.125],
    ],
    "stamps": [
        ["time", "mass [g]"],
        *([MIDNIGHT + dt.timedelta(minutes=i), m] for i, m in enumerate([12.5, 12.25, 12.125])),
    ],
    "dates and clocks": [
        ["date", "time", "mass [g]"],
        [dt.date(2024, 5, 1), dt.time(23, 59), 12.5],
        [dt.date(2024, 5, 2), dt.time(0, 0), 12.25],
        [dt.date(2024, 5, 2), dt.time(0, 1), 12.125],
    ],
    "spans": [["time", "mass [g]"], *([dt.timedelta(minutes=i), m] for i, m in enumerate([12.5, 12.25, 12.125]))],
    "text cells with commas": [["time", "mass"], ["0 min", "12,50 g"], ["1 min", "12,25 g"], ["2 min", "12,125 g"]],
    "blank cells": [["time [min]", "mass [g]", None], [0, 12.5], [None, None], [0.5, None], [1, 12.25], [2, 12.125]],
    "second column first": [
        ["remark", None, "mass [g]", "time [s]"],
        ["x", None, 12.5, 0],
        ["", None, 12.25, 60],
        ["y", None, 12.125, 120],
    ],
}


@pytest.mark.parametrize("rows", BOOKS.values(), ids=BOOKS.keys())
def test_workbook(rows):
    source = workbook(rows)
    series = read_weighings(source)
    assert series.time_s.tolist() == pytest.approx([0, 60, 120])
    assert series.mass_kg.tolist() == pytest.approx([0.0125, 0.01225, 0.012125])
    assert series.options["sheet"] == "Sheet 1"
    again = read_weighings(source, **series.options)
    assert np.array_equal(again.mass_kg, series.mass_kg)


def test_workbook_from_disk_groups_and_columns(tmp_path):
    rows = [["sample", "time [s]", "mass [g]"], [1, 0, 5.0], [2, 0, 6.0], [1, 9, 4.0]]
    path = tmp_path / "long.xlsx"
    path.write_bytes(workbook(rows).data)
    assert read_weighing_groups(path, by="sample")["1"].mass_kg.tolist() == [0.005, 0.004]
    wide = workbook([["time [s]", "sheet [g]", "slab [g]"], [0, 5.0, 80], [9, 4.0, 81]])
    assert read_weighing_columns(wide)["slab"].mass_kg.tolist() == pytest.approx([0.080, 0.081])


def test_several_sheets_are_asked_for():
    source = workbook(BOOKS["numbers"], BOOKS["stamps"])
    with pytest.raises(InputError, match="several sheets hold data; give the option sheet: 'Sheet 1', 'Sheet 2'"):
        read_weighings(source)
    assert read_weighings(source, sheet="Sheet 2").start == "2024-05-01T23:59:00"
    with pytest.raises(InputError, match="there is no sheet 'Sheet 3'"):
        read_weighings(source, sheet="Sheet 3")


@pytest.mark.parametrize(
    ("cell", "pattern"),
    [
        ("over", r"line 3, column 2, field 'mass \[g\] \(sheet Sheet 1, cell B3\)': 'over' is not a mass"),
        (-3.5, r"cell B3.*-3.5 g is negative"),
        ("=1+1", r"cell B3.*formula without a stored result"),
        ("#N/A", r"cell B3.*'#N/A' is not a mass"),
    ],
)
def test_a_bad_workbook_cell_is_named(cell, pattern):
    with pytest.raises(InputError, match=pattern):
        read_weighings(workbook([["time [s]", "mass [g]"], [0, 12.5], [1, cell]]))


@pytest.mark.parametrize(
    ("data", "pattern"),
    [
        (b"PK\x03\x04 and no more", "cannot be read as an .xlsx workbook"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "old .xls workbook"),
    ],
)
def test_no_workbook(data, pattern):
    with pytest.raises(InputError, match=pattern):
        read_weighings(Source("bench.xlsx", data))


def test_empty_and_cut_workbook():
    with pytest.raises(InputError, match="the workbook is empty"):
        read_weighings(workbook([]))
    whole = workbook(BOOKS["numbers"]).data
    for share in (0.3, 0.6, 0.95):
        with pytest.raises(InputError, match="cannot be read as an"):
            read_weighings(Source("bench.xlsx", whole[: int(len(whole) * share)]))


def test_damaged_workbooks_give_only_our_error():
    whole = workbook(BOOKS["stamps"]).data
    random = np.random.default_rng(7)
    for _ in range(60):
        data = bytearray(whole)
        for at in random.integers(4, len(data), size=3):
            data[at] ^= int(random.integers(1, 256))
        with contextlib.suppress(InputError):
            assert len(read_weighings(Source("bench.xlsx", bytes(data))).time_s) <= 3
