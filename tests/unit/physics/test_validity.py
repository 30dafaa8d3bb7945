"""What the solver refuses, and that states outside the tables stay finite and monotone."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bibula.checks.solver_cases import at_suction, prior_material
from bibula.physics import kernel
from bibula.physics.materials import pore_material
from bibula.physics.run import PieceState, run_stage
from bibula.physics.stack import Boundary, Layer, Stack, state_vector, steady_weather, water_from_total
from bibula.quantities.errors import BibulaError, ValidityError

TABLES = pore_material(prior_material("paper"))
SHEET = Layer("sheet", TABLES, 2e-4, 6)
TIMES = np.array([0.0, 600.0, 3600.0])


def alone(room):
    return Stack((SHEET,), (), room, room)


def room(temperature_c, vapour_pa):
    return Boundary(np.array([[0.0, temperature_c, vapour_pa, 1.0]]), 10.0, 3e-8)


@pytest.mark.parametrize(
    ("where", "word"),
    [
        (room(-1.0, 300.0), "0 to 60"),
        (room(61.0, 3000.0), "0 to 60"),
        (room(20.0, 90.0), "3.85 to 3.85 % RH"),
        (room(20.0, 2400.0), "103 to 103 % RH"),
        (room(20.0, float("nan")), "RH"),
    ],
)
def test_a_room_outside_the_model_is_refused_with_a_sentence(where, word):
    stack = alone(where)
    with pytest.raises(ValidityError, match=word) as raised:
        run_stage(stack, at_suction(stack, 1000.0), TIMES)
    assert "\n" not in str(raised.value)


def test_a_changing_room_is_refused_if_it_leaves_the_range_later():
    weather = np.vstack([steady_weather(20.0, 0.5), steady_weather(20.0, 0.04)])
    weather[1, 0] = 1800.0
    stack = alone(Boundary(weather, 10.0, 3e-8))
    with pytest.raises(ValidityError, match="RH"):
        run_stage(stack, at_suction(stack, 1000.0), TIMES)


def test_a_sheet_that_would_freeze_is_refused():
    stack = alone(Boundary(steady_weather(4.0, 0.1), 10.0, 6e-8))
    with pytest.raises(ValidityError, match="above 0"):
        run_stage(stack, at_suction(stack, 1000.0, 4.0), TIMES)


@pytest.mark.parametrize("share", [-0.1, 0.0, 50.0])
def test_a_layer_that_cannot_hold_the_water_is_refused_by_name(share):
    with pytest.raises(ValidityError, match="'sheet' cannot hold"):
        water_from_total(SHEET, share * TABLES.capacity * SHEET.thickness_m)


@pytest.mark.parametrize("water", [-1e-3, 10.0, float("nan")])
def test_a_run_refuses_a_piece_with_impossible_water(water):
    stack = alone(Boundary(steady_weather(20.0, 0.5), 10.0, 3e-8))
    with pytest.raises(ValidityError, match="sheet"):
        run_stage(stack, [PieceState(np.full(7, water), np.full(7, 20.0))], TIMES)


def states(water, temperature_c):
    """Node states of the sheet with every node's water and temperature given; one row per entry."""
    stack = alone(Boundary(steady_weather(20.0, 0.5), 10.0, 3e-8))
    ys = np.array([state_vector(stack, [w], [t]) for w, t in zip(water, temperature_c, strict=True)])
    out = np.empty((len(ys), stack.nodes, 7))
    kernel.all_states(ys, stack.arrays, out)
    return out


def test_suction_falls_with_water_far_beyond_both_ends_of_the_table():
    share = np.concatenate([np.linspace(-1.0, 0.05, 2001), np.linspace(0.05, 5.0, 2001)])
    volumes = SHEET.thickness_m / 6 * np.ones(7)
    out = states(share[:, None] * TABLES.capacity * volumes, np.full((len(share), 7), 20.0))
    assert np.isfinite(out).all()
    assert (np.diff(out[:, :, 0], axis=0) <= 1e-9 * np.abs(out[:-1, :, 0])).all()
    assert (np.diff(out[:, :, 2], axis=0) >= -1e-9).all()


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.floats(-3.0, 10.0), st.floats(-400.0, 400.0))
def test_any_state_the_integrator_may_try_is_finite(share, temperature):
    water = np.full((1, 7), share * TABLES.capacity * SHEET.thickness_m / 6)
    out = states(water, np.full((1, 7), temperature))
    assert np.isfinite(out).all()


def test_what_is_refused_is_refused_in_a_persons_words():
    with pytest.raises(BibulaError) as raised:
        water_from_total(SHEET, 10.0)
    assert "g/m2" in str(raised.value)
    assert "check its capacity" in str(raised.value)
