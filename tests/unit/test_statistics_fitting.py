"""The fitter: recovers known truths, honours priors, bounds and scales, and says when it cannot."""

import math
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bibula.quantities.errors import InputError
from bibula.statistics.fitting import Guess, fit, fit_curve, profile_interval
from bibula.statistics.lines import fit_line

T = np.linspace(1.0, 60.0, 25)


def decay(t, p):
    return p["a"] * np.exp(-p["k"] * t)


def noisy(seed=3, sd=0.02):
    return decay(T, {"a": 2.0, "k": 0.05}) + np.random.default_rng(seed).normal(0.0, sd, T.size)


@settings(max_examples=15, deadline=None)
@given(a=st.floats(0.1, 100.0), k=st.floats(0.01, 0.3))
def test_noise_free_curve_is_recovered(a, k):
    r = fit_curve(decay, T, decay(T, {"a": a, "k": k}), {"a": Guess(1.0, scale="log"), "k": Guess(0.05, scale="log")})
    assert r["a"] == pytest.approx(a, rel=1e-6)
    assert r["k"] == pytest.approx(k, rel=1e-6)


@settings(max_examples=10, deadline=None)
@given(factor=st.floats(1e-6, 1e6))
def test_unit_of_y_scales_estimate_and_error(factor):
    start = {"a": Guess(1.0, scale="log"), "k": Guess(0.03, scale="log")}
    one = fit_curve(decay, T, noisy(), start)
    other = fit_curve(decay, T, noisy() * factor, {**start, "a": Guess(factor, scale="log")})
    assert other["a"] == pytest.approx(one["a"] * factor, rel=1e-6)
    assert other.error("a") == pytest.approx(one.error("a") * factor, rel=1e-5)
    assert other.error("k") == pytest.approx(one.error("k"), rel=1e-5)


def test_log_and_linear_scales_agree_on_estimate_and_error():
    log = fit_curve(decay, T, noisy(), {"a": Guess(1.0, scale="log"), "k": Guess(0.03, scale="log")})
    linear = fit_curve(decay, T, noisy(), {"a": Guess(1.0), "k": Guess(0.03)})
    assert log.estimates == pytest.approx(linear.estimates, rel=1e-7)
    assert log.standard_errors == pytest.approx(linear.standard_errors, rel=1e-5)
    assert log.log_standard_errors == pytest.approx(linear.log_standard_errors, rel=1e-5)


def test_absolute_sigma_gives_linear_theory_error():
    r = fit(lambda p: (np.array([1.0, 2.0, 3.0]) - p["m"]) / 0.5, {"m": Guess(0.0)})
    assert r["m"] == pytest.approx(2.0)
    assert r.error("m") == pytest.approx(0.5 / math.sqrt(3.0))
    assert (r.chi2, r.dof, r.reduced_chi2) == (pytest.approx(8.0), 2, pytest.approx(4.0))


def test_scaled_error_comes_from_the_scatter():
    data = np.array([1.0, 2.0, 3.0])
    r = fit(lambda p: (data - p["m"]) / 7.0, {"m": Guess(0.0)}, scale_covariance=True)
    assert r.error("m") == pytest.approx(1.0 / math.sqrt(3.0))
    assert r.chi2 == pytest.approx(2.0 / 49.0)
    assert r.residuals == pytest.approx([-1 / 7, 0.0, 1 / 7], abs=1e-9)


def test_prior_is_weighed_like_a_reading():
    r = fit(lambda p: (np.array([4.0]) - p["m"]) / 1.0, {"m": Guess(0.0, prior=(2.0, 1.0))})
    assert r["m"] == pytest.approx(3.0)
    assert r.error("m") == pytest.approx(1.0 / math.sqrt(2.0))
    assert r.determined == pytest.approx([0.5])


def test_prior_alone_stays_and_is_called_undetermined():
    start = {"m": Guess(1.0), "idle": Guess(0.3, scale="log", prior=(math.log(0.2), 0.4))}
    r = fit(lambda p: np.array([1.0, 2.0]) - p["m"], start)
    assert r["idle"] == pytest.approx(0.2)
    assert r.log_standard_errors[1] == pytest.approx(0.4)
    assert r.determined[1] == pytest.approx(0.0, abs=1e-9)
    assert r.determined[0] == 1.0


def test_scaled_fit_with_prior_settles_on_the_scatter():
    data = np.random.default_rng(1).normal(5.0, 0.3, 200)
    r = fit(lambda p: data - p["m"], {"m": Guess(1.0, prior=(5.0, 100.0))}, scale_covariance=True)
    assert r.error_scale == pytest.approx(data.std(ddof=1), rel=1e-3)
    assert r.error("m") == pytest.approx(data.std(ddof=1) / math.sqrt(200), rel=1e-3)


def test_parameter_without_any_effect_is_reported():
    r = fit(lambda p: np.array([1.0, 2.0]) - p["m"], {"m": Guess(1.0), "idle": Guess(0.3)})
    assert any("not determined" in w for w in r.warnings)
    assert r.determined[1] == 0.0
    assert math.isinf(r.error("idle"))


def test_no_scatter_no_error():
    start = {"a": Guess(1.0), "b": Guess(1.0)}
    r = fit_curve(lambda x, p: p["a"] + p["b"] * x, [1.0, 2.0], [1.0, 2.5], start)
    assert r.values == pytest.approx({"a": -0.5, "b": 1.5})
    assert np.isinf(r.standard_errors).all()
    assert any("2 readings cannot" in w for w in r.warnings)


