"""Every doubt is one sentence that names the place and the option."""

from __future__ import annotations

import re

import pytest

from bibula.intake import Source, read_room_log, read_weighings
from bibula.quantities.errors import InputError

T, M = "time [s]", "mass [g]"

WEIGHING_REFUSALS = {
    "two masses": ("time [s],mass [g],weight [g]\n0,1.5,2.5\n1,1.5,2.5\n", "'mass.*'weight.*option mass_column"),
    "two times": ("time [s],elapsed [s],mass [g]\n0,0,2.5\n1,1,2.5\n", "option time_column"),
    "no mass": ("time [s],colour\n0,1.5\n1,1.5\n", "no column is named as mass.*mass_column"),
    "no time": ("mass [g],colour\n2.5,1.5\n2.5,1.5\n", "no column is named as time.*time_column"),
    "no header": ("0,1.5\n1,1.5\n", "no column is named as mass"),
    "no mass unit": ("time [s],mass\n0,1.5\n1,1.5\n", "line 2, column 2.*no unit.*mass_unit"),
    "no time unit": ("time,mass [g]\n0,1.5\n1,1.5\n", "line 2, column 1.*no unit.*time_unit"),
    "unknown unit in cell": ("time [s],mass\n0,1.5 oz\n1,1.5 oz\n", "'oz' is not a unit of mass"),
    "tonne": ("time [s],mass\n0,1.5 Mg\n1,1.5 Mg\n", "'Mg' is not a unit of mass"),
    "cell against header": ("time [s],mass [g]\n0,1.5 mg\n1,1.5 mg\n", "line 2.*the cell says mg, the column g"),
    "cell without unit among others": ("time [s],mass\n0,1.5 g\n1,1.5\n", "line 3.*no unit"),
    "comma open": ("time [s]\tmass [g]\n0\t1,234\n1\t1,233\n", "'1,234' can be 1.234 or 1234.*option decimal"),
    "comma open, quoted": ('time [s],mass [g]\n0,"1,234"\n1,"1,233"\n', "can be 1.234 or 1234"),
    "point against comma elsewhere": ("time [s]\tmass [g]\n0,5\t1.234\n1,5\t1.233\n", "can be|decimal comma"),
    "both marks": ("time [s];mass [g]\n0;1.25\n1;1,25\n", "decimal point.*decimal comma.*option decimal"),
    "comma twice over": ("time [s],mass [g]\n0,5,1,25\n1,5,1,25\n", "4 cells, the table has 2.*semicolons"),
    "bad groups": ("time [s];mass [g]\n0;1.25\n1;12,34.5\n", "line 3.*'12,34.5' is not a mass"),
    "two-part clock": ("time,mass [g]\n08:48,1.5\n09:11,1.5\n", "can mean .*minutes.*hours.*time of day.*option clock"),
    "three-part clock": (
        "time,mass [g]\n00:00:30,1.5\n00:01:00,1.5\n",
        "elapsed.*or time of day; give the option clock",
    ),
    "day and month": ("date,mass [g]\n01/02/2024,1.5\n02/03/2024,1.5\n", "day and month can be swapped.*date_order"),
    "two-digit year": ("date,mass [g]\n01.02.24,1.5\n02.03.24,1.5\n", "line 2.*is not a date and time"),
    "no such day": ("date,mass [g]\n2024-02-29,1.5\n2024-02-30,1.5\n", "line 3.*is not a date"),
    "zones in part": ("time,mass [g]\n2024-05-02T08:00Z,1.5\n2024-05-02T09:00,1.5\n", "line 3.*zone"),
    "minute 60": ("Uhrzeit,mass [g]\n08:48:00,1.5\n08:60:00,1.5\n", "line 3.*not a time"),
    "back in seconds": ("time [s],mass [g]\n0,1.5\n10,1.5\n9,1.5\n", "line 4, column 1.*before the reading above"),
    "back in stamps": (
        "time,mass [g]\n2024-05-02T08:00,1.5\n2024-05-02T09:00,1.5\n2024-05-02T08:59,1.5\n",
        "line 4, column 1.*before the reading above",
    ),
    "back on a clock": (
        "Uhrzeit,mass [g]\n10:05:00,1.5\n10:06:00,1.5\n10:04:00,1.5\n",
        "line 4.*before the reading above",
    ),
    "back in elapsed": ("elapsed,mass [g]\n23:05:00,1.5\n00:06:00,1.5\n", "line 3.*before the reading above"),
    "negative time": ("time [s],mass [g]\n-5,1.5\n10,1.5\n", "line 2.*negative"),
    "blank time": ("time [s],mass [g]\n0,1.5\n,1.4\n10,1.5\n", "line 3.*the time is missing"),
    "forty years": ("time [d],mass [g]\n0,1.5\n99999,1.5\n", "more than 40 years"),
    "negative mass": ("time [s],mass [g]\n0,1.5\n10,-0.2\n", "line 3, column 2.*-0.2 g is negative"),
    "far too heavy": ("time [s],mass [kg]\n0,1.5\n10,100.5\n", "line 3.*above 100 kg"),
    "nan": ("time [s],mass [g]\n0,1.5\n10,nan\n", "line 3.*'nan' is not a mass"),
    "inf": ("time [s],mass [g]\n0,1.5\n10,inf\n", "line 3.*'inf' is not a mass"),
    "beyond floats": ("time [s],mass [g]\n0,1.5\n10,1e999\n", "line 3.*not a finite mass"),
    "word": ("time [s],mass [g]\n0,1.5\n10,over\n", "line 3, column 2, field 'mass .g.'.*'over' is not a mass"),
    "spreadsheet error": ("time [s],mass [g]\n0,1.5\n10,#DIV/0!\n", "line 3.*is not a mass"),
    "all blank": ("time [s],mass [g]\n0,\n10,\n", "there is no mass in this column"),
    "only a header": ("time [s],mass [g]\n", "no readings"),
    "only a comment": ("# nothing\n", "no readings"),
    "only keys": ("Sample: slab A\n", "no column|no readings"),
    "empty": ("", "the file is empty"),
    "blank": (" \n\n", "the file is empty"),
    "open quote": ('time [s],mass [g]\n0,1.5\n10,"1.4\n20,1.3\n', "line 3.*quotation mark"),
    "short row in blanks": ("time_s mass_g\n0 1.5\n10\n20 1.4\n", "line 3.*1 cells, the table has 2"),
    "long row": ("time [s];mass [g]\n0;1.5\n10;1.4;7\n", "line 3.*3 cells, the table has 2"),
    "control characters": ("time [s],mass [g]\n0,1.5\n1,\x01\n", "line 3.*control characters"),
    "unknown status": ("time [s],mass [g],status\n0,1.5,unstable\n1,1.4,maybe\n", "line 3.*'maybe' is not known"),
}


