"""(a) One six-hour stage, a wet sheet on a slab, coupled: time, errors, and the same on other integrators."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from benchmarks.measure import Figure, in_turns, median_s
from bibula.formulas import moist_air
from bibula.physics.integrate import Tolerance
from bibula.physics.materials import PoreMaterial, pore_material
from bibula.physics.run import PieceState, StageResult, output_times, run_stage
from bibula.physics.stack import (
    Boundary,
    Contact,
    Layer,
    Stack,
    steady_weather,
    water_at_suction,
    water_from_total,
)

SLAB = PoreMaterial(1180, 480, 1.0, 2.9e5, 1.0, 0.012, 20, 0.8, 10, 0.3, 850)
PAPER = PoreMaterial(600, 680, 0.08, 1.2e5, 1.0, 0.0387, 10.1, 0.858, 10, 0.12, 1340, 1.8, 1.2)
TIMES = output_times(6 * 3600.0, 60)
TIGHT = Tolerance(1e-7, 1e-10, 1e-3)


def stack(slab_intervals: int = 34, sheet_intervals: int = 16) -> tuple[Stack, list[PieceState]]:
    """A 150 g/m2 sheet at 1.5 of its dry mass on an 11 mm slab; 52 nodes by default."""
    slab = Layer("slab", pore_material(SLAB), 0.011, slab_intervals, 0.95)
    sheet = Layer("sheet", pore_material(PAPER, 1.0), 0.00025, sheet_intervals, 0.95)
    room = steady_weather(20.0, 0.5)
    whole = Stack(
        (slab, sheet), (Contact(1e-6, 1.5e4, 6.6e-6, 200.0),), Boundary(room, 4.0, 0.0), Boundary(room, 8.0, 2e-8)
    )
    dry = water_at_suction(slab, float(moist_air.suction_pa(0.5, 20.0)))
    wet = water_from_total(sheet, 1.5 * 0.15)
    return whole, [PieceState(dry, np.full(len(dry), 20.0)), PieceState(wet, np.full(len(wet), 20.0))]


def run(whole: Stack, states: list[PieceState], tolerance: Tolerance | None = None, method=None) -> StageResult:  # type: ignore[no-untyped-def]
    """The six hours."""
    return run_stage(whole, states, TIMES, tolerance, method)


def error(result: StageResult, reference: StageResult) -> float:
    """Largest difference of the sheet's water, as a share of what it started with."""
    ours, theirs = result.layer_water("sheet"), reference.layer_water("sheet")
    return float(np.abs(ours - theirs).max() / theirs[0])


def figures() -> Iterator[Figure]:
    """Time, time error, grid error, and ratios to SciPy on the same right-hand side."""
    whole, states = stack()
    nodes = whole.nodes
    ours = 1000.0 * median_s(lambda: run(whole, states))
    yield Figure(f"(a) six-hour stage, sheet on slab, {nodes} nodes", ours, "ms", 10.0, 5.0)
    official = 1000.0 * median_s(lambda: run(whole, states, method="official"))
    yield Figure("(a) the same through the wheel's own interface", official, "ms")
    exact = run(whole, states, TIGHT)
    yield Figure("(a) time error, share of the first water", error(run(whole, states), exact), "1", 1e-3)
    fine, fine_states = stack(34 * 8, 16 * 8)
    yield Figure(
        "(a) grid error, share of the first water", error(exact, run(fine, fine_states, TIGHT)), "1", 0.01, 0.002
    )
    _, _, lsoda = in_turns(lambda: run(whole, states), lambda: run(whole, states, method="lsoda"))
    yield Figure("(a) SciPy LSODA banded over ours", lsoda, "times", 2.5, at_least=True)
    _, _, bdf = in_turns(lambda: run(whole, states), lambda: run(whole, states, method="bdf"), 3)
    yield Figure("(a) SciPy BDF with sparsity over ours", bdf, "times", 20.0, at_least=True)


def cost_of_nodes() -> list[tuple[int, float]]:
    """Milliseconds against the number of nodes."""
    out = []
    for factor in (0.5, 1, 2, 4):
        whole, states = stack(round(34 * factor), round(16 * factor))
        out.append((whole.nodes, 1000.0 * median_s(lambda w=whole, s=states: run(w, s), 3)))  # type: ignore[misc]
    return out
