"""The search for costly models against the exact answer of a straight one, and a crooked one against its profile."""

from __future__ import annotations

import math

import numpy as np
import pytest

from bibula.quantities.errors import InputError, ValidityError
from bibula.statistics.costly import fit_costly, profile_costly, profile_moments
from bibula.statistics.parameters import Guess

X = np.linspace(0.1, 3.0, 15)
START = {
    "a": Guess(1.0, 1e-3, 1e3, "log", (0.0, 2.0)),
    "b": Guess(1.0, 1e-3, 1e3, "log", (0.0, 2.0)),
}


def _decay(p):
    return p["a"] * np.exp(-p["b"] * X)


def _residuals(truth, sd=0.01):
    data = _decay(truth)
    return lambda p: (data - _decay(p)) / sd


def test_the_truth_is_found_in_few_runs():
    found = fit_costly(_residuals({"a": 3.0, "b": 0.4}), START)
    assert found.result["a"] == pytest.approx(3.0, rel=2e-3)
    assert found.result["b"] == pytest.approx(0.4, rel=2e-3)
    assert found.result.n_evaluations < 40
    assert found.result.converged


def test_errors_are_those_of_the_straight_model():
    found = fit_costly(_residuals({"a": 3.0, "b": 0.4}), START)
    jac = np.column_stack([-_decay({"a": 3.0, "b": 0.4}), 0.4 * X * _decay({"a": 3.0, "b": 0.4})]) / 0.01
    exact = np.linalg.inv(jac.T @ jac + np.eye(2) / 4.0)
    # one-sided differences of width 0.03 know the slope to 3 %
    assert found.result.covariance == pytest.approx(exact, rel=0.08)


def test_integration_noise_does_not_lead_it_astray():
    rng = np.random.default_rng(5)
    exact = _residuals({"a": 3.0, "b": 0.4})
    found = fit_costly(lambda p: exact(p) + 0.05 * rng.standard_normal(len(X)), START)
    assert abs(found.result["b"] - 0.4) < 3.0 * found.result.error("b")


def test_a_place_without_an_answer_is_stepped_back_from():
    exact = _residuals({"a": 3.0, "b": 0.4})

    def patchy(p):
        if p["a"] > 3.5:
            raise ValidityError("not here")
        return exact(p)

    assert fit_costly(patchy, START).result["a"] == pytest.approx(3.0, rel=5e-3)


def test_no_answer_at_the_start_is_said():
    with pytest.raises(InputError, match="no answer at its starting values"):
        fit_costly(lambda p: np.full(3, np.nan), START)


def test_every_parameter_needs_a_prior():
    with pytest.raises(InputError, match="no prior"):
        fit_costly(_residuals({"a": 1.0, "b": 1.0}), {"a": Guess(1.0)})


def test_another_start_is_tried_where_the_first_ends_badly():
    def two_valleys(p):
        q = math.log(p["a"])
        return np.array([3.0 * (q**2 - 1.0) * (2.0 + 0.5 * q - 1.5), 3.0 * (q + 1.0)] * 3)

    wide = {"a": Guess(math.e, 1e-3, 1e3, "log", (0.0, 10.0))}
    found = fit_costly(two_valleys, wide, more_starts=({"a": 0.3},), poor=1.0)
    assert found.result["a"] == pytest.approx(math.exp(-1.0), rel=0.02)


def test_a_profile_of_a_straight_model_is_the_standard_error():
    residuals = _residuals({"a": 3.0, "b": 0.4})
    found = fit_costly(residuals, START)
    p = profile_costly(residuals, found, "b")
    low, high = found.result.interval("b")
    assert (p.low, p.high) == (pytest.approx(low, rel=0.03), pytest.approx(high, rel=0.03))


def test_a_one_sided_bound_gives_the_moments_of_the_truncated_prior():
    wall = {"a": Guess(2.0, 1e-4, 1e4, "log", (0.0, 1.0)), "b": Guess(1.0, 1e-3, 1e3, "log", (0.0, 0.5))}

    def bounded(p):  # the data only say that ln a is not below 0.5
        return np.array([100.0 * max(0.5 - math.log(p["a"]), 0.0), 0.0])

    found = fit_costly(bounded, wall)
    mean, sd = profile_moments(bounded, found, "a")
    # a standard normal above 0.5: mean phi/Q = 1.1411, variance 1 + 0.5 m - m^2 (computed independently)
    assert mean == pytest.approx(1.1411, abs=0.06)
    assert sd == pytest.approx(math.sqrt(1 + 0.5 * 1.1411 - 1.1411**2), abs=0.06)
