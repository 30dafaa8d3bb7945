"""Compile the numerical core once, so that the first forecast does not wait for the compiler."""

from __future__ import annotations

import numpy as np

from bibula.physics import integrate
from bibula.physics.run import PieceState, run_stage
from bibula.physics.trial import small_problem


def prepare() -> None:
    """Run every compiled function once; the results stay in the compiler's cache on disk."""
    stack, start = small_problem()
    water = [start[2:-2:2][where] for where in stack.slices]
    states = [PieceState(w, np.full(len(w), 20.0)) for w in water]
    times = np.array([0.0, 1.0, 60.0])
    integrate.official(stack.arrays, start, times, 1e-4, np.full(start.shape, 1e-7))
    integrate.direct_is_sound()
    run_stage(stack, states, times).fields  # noqa: B018
