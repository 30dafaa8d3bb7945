"""The seam to the integrators: SUNDIALS' CVODE first, SciPy's banded LSODA as oracle and way out."""

from __future__ import annotations

import contextlib
import functools
import importlib.util
import io
import os
import sys
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from bibula.physics import direct, kernel
from bibula.physics.compiled import HAVE_COMPILER
from bibula.physics.kernel import StackArrays
from bibula.physics.stack import ZERO_SUCTION
from bibula.physics.trial import TRIAL_S, implicit_euler, small_problem
from bibula.quantities.errors import BalanceError

Array = NDArray[np.float64]
Method = Literal["cvode", "official", "lsoda", "bdf"]

MAX_STEPS = 5_000
"""Per output time. A run that needs more is tried again another way (see `integrate`)."""


@dataclass(frozen=True)
class Tolerance:
    """Relative tolerance, and absolute ones for water (kg/m2) and temperature (K)."""

    relative: float = 5e-4
    water_kg_m2: float = 1e-7
    temperature_k: float = 0.2


def have_cvode() -> bool:
    """Whether the SUNDIALS wheel is installed on this machine."""
    return importlib.util.find_spec("sksundae") is not None


def _absolute(arrays: StackArrays, tolerance: Tolerance) -> Array:
    n = arrays.material.shape[0]
    atol = np.empty(2 * n + 4)
    wet = arrays.water_table[:, ZERO_SUCTION]
    atol[2:-2:2] = tolerance.water_kg_m2 * np.clip(wet / max(wet.max(), 1e-9), 1e-3, 1.0)
    atol[3:-2:2] = tolerance.temperature_k * (arrays.heat_capacity + 0.3 * kernel.WATER_HEAT_J_KGK * wet)
    atol[[0, -2]] = tolerance.water_kg_m2
    atol[[1, -1]] = tolerance.water_kg_m2 * kernel.LATENT_AT_0C_J_KG
    return atol


def integrate(
    arrays: StackArrays,
    start: Array,
    times_s: Array,
    tolerance: Tolerance | None = None,
    method: Method | None = None,
) -> Array:
    """States at `times_s` (the first is the start); shape (len(times_s), size).

    About one run in a thousand of a very wide ensemble (thin, nearly full layers on standing water)
    does not settle; it is run again with tighter tolerances, then at order 2, last by SciPy's LSODA.

    Raises:
        BalanceError: the integrator gave up or gave something that is not a number.
    """
    tolerance = tolerance or Tolerance()
    chosen: Method = method or ("cvode" if have_cvode() else "lsoda")
    atol = _absolute(arrays, tolerance)
    attempts: list[Callable[[], Array]] = {
        "cvode": [
            lambda: _quickest(arrays, start, times_s, tolerance.relative, atol),
            lambda: _quickest(arrays, start, times_s, 0.1 * tolerance.relative, 0.1 * atol),
            lambda: _quickest(arrays, start, times_s, 0.01 * tolerance.relative, 0.01 * atol),
            lambda: official(arrays, start, times_s, tolerance.relative, atol, 2),
            lambda: _lsoda(arrays, start, times_s, tolerance.relative, atol),
        ],
        "official": [lambda: official(arrays, start, times_s, tolerance.relative, atol)],
        "lsoda": [lambda: _lsoda(arrays, start, times_s, tolerance.relative, atol)],
        "bdf": [lambda: _bdf(arrays, start, times_s, tolerance.relative, atol)],
    }[chosen]
    for number, attempt in enumerate(attempts, 1):
        try:
            ys = attempt()
        except BalanceError:
            if number == len(attempts):
                raise
            continue
        if ys.shape[0] == len(times_s) and np.all(np.isfinite(ys)):
            return ys
    raise BalanceError("the computation stopped before its end", "report this plan: it is a defect of Bibula")


def _quickest(arrays: StackArrays, start: Array, times_s: Array, rtol: float, atol: Array) -> Array:
    if direct_is_sound():
        return direct.solve(arrays, start, times_s, rtol, atol)
    return official(arrays, start, times_s, rtol, atol)


