"""Order of convergence, measured: error against grid, and against the integrator's tolerance."""

import numpy as np
import pytest

from bibula.checks.solver_cases import air, at_humidity, at_suction, held_suction, one_layer, prior_material, sealed
from bibula.checks.solver_drying import slab_remaining
from bibula.formulas import analytic
from bibula.physics.integrate import Tolerance
from bibula.physics.materials import pore_material
from bibula.physics.run import run_stage
from bibula.physics.stack import Contact, Layer, Stack

EXACT_IN_TIME = Tolerance(1e-8, 1e-10, 1e-6)
GRIDS = (10, 20, 40, 80)


def slope(sizes, errors):
    """Order: the straight line through log error against log size, sign turned."""
    return -float(np.polyfit(np.log(sizes), np.log(errors), 1)[0])


@pytest.mark.parametrize("grading", [0.0, 0.5, 0.9])
@pytest.mark.parametrize("biot", [1.0, 5.0, 1e8])
def test_second_order_in_space_against_the_exact_series(biot, grading):
    fourier = (0.2,)
    exact = analytic.slab_remaining(0.2) if biot > 1e6 else analytic.slab_remaining_with_resistance(0.2, biot)
    errors = [abs(slab_remaining(fourier, biot, n, grading)[0] - exact) for n in GRIDS]
    assert slope(GRIDS, errors) >= 1.8


def drunk(kind, intervals):
    """A layer that drinks from one side and dries on the other, water at two times."""
    tables = pore_material(prior_material(kind))
    depth = 3e-4 if kind == "paper" else 3e-3
    stack = one_layer(tables, depth, intervals, held_suction(0.0, 1e-5), air(20.0, 0.5, 8.0, 3e-8))
    times = np.array([0.0, 1.0, 3.0])
    return run_stage(stack, at_humidity(stack, 0.5), times, EXACT_IN_TIME).water.sum(axis=1)[1:]


@pytest.mark.parametrize("kind", ["slab", "blotter", "felt", "paper"])
def test_second_order_in_space_within_one_real_material(kind):
    fine = drunk(kind, 320)
    errors = [np.abs(drunk(kind, n) - fine).max() for n in GRIDS]
    assert slope(GRIDS, errors) >= 1.8


def sheet_on_slab(intervals, tolerance=EXACT_IN_TIME):
    """Water of a wet sheet on a dry slab, both in room air, at four times."""
    sheet, slab = (pore_material(prior_material(kind)) for kind in ("paper", "slab"))
    layers = (
        Layer("slab", slab, 9e-3, 2 * intervals, film_below=False, film_above=False),
        Layer("sheet", sheet, 2e-4, intervals, film_below=False, film_above=False),
    )
    room = air(20.0, 0.5, 8.0, 3e-8)
    stack = Stack(layers, (Contact(1e-6, 15e3, 3e-8, 100.0),), room, room)
    pieces = [at_humidity(stack, 0.5)[0], at_suction(stack, 1000.0)[1]]
    times = np.array([0.0, 60.0, 600.0, 3600.0, 6 * 3600.0])
    return run_stage(stack, pieces, times, tolerance).layer_water("sheet")[1:]


def test_better_than_first_order_across_a_contact():
    fine = sheet_on_slab(160)
    errors = [np.abs(sheet_on_slab(n) - fine).max() for n in (10, 20, 40)]
    assert slope((10, 20, 40), errors) >= 1.0


def test_the_error_in_time_falls_with_the_tolerance():
    relative = np.array([1e-3, 1e-4, 1e-5, 1e-6])
    exact = sheet_on_slab(10, Tolerance(1e-10, 1e-13, 1e-8))
    errors = np.array([np.abs(sheet_on_slab(10, Tolerance(r, 1e-2 * r, 10 * r)) - exact).max() for r in relative])
    first = 0.136  # kg/m2 of water in the sheet at the start
    assert (errors <= 5 * relative * first).all()
    assert (np.diff(errors) < 0.0).all()


def test_the_grid_used_in_forecasts_is_good_to_half_a_percent_of_the_sheets_water():
    default = sheet_on_slab(10, Tolerance())
    assert np.abs(default - sheet_on_slab(160)).max() <= 5e-3 * 0.136


def test_a_sealed_stack_of_one_material_does_not_know_where_it_is_cut():
    tables = pore_material(prior_material("blotter"))
    whole = one_layer(tables, 1e-3, 80, sealed(), air(20.0, 0.5, 8.0, 3e-8), grading=0.0)
    half = Layer("half", tables, 0.5e-3, 40, 0.0, film_below=False, film_above=False)
    joint = Contact(1e-2, 1e14, 1e-2, 1e8)
    cut = Stack((half, Layer("other", *list(vars(half).values())[1:])), (joint,), whole.below, whole.above, 0.0)
    times = np.array([0.0, 3600.0, 4 * 3600.0, 12 * 3600.0])
    one, two = (run_stage(s, at_suction(s, 2000.0), times, EXACT_IN_TIME).water.sum(axis=1) for s in (whole, cut))
    assert one == pytest.approx(two, rel=1e-5)
