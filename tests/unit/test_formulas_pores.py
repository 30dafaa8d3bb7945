"""Pores and the absorption integral: limits, inverses, derivatives, scaling laws."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bibula.formulas import pores
from bibula.formulas.sorptivity import conductivity_scale, sorptivity
from bibula.quantities.errors import InputError

few = settings(max_examples=30, deadline=None)
MEDIAN, SPREAD = st.floats(1e3, 1e6), st.floats(0.3, 2.0)


@few
@given(st.floats(0.001, 0.999), MEDIAN, SPREAD)
def test_suction_undoes_saturation(saturation: float, median: float, spread: float) -> None:
    s = pores.lognormal_suction(saturation, median, spread)
    assert pores.lognormal_saturation(s, median, spread) == pytest.approx(saturation, rel=1e-9)


@few
@given(st.floats(1e2, 1e7), MEDIAN, SPREAD)
def test_slope_is_the_derivative(s: float, median: float, spread: float) -> None:
    h = 1e-5 * s
    numeric = (
        pores.lognormal_saturation(s + h, median, spread) - pores.lognormal_saturation(s - h, median, spread)
    ) / (2 * h)
    assert pores.lognormal_saturation_slope(s, median, spread) == pytest.approx(
        numeric, rel=1e-4, abs=1e-10 / s
    )  # rounding of S over the step


def test_full_at_no_suction_half_full_at_the_median() -> None:
    assert pores.lognormal_saturation(0.0, 3e4, 1.0) == 1.0
    assert pores.lognormal_saturation(3e4, 3e4, 1.0) == pytest.approx(0.5)
    assert pores.lognormal_conductivity(0.0, 3e4, 1.0) == 1.0
    assert pores.lognormal_saturation_slope(0.0, 3e4, 1.0) == 0.0


@pytest.mark.parametrize("curve", [pores.lognormal_saturation, pores.lognormal_conductivity])
def test_curves_fall_with_suction_and_stay_in_0_to_1(curve) -> None:
    values = curve(np.geomspace(1.0, 1e9, 300), 3e4, 1.0)
    assert np.all(np.diff(values) <= 0.0)
    assert np.all((values >= 0.0) & (values <= 1.0))


def test_van_genuchten_ends() -> None:
    assert pores.van_genuchten_saturation(0.0, 1e-5, 2.0) == 1.0
    assert pores.van_genuchten_conductivity(np.array([0.0, 1.0]), 2.0).tolist() == [0.0, 1.0]


@few
@given(st.floats(1e-9, 1e-3), st.floats(0.0, 85.0))
def test_radius_undoes_suction(radius: float, angle: float) -> None:
    s = pores.capillary_suction_pa(radius, 0.0728, angle)
    assert pores.capillary_radius_m(s, 0.0728, angle) == pytest.approx(radius)


@pytest.mark.parametrize("bad", [float("nan"), -1.0])
def test_a_negative_suction_or_no_number_is_refused(bad: float) -> None:
    with pytest.raises(InputError, match="suction"):
        pores.lognormal_saturation(np.array([1.0, bad]), 3e4, 1.0)


def material(n: int = 800, median: float = 3e4) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    s = np.geomspace(1e9, 1.0, n)
    return s, 600.0 * pores.lognormal_saturation(s, median, 1.0), 1e-9 * pores.lognormal_conductivity(s, median, 1.0)


@few
@given(st.floats(1e-3, 1e3))
def test_absorption_grows_with_the_root_of_conductivity(factor: float) -> None:
    s, w, k = material(300)
    assert sorptivity(s, w, factor * k, 1e8) == pytest.approx(np.sqrt(factor) * sorptivity(s, w, k, 1e8), rel=1e-9)


@few
@given(st.floats(0.1, 10.0))
def test_absorption_grows_with_the_root_of_water(factor: float) -> None:
    s, w, k = material(300)
    assert sorptivity(s, factor * w, k, 1e8) == pytest.approx(np.sqrt(factor) * sorptivity(s, w, k, 1e8), rel=1e-9)


def test_a_scaled_material_drinks_as_measured() -> None:
    s, w, k = material()
    scale = conductivity_scale(0.8, s, w, k, 1e8)
    assert sorptivity(s, w, scale * k, 1e8) == pytest.approx(0.8, rel=1e-9)


def test_a_finer_table_changes_the_fifth_digit() -> None:
    coarse, fine = (sorptivity(*material(n), 1e8) for n in (1000, 8000))
    assert coarse == pytest.approx(fine, rel=3e-5)


def test_a_wetter_start_drinks_less() -> None:
    s, w, k = material()
    starts = [sorptivity(s, w, k, start) for start in (1e8, 1e5, 1e4, 1e3)]
    assert np.all(np.diff(starts) < 0.0)


def test_a_material_without_water_takes_none() -> None:
    s, w, k = material(50)
    assert sorptivity(s, 0.0 * w, k, 1e8) == 0.0
    assert sorptivity(s, w, 0.0 * k, 1e8) == 0.0
    with pytest.raises(InputError, match="take up no water"):
        conductivity_scale(0.8, s, 0.0 * w, k, 1e8)


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda s, w, k: (s[::-1], w, k), "does not fall"),
        (lambda s, w, k: (s, w[::-1], k), "order the rows"),
        (lambda s, w, k: (s, w[:-1], k), "differ in length"),
        (lambda s, w, k: (s, w, k * np.nan), "conductivity is nan"),
    ],
)
def test_spoiled_columns_are_refused(spoil, words: str) -> None:
    with pytest.raises(InputError, match=words):
        sorptivity(*spoil(*material(50)), 1e8)


@pytest.mark.parametrize("start", [1e10, 0.5, float("nan")])
def test_a_start_outside_the_table_is_refused(start: float) -> None:
    with pytest.raises(InputError, match="outside the table"):
        sorptivity(*material(50), start)


def test_the_three_functions_at_once_are_the_three_functions() -> None:
    suction = np.geomspace(1.0, 1e8, 50)
    saturation, slope, conductivity = pores.lognormal_functions(np.log(suction), 3e5, 1.1)
    assert np.allclose(saturation, pores.lognormal_saturation(suction, 3e5, 1.1), rtol=1e-12)
    assert np.allclose(slope, suction * pores.lognormal_saturation_slope(suction, 3e5, 1.1), rtol=1e-12)
    assert np.allclose(conductivity, pores.lognormal_conductivity(suction, 3e5, 1.1), rtol=1e-12)
