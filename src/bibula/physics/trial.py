"""A small problem, for compiling and for comparing integrators."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from bibula.formulas import moist_air
from bibula.physics import kernel
from bibula.physics.materials import PoreMaterial, pore_material
from bibula.physics.stack import Boundary, Contact, Layer, Stack, state_vector, steady_weather, water_at_suction

Array = NDArray[np.float64]

TRIAL_S = 20.0
"""How long the small problem runs."""


def small_problem() -> tuple[Stack, Array]:
    """A wet thin layer on a dry one, a handful of nodes: for compiling and for comparing integrators."""
    material = PoreMaterial(600.0, 600.0, 0.1, 6e4, 1.0, 0.04, 10.0, 0.85, 10.0, 0.1, 1340.0)
    tables = pore_material(material)
    wet, dry = Layer("wet", tables, 2e-4, 3), Layer("dry", tables, 1e-3, 3)
    air = Boundary(steady_weather(20.0, 0.5), 8.0, 2e-8)
    stack = Stack((dry, wet), (Contact(1e-7, 1.5e4, 6e-6, 200.0),), air, air)
    states = [water_at_suction(layer, s) for layer, s in ((dry, float(moist_air.suction_pa(0.5, 20.0))), (wet, 2e3))]
    return stack, state_vector(stack, states, [np.full(len(s), 20.0) for s in states])


def implicit_euler(stack: Stack, start: Array, end_s: float, steps: int = 240) -> Array:
    """The state at `end_s` by implicit Euler on steps that grow: right to a few per cent, with nothing to go wrong."""
    size = start.shape[0]
    y, slope, full = start.copy(), np.empty(size), np.zeros((size, size))
    for step in np.diff(np.concatenate(([0.0], np.geomspace(1e-4 * end_s, end_s, steps)))):
        new = y.copy()
        for _ in range(6):
            kernel.right_hand_side(0.0, new, slope, stack.arrays)
            kernel.jacobian(0.0, new, slope, full, stack.arrays)
            change = np.linalg.solve(np.eye(size) - step * full, y + step * slope - new)
            new = new + change
            if np.abs(change).max() < 1e-12:
                break
        y = new
    return y
