"""Isotherms, conversions and salts: round trips, order, ranges."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bibula.formulas import salts, sorption
from bibula.quantities.errors import InputError, ValidityError

few = settings(max_examples=40, deadline=None)
ISOTHERMS = st.builds(sorption.Gab, st.floats(0.005, 0.2), st.floats(0.2, 150.0), st.floats(0.2, 0.98))


@few
@given(ISOTHERMS, st.floats(0.0, 1.0))
def test_gab_humidity_undoes_gab_water(isotherm: sorption.Gab, a: float) -> None:
    assert sorption.gab_humidity(sorption.gab_water(a, isotherm), isotherm) == pytest.approx(a, abs=1e-9)


@few
@given(ISOTHERMS, st.floats(0.01, 0.98))
def test_gab_slope_is_the_derivative_and_positive(isotherm: sorption.Gab, a: float) -> None:
    numeric = (sorption.gab_water(a + 1e-6, isotherm) - sorption.gab_water(a - 1e-6, isotherm)) / 2e-6
    assert sorption.gab_slope(a, isotherm) == pytest.approx(numeric, rel=1e-5)
    assert numeric > 0.0


def test_gab_with_c_of_one_is_plain() -> None:
    isotherm = sorption.Gab(0.05, 1.0, 0.8)
    assert sorption.gab_water(0.5, isotherm) == pytest.approx(0.05 * 0.4 / 0.6)
    assert sorption.gab_humidity(0.05 * 0.4 / 0.6, isotherm) == pytest.approx(0.5)


def test_more_water_than_the_isotherm_holds_is_refused() -> None:
    with pytest.raises(ValidityError, match="water content"):
        sorption.gab_humidity(1.0, sorption.Gab(0.05, 10.0, 0.8))


def test_a_pole_at_full_humidity_is_refused() -> None:
    with pytest.raises(ValidityError, match="no end value"):
        sorption.gab_water(1.0, sorption.Gab(0.05, 10.0, 1.0))


@pytest.mark.parametrize("bad", [(-0.1, 10.0, 0.8), (0.05, 0.0, 0.8), (0.05, 10.0, 1.2), (float("nan"), 10.0, 0.8)])
def test_impossible_constants_are_refused(bad: tuple[float, float, float]) -> None:
    with pytest.raises(InputError):
        sorption.Gab(*bad)


@few
@given(st.floats(0.0, 0.99), st.floats(20.0, 80.0))
def test_henderson_humidity_undoes_henderson_water(a: float, t: float) -> None:
    assert sorption.henderson_humidity(sorption.henderson_water(a, t), t) == pytest.approx(a, abs=1e-7)


def test_warm_wood_holds_less() -> None:
    cold, warm = (
        sorption.wood_water(np.array([0.2, 0.5, 0.9]), 10.0),
        sorption.wood_water(np.array([0.2, 0.5, 0.9]), 40.0),
    )
    assert np.all(cold > warm)


@few
@given(st.floats(0.0, 50.0))
def test_solids_and_water_ratio_undo_each_other(x: float) -> None:
    assert sorption.water_ratio_from_solids(sorption.solids_from_water_ratio(x)) == pytest.approx(x, abs=1e-9)


@few
@given(st.floats(1e-3, 10.0), st.floats(0.0, 3.0))
def test_masses_give_the_ratio_and_the_dry_mass_back(dry: float, x: float) -> None:
    assert sorption.water_ratio_from_masses(dry * (1 + x), dry) == pytest.approx(x, abs=1e-9)
    assert sorption.dry_mass_from_air_dry_kg(dry * (1 + x), x) == pytest.approx(dry)


def test_a_wet_mass_below_the_dry_is_refused() -> None:
    with pytest.raises(InputError, match="must not be below"):
        sorption.water_ratio_from_masses(0.9, 1.0)


def test_lithium_chloride_has_the_right_sign() -> None:
    assert salts.saturated_salt_humidity("LiCl", 25.0) == pytest.approx(0.1130, abs=2e-4)


@pytest.mark.parametrize("salt", [*salts.POLYNOMIALS, *salts.TABLE_20_25])
def test_every_salt_answers_at_room_temperature_in_order_and_shape(salt: str) -> None:
    humidity = salts.saturated_salt_humidity(salt, np.array([20.0, 23.0, 25.0]))
    assert humidity.shape == (3,)
    assert np.all((humidity > 0.1) & (humidity < 0.98))
    assert isinstance(salts.saturated_salt_humidity(salt, 22.0), float)


def test_an_unknown_salt_lists_the_known_ones() -> None:
    with pytest.raises(InputError, match="use one of LiCl"):
        salts.saturated_salt_humidity("sugar", 20.0)


@pytest.mark.parametrize(("salt", "t"), [("KCH3COO", 35.0), ("NaBr", 30.0), ("NaCl", float("nan"))])
def test_a_salt_outside_its_range_is_refused(salt: str, t: float) -> None:
    with pytest.raises(ValidityError, match="temperature over"):
        salts.saturated_salt_humidity(salt, t)
