"""Marks of unsteady readings, tares, groups, series side by side, further columns, cut files."""

from __future__ import annotations

import dataclasses
import hashlib

import numpy as np
import pytest

from bibula.intake import Source, read_weighing_columns, read_weighing_groups, read_weighings
from bibula.quantities.errors import InputError


def read(text, reader=read_weighings, **options):
    return reader(Source("bench.csv", text.encode()), **options)


@pytest.mark.parametrize(
    "cell", ["1.5 g ?", "? 1.5 g", "1.5 g *", "1.5 g D", "1.5 g S D", "US 1.5 g", "1.5 g unstable", "*1.5 g"]
)
@pytest.mark.parametrize("separator", [",", "  "])
def test_unsteady_reading_is_kept_marked_and_excluded(cell, separator):
    text = f"time{separator}mass\n0 s{separator}1.6 g\n60 s{separator}{cell}\n120 s{separator}1.4 g\n"
    series = read(text)
    assert series.mass_kg.tolist() == pytest.approx([0.0016, 0.0015, 0.0014])
    assert series.excluded.tolist() == [False, True, False]
    assert series.notes == ("line 3: marked unsteady by the balance",)
    assert [len(part) for part in series.used] == [2, 2]
    assert not read(text, keep_unsteady=True).excluded.any()


@pytest.mark.parametrize("cell", ["N 1.5 g", "S 1.5 g", "ST 1.5 g", "1.5 g S", "+ 1.5 g", "NET: 1.5 g", "1.5 G"])
def test_steady_marks_are_no_doubt(cell):
    series = read(f"time,mass\n0 s,{cell}\n60 s,{cell}\n")
    assert series.mass_kg.tolist() == pytest.approx([0.0015, 0.0015])
    assert not series.excluded.any()


def test_status_column_marks_readings():
    series = read("time [s],mass [g],status\n0,1.5,stable\n1,1.4,unstable\n2,1.3,S\n3,1.2,\n")
    assert series.excluded.tolist() == [False, True, False, False]


def test_a_status_of_another_kind_is_kept_as_text():
    series = read("time [s],mass [g],status\n0,1.5,wet\n1,1.4,dry\n")
    assert not series.excluded.any()
    assert series.texts["status"] == ("wet", "dry")


def test_seconds_and_days_are_not_taken_for_marks():
    assert read("time,mass\n0 s,1.5 g\n2 s,1.5 g\n").time_s.tolist() == [0, 2]
    assert read("time,mass\n0 d,1.5 g\n2 d,1.5 g\n").time_s.tolist() == [0, 172800]


def test_a_sample_called_T_is_no_tare():
    groups = read("sample,time,mass\nT,0 s,1.5 g\nT,1 s,1.4 g\nTara 2,0 s,1.5 g\n", read_weighing_groups, by="sample")
    assert {name: len(series.time_s) for name, series in groups.items()} == {"T": 2, "Tara 2": 1}


@pytest.mark.parametrize("line", ["TARE", "T", "T 3.021 g", "tare 3.021 g", "Tare: 3.021 g", "TARA = 3.021 g"])
@pytest.mark.parametrize("separator", [";", "  ", ","])
def test_tare_lines(line, separator):
    series = read(f"time_s{separator}mass_g\n0{separator}5.55\n{line}\n1{separator}5.25\n")
    assert series.time_s.tolist() == [0, 1]
    assert any(note.startswith("line 3: ") and "not subtracted" in note for note in series.notes)


TARED = "time [s],mass [g]\ntare 3.021 g\n0,12.431\n60,12.390\ntare 1.000 g\n120,12.345\n"


def test_tare_is_noted_but_not_subtracted():
    series = read(TARED)
    assert series.mass_kg[0] == pytest.approx(0.012431)
    assert "line 2: 'tare 3.021 g', not subtracted" in series.notes


def test_each_tare_is_subtracted_from_the_readings_below_it_when_asked():
    series = read(TARED, subtract_tare=True)
    assert series.mass_kg.tolist() == pytest.approx([0.009410, 0.009369, 0.011345])
    again = read(TARED, **series.options)
    assert np.array_equal(series.mass_kg, again.mass_kg)


def test_tare_given_by_the_user():
    assert read("time [s],mass [g]\n0,12.431\n", tare_kg=0.002).mass_kg[0] == pytest.approx(0.010431)


def test_tare_without_a_number_cannot_be_subtracted():
    with pytest.raises(InputError, match=r"line 2: the tare line 'TARE'.*tare_kg"):
        read("time [s],mass [g]\nTARE\n0,12.431\n", subtract_tare=True)


def test_a_tare_above_the_mass_is_refused():
    with pytest.raises(InputError, match=r"line 3.*negative.*tare"):
        read("time [s],mass [g]\ntare 13.5 g\n0,12.431\n", subtract_tare=True)


