"""Moist air: round trips, order, ranges, shapes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bibula.formulas import moist_air as air
from bibula.quantities.errors import InputError, ValidityError

TEMPERATURE = st.floats(0.0, 60.0)
HUMIDITY = st.floats(1e-6, 1.0)
few = settings(max_examples=40, deadline=None)


@few
@given(st.floats(0.0, 99.9))
def test_dew_point_undoes_saturation(t: float) -> None:
    assert air.dew_point_c(air.saturation_pressure_pa(t)) == pytest.approx(t, abs=1e-8)


@few
@given(TEMPERATURE, HUMIDITY)
def test_humidity_undoes_suction(t: float, rh: float) -> None:
    assert air.relative_humidity(air.suction_pa(rh, t), t) == pytest.approx(rh, rel=1e-9)


@few
@given(st.floats(15.0, 60.0), st.floats(0.3, 1.0))
def test_wet_bulb_undoes_humidity_ratio_and_lies_between_dew_point_and_air(t: float, rh: float) -> None:
    wet = air.wet_bulb_c(t, rh)
    assert wet <= t
    assert air.humidity_ratio_from_wet_bulb(t, wet) == pytest.approx(air.humidity_ratio(rh, t), rel=1e-7)
    pressure = air.vapour_pressure_pa(rh, t)
    if pressure > air.saturation_pressure_pa(0.0):
        assert wet >= air.dew_point_c(pressure) - 1e-6


@few
@given(st.floats(0.5, 99.5))
def test_saturation_slope_is_the_derivative(t: float) -> None:
    numeric = (air.saturation_pressure_pa(t + 1e-3) - air.saturation_pressure_pa(t - 1e-3)) / 2e-3
    assert air.saturation_slope_pa_k(t) == pytest.approx(numeric, rel=1e-6)


def test_saturated_air_has_no_suction() -> None:
    assert air.suction_pa(1.0, 20.0) == 0.0
    assert np.signbit(air.suction_pa(1.0, 20.0)) is np.False_


def test_moist_air_is_lighter_than_dry() -> None:
    assert air.moist_air_density_kg_m3(1.0, 25.0) < air.moist_air_density_kg_m3(0.0, 25.0)


def test_arrays_broadcast_and_scalars_stay_floats() -> None:
    grid = air.suction_pa(np.array([[0.5], [0.9]]), np.array([10.0, 20.0, 30.0]))
    assert grid.shape == (2, 3)
    assert grid[1, 1] == pytest.approx(air.suction_pa(0.9, 20.0))
    assert isinstance(air.suction_pa(0.9, 20.0), float)
    assert air.wet_bulb_c(20.0, np.array([0.5, 0.6])).shape == (2,)


def test_ice_only_when_asked_for() -> None:
    with pytest.raises(ValidityError, match="temperature is -5 C"):
        air.saturation_pressure_pa(-5.0)
    assert air.saturation_pressure_pa(-5.0, over_ice=True) < air.saturation_pressure_pa(0.0)


def test_both_branches_meet_at_zero() -> None:
    ice, water = air.saturation_pressure_pa(np.array([-1e-6, 0.0]), over_ice=True)
    assert ice == pytest.approx(water, rel=3e-4)


def test_a_wet_bulb_below_zero_is_refused() -> None:
    with pytest.raises(ValidityError, match="frost"):
        air.wet_bulb_c(2.0, 0.1)


@pytest.mark.parametrize("bad", [float("nan"), -0.1, 1.1, 50.0])
def test_humidity_in_per_cent_or_no_number_is_refused(bad: float) -> None:
    with pytest.raises(InputError, match=r"fraction|not a number|0\.50"):
        air.humidity_ratio(bad, 20.0)


def test_bulbs_the_wrong_way_round_are_refused() -> None:
    with pytest.raises(ValidityError, match="dry bulb minus wet bulb"):
        air.humidity_ratio_from_wet_bulb(20.0, 21.0)


@pytest.mark.parametrize(
    "formula",
    [
        air.latent_heat_j_kg,
        air.water_viscosity_pa_s,
        air.water_surface_tension_n_m,
        air.water_density_kg_m3,
        air.delta_air_s,
        air.vapour_diffusivity_m2_s,
    ],
)
@pytest.mark.parametrize("bad", [float("nan"), float("inf"), 101.0, -30.0])
def test_property_formulas_refuse_what_is_out_of_range(formula, bad: float) -> None:
    with pytest.raises(ValidityError):
        formula(np.array([20.0, bad]))
