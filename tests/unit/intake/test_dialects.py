"""The same three weighings in many dialects read as the same numbers."""

from __future__ import annotations

import numpy as np
import pytest

from bibula.intake import Source, read_weighings

# 0, 1, 2 min; 12.431, 12.390, 12.345 g
DIALECTS = {
    "comma": "time [min],mass [g]\n0,12.431\n1,12.390\n2,12.345\n",
    "comma and blank": "time [min], mass [g]\n0, 12.431\n1, 12.390\n2, 12.345\n",
    "semicolon, decimal comma": "Zeit [min];Masse [g]\n0;12,431\n1;12,390\n2;12,345\n",
    "semicolon, point": "time (s);mass (g)\n0;12.431\n60;12.390\n120;12.345\n",
    "tab": "t / min\tm / g\n0\t12.431\n1\t12.390\n2\t12.345\n",
    "tab, decimal comma seen in the time": "t / min\tm / g\n0,0\t12,431\n1,0\t12,390\n2,0\t12,345\n",
    "bar": "time_min|mass_g\n0|12.431\n1|12.390\n2|12.345\n",
    "blanks": "time_s   mass_g\n0    12.431\n60   12.390\n120  12.345\n",
    "blanks, units with blanks": "time [s]   mass [g]\n0    12.431\n60   12.390\n120  12.345\n",
    "blanks around slash": "t / min  m / g\n0 12.431\n1 12.390\n2 12.345\n",
    "blanks, decimal comma": "t / min  m / g\n0,0 12,431\n1,0 12,390\n2,0 12,345\n",
    "quoted decimal commas": '"t / min","m / g"\n"0,0","12,431"\n"1,0","12,390"\n"2,0","12,345"\n',
    "units in the cells": "time,mass\n0 s,12.431 g\n60 s,12.390 g\n120 s,12.345 g\n",
    "units in the cells, blanks": "time  mass\n0 s  12.431 g\n60 s  12.390 g\n120 s  12.345 g\n",
    "no header, units tell": "0 s,12.431 g\n60 s,12.390 g\n120 s,12.345 g\n",
    "units in a column of their own": "Nr.;Datum;Zeit;Gewicht;Einheit\n1;26.03.2019;08:48:00;12,431;g\n"
    "2;26.03.2019;08:49:00;12,390;g\n3;26.03.2019;08:50:00;12345;mg\n",
    "hours before the colon, by unit": "Zeit [h];Masse [g]\n0:00;12,431\n0:01;12,390\n0:02;12,345\n",
    "minutes before the colon, by unit": "Zeit [min];Masse [g]\n0:00;12,431\n1:00;12,390\n2:00;12,345\n",
    "milligrams": "time [s],mass [mg]\n0,12431\n60,12390\n120,12345\n",
    "kilograms": "time [s],mass [kg]\n0,0.012431\n60,0.012390\n120,0.012345\n",
    "mixed units in cells": "time,mass\n0 s,12431 mg\n1 min,12.390 g\n2 min,0.012345 kg\n",
    "hours": "time [h],mass [g]\n0,12.431\n0.0166666666666667,12.390\n0.0333333333333333,12.345\n",
    "unit row": "time;mass\nmin;g\n0;12.431\n1;12.390\n2;12.345\n",
    "unit row in brackets": "time;mass\n[min];[g]\n0;12.431\n1;12.390\n2;12.345\n",
    "mm:ss by header": "time [mm:ss],mass [g]\n00:00,12.431\n01:00,12.390\n02:00,12.345\n",
    "mm:ss by fraction": "time,mass [g]\n00:00.0,12.431\n01:00.0,12.390\n02:00.5,12.345\n",
    "hh:mm:ss elapsed": "elapsed,mass [g]\n00:00:00,12.431\n00:01:00,12.390\n00:02:00,12.345\n",
    "time of day": "Uhrzeit;Masse [g]\n08:48:00;12,431\n08:49:00;12,390\n08:50:00;12,345\n",
    "time of day hh:mm": "Uhrzeit;Masse [g]\n08:48;12,431\n08:49;12,390\n08:50;12,345\n",
    "past midnight": "time;mass [g]\n23:59:00;12.431\n00:00:00;12.390\n00:01:00;12.345\n",
    "past midnight hh:mm": "time;mass [g]\n23:59;12.431\n00:00;12.390\n00:01;12.345\n",
    "AM and PM": "time;mass [g]\n11:59:00 PM;12.431\n12:00:00 AM;12.390\n12:01:00 AM;12.345\n",
    "ISO": "time,mass [g]\n2024-05-02T08:48:00,12.431\n2024-05-02T08:49:00,12.390\n2024-05-02T08:50:00,12.345\n",
    "ISO with zones": "time,mass [g]\n2024-05-02T08:48:00Z,12.431\n2024-05-02T10:49:00+02:00,12.390\n"
    "2024-05-02T08:50:00Z,12.345\n",
    "date and time apart": "Datum;Uhrzeit;Masse [g]\n02.05.2024;08:48;12,431\n02.05.2024;08:49;12,390\n"
    "02.05.2024;08:50;12,345\n",
    "date and time apart, blanks": "date time mass_g\n2024-05-02 08:48 12.431\n2024-05-02 08:49 12.390\n"
    "2024-05-02 08:50 12.345\n",
    "day over midnight with dates": "date,time,mass [g]\n2024-05-02,23:59,12.431\n2024-05-03,00:00,12.390\n"
    "2024-05-03,00:01,12.345\n",
    "month first, plain from the 13th": "time,mass [g]\n05/13/2024 8:48 AM,12.431\n05/13/2024 8:49 AM,12.390\n"
    "05/13/2024 8:50 AM,12.345\n",
    "durations in words": "time,mass [g]\n0 min 0 s,12.431\n1 min 0 s,12.390\n2 min 0 s,12.345\n",
    "signs and gaps": "time [s];mass\n0;+  12.431 g\n60;+  12.390 g\n120;+  12.345 g\n",
    "net code": "time [s];mass\n0;N 12.431 g\n60;N 12.390 g\n120;N 12.345 g\n",
    "print of a balance": "2024-05-02 08:48:00 N +   12.431 g\n2024-05-02 08:49:00 N +   12.390 g\n"
    "2024-05-02 08:50:00 N + 12.345 g\n",
    "comments and blank lines": "# a bench test\n\n// second\ntime [s],mass [g]\n0,12.431\n\n% noted\n60,12.390\n"
    "; third\n120,12.345\n\n",
    "header in a comment": "# time_s mass_g\n0 12.431\n60 12.390\n120 12.345\n",
    "keys before the table": "Sample: slab A\narea_cm2 = 25\n\ntime [s],mass [g]\n0,12.431\n60,12.390\n120,12.345\n",
    "keys with semicolons": "Sample;slab A\narea_cm2;25\ntime [s];mass [g]\n0;12.431\n60;12.390\n120;12.345\n",
    "header repeated": "time [s],mass [g]\n0,12.431\n60,12.390\ntime [s],mass [g]\n120,12.345\n",
    "trailing separators": "time [s];mass [g];\n0;12.431;\n60;12.390;\n120;12.345;\n",
    "blank mass": "time [s],mass [g]\n0,12.431\n30,\n60,12.390\n90,NA\n120,12.345\n",
    "carriage returns": "time [s],mass [g]\r0,12.431\r60,12.390\r120,12.345\r",
    "windows lines": "time [s],mass [g]\r\n0,12.431\r\n60,12.390\r\n120,12.345\r\n",
    "no last line end": "time [s],mass [g]\n0,12.431\n60,12.390\n120,12.345",
    "German": "Zeit in min;Gewicht in g\n0;12,431\n1;12,390\n2;12,345\n",
    "French": "Durée (min);Poids (g)\n0;12,431\n1;12,390\n2;12,345\n",
    "Italian": "Tempo [min];Peso [g]\n0;12,431\n1;12,390\n2;12,345\n",
    "Spanish": "Tiempo [min];Masa [g]\n0;12,431\n1;12,390\n2;12,345\n",
    "line break in a name": '"time\n[s]","mass\n[g]"\n0,12.431\n60,12.390\n120,12.345\n',
    "exponents": "time [s],mass [kg]\n0,1.2431E-02\n60,1.2390E-02\n120,1.2345E-02\n",
    "grouped thousands": "time [s],mass [mg]\n0,12'431.0\n60,12'390.0\n120,12'345.0\n",
    "comma groups beside a point": 'time [s],mass [mg]\n0,"12,431.0"\n60,"12,390.0"\n120,"12,345.0"\n',
    "point groups beside a comma": "Zeit [s];Masse [mg]\n0;12.431,0\n60;12.390,0\n120;12.345,0\n",
    "tare line kept apart": "time [s],mass [g]\nTARE\n0,12.431\n60,12.390\nT\n120,12.345\n",
    "tare in the mass cell": "time [s],mass [g]\n0,12.431\n30,TARE\n60,12.390\n120,12.345\n",
    "semicolon at the start in blanks": "; bench\ntime_s mass_g\n0 12.431\n60 12.390\n120 12.345\n",
    "semicolon comment in semicolons": ";; bench\ntime_s;mass_g\n0;12.431\n60;12.390\n120;12.345\n",
}
TIMES, MASSES = [0.0, 60.0, 120.0], [0.012431, 0.012390, 0.012345]