LONG = (
    "sample,arm,time [min],mass [g],area_cm2\n"
    "a,wet,0,5.5,25\nb,wet,0,6.5,26\na,wet,1,5.4,25\nb,wet,2,6.4,26\na,dry,0,4.5,25\n"
)


def test_groups_are_parted_even_when_mixed():
    groups = read(LONG, read_weighing_groups, by=["sample", "arm"])
    assert list(groups) == ["a / wet", "b / wet", "a / dry"]
    assert groups["a / wet"].time_s.tolist() == [0, 60]
    assert groups["b / wet"].mass_kg.tolist() == pytest.approx([0.0065, 0.0064])
    assert groups["b / wet"].numbers["area_cm2"].tolist() == [26, 26]
    assert groups["b / wet"].texts["arm"] == ("wet", "wet")


def test_time_must_run_forward_within_a_group():
    with pytest.raises(InputError, match=r"line 6.*before the reading above"):
        read(LONG, read_weighing_groups, by="sample")
    assert len(read(LONG, read_weighing_groups, by=["sample", "arm"])) == 3


def test_stamps_count_from_each_groups_first_reading():
    rows = ["a;2024-05-02 08:00", "b;2024-05-02 09:00", "a;2024-05-02 08:30", "b;2024-05-02 09:10"]
    text = "sample;time;mass [g]\n" + "".join(f"{row};1.5\n" for row in rows)
    groups = read(text, read_weighing_groups, by="sample")
    assert groups["a"].time_s.tolist() == [0, 1800]
    assert groups["b"].time_s.tolist() == [0, 600]
    assert groups["b"].start == "2024-05-02T09:00:00"


def test_blank_group_is_refused():
    with pytest.raises(InputError, match=r"line 3, column 1.*the group is missing"):
        read("sample,time [s],mass [g]\na,0,1.5\n,1,1.5\n", read_weighing_groups, by="sample")


WIDE = (
    "time [min];sheet [g];slab 1 [g];slab 2 [g];remark\n"
    "0;5,55;80,1;80,2;start\n1;5,15;80,5;;\n2;4,85;80,75;80,3;gloss off\n"
)


def test_series_side_by_side():
    series = read(WIDE, read_weighing_columns)
    assert list(series) == ["sheet", "slab 1", "slab 2"]
    assert series["slab 2"].time_s.tolist() == [0, 120]
    assert series["slab 2"].notes == ("line 3: no mass, left out",)
    assert series["sheet"].texts == {"remark": ("start", "", "gloss off")}
    assert series["sheet"].mass_kg.tolist() == pytest.approx([0.00555, 0.00515, 0.00485])


def test_side_by_side_columns_by_name_and_again_one_by_one():
    series = read(WIDE, read_weighing_columns, columns=["slab 1", 4])
    assert list(series) == ["slab 1", "slab 2"]
    alone = read(WIDE, **series["slab 1"].options)
    assert np.array_equal(alone.mass_kg, series["slab 1"].mass_kg)


def test_further_numeric_columns_are_kept_as_written():
    series = read("time [s],mass [g],surface [°C],lux\n0,1.5,18.5,50 lx\n1,1.4,,50 lx\n")
    assert series.numbers["surface [°C]"][0] == 18.5
    assert np.isnan(series.numbers["surface [°C]"][1])
    assert series.numbers["lux [lx]"].tolist() == [50, 50]


def test_a_number_cut_at_the_end_of_the_file_is_excluded():
    rows = "".join(f"{t},{12.5 - t / 1000:.3f}\n" for t in range(8))
    series = read("time [s],mass [g]\n" + rows + "8,12.4")
    assert series.excluded.tolist() == [False] * 8 + [True]
    assert "file ends inside" in series.notes[-1]
    assert not read("time [s],mass [g]\n" + rows + "8,12.400").excluded.any()


def test_equal_times_are_noted():
    assert "same time" in read("time [s],mass [g]\n0,1.5\n0,1.4\n5,1.3\n").notes[0]


def test_source_hash_and_frozen_arrays():
    data = b"time [s],mass [g]\n0,1.5\n1,1.4\n"
    series = read_weighings(Source("run 3.csv", data))
    assert series.sha256 == hashlib.sha256(data).hexdigest()
    assert (series.name, series.source) == ("run 3", "run 3.csv")
    with pytest.raises(ValueError, match="read-only"):
        series.mass_kg[0] = 1.0
    with pytest.raises(dataclasses.FrozenInstanceError):
        series.name = "other"


def test_two_hundred_thousand_lines():
    n = 200_000
    seconds = np.arange(n) * 5
    grams = 50.0 - np.arange(n) * 1e-4
    rows = "".join(f"{t};{m:.4f}\n".replace(".", ",") for t, m in zip(seconds, grams, strict=True))
    series = read("Zeit [s];Masse [g]\n" + rows)
    assert np.array_equal(series.time_s, seconds)
    np.testing.assert_allclose(series.mass_kg, grams / 1000, rtol=1e-12)
