"""The solver against published benchmarks, exact answers and the laws of heat and water."""

import numpy as np
import pytest

from bibula.checks import solver_benchmarks, solver_drying, solver_uptake
from bibula.checks.solver_cases import prior_material
from bibula.physics.materials import pore_material

TOPICS = {"benchmarks": solver_benchmarks, "drying": solver_drying, "uptake": solver_uptake}


@pytest.mark.parametrize("topic", TOPICS)
def test_every_check_row_is_within_its_tolerance(topic):
    rows = TOPICS[topic].rows()
    off = [f"{r.name}: {r.ours:.6g} against {r.theirs:.6g}, allowed {r.tolerance:g}" for r in rows if not r.ok]
    assert not off, "\n".join(off)


def test_the_rows_are_all_there_and_told_apart():
    rows = [row for topic in TOPICS.values() for row in topic.rows()]
    names = [row.name for row in rows]
    assert len(set(names)) == len(names)
    for beginning, least in (("EN 15026", 55), ("HAMSTAD 2", 45), ("Celia", 15), ("Drying slab", 37), ("A_w", 6)):
        assert sum(name.startswith(beginning) for name in names) >= least, beginning
    assert sum("rate at" in name for name in names) == 40


def test_answers_depend_on_depth_over_root_time_only():
    """EN 15026's half-space at a quarter of the time: half the depth, the same water."""
    layers = solver_benchmarks.column(
        "half-space", solver_benchmarks.en15026_material(), [(0.03, 120, 0.0), (0.27, 60, 0.0), (5.7, 100, 0.0)]
    )
    stack = solver_benchmarks.joined(layers, solver_benchmarks.air(30.0, 0.95, 1e7, 1e-2), solver_benchmarks.sealed())
    end = solver_benchmarks.EN_DAYS * solver_benchmarks.DAY_S
    result = solver_benchmarks.run_stage(
        stack, solver_benchmarks.at_humidity(stack, 0.5), np.array([0.0, end / 4, end]), solver_benchmarks.TIGHT
    )
    depth = np.array([0.002, 0.005, 0.01, 0.015])
    early = solver_benchmarks.profile(result, 1).at("water_kg_m3", depth / 2)
    late = solver_benchmarks.profile(result, 2).at("water_kg_m3", depth)
    assert early == pytest.approx(late, rel=2e-3)
    assert result.out_below[1] == pytest.approx(0.5 * result.out_below[2], rel=2e-3)


@pytest.mark.parametrize("pair", solver_uptake.PAIRS)
def test_two_layers_wrapped_together_end_at_one_suction_and_the_finer_pores_win(pair):
    result = solver_uptake.shared(pair)
    end = result.suction[-1]
    assert end.max() - end.min() <= 1e-4 * end.max()
    finer, coarser = sorted(pair, key=lambda kind: -prior_material(kind).median_suction_pa)
    filled = {
        kind: result.layer_water(key)[-1] / (depth * pore_material(prior_material(kind)).capacity)
        for kind, key, depth in zip(pair, ("first0", "second0"), solver_uptake.SHARE_M, strict=True)
    }
    assert filled[finer] > filled[coarser]


def test_the_zero_of_the_temperature_scale_changes_no_field():
    one, *others = [solver_drying.held_warm(zero) for zero in solver_drying.ZEROS_C]
    for other in others:
        assert np.abs(other.water - one.water).max() <= 1e-6 * one.water.max()
        assert np.abs(other.temperature - one.temperature).max() <= 1e-4


def test_a_sheet_dries_to_the_same_end_whatever_the_zero_of_the_scale():
    """Also where nothing holds the sheet's temperature: cooled by evaporation, warmed by the room."""
    from bibula.checks.solver_cases import air, at_suction, one_layer, sealed
    from bibula.physics.integrate import Tolerance
    from bibula.physics.run import run_stage

    tables = pore_material(prior_material("paper"))
    results = []
    for zero in solver_drying.ZEROS_C:
        stack = one_layer(tables, 3e-4, 8, sealed(), air(20.0, 0.5, 10.0, 3.4e-8), zero_c=zero)
        times = np.linspace(0.0, 4 * 3600.0, 9)
        results.append(run_stage(stack, at_suction(stack, 500.0), times, Tolerance(1e-9, 1e-11, 1e-7)))
    for other in results[1:]:
        assert np.abs(other.water - results[0].water).max() <= 1e-5 * results[0].water.max()
        assert np.abs(other.temperature - results[0].temperature).max() <= 1e-3


def test_celias_mass_error_is_small_on_every_grid():
    assert all(solver_benchmarks.celia_mass_error(solver_benchmarks.celia_run(n)) < 1e-6 for n in (50, 100, 200))
