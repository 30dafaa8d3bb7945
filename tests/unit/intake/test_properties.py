"""Laws of the readers: round trips through random dialects, and no other error than ours."""

from __future__ import annotations

import contextlib
import io

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bibula.intake import (
    Source,
    read_columns,
    read_room_log,
    read_weighing_columns,
    read_weighing_groups,
    read_weighings,
)
from bibula.intake.numbers import convert, decide_decimal, marks_of, take_apart
from bibula.quantities.errors import InputError, Place

ENCODINGS = {"utf-8": b"", "utf-16-le": b"\xff\xfe", "utf-16-be": b"\xfe\xff"}
READERS = (
    read_weighings,
    read_weighing_columns,
    lambda source: read_weighing_groups(source, by=1),
    read_room_log,
    lambda source: read_columns(source, {"a": 1, "b": 2}),
)


@st.composite
def dialects(draw):
    """Separator, decimal mark, units, encoding, line end, header place, so that the file says all."""
    separator = draw(st.sampled_from([";", "\t", "|", ",", "  "]))
    decimal = draw(st.sampled_from([".", ","])) if separator != "," else "."
    return {
        "separator": separator,
        "decimal": decimal,
        "time_unit": draw(st.sampled_from(["s", "min", "h"])),
        "mass_unit": draw(st.sampled_from(["g", "mg", "kg"])),
        "encoding": draw(st.sampled_from(sorted(ENCODINGS))),
        "end": draw(st.sampled_from(["\n", "\r\n", "\r"])),
        "in_cells": draw(st.booleans()),
        "keys": draw(st.booleans()),
    }


SERIES = st.lists(st.tuples(st.integers(1, 10**6), st.integers(0, 10**8)), min_size=2, max_size=12)


def write(pairs, d):
    """Times in 1e-4 of the unit, masses in 1e-5 of theirs; four and five decimals leave no doubt of the mark."""
    units = ("", "") if not d["in_cells"] else (f" {d['time_unit']}", f" {d['mass_unit']}")
    heads = ("time", "mass") if d["in_cells"] else (f"time [{d['time_unit']}]", f"mass [{d['mass_unit']}]")
    lines = ["Sample: test piece"] if d["keys"] else []
    lines.append(d["separator"].join(heads))
    for time, mass in pairs:
        cells = (f"{time / 1e4:.4f}{units[0]}", f"{mass / 1e5:.5f}{units[1]}")
        lines.append(d["separator"].join(cell.replace(".", d["decimal"]) for cell in cells))
    return ENCODINGS[d["encoding"]] + (d["end"].join(lines) + d["end"]).encode(d["encoding"])


@settings(max_examples=120, deadline=None)
@given(SERIES, dialects())
def test_a_series_survives_any_dialect(steps, dialect):
    scale = {"kg": 1.0, "g": 1e-3, "mg": 1e-6}[dialect["mass_unit"]]
    masses = [mass if scale < 1 else mass / 10 // 1 for _, mass in steps]
    times = np.cumsum([step for step, _ in steps])
    source = Source("s.csv", write(list(zip(times, masses, strict=True)), dialect))
    series = read_weighings(source)
    seconds = times / 1e4 * {"s": 1, "min": 60, "h": 3600}[dialect["time_unit"]]
    np.testing.assert_allclose(series.time_s, seconds, rtol=1e-12)
    np.testing.assert_allclose(series.mass_kg, np.array(masses) / 1e5 * scale, rtol=1e-12, atol=1e-18)
    assert np.array_equal(read_weighings(source, **series.options).mass_kg, series.mass_kg)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(1, 11 * 3600), min_size=2, max_size=10), st.integers(0, 86399))
def test_clock_times_unwrap_over_any_number_of_midnights(steps, start):
    seconds = start + np.concatenate([[0], np.cumsum(steps)])
    rows = "".join(f"{t // 3600 % 24:02d}:{t // 60 % 60:02d}:{t % 60:02d},1.5\n" for t in seconds.tolist())
    series = read_weighings(Source("c.csv", ("time,mass [g]\n" + rows).encode()), clock="time of day")
    assert series.time_s.tolist() == (seconds - start).tolist()