def check(series, times=TIMES):
    assert series.time_s == pytest.approx(times, abs=0.6)
    assert series.mass_kg == pytest.approx(MASSES, rel=1e-12)
    assert not series.excluded.any()


@pytest.mark.parametrize("text", DIALECTS.values(), ids=DIALECTS.keys())
def test_dialect(text):
    check(read_weighings(Source("bench.csv", text.encode())))


@pytest.mark.parametrize("text", DIALECTS.values(), ids=DIALECTS.keys())
def test_the_recorded_options_read_the_same_again(text):
    source = Source("bench.csv", text.encode())
    first = read_weighings(source)
    again = read_weighings(source, **first.options)
    assert np.array_equal(first.time_s, again.time_s)
    assert np.array_equal(first.mass_kg, again.mass_kg)
    assert (first.options, first.notes, first.start) == (again.options, again.notes, again.start)


@pytest.mark.parametrize(
    ("encoding", "mark"),
    [
        ("utf-8", b""),
        ("utf-8", b"\xef\xbb\xbf"),
        ("utf-16-le", b"\xff\xfe"),
        ("utf-16-be", b"\xfe\xff"),
        ("utf-16-le", b""),
        ("utf-16-be", b""),
        ("utf-32-le", b"\xff\xfe\x00\x00"),
        ("cp1252", b""),
    ],
)
def test_encodings(encoding, mark):
    text = "Échantillon: carton gris\nDurée (min);Poids (g)\n0;12,431\n1;12,390\n2;12,345\n"
    series = read_weighings(Source("essai.csv", mark + text.encode(encoding)))
    check(series)
    assert series.name == "carton gris"
    assert ("Windows-1252" in " ".join(series.notes)) == (encoding == "cp1252")


