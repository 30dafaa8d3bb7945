"""The two integrators agree; the compiled and the plain kernel are one kernel."""

import os
import subprocess
import sys

import numpy as np
import pytest

from bibula.checks.solver_cases import at_humidity, prior_material
from bibula.physics import kernel
from bibula.physics.compiled import HAVE_COMPILER
from bibula.physics.integrate import have_cvode
from bibula.physics.materials import pore_material
from bibula.physics.run import PieceState, run_stage
from bibula.physics.stack import Boundary, Contact, Layer, Stack, state_vector, steady_weather, water_from_total

THICKNESS_M = {"slab": 9e-3, "blotter": 8e-4, "felt": 5e-3, "interleaf": 1.2e-4, "paper": 1.5e-4, "board": 1.5e-3}
STACKS = {
    "sheet on slab": ("slab", "paper"),
    "sheet between blotters": ("blotter", "paper", "blotter"),
    "sheet between felts with interleaves": ("felt", "interleaf", "paper", "interleaf", "felt"),
    "board alone": ("board",),
    "sheet on board on slab": ("slab", "board", "paper"),
}
JOINT = Contact(1e-6, 15e3, 3e-8, 100.0)
ROOM = Boundary(steady_weather(20.0, 0.5), 8.0, 2e-8)


def wet_stack(name):
    """Everything in balance with 50 %, but paper and board wet through."""
    kinds = STACKS[name]
    layers = tuple(
        Layer(f"{kind}{i}", pore_material(prior_material(kind)), THICKNESS_M[kind], 8) for i, kind in enumerate(kinds)
    )
    stack = Stack(layers, (JOINT,) * (len(layers) - 1), ROOM, ROOM)
    pieces = at_humidity(stack, 0.5)
    for i, layer in enumerate(layers):
        if layer.key.startswith(("paper", "board")):
            water = water_from_total(layer, 0.95 * layer.tables.capacity * layer.thickness_m)
            pieces[i] = PieceState(water, pieces[i].temperature_c)
    return stack, pieces


@pytest.mark.skipif(not have_cvode(), reason="no CVODE on this machine")
@pytest.mark.parametrize("name", STACKS)
@pytest.mark.parametrize("way", ["cvode", "official"])
def test_cvode_and_lsoda_agree_to_a_thousandth_of_the_initial_water(name, way):
    stack, pieces = wet_stack(name)
    times = np.array([0.0, 60.0, 600.0, 3600.0, 6 * 3600.0])
    one, other = (run_stage(stack, pieces, times, method=method) for method in (way, "lsoda"))
    start = one.water[0].sum()
    assert max(np.abs(one.layer_water(y.key) - other.layer_water(y.key)).max() for y in stack.layers) <= 1e-3 * start
    assert np.abs(one.temperature - other.temperature).max() <= 0.05


@pytest.mark.skipif(not have_cvode(), reason="no CVODE on this machine")
@pytest.mark.parametrize("method", ["cvode", "official", "lsoda"])
def test_two_output_times_give_two_rows(method):
    stack, pieces = wet_stack("board alone")
    result = run_stage(stack, pieces, np.array([0.0, 600.0]), method=method)
    full = run_stage(stack, pieces, np.array([0.0, 200.0, 600.0]), method=method)
    assert result.states.shape[0] == 2
    assert result.water[-1] == pytest.approx(full.water[-1], rel=1e-3)


def right_hand_sides():
    """Slopes of two stacks at a start, and a little on, stacked in one row."""
    out = []
    for name in ("sheet on slab", "sheet between felts with interleaves"):
        stack, pieces = wet_stack(name)
        y = state_vector(stack, [p.water_kg_m2 for p in pieces], [p.temperature_c for p in pieces])
        for step in (0.0, 1.0):
            slope = np.empty_like(y)
            kernel.right_hand_side(step, y, slope, stack.arrays)
            out.append(slope)
            y = y * (1.0 + 1e-3 * np.cos(np.arange(y.size)))
    return np.concatenate(out)


@pytest.mark.skipif(not HAVE_COMPILER, reason="no compiler on this machine")
def test_the_plain_kernel_gives_the_compiled_ones_slopes(tmp_path):
    target = tmp_path / "plain.npy"
    code = (
        "import importlib.util, numpy, sys\n"
        f"spec = importlib.util.spec_from_file_location('here', {__file__!r})\n"
        "here = importlib.util.module_from_spec(spec); spec.loader.exec_module(here)\n"
        "assert not here.HAVE_COMPILER\n"
        f"numpy.save({str(target)!r}, here.right_hand_sides())\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        env={**os.environ, "BIBULA_NO_COMPILER": "1"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    plain, compiled = np.load(target), right_hand_sides()
    assert np.isfinite(plain).all()
    assert plain == pytest.approx(compiled, rel=1e-9, abs=1e-12 * np.abs(compiled).max())