@settings(max_examples=25, deadline=None)
@given(st.lists(st.floats(0, 10**5, allow_nan=False), min_size=1, max_size=8))
def test_workbook_numbers_come_back(grams):
    import openpyxl

    book = openpyxl.Workbook()
    book.active.append(["time [s]", "mass [g]"])
    for row, value in enumerate(grams):
        book.active.append([row, value])
    buffer = io.BytesIO()
    book.save(buffer)
    series = read_weighings(Source("b.xlsx", buffer.getvalue()))
    # openpyxl writes sixteen digits, one short of what every double needs.
    np.testing.assert_allclose(series.mass_kg, np.array(grams) * 1e-3, rtol=2e-15, atol=0)


@given(st.integers(0, 10**9), st.integers(0, 6), st.sampled_from(["", "'", " ", "\u202f"]), st.sampled_from([".", ","]))
def test_grouped_numbers_read_back(whole, places, group, mark):
    text = f"{whole:,}".replace(",", group) + (f"{mark}{'123456'[:places]}" if places else "")
    parts = take_apart(text)
    assert convert(parts, mark) == float(f"{whole}.{'123456'[:places] or '0'}")


@given(st.from_regex(r"\A[0-9]{1,5}[.,][0-9]{1,5}\Z"))
def test_a_single_mark_is_open_exactly_if_both_readings_exist(body):
    readings = {convert(take_apart(body), mark) for mark in ".,"} - {None}
    assert marks_of(body).startswith("?") == (len(readings) == 2)


@given(st.from_regex(r"\A[1-9][0-9]{0,2},[0-9]{3}\Z"), st.sampled_from([",", "\t", "|", "whitespace"]))
def test_open_comma_is_never_decided_without_evidence(cell, separator):
    with pytest.raises(InputError, match="can be"):
        decide_decimal([([cell] * 3, lambda row: Place(line=row))], [["1", "2", "3"]], separator, None)


@settings(max_examples=150, deadline=None)
@given(st.binary(max_size=400))
def test_random_bytes_give_only_our_error(data):
    for reader in READERS:
        with contextlib.suppress(InputError):
            reader(Source("x.csv", data))


WORDS = """0 1 2 3 4 5 6 7 8 9 . , ; | : - / + ? " # % = ' g kg s min h time mass T TARE date temp RH [ ] °C N D Z PM
2024-05-02 08:48 12.431 1e9 nan inf NA ² ٣ time[s],mass[g] time;T;RH"""
PIECES = st.sampled_from([*WORDS.split(), "\n", "\n", "\t", " ", "\ufeff", "12.431 g", "\ntime [s],mass [g]\n"])


@settings(max_examples=300, deadline=None)
@given(st.lists(PIECES, max_size=60))
def test_scrambled_pieces_give_only_our_error(pieces):
    source = Source("x.csv", "".join(pieces).encode())
    for reader in READERS:
        with contextlib.suppress(InputError):
            reader(source)


GOOD = "Sample: a\ntime [s];mass [g];status\n" + "".join(f"{t};{9 - t / 7:.3f};ok\n" for t in range(9))


@settings(max_examples=60, deadline=None)
@given(st.integers(0, len(GOOD)), st.sampled_from(["utf-8", "utf-16", "cp1252"]))
def test_a_cut_file_gives_our_error_or_a_beginning_of_the_truth(end, encoding):
    whole = read_weighings(Source("w.csv", GOOD.encode()))
    data = GOOD.encode(encoding)
    with contextlib.suppress(InputError):
        part = read_weighings(Source("w.csv", data[: int(end * len(data) / len(GOOD))]))
        count = len(part.time_s) - 1
        assert np.array_equal(part.time_s[:count], whole.time_s[:count])
        assert np.array_equal(part.mass_kg[:count], whole.mass_kg[:count])