def test_header_keys_and_name():
    series = read_weighings(Source("bench.csv", DIALECTS["keys before the table"].encode()))
    assert series.name == "slab A"
    assert series.metadata == {"Sample": "slab A", "area_cm2": "25"}


def test_start_is_the_first_stamp_or_the_header_key():
    assert read_weighings(Source("a.csv", DIALECTS["ISO"].encode())).start == "2024-05-02T08:48:00"
    keyed = "Start: 2024-05-02 08:48\n" + DIALECTS["comma"]
    assert read_weighings(Source("a.csv", keyed.encode())).start == "2024-05-02T08:48:00"
    assert read_weighings(Source("a.csv", DIALECTS["comma"].encode())).start is None


def test_elapsed_times_keep_their_offset():
    text = DIALECTS["hh:mm:ss elapsed"].replace("00:00:00", "00:00:15")
    check(read_weighings(Source("a.csv", text.encode())), [15.0, 60.0, 120.0])


@pytest.mark.parametrize(
    ("clock", "times"),
    [
        ("mm:ss", [528, 551, 700]),
        ("hh:mm", [31680, 33060, 42000]),
        ("elapsed", [31680, 33060, 42000]),
        ("time of day", [0, 1380, 10320]),
    ],
)
def test_two_part_clock_as_asked(clock, times):
    text = "time,mass [g]\n08:48,12.431\n09:11,12.390\n11:40,12.345\n"
    check(read_weighings(Source("a.csv", text.encode()), clock=clock), times)


def test_hours_above_23_in_an_hms_column_are_elapsed():
    text = "time,mass [g]\n22:00:00,12.431\n26:00:00,12.390\n100:00:00,12.345\n"
    check(read_weighings(Source("a.csv", text.encode())), [79200, 93600, 360000])


def test_two_part_next_to_three_part_is_minutes():
    text = "time,mass [g]\n58:30,12.431\n59:30,12.390\n1:00:30,12.345\n"
    check(read_weighings(Source("a.csv", text.encode())), [3510, 3570, 3630])


@pytest.mark.parametrize(("order", "times"), [("dmy", [0, 86400, 172800]), ("mdy", [0, 2678400, 5097600])])
def test_order_of_day_and_month(order, times):
    text = "date,mass [g]\n01/01/2023,12.431\n02/01/2023,12.390\n03/01/2023,12.345\n"
    check(read_weighings(Source("a.csv", text.encode()), date_order=order), times)


def test_columns_by_number_without_header():
    text = "12.431 0\n12.390 1\n12.345 2\n"
    options = {"time_column": 2, "mass_column": "1", "time_unit": "min", "mass_unit": "g"}
    check(read_weighings(Source("a.txt", text.encode()), **options))


def test_masses_alone_with_an_interval():
    check(read_weighings(Source("a.txt", b"+ 12.431 g\n+ 12.390 g\n+ 12.345 g\n"), interval_s=60.0))
    check(read_weighings(Source("a.txt", b"mass\n12.431 g\n12.390 g\n12.345 g\n"), interval_s=60.0))


@pytest.mark.parametrize("cell", ["0,950", "+ 0,950", "1234,950", ",950"])
def test_a_cell_that_cannot_be_grouped_settles_the_comma(cell):
    text = f"time [s]\tmass [g]\n0\t{cell}\n1\t1,234\n"
    assert read_weighings(Source("a.csv", text.encode())).mass_kg[1] == pytest.approx(0.001234)


def test_an_asked_unit_overrides_the_header_and_says_so():
    series = read_weighings(Source("a.csv", DIALECTS["comma"].encode()), mass_unit="kg")
    assert series.mass_kg[0] == 12.431
    assert "not in g" in series.notes[0]