def test_scatter_scales_errors_beside_an_idle_parameter():
    data = np.array([1.0, 2.0, 3.0])
    r = fit(lambda p: data - p["m"], {"m": Guess(0.0), "idle": Guess(1.0)}, scale_covariance=True)
    assert r.error("m") == pytest.approx(1.0 / math.sqrt(3.0))


def test_twins_are_reported_as_correlated():
    x = np.linspace(0.0, 1.0, 9)
    r = fit_curve(lambda x, p: p["a"] * x + p["b"] * x**1.01, x, x, {"a": Guess(0.3), "b": Guess(0.3)})
    assert any("cannot be told apart" in w for w in r.warnings)


def test_bound_is_kept_and_reported():
    r = fit(lambda p: np.array([1.0, 2.0]) - p["m"], {"m": Guess(0.5, low=0.0, high=1.0)})
    assert r["m"] == pytest.approx(1.0, abs=1e-6)
    assert any("bound" in w for w in r.warnings)


def test_too_few_evaluations_are_reported():
    start = {"a": Guess(50.0, scale="log"), "k": Guess(3.0, scale="log")}
    r = fit(lambda p: noisy() - decay(T, p), start, max_evaluations=2)
    assert not r.converged
    assert "did not converge" in r.warnings[0]


def test_more_starts_find_the_deeper_valley():
    def residuals(p):
        return np.array([1.0 + p["x"] ** 2 * (p["x"] - 3.0) ** 2 + 0.1 * (p["x"] - 3.0) ** 2])

    near = fit(residuals, {"x": Guess(-0.5)})
    both = fit(residuals, {"x": Guess(-0.5)}, more_starts=[{"x": 3.5}])
    assert abs(near["x"]) < 0.5
    assert both["x"] == pytest.approx(3.0, abs=1e-3)


def test_profile_interval_agrees_with_linear_theory():
    data = np.array([1.0, 2.0, 3.0])
    start = {"m": Guess(0.0)}
    for scaled, factor in ((False, 1.959964), (True, 4.302653)):
        r = fit(lambda p: data - p["m"], start, scale_covariance=scaled)
        interval = profile_interval(lambda p: data - p["m"], start, r, "m")
        assert interval.high - 2.0 == pytest.approx(factor / math.sqrt(3.0), rel=2e-3)
        assert 2.0 - interval.low == pytest.approx(factor / math.sqrt(3.0), rel=2e-3)


def test_profile_interval_is_skew_where_the_data_are():
    x = np.array([1.0, 2.0, 3.0, 5.0, 7.0, 10.0])  # NIST BoxBOD
    y = np.array([109.0, 149.0, 149.0, 191.0, 213.0, 224.0])
    start = {"a": Guess(200.0), "k": Guess(0.5)}

    def residuals(p):
        return y - p["a"] * -np.expm1(-p["k"] * x)

    r = fit(residuals, start, scale_covariance=True)
    interval = profile_interval(residuals, start, r, "k")
    assert interval.low < r["k"] < interval.high
    assert interval.high - r["k"] > 1.2 * (r["k"] - interval.low)


def test_importing_the_fitter_does_not_load_lmfit():
    code = "import sys, bibula.statistics.fitting; sys.exit('lmfit' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_profile_reaching_a_bound_says_so():
    start = {"m": Guess(0.3, low=0.0, high=5.0)}
    r = fit(lambda p: np.array([0.3]) - p["m"], start)
    interval = profile_interval(lambda p: np.array([0.3]) - p["m"], start, r, "m")
    assert interval.low == 0.0
    assert interval.high == pytest.approx(0.3 + 1.959964, rel=2e-3)
    assert any("below" in w for w in interval.warnings)


def test_unfittable_start_is_a_plain_sentence():
    with pytest.raises(InputError, match="no finite number"):
        fit(lambda p: np.array([math.nan]) * p["m"], {"m": Guess(1.0)})
    with pytest.raises(InputError, match="outside"):
        fit(lambda p: np.array([p["m"]]), {"m": Guess(2.0, high=1.0)})
    with pytest.raises(InputError, match="no parameter 'z'"):
        fit(lambda p: np.array([p["m"]]), {"m": Guess(2.0)}).error("z")


@settings(max_examples=20, deadline=None)
@given(slope=st.floats(-50, 50), intercept=st.floats(-50, 50))
def test_line_is_recovered(slope, intercept):
    x = np.array([0.0, 1.0, 4.0, 9.0])
    line = fit_line(x, intercept + slope * x)
    assert line.slope == pytest.approx(slope, abs=1e-10)
    assert line.intercept == pytest.approx(intercept, abs=1e-10)


def test_line_with_sigma_agrees_with_the_general_fitter():
    x, s = np.array([0.0, 1.0, 2.0, 5.0]), np.array([0.1, 0.2, 0.1, 0.3])
    y = np.array([1.0, 2.3, 2.9, 6.4])
    line = fit_line(x, y, s)
    r = fit_curve(lambda x, p: p["b"] + p["m"] * x, x, y, {"b": Guess(0.0), "m": Guess(0.5)}, sigma=s)
    assert (line.intercept, line.slope) == pytest.approx(tuple(r.estimates))
    assert (line.intercept_u, line.slope_u) == pytest.approx(tuple(r.standard_errors))
    assert line.covariance == pytest.approx(r.covariance[0, 1])


def test_line_through_one_place_is_refused():
    with pytest.raises(InputError):
        fit_line([1.0, 1.0], [0.0, 2.0])
