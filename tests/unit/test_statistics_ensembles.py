"""Ensembles: seeded, with the margins and correlations asked for; bands and mapping in order."""

import math
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bibula.quantities.errors import InputError
from bibula.statistics.ensembles import (
    draw,
    effective_size,
    map_members,
    quantile_band,
    weighted_quantile,
)

R = np.array([[1.0, 0.8], [0.8, 1.0]])


def test_same_seed_same_draws_other_seed_others():
    one, same, other = (draw([1.0, 2.0], u=[0.1, 0.3], n=16, seed=s) for s in (4, 4, 5))
    assert (one == same).all()
    assert not (one == other).any()


@settings(max_examples=20, deadline=None)
@given(n=st.integers(8, 64), seed=st.integers(0, 999), median=st.floats(1e-6, 1e6), rel=st.floats(0.01, 1.0))
def test_lognormal_margin_is_close_with_few_members(n, seed, median, rel):
    x = np.log(draw([median], u=[rel * median], n=n, seed=seed)[:, 0] / median)
    sd = np.sqrt(np.log(1 + rel**2))
    assert abs(np.median(x)) < 4.0 * sd / n
    assert np.quantile(x, 0.975) == pytest.approx(1.96 * sd, abs=1.2 * sd)


def test_small_ensemble_carries_the_correlation():
    x = np.log(draw([1.0, 5.0], u=[0.3, 1.0], correlations=R, n=32, seed=1))
    assert np.corrcoef(x.T)[0, 1] == pytest.approx(0.8, abs=0.03)


def test_covariance_is_reproduced():
    c = np.array([[0.04, -0.015], [-0.015, 0.01]])
    x = draw([3.0, -1.0], covariance=c, spread="normal", n=4000, seed=2)
    assert np.cov(x.T) == pytest.approx(c, rel=0.03)
    assert x.mean(axis=0) == pytest.approx([3.0, -1.0], abs=2e-3)


def test_zero_width_stays_at_the_median():
    x = draw([2.0, 3.0], u=[0.0, 0.3], n=10, seed=1)
    assert x[:, 0] == pytest.approx(2.0)


def test_mixed_spreads():
    x = draw([2.0, -3.0], u=[0.5, 0.5], spread=["lognormal", "normal"], n=200, seed=1)
    assert x[:, 0].min() > 0.0
    assert x[:, 1].mean() == pytest.approx(-3.0, abs=0.02)


@pytest.mark.parametrize(
    "bad",
    [
        {"u": [0.1, 0.1], "correlations": [[1.0, 1.4], [1.4, 1.0]]},
        {"u": [0.1]},
        {"u": [-0.1, 0.1]},
        {},
        {"covariance": [[1.0, 0.2], [0.3, 1.0]]},
    ],
)
def test_nonsense_is_refused(bad):
    with pytest.raises(InputError):
        draw([1.0, 1.0], n=4, seed=1, **bad)


def test_lognormal_of_a_negative_median_is_refused():
    with pytest.raises(InputError, match="above zero"):
        draw([-1.0], u=[0.1], n=4, seed=1)


@settings(max_examples=25, deadline=None)
@given(values=st.lists(st.floats(-1e3, 1e3), min_size=1, max_size=30), q=st.floats(0, 1))
def test_equal_weights_are_hazens_quantile(values, q):
    ours = weighted_quantile(values, q)
    assert ours == pytest.approx(np.quantile(values, q, method="hazen"), abs=1e-9)
    assert weighted_quantile(values, q, weights=np.full(len(values), 7.0)) == pytest.approx(float(ours), abs=1e-9)


@settings(max_examples=25, deadline=None)
@given(data=st.data())
def test_weighted_quantiles_rise_and_stay_inside(data):
    n = data.draw(st.integers(1, 20))
    values = np.array(data.draw(st.lists(st.floats(-10, 10), min_size=n, max_size=n)))
    weights = np.array(data.draw(st.lists(st.floats(0.0, 5.0), min_size=n, max_size=n))) + 1e-3
    q = weighted_quantile(values, np.linspace(0, 1, 11), weights)
    assert (np.diff(q) >= -1e-12).all()
    assert values.min() - 1e-9 <= q[0]
    assert q[-1] <= values.max() + 1e-9


def test_member_without_weight_does_not_count():
    assert weighted_quantile([1.0, 2.0, 99.0], 1.0, [1.0, 1.0, 0.0]) == pytest.approx(2.0)


def test_band_over_curves_has_one_value_per_time():
    curves = np.arange(41)[:, None] + np.array([0.0, 100.0, 200.0])
    low, mid, high = quantile_band(curves)
    assert mid == pytest.approx([20.0, 120.0, 220.0])
    assert ((low < mid) & (mid < high)).all()


def test_effective_size():
    assert effective_size([2.0, 2.0, 2.0]) == pytest.approx(3.0)
    assert effective_size([1.0, 0.0]) == pytest.approx(1.0)


@pytest.mark.parametrize("chunk", [None, 1, 4, 100])
def test_mapping_keeps_the_order_here_and_in_threads(chunk):
    members = list(range(23))
    seen = []
    here = map_members(lambda m: m * m, members, chunk=chunk, progress=lambda d, n: seen.append((d, n)))
    with ThreadPoolExecutor(2) as pool:
        there = map_members(lambda m: m * m, members, pool, chunk)
    assert here == there == [m * m for m in members]
    assert seen[-1] == (23, 23)


def test_mapping_runs_in_processes():
    members = [float(i) for i in range(12)]
    with ProcessPoolExecutor(1) as pool:
        assert map_members(math.sqrt, members, pool, chunk=5) == [math.sqrt(m) for m in members]


def test_mapping_nothing_gives_nothing():
    assert map_members(abs, []) == []


def test_a_failing_member_stops_the_run():
    def bad(m):
        if m == 3:
            raise ValueError("three")
        return m

    with ThreadPoolExecutor(1) as pool, pytest.raises(ValueError, match="three"):
        map_members(bad, list(range(50)), pool, chunk=1)


def test_progress_can_stop_the_run():
    def stop(done, total):
        raise KeyboardInterrupt

    with ThreadPoolExecutor(1) as pool, pytest.raises(KeyboardInterrupt):
        map_members(abs, list(range(50)), pool, chunk=1, progress=stop)
