"""Absorption standards and drying curves: arithmetic, warnings, refusals."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bibula.formulas import drying_curves as curves
from bibula.formulas import standards
from bibula.quantities.errors import InputError

few = settings(max_examples=30, deadline=None)
TIMES = np.array([5.0, 10.0, 20.0, 30.0, 45.0, 60.0])


@few
@given(st.floats(0.001, 3.0), st.floats(0.0, 0.5))
def test_iso15148_finds_slope_and_intercept(slope: float, intercept: float) -> None:
    line = standards.absorption_coefficient(TIMES, intercept + slope * np.sqrt(TIMES))
    assert line.kind == "A"
    assert line.slope == pytest.approx(slope, rel=1e-9)
    assert line.intercept == pytest.approx(intercept, abs=1e-9)
    assert line.per_root_hour == pytest.approx(60.0 * slope, rel=1e-9)


def test_a_curve_that_bends_is_type_b_with_a_warning() -> None:
    line = standards.absorption_coefficient(TIMES, np.minimum(0.8 * np.sqrt(TIMES), 3.6))
    assert line.kind == "B"
    assert line.slope == pytest.approx(3.6 / np.sqrt(60.0))
    assert np.isnan(line.standard_error)
    assert "bends" in line.warnings[0]


def test_the_user_may_insist_on_type_a() -> None:
    line = standards.absorption_coefficient(TIMES, np.minimum(0.8 * np.sqrt(TIMES), 3.6), kind="A")
    assert line.kind == "A"
    assert line.warnings


@pytest.mark.parametrize(
    ("times", "uptake", "words"),
    [
        ([1.0, 2.0], [1.0, 2.0], "at least three"),
        ([0.0, 1.0, 2.0], [0.0, 1.0, 2.0], "time 0"),
        ([1.0, 3.0, 2.0], [1.0, 2.0, 3.0], "do not rise"),
        ([1.0, 2.0, 3.0], [1.0, 2.0], "one value for every time"),
        ([1.0, 2.0, 3.0], [1.0, float("nan"), 2.0], "uptake is nan"),
        ([], [], "no readings"),
    ],
)
def test_spoiled_series_are_refused(times, uptake, words: str) -> None:
    with pytest.raises(InputError, match=words):
        standards.absorption_coefficient(times, uptake)


def test_c1585_refuses_a_scattered_line() -> None:
    times = [60.0, 600.0, 3600.0, 21600.0]
    line = standards.c1585_sorptivity(times, [0.0, 0.01, 0.01, 0.011], 0.00785)
    assert not line.accepted
    assert "below 0.98" in line.warnings[0]


def test_c1585_needs_readings_in_its_stretch() -> None:
    with pytest.raises(InputError, match="between 1 d and 7 d"):
        standards.c1585_sorptivity([60.0, 600.0, 3600.0], [0.0, 0.01, 0.02], 0.00785, "secondary")


def test_cobb_averages_specimens_with_a_standard_error() -> None:
    result = standards.cobb([0.001, 0.001], [0.00124, 0.00126])
    assert (result.mean, result.standard_error, result.n) == (pytest.approx(25.0), pytest.approx(1.0), 2)
    assert result.warnings == ()


def test_a_single_specimen_has_no_standard_error() -> None:
    assert np.isnan(standards.cobb(0.001, 0.00124).standard_error)


def test_cobb_warns_for_blotters_and_thin_papers_and_refuses_lost_mass() -> None:
    assert len(standards.cobb(0.001, 0.0012, grammage_g_m2=30.0, blotting_paper=True).warnings) == 2
    with pytest.raises(InputError, match="must not be below"):
        standards.cobb(0.0012, 0.001)


def test_slow_drops_and_few_strips_warn() -> None:
    assert "120 s" in standards.drop_absorbency([20.0, 130.0]).warnings[0]
    assert standards.klemm([0.02] * 3).warnings
    assert not standards.klemm([0.02] * 10).warnings


@few
@given(st.floats(0.07, 1.5))
def test_time_and_content_of_the_two_stage_curve_undo_each_other(x: float) -> None:
    shape = (1.5, 0.8, 0.06, 1e-4)
    assert curves.constant_then_falling(curves.time_constant_then_falling_s(x, *shape), *shape) == pytest.approx(x)


def test_the_two_stage_curve_has_no_corner_at_the_knee() -> None:
    shape = (1.5, 0.8, 0.06, 1e-4)
    t = 0.7 / 1e-4 + np.array([-1.0, 0.0, 1.0])
    before, after = np.diff(curves.constant_then_falling(t, *shape))
    assert before == pytest.approx(after, rel=1e-3)


def test_curves_are_special_cases_of_each_other() -> None:
    t = np.array([0.0, 100.0, 1000.0])
    assert np.allclose(curves.page(t, 1e-3, 1.0), curves.lewis(t, 1e-3))
    assert np.allclose(curves.midilli(t, 1.0, 1e-3, 1.0, 0.0), curves.henderson_pabis(t, 1.0, 1e-3))
    assert np.allclose(curves.two_term(t, 0.4, 1e-3, 0.6, 1e-3), curves.lewis(t, 1e-3))


def test_moisture_ratio_runs_from_one_to_zero() -> None:
    assert curves.moisture_ratio(np.array([1.5, 0.06]), 1.5, 0.06).tolist() == [1.0, 0.0]
    with pytest.raises(InputError, match="not above"):
        curves.moisture_ratio(1.0, 0.05, 0.06)


def test_contents_out_of_order_are_refused() -> None:
    with pytest.raises(InputError, match="check their order"):
        curves.constant_then_falling(1.0, 0.5, 0.8, 0.06, 1e-4)
    with pytest.raises(InputError, match="never reached"):
        curves.time_constant_then_falling_s(0.06, 1.5, 0.8, 0.06, 1e-4)
