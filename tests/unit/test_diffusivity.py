"""Diffusivity from profiles: the similarity solver's laws, and fits that give back what was put in."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bibula.evidence.diffusivity import (
    LognormalDiffusivity,
    exponential_diffusivity,
    fit_exponential,
    fit_lognormal,
    similarity_profile,
    sorptivity_from_profile,
)
from bibula.formulas.pores import lognormal_conductivity, lognormal_saturation
from bibula.formulas.sorptivity import sorptivity
from bibula.quantities.errors import InputError


@settings(max_examples=15, deadline=None)
@given(d=st.floats(1e-10, 1e-4), b=st.floats(0.0, 12.0), width=st.floats(0.05, 0.9))
def test_sorptivity_grows_with_the_root_of_d_and_with_the_width(d, b, width):
    one = similarity_profile(exponential_diffusivity(1.0, b), 0.0, 1.0, 150).sorptivity_m_s05
    other = similarity_profile(exponential_diffusivity(d, b), 0.05, 0.05 + width, 150).sorptivity_m_s05
    assert other == pytest.approx(one * math.sqrt(d) * width, rel=1e-9)


@settings(max_examples=10, deadline=None)
@given(b=st.floats(0.0, 12.0))
def test_area_under_the_profile_is_the_sorptivity(b):
    p = similarity_profile(exponential_diffusivity(1.0, b), 0.1, 0.6)
    area = np.trapezoid(p.boltzmann_m_s05[::-1], p.theta[::-1])
    assert area == pytest.approx(p.sorptivity_m_s05, rel=1e-3)
    assert (np.diff(p.boltzmann_m_s05) >= 0.0).all()


def test_lognormal_agrees_with_the_integral_over_suction():
    spread, bend = 0.8, 0.5
    s = np.geomspace(1e5, 1e-5, 6000)
    water, k = 1000.0 * lognormal_saturation(s, 1.0, spread), lognormal_conductivity(s, 1.0, spread, bend)
    from_suction = sorptivity(s, water, k, 1e4) / 1000.0 * math.sqrt(1000.0)
    ours = similarity_profile(LognormalDiffusivity(1.0, spread, bend), 0.0, 1.0).sorptivity_m_s05
    assert ours == pytest.approx(from_suction, rel=2e-5)


def test_integrals_of_the_lognormal_agree_with_its_values():
    d = LognormalDiffusivity(3e-6, 0.7, 1.0)
    share = np.concatenate([[0.0], np.linspace(0.3, 0.6, 31), [1.0]])
    middle = 0.5 * (share[1:-2] + share[2:-1])
    assert d.integrals(share)[1:-1] == pytest.approx(d(middle) * 0.01, rel=1e-3)


def test_exponential_fit_gives_back_its_parameters():
    truth = similarity_profile(exponential_diffusivity(2e-6, 5.0), 0.02, 0.6)
    o = np.linspace(0.0, 1.2 * truth.boltzmann_m_s05[-2], 60)
    fit = fit_exponential(o, truth.theta_at(o), 0.02, 0.6)
    assert fit.fit["steepness"] == pytest.approx(5.0, rel=0.01)
    assert fit.scale_m2_s == pytest.approx(2e-6, rel=0.01)
    assert fit.sorptivity.value == pytest.approx(truth.sorptivity_m_s05, rel=1e-3)
    assert fit.rms < 1e-3


def test_lognormal_fit_gives_back_its_parameters():
    truth = similarity_profile(LognormalDiffusivity(2e-6, 0.6, 0.5), 0.02, 0.6)
    o = np.linspace(0.0, 1.1 * truth.boltzmann_m_s05[-60], 60)
    fit = fit_lognormal(o, truth.theta_at(o), 0.02, 0.6)
    assert fit.fit["spread"] == pytest.approx(0.6, rel=0.02)
    assert fit.sorptivity.value == pytest.approx(truth.sorptivity_m_s05, rel=1e-3)


def test_noise_is_not_called_misfit_and_interval_covers():
    truth = similarity_profile(exponential_diffusivity(2e-6, 3.0), 0.0, 0.5)
    o = np.linspace(0.0, 3e-3, 60)
    fit = fit_exponential(o, truth.theta_at(o) + np.random.default_rng(1).normal(0, 0.01, 60), 0.0, 0.5)
    assert fit.rms == pytest.approx(0.01, rel=0.3)
    assert abs(fit.lag_correlation) < 0.4
    assert fit.sorptivity.low < truth.sorptivity_m_s05 < fit.sorptivity.high


def test_wrong_model_is_said():
    o = np.linspace(0.0, 1.5, 60)
    step = np.where(o < 1.0, 0.5 - 0.3 * o, 0.0)
    assert any("model's" in w for w in fit_exponential(o, step, 0.0, 0.5).warnings)


def test_sorptivity_of_readings_carries_the_wet_face_back():
    o = np.array([0.2, 0.4, 0.6, 0.8, 1.0, 1.2])
    theta = np.array([0.5, 0.5, 0.5, 0.5, 0.1, 0.1])
    assert sorptivity_from_profile(o, theta, 0.1, 0.5).value == pytest.approx(0.4 * 0.8 + 0.5 * 0.2 * 0.4)
    assert sorptivity_from_profile(o[:5], np.full(5, 0.5), 0.1, 0.5).warnings


@pytest.mark.parametrize("bad", [lambda s: -s, lambda s: s * np.nan, np.zeros_like])
def test_impossible_diffusivity_is_refused(bad):
    with pytest.raises(InputError, match="diffusivity"):
        similarity_profile(bad, 0.0, 1.0)


def test_unsorted_profile_is_refused():
    with pytest.raises(InputError, match="do not rise"):
        sorptivity_from_profile([0.0, 2.0, 1.0, 3.0, 4.0], [0.5] * 5, 0.0, 0.5)
