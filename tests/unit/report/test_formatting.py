"""Numbers as words: sensible digits, whole sentences, nothing lost."""

import math

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from bibula.quantities.errors import InputError
from bibula.quantities.values import Estimate
from bibula.report import formatting as f


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (7, "7 s"),
        (44, "45 s"),
        (90, "90 s"),
        (104, "100 s"),
        (240, "4 min"),
        (38 * 60, "40 min"),
        (75 * 60, "75 min"),
        (2 * 3600, "2 h"),
        (2.5 * 3600, "2 h 30 min"),
        (14 * 3600, "14 h"),
        (84 * 3600, "3.5 days"),
        (math.nan, "not known"),
    ],
)
def test_durations_read_as_a_person_would_say_them(seconds, text):
    assert f.duration(seconds) == text


def _seconds(text):
    size = {"s": 1, "min": 60, "h": 3600, "days": 86400}
    words = text.split()
    return sum(float(n) * size[u] for n, u in zip(words[::2], words[1::2], strict=True))


@given(st.floats(5.0, 3e6))
@example(104.0)
@example(114.9)
@example(134.9)
def test_a_spoken_duration_is_within_an_eighth_of_the_true_one(seconds):
    assert _seconds(f.duration(seconds)) == pytest.approx(seconds, rel=0.125)


@given(st.floats(0.0, 1e6), st.floats(0.0, 1e6))
def test_a_longer_time_is_never_spoken_shorter(a, b):
    low, high = sorted((a, b))
    assert _seconds(f.duration(low)) <= _seconds(f.duration(high))


def test_a_time_comes_with_its_band():
    assert f.about(40 * 60, 25 * 60, 70 * 60) == "about 40 min (25 to 70 min)"
    assert f.about(4000, 50 * 60, 7200) == "about 65 min (50 min to 2 h)"


def test_a_time_not_reached_says_so():
    assert f.about(None, None, None) == "not within the plan"
    assert f.about(None, 79200, None) == "not within the plan (at the earliest 22 h)"
    assert f.about(68400, 50400, None) == "about 19 h (14 h to beyond the plan)"


def test_planned_times_are_hours_and_minutes():
    assert f.clock(1200) == "0:20"
    assert f.clock(93600) == "26:00"
    assert f.clock(30) == "0:00:30"


def test_digits_follow_the_band():
    assert f.banded(3.14159, 3.0, 3.3) == "3.1 (3.0 to 3.3)"
    assert f.banded(16.64, 12.0, 21.0) == "17 (12 to 21)"
    assert f.banded(-0.04, -3, 3) == "0 (-3 to 3)"


def test_shares_are_whole_per_cent():
    assert f.percent(Estimate(0.312, 0.24, 0.401)) == "31 % (24 to 40 %)"


def test_inch_changes_lengths_and_temperatures_only():
    assert (f.length(0.0254), f.length(0.0254, "inch")) == ("25 mm", "1.0 in")
    assert f.temperature(20.0, "inch") == "68.0 °F"
    assert f.mass_per_area(Estimate(12.3, 10.0, 14.0)) == "12 (10 to 14) g/m²"


def test_unknown_units_are_named():
    with pytest.raises(InputError, match="field 'units': 'cubits' is not a set of units; write metric or inch"):
        f.check_units("cubits")


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0, "0 s"),
        (12 * 60, "12 min"),
        (75 * 60, "75 min"),
        (105 * 60, "1:45 h"),
        (13500, "3:45 h"),
        (23 * 3600, "23 h"),
        (3 * 86400, "3 d"),
        (14 * 86400, "14 d"),
    ],
)
def test_a_heading_is_brief(seconds, text):
    assert f.brief(seconds) == text


@pytest.mark.parametrize(
    ("median", "low", "high", "text"),
    [
        (0, 0, 20, "at once"),
        (10, 0, 7200, "at once, in some runs up to 2 h"),
        (0, 0, math.inf, "at once, in some runs not within 3 days"),
        (18000, 10800, 32400, "about 5 h (3 to 9 h)"),
        (18000, 10800, math.inf, "within 5 h in half of the runs, in some not within 3 days"),
        (math.inf, 72000, math.inf, "not within 3 days in most runs, 20 h at the earliest"),
        (math.inf, math.inf, math.inf, "not within 3 days"),
    ],
)
def test_a_recovery_is_a_sentence_whatever_its_ends(median, low, high, text):
    assert f.recovery(Estimate(median, low, high, "s"), 3 * 86400.0) == text


def test_an_end_that_is_not_finite_is_beyond_the_plan():
    assert f.duration_band(3600.0, 60.0, math.inf) == ("about 60 min", "60 s to beyond the plan")
    assert f.duration_band(math.inf, 60.0, math.inf) == ("not within the plan", "at the earliest 60 s")


def test_a_moment_at_the_start_is_at_once():
    assert f.duration_band(0.0, 0.0, 13.0) == ("at once", "0 to 13 s")


def test_numbers_and_units_stay_on_one_line():
    kept = f.unbroken({"a": ["3 h 45 min", "0.8 kg/(m² √s)"]})
    assert kept == {"a": ["3\u00a0h 45\u00a0min", "0.8\u00a0kg/(m²\u00a0√s)"]}
