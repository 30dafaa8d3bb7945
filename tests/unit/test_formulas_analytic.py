"""Exact solutions: limits, joins and the equations they must satisfy."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bibula.formulas import analytic, en15026
from bibula.quantities.errors import InputError

few = settings(max_examples=30, deadline=None)


def test_early_and_late_series_join() -> None:
    below, above = analytic.slab_remaining(np.array([0.2 - 1e-9, 0.2 + 1e-9]))
    assert below == pytest.approx(above, abs=1e-8)


def test_nothing_has_left_at_time_zero() -> None:
    assert analytic.slab_remaining(0.0) == 1.0
    assert analytic.slab_remaining_with_resistance(0.0, 1.0) == 1.0
    assert analytic.semi_infinite_surface(0.0) == 0.0


@few
@given(st.floats(1e-3, 1e4))
def test_roots_satisfy_their_equation(biot: float) -> None:
    beta = analytic.biot_roots(biot, 5)
    assert np.allclose(beta * np.sin(beta), biot * np.cos(beta), atol=1e-7 * (1.0 + biot))
    assert np.all(np.diff(beta) > 0.0)


@pytest.mark.parametrize("fourier", [0.05, 0.3, 1.0])
def test_a_vanishing_resistance_gives_the_fixed_face(fourier: float) -> None:
    assert analytic.slab_remaining_with_resistance(fourier, 1e7) == pytest.approx(
        analytic.slab_remaining(fourier), rel=1e-4
    )


@pytest.mark.parametrize("fourier", [1.0, 50.0])
def test_a_small_biot_number_is_a_lumped_body(fourier: float) -> None:
    assert analytic.slab_remaining_with_resistance(fourier, 1e-4) == pytest.approx(np.exp(-1e-4 * fourier), rel=1e-4)


def test_a_symmetric_layer_dries_as_the_slab() -> None:
    layer = analytic.Layer(0.2, 1e-9, 1.0, 0.0, 0.0)
    time = 0.3 * 0.1**2 / 1e-9
    assert analytic.layer_mean(time, layer) == pytest.approx(analytic.slab_remaining(0.3), rel=1e-9)


def test_the_layer_mean_is_the_mean_of_its_profile() -> None:
    layer = analytic.Layer(0.2, 6e-10, 84.8, 19.5, 30.5)
    x = np.linspace(0.0, 0.2, 4001)
    assert np.trapezoid(analytic.layer_profile(x, 3.6e5, layer), x) / 0.2 == pytest.approx(
        analytic.layer_mean(3.6e5, layer), rel=1e-6
    )


def test_a_long_time_gives_a_straight_line() -> None:
    layer = analytic.Layer(0.1, 1e-9, 50.0, 10.0, 20.0)
    assert analytic.layer_profile(np.array([0.0, 0.05, 0.1]), 1e9, layer) == pytest.approx([10.0, 15.0, 20.0])


def test_too_short_a_time_for_the_series_is_refused() -> None:
    with pytest.raises(InputError, match="series"):
        analytic.layer_profile(0.05, 1e-3, analytic.Layer(0.1, 1e-9, 1.0, 0.0, 0.0))


def test_the_half_space_profile_starts_at_its_surface_and_cannot_overflow() -> None:
    assert analytic.semi_infinite_profile(0.0, 1.3) == pytest.approx(analytic.semi_infinite_surface(1.3))
    assert analytic.semi_infinite_profile(np.array([0.0, 1.0, 30.0]), 1e6) == pytest.approx(
        [1.0, 0.1573, 0.0], abs=1e-4
    )


def test_layers_in_series_share_one_flux() -> None:
    thickness, permeability = np.array([0.001, 0.02, 0.003]), np.array([1e-11, 5e-11, 2e-12])
    steady = analytic.steady_layers(thickness, permeability, 2000.0, 800.0, (3e-8, 5e-8))
    assert steady.pressure_pa[0] == 2000.0
    assert steady.pressure_pa[-1] == pytest.approx(800.0)
    assert np.allclose(-np.diff(steady.pressure_pa)[1:-1] * permeability / thickness, steady.flux_kg_m2s)


def test_layers_that_do_not_match_are_refused() -> None:
    with pytest.raises(InputError, match="differ in number"):
        analytic.steady_layers([0.1], [1e-11, 1e-11], 1.0, 0.0)


@few
@given(st.floats(1.0, 145.99))
def test_benchmark_suction_undoes_benchmark_water(water: float) -> None:
    assert en15026.water_kg_m3(en15026.suction_pa(water)) == pytest.approx(water, rel=1e-9)


def test_the_benchmark_table_depends_on_depth_over_root_time_only() -> None:
    # 0.02 m after 30 d and 0.02 sqrt(7/30) = 0.00966 m after 7 d must agree, between the table's depths
    shallow, deep = en15026.WATER_KG_M3[0.01][0], en15026.WATER_KG_M3[0.02][1]
    slope = (en15026.WATER_KG_M3[0.015][0] - en15026.WATER_KG_M3[0.005][0]) / 0.01
    assert deep == pytest.approx(shallow, abs=abs(slope) * 0.0004)


def test_the_benchmark_uptake_is_its_rate_times_the_root_of_a_year() -> None:
    rate = en15026.UPTAKE_365_D_KG_M2 / np.sqrt(365 * 86400.0)
    assert rate == pytest.approx(en15026.UPTAKE_KG_M2S05, rel=1e-4)