@functools.cache
def direct_is_sound() -> bool:
    """Whether the direct way is there and solves a small problem as a plain implicit Euler does; tried once a process.

    That would show a changed memory layout at once, and costs no import of the wheel; that both
    ways agree closely is tested (tests/unit/physics).
    """
    if os.environ.get("BIBULA_OFFICIAL_ONLY") or not HAVE_COMPILER or not sys.platform.startswith("linux"):
        return False  # elsewhere the layout was never tried, and a wrong guess could end the process
    stack, start = small_problem()
    try:
        ours = direct.solve(stack.arrays, start, np.array([0.0, 1.0, TRIAL_S]), 1e-5, np.full(start.shape, 1e-8))[-1]
    except (OSError, AttributeError, BalanceError):
        return False
    gap = np.abs(ours - implicit_euler(stack, start, TRIAL_S))
    scale = np.abs(ours) + np.abs(start) + 1e-3
    return bool(np.isfinite(gap).all() and (gap / scale).max() < 0.05)


OFFICIAL_SHARE = 0.2
"""The wheel does not let its Newton coefficient be set (direct.py does), so its tolerances are this much tighter."""


def official(arrays: StackArrays, start: Array, times_s: Array, rtol: float, atol: Array, order: int = 5) -> Array:
    """CVODE through its wheel's own interface; raises BalanceError where it stops."""
    from sksundae.cvode import CVODE

    size = start.shape[0]
    point, slope, out = np.empty(size), np.empty(size), np.empty(size)
    band = np.zeros((size, size))
    rhs, jac, copy = kernel.right_hand_side, kernel.jacobian, np.copyto

    def rhsfn(t: float, y: Array, yp: Array) -> None:
        copy(point, y)
        rhs(t, point, out, arrays)
        yp[:] = out

    def jacfn(t: float, y: Array, yp: Array, full: Array) -> None:
        copy(point, y)
        copy(slope, yp)
        jac(t, point, slope, band, arrays)
        full[:] = band

    solver = CVODE(
        rhsfn,
        method="BDF",
        linsolver="band",
        lband=kernel.BAND,
        uband=kernel.BAND,
        jacfn=jacfn,
        rtol=OFFICIAL_SHARE * rtol,
        atol=OFFICIAL_SHARE * atol,
        max_num_steps=MAX_STEPS,
        max_conv_fails=50,
        max_order=order,
    )
    # given two times only, the wheel answers at times of its own choice
    pair = len(times_s) == 2
    times = np.array([times_s[0], 0.5 * (times_s[0] + times_s[1]), times_s[1]]) if pair else times_s
    with contextlib.redirect_stdout(io.StringIO()):  # the wheel prints its failures; they come back as ours
        solution = solver.solve(times, start)
    if not solution.success:
        raise BalanceError(f"the integrator stopped: {solution.message}", "report this plan: it is a defect of Bibula")
    states = np.asarray(solution.y, dtype=float)
    return states[::2] if pair else states


def _python_rhs(arrays: StackArrays, size: int) -> Callable[[float, Array], Array]:
    def rhs(t: float, y: Array) -> Array:
        out = np.empty(size)
        kernel.right_hand_side(t, np.ascontiguousarray(y), out, arrays)
        return out

    return rhs


def _lsoda(arrays: StackArrays, start: Array, times_s: Array, rtol: float, atol: Array) -> Array:
    from scipy.integrate import solve_ivp

    solution = solve_ivp(
        _python_rhs(arrays, start.shape[0]),
        (times_s[0], times_s[-1]),
        start,
        method="LSODA",
        t_eval=times_s,
        rtol=rtol,
        atol=atol,
        lband=kernel.BAND,
        uband=kernel.BAND,
    )
    if not solution.success:
        raise BalanceError(f"the integrator stopped: {solution.message}", "report this plan: it is a defect of Bibula")
    return np.asarray(solution.y.T, dtype=float)


def _bdf(arrays: StackArrays, start: Array, times_s: Array, rtol: float, atol: Array) -> Array:
    """SciPy's BDF with the Jacobian's sparsity: only a yardstick for the benchmarks."""
    from scipy.integrate import solve_ivp
    from scipy.sparse import diags

    size = start.shape[0]
    offsets = list(range(-kernel.BAND, kernel.BAND + 1))
    bands: Any = [np.ones(size - abs(o)) for o in offsets]
    pattern: Any = diags(bands, offsets)
    solution = solve_ivp(
        _python_rhs(arrays, size),
        (times_s[0], times_s[-1]),
        start,
        method="BDF",
        t_eval=times_s,
        rtol=rtol,
        atol=atol,
        jac_sparsity=pattern,
    )
    if not solution.success:
        raise BalanceError(f"the integrator stopped: {solution.message}")
    return np.asarray(solution.y.T, dtype=float)