def message(text, reader=read_weighings, **options):
    with pytest.raises(InputError) as caught:
        reader(Source("bench.csv", text.encode()), **options)
    sentence = str(caught.value)
    assert sentence.startswith("bench.csv") or caught.value.place.field
    assert sentence.endswith(".")
    assert "\n" not in sentence
    return sentence


@pytest.mark.parametrize(("text", "pattern"), WEIGHING_REFUSALS.values(), ids=WEIGHING_REFUSALS.keys())
def test_refused_with_place_and_option(text, pattern):
    assert re.search(pattern, message(text)), message(text)


GOOD = "time [s],mass [g]\n0,1.5\n10,1.25\n"


@pytest.mark.parametrize(
    ("options", "pattern"),
    [
        ({"decimal": "x"}, "'x' is not a decimal mark"),
        ({"clock": "noon"}, "'noon' is not a kind of clock"),
        ({"date_order": "ydm"}, None),
        ({"separator": "&"}, "'&' is not a separator"),
        ({"encoding": "klingon"}, "encoding 'klingon' is not known"),
        ({"encoding": "utf-16"}, "not utf-16 text|control|no column"),
        ({"mass_unit": "stone"}, "'stone' is not a unit of mass.*g"),
        ({"time_unit": "fortnight"}, "'fortnight' is not a unit of time"),
        ({"mass_column": "weight"}, "there is no column 'weight'; the columns are 'time"),
        ({"mass_column": 3}, "there is no column '3'"),
        ({"mass_column": 0}, "there is no column '0'"),
        ({"sheet": "one"}, "only workbooks have sheets"),
        ({"interval_s": 0.0}, "an interval of 0 s"),
        ({"subtract_tare": True}, "no tare line"),
        ({"subtract_tare": True, "tare_kg": 0.001}, "two tares"),
        ({"tare_kg": 0.002}, "line 2.*-0.5 g is negative.*check the tare"),
    ],
)
def test_refused_options(options, pattern):
    if pattern is None:  # an option that has no part in this file does no harm
        read_weighings(Source("bench.csv", GOOD.encode()), **options)
    else:
        assert re.search(pattern, message(GOOD, **options))


ROOM = "time [s];T [°C];RH [%]\n0;20.5;50.5\n900;21.5;"
ROOM_REFUSALS = {
    "too damp": (ROOM + "100.6\n", "line 3, column 3.*100.6 is no relative humidity"),
    "below zero": (ROOM + "-0.1\n", "line 3.*-0.1 is no relative humidity"),
    "no row": ("time [s];T [°C];RH [%]\n0;;50\n", "no row has both"),
    "too cold": ("time [s];T [°C];RH [%]\n0;-40.5;50\n900;20;50\n", "line 2, column 2.*not between -40 and 100"),
    "too hot": ("time [s];T [°C];RH [%]\n0;100.5;50\n900;20;50\n", "not between -40 and 100"),
    "fahrenheit without a word": (
        "time [s];temperature;RH [%]\n0;70.5;50\n9;70.5;50\n",
        "warm for a room.*temperature_unit",
    ),
    "percent or fraction": ("time [s];T [°C];RH\n0;20;0.5\n900;20;50\n", "line 2.*% or a fraction.*humidity_unit"),
    "two sensors": (
        "time [s];temp 1 [°C];temp 2 [°C];RH\n0;20;20;50\n9;20;20;50\n",
        "'temp 1.*'temp 2.*temperature_column",
    ),
    "other unit in a cell": ("time [s];temp;RH [%]\n0;20 °C;50\n9;70 °F;50\n", "line 3.*not the unit of this column"),
    "nan": ("time [s];T [°C];RH [%]\n0;20;nan\n9;20;50\n", "line 2.*'nan' is not a humidity"),
    "only dew point": (
        "time [s];dew point temperature [°C];RH [%]\n0;9;50\n9;9;50\n",
        "no column is named as temperature",
    ),
}


@pytest.mark.parametrize(("text", "pattern"), ROOM_REFUSALS.values(), ids=ROOM_REFUSALS.keys())
def test_room_log_refused(text, pattern):
    assert re.search(pattern, message(text, read_room_log)), message(text, read_room_log)


def test_missing_file_and_folder(tmp_path):
    with pytest.raises(InputError, match="there is no such file"):
        read_weighings(tmp_path / "nothing.csv")
    with pytest.raises(InputError, match="cannot be opened"):
        read_weighings(tmp_path)
