"""Capillary absorption from material functions: the flux-concentration iteration.

Into a long dry body that touches water, the uptake is A_w sqrt(t). Philip and Knight (1974) write
the ratio F of local to surface flux as a function of the local water, which turns the partial
differential equation into two integrals; a few rounds settle it to many digits.
"""

from __future__ import annotations

import numpy as np

from bibula.formulas.arrays import Array, require
from bibula.quantities.errors import InputError, ValidityError


def _potential_steps(suction: Array, conductivity: Array) -> Array:
    """Integral of K over each suction step, as a power law where both ends are positive."""
    s0, s1, k0, k1 = suction[:-1], suction[1:], conductivity[:-1], conductivity[1:]
    steps = 0.5 * (k0 + k1) * (s0 - s1)
    power = (s1 > 0.0) & (k0 > 0.0) & (k1 > 0.0)
    log_s = np.log(s0[power] / s1[power])
    exponent = np.log(k0[power] / k1[power]) / log_s + 1.0
    # integral k1 (s/s1)^(exponent-1) ds = k1 s1 (e^(exponent log_s) - 1) / exponent, safe at exponent 0
    z = exponent * log_s
    growth = np.where(np.abs(z) < 1e-8, 1.0 + 0.5 * z, np.expm1(z) / np.where(z == 0.0, 1.0, z))
    steps[power] = k1[power] * s1[power] * log_s * growth
    return steps


def _checked(suction: Array, water: Array, conductivity: Array) -> tuple[Array, Array, Array]:
    s, w, k = (np.asarray(x, dtype=np.float64) for x in (suction, water, conductivity))
    if s.ndim != 1 or s.shape != w.shape or s.shape != k.shape or s.size < 3:
        raise InputError(
            "suction, water and conductivity differ in length or are too short", "give three equal columns"
        )
    require(s, 0.0, 1e15, "suction", "Pa")
    require(w, 0.0, 1e6, "water content", "kg/m3")
    require(k, 0.0, 1e6, "conductivity", "s")
    if np.any(np.diff(s) >= 0.0):
        raise InputError("the suction column does not fall", "order the rows from dry to wet")
    if np.any(np.diff(w) < 0.0):
        raise InputError("the water column falls as the suction falls", "order the rows from dry to wet")
    return s, w, k


def _cut_at(initial: float, s: Array, w: Array, k: Array) -> tuple[Array, Array, Array]:
    """The columns from the initial suction on, with a first row interpolated there in log suction."""
    if not s[-1] < initial <= s[0]:
        raise InputError(
            f"the initial suction {initial:g} Pa is outside the table",
            f"it must lie above {s[-1]:g} and up to {s[0]:g} Pa",
        )
    keep = s < initial
    floor = max(float(s[s > 0.0].min()), 1e-300) * 0.5
    x = -np.log(np.maximum(s, floor))
    at = -np.log(initial)
    w0 = float(np.interp(at, x, w))
    k0 = float(np.exp(np.interp(at, x, np.log(np.maximum(k, 1e-300)))))
    return np.r_[initial, s[keep]], np.r_[w0, w[keep]], np.r_[k0, k[keep]]


def sorptivity(
    suction_pa: Array,
    water_kg_m3: Array,
    conductivity_s: Array,
    initial_suction_pa: float,
    tolerance: float = 1e-10,
) -> float:
    """Capillary absorption coefficient A_w in kg/(m2 s^0.5) of a body at one suction touching free water.

    Args:
        suction_pa: shape (n,), falling towards 0; the last row is carried to suction 0.
        water_kg_m3: shape (n,), never falling.
        conductivity_s: shape (n,), liquid conductivity K in kg/(m s Pa).
        initial_suction_pa: the state of the body before, inside the table.
        tolerance: relative change of A_w squared at which the iteration is settled.

    The integrals are of second order in the row spacing: two thousand rows, evenly spaced in log
    suction, give five to six digits. The water gained is 0 where the table holds none.

    Raises:
        InputError: columns that differ in length, are out of order or not numbers.
        ValidityError: the iteration does not settle.

    Source: PhilipKnight1974.
    """
    s, w, k = _cut_at(initial_suction_pa, *_checked(suction_pa, water_kg_m3, conductivity_s))
    if s[-1] > 0.0:
        s, w, k = np.r_[s, 0.0], np.r_[w, w[-1]], np.r_[k, k[-1]]
    gained = w - w[0]
    if gained[-1] <= 0.0:
        return 0.0
    start = int(np.searchsorted(gained, 1e-13 * gained[-1], side="right")) - 1
    gained, steps = gained[start:], _potential_steps(s, k)[start:]
    gained[0] = 0.0
    return float(np.sqrt(2.0 * _settle(gained, steps, tolerance)))


def _settle(gained: Array, steps: Array, tolerance: float) -> float:
    """Iterate the flux-concentration relation; returns half the squared sorptivity."""
    flux = np.sqrt(gained / gained[-1])
    last = 0.0
    for _ in range(200):
        with np.errstate(divide="ignore", invalid="ignore"):
            ratio = np.where(flux > 0.0, gained / flux, 0.0)
            low, high = flux[:-1], flux[1:]
            log = np.log(high / low)
            inverse = np.where(log < 1e-6, 2.0 / (low + high), log / (high - low))
        inverse[0] = 0.0  # infinite at the front, but it always meets gained = 0
        mass = np.zeros_like(gained)
        np.cumsum(0.5 * (ratio[:-1] + ratio[1:]) * steps, out=mass[1:])
        reach = np.zeros_like(gained)
        reach[:-1] = np.cumsum((inverse * steps)[::-1])[::-1]
        half_square = float(mass[-1])
        if half_square <= 0.0:
            return 0.0
        flux = np.maximum((gained * reach + mass) / half_square, 0.0)
        if abs(half_square - last) <= tolerance * half_square:
            return half_square
        last = half_square
    raise ValidityError("the absorption integral does not settle for these material functions", "check their columns")


def conductivity_scale(
    target_absorption_kg_m2s05: float,
    suction_pa: Array,
    water_kg_m3: Array,
    relative_conductivity: Array,
    initial_suction_pa: float,
    tolerance: float = 1e-10,
) -> float:
    """Factor in s by which a relative conductivity must be multiplied to drink with a measured A_w.

    Exact, since A_w grows with the square root of the conductivity. Arguments as in `sorptivity`.
    """
    require(target_absorption_kg_m2s05, 0.0, 1e3, "A_w", "kg/(m2 s^0.5)")
    unit = sorptivity(suction_pa, water_kg_m3, relative_conductivity, initial_suction_pa, tolerance)
    if unit <= 0.0:
        raise InputError("the material functions take up no water", "check the water and conductivity columns")
    return (target_absorption_kg_m2s05 / unit) ** 2
