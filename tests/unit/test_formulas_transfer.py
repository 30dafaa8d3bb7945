"""Exchange with the room: limits, order, ranges."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bibula.formulas import moist_air, transfer
from bibula.quantities.errors import InputError, ValidityError

few = settings(max_examples=30, deadline=None)


@few
@given(st.floats(15.0, 35.0), st.floats(0.3, 0.99), st.floats(1.0, 30.0), st.floats(0.0, 6.0))
def test_evaporation_closes_its_heat_balance(t: float, rh: float, h_c: float, h_r: float) -> None:
    out = transfer.evaporation_rate(t, rh, h_c, h_r)
    heat = (h_c + h_r) * (t - out.surface_c)
    assert out.rate_kg_m2s * moist_air.latent_heat_j_kg(out.surface_c) == pytest.approx(heat, rel=1e-6, abs=1e-9)
    assert out.surface_c <= t


def test_saturated_air_takes_no_water() -> None:
    assert transfer.evaporation_rate(20.0, 1.0, 5.0).rate_kg_m2s == 0.0


def test_drier_air_and_radiation_evaporate_more() -> None:
    base = transfer.evaporation_rate(20.0, 0.5, 5.0).rate_kg_m2s
    assert transfer.evaporation_rate(20.0, 0.4, 5.0).rate_kg_m2s > base
    assert transfer.evaporation_rate(20.0, 0.5, 5.0, 5.0).rate_kg_m2s > base


def test_a_surface_that_would_freeze_is_refused() -> None:
    with pytest.raises(ValidityError, match="colder than 0 C"):
        transfer.evaporation_rate(2.0, 0.05, 5.0)


def test_a_cold_sheet_loses_heat_better_facing_down() -> None:
    up, down = (transfer.natural_convection_w_m2k(14.0, 20.0, 0.09, way) for way in ("up", "down"))
    assert down == pytest.approx(2.0 * up)


def test_turbulent_branch_joins_the_laminar_one() -> None:
    laminar, turbulent = transfer.nusselt_natural(1e7, "unstable"), transfer.nusselt_natural(1.0001e7, "unstable")
    assert turbulent == pytest.approx(laminar, rel=0.07)


@pytest.mark.parametrize("bad", [10.0, 1e12, float("nan")])
@pytest.mark.parametrize("layering", ["stable", "unstable"])
def test_rayleigh_numbers_outside_the_correlation_are_refused(bad: float, layering) -> None:
    with pytest.raises(ValidityError, match="Rayleigh"):
        transfer.nusselt_natural(bad, layering)


def test_forced_convection_grows_with_the_root_of_speed() -> None:
    slow, fast = transfer.forced_convection_w_m2k(np.array([0.2, 0.8]), 0.3)
    assert fast == pytest.approx(2.0 * slow)


def test_black_radiation_at_equal_temperatures() -> None:
    t = 293.15
    assert transfer.radiation_w_m2k(20.0, 20.0, 1.0) == pytest.approx(4.0 * 5.670374419e-8 * t**3)


def test_vapour_transfer_refuses_nonsense() -> None:
    with pytest.raises(InputError, match="heat transfer coefficient"):
        transfer.vapour_transfer_s_m(-1.0, 20.0)
    with pytest.raises(InputError, match="Lewis"):
        transfer.vapour_transfer_s_m(5.0, 20.0, lewis=3.0)


def test_a_pool_takes_the_larger_branch() -> None:
    state = (25.0, 25.0, 0.5)
    both = transfer.pool_evaporation_natural_kg_m2s(*state), transfer.pool_evaporation_forced_kg_m2s(*state)
    assert transfer.pool_evaporation_kg_m2s(*state) == max(both)
    assert transfer.pool_evaporation_kg_m2s(5.0, 30.0, 0.9) == 0.0
