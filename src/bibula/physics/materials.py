"""Material functions as tables on one common suction grid.

Every material is held as water content, Kirchhoff potential, conductivity, vapour permeability
and thermal conductivity at the same suctions, so that one look-up of a cell's water gives all of
them. The grid runs in u = asinh(s / SUCTION_SCALE_PA): linear around saturation, logarithmic
beyond, and it goes on to negative suction (a little over-pressure) so that states outside the
physical range stay finite and monotone.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from bibula.formulas import moist_air, pores
from bibula.formulas.sorptivity import conductivity_scale
from bibula.quantities.errors import ValidityError

Array = NDArray[np.float64]

SUCTION_SCALE_PA = 50.0
U_LOW, U_HIGH, U_POINTS = -8.0, 18.2, 384
REFERENCE_TEMPERATURE_C = 20.0
WET_SLOPE_SHARE = 0.03
"""Share of capacity that is not lognormal but s_med/(s_med + s): capacity never vanishes at the wet end. Assumed."""
BRANCH_FADE = 4
"""The two branches of sorption meet at saturation: their ratio fades with this power of humidity. Assumed."""
CLOSED_SHARE = 1e-3
"""Vapour permeability left when the pores are full, as a share of the dry one. Assumed."""
SCALE_TOLERANCE = 1e-7
"""Of the iteration that scales K to the measured A_w."""
CONDUCTIVITY_PER_WATER = 0.6e-3
"""Rise of thermal conductivity per kg/m3 of water, W/(m K) per kg/m3: that of water itself, in parallel. Assumed."""

U_GRID: Array = np.linspace(U_LOW, U_HIGH, U_POINTS)
S_GRID: Array = SUCTION_SCALE_PA * np.sinh(U_GRID)
DS_DU: Array = SUCTION_SCALE_PA * np.cosh(U_GRID)


@dataclass(frozen=True)
class MaterialTables:
    """One material on the grid; arrays of shape (U_POINTS,), SI.

    Attributes:
        water: kg/m3 at each suction (falling).
        water_slope: d water / du (negative everywhere).
        conductivity: liquid conductivity K, s (kg/(m s Pa)).
        potential: Kirchhoff potential, integral of K ds from the suction to the dry end, kg/(m s).
        vapour: vapour permeability, s.
        heat: thermal conductivity, W/(m K).
        heat_capacity: of the dry material, J/(m3 K).
        capacity: water at zero suction, kg/m3.
    """

    water: Array
    water_slope: Array
    conductivity: Array
    potential: Array
    vapour: Array
    heat: Array
    heat_capacity: float
    capacity: float

    def water_at(self, suction_pa: float) -> float:
        """Water content in kg/m3 at a suction (interpolated on the grid)."""
        u = float(np.arcsinh(suction_pa / SUCTION_SCALE_PA))
        return float(hermite(U_GRID, self.water, self.water_slope, u))


def hermite(x: Array, y: Array, slope: Array, at: float, interval: int | None = None) -> float:
    """Cubic Hermite interpolation of a table with slopes at one place; `interval`: where it is, if known."""
    k = min(max(int(np.searchsorted(x, at)) - 1, 0), len(x) - 2) if interval is None else interval
    left, h = float(x[k]), float(x[k + 1] - x[k])
    t = (at - left) / h
    a, b = (1 + 2 * t) * (1 - t) ** 2, t * (1 - t) ** 2
    c, d = t * t * (3 - 2 * t), t * t * (t - 1)
    return a * float(y[k]) + b * h * float(slope[k]) + c * float(y[k + 1]) + d * h * float(slope[k + 1])


_DRY = S_GRID > 0.0
_POSITIVE: Array = np.maximum(S_GRID, 1e-9)
_LOG_S: Array = np.log(_POSITIVE)
_DLOG_DU: Array = DS_DU / _POSITIVE
_GAUSS_X, _GAUSS_W = np.polynomial.legendre.leggauss(3)
_MID_U: Array = 0.5 * (U_GRID[1:] + U_GRID[:-1])[:, None] + 0.5 * (U_GRID[1] - U_GRID[0]) * _GAUSS_X[None, :]
_MID_S: Array = SUCTION_SCALE_PA * np.sinh(_MID_U)
_LOG_MID_S: Array = np.log(np.maximum(_MID_S, 1e-9))
_MID_WEIGHT: Array = 0.5 * (U_GRID[1] - U_GRID[0]) * _GAUSS_W[None, :] * SUCTION_SCALE_PA * np.cosh(_MID_U)


def kirchhoff(conductivity_at_midpoints: Array) -> Array:
    """Potential at the grid from K at the three Gauss points of every interval, shape (U_POINTS-1, 3)."""
    pieces = (conductivity_at_midpoints * _MID_WEIGHT).sum(axis=1)
    return np.append(np.cumsum(pieces[::-1])[::-1], 0.0)


def function_material(
    water: Callable[[Array], Array],
    conductivity: Callable[[Array], Array],
    vapour: Callable[[Array], Array],
    heat: Callable[[Array], Array],
    heat_capacity: float,
) -> MaterialTables:
    """Tables from functions of suction in Pa (each takes and gives an array); for published materials.

    The functions must accept zero and negative suction (held at their value at zero, apart from
    a small slope in the water so that it keeps falling).
    """
    step = 1e-4
    u_up, u_down = U_GRID + step, U_GRID - step
    s_up, s_down = SUCTION_SCALE_PA * np.sinh(u_up), SUCTION_SCALE_PA * np.sinh(u_down)
    slope = (water(s_up) - water(s_down)) / (2 * step)
    mid = conductivity(_MID_S.ravel()).reshape(_MID_S.shape)
    return MaterialTables(
        water=water(S_GRID),
        water_slope=np.minimum(slope, -1e-9),
        conductivity=conductivity(S_GRID),
        potential=kirchhoff(mid),
        vapour=vapour(S_GRID),
        heat=heat(S_GRID),
        heat_capacity=heat_capacity,
        capacity=float(water(np.zeros(1))[0]),
    )


@dataclass(frozen=True)
class PoreMaterial:
    """What the pore model needs of a material, all SI; see cards.model.PROPERTIES for the meanings.

    branch: 0 = wetting branch, 1 = drying branch (suction and sorption both shifted).
    """

    density_kg_m3: float
    capacity_kg_m3: float
    absorption_kg_m2s05: float
    median_suction_pa: float
    suction_spread: float
    gab_monolayer_kg_kg: float
    gab_c: float
    gab_k: float
    vapour_resistance: float
    conductivity_w_mk: float
    heat_capacity_j_kgk: float
    drying_suction_ratio: float = 1.0
    drying_sorption_ratio: float = 1.0


def _sorbed(material: PoreMaterial, suction: Array, ratio: float) -> tuple[Array, Array]:
    """Sorbed water in kg/m3 and its derivative to suction, on the branch `ratio` times the wetting one."""
    scale = moist_air.RHO_WATER * moist_air.R_V * (REFERENCE_TEMPERATURE_C + 273.15)
    rh = np.exp(-np.maximum(suction, 0.0) / scale)
    monolayer = material.gab_monolayer_kg_kg * material.density_kg_m3
    c, k = material.gab_c, material.gab_k
    factor = 1.0 + (ratio - 1.0) * (1.0 - rh**BRANCH_FADE)
    x = k * rh
    g = monolayer * c * x / ((1 - x) * (1 - x + c * x))
    dg_drh = g * (1.0 / np.maximum(rh, 1e-300) + k / (1 - x) - k * (c - 1) / (1 - x + c * x))
    dfactor = -(ratio - 1.0) * BRANCH_FADE * rh ** (BRANCH_FADE - 1)
    drh_ds = np.where(suction > 0.0, -rh / scale, 0.0)
    return g * factor, (dg_drh * factor + g * dfactor) * drh_ds


def pore_material(material: PoreMaterial, branch: float = 0.0) -> MaterialTables:
    """Tables of the pore model: w = GAB + (w_cap - GAB(1)) S, K from S scaled to the measured A_w.

    Args:
        material: the material's numbers.
        branch: 0 on the wetting branch, 1 on the drying branch, between: a blend.

    Raises:
        ValidityError: capacity smaller than what the isotherm alone holds at saturation.
    """
    m = material
    one = _sorbed_full(m)
    if m.capacity_kg_m3 < one:
        raise ValidityError(
            f"capacity {m.capacity_kg_m3:.4g} kg/m3 is less than the isotherm holds at saturation, {one:.4g} kg/m3",
            "measure the capacity again, or lower the isotherm",
        )
    water, slope, sorbed = _held(m, branch)
    pore = m.capacity_kg_m3 - one
    conductivity, potential = _liquid(m, m.median_suction_pa * m.drying_suction_ratio**branch)
    open_share = 1.0 - (1.0 - CLOSED_SHARE) * np.clip((water - sorbed) / max(pore, 1e-9), 0.0, 1.0) if pore > 0 else 1.0
    delta = moist_air.delta_air_s(REFERENCE_TEMPERATURE_C) / m.vapour_resistance
    return MaterialTables(
        water=water,
        water_slope=slope,
        conductivity=conductivity,
        potential=potential,
        vapour=np.broadcast_to(delta * open_share, S_GRID.shape).copy(),
        heat=m.conductivity_w_mk + CONDUCTIVITY_PER_WATER * np.clip(water, 0.0, None),
        heat_capacity=m.density_kg_m3 * m.heat_capacity_j_kgk,
        capacity=m.capacity_kg_m3,
    )


def _sorbed_full(m: PoreMaterial) -> float:
    """Sorbed water at saturation, kg/m3: GAB at a humidity of 1, where the branches meet."""
    c, k = m.gab_c, m.gab_k
    return m.density_kg_m3 * m.gab_monolayer_kg_kg * c * k / ((1 - k) * (1 - k + c * k))


@lru_cache(maxsize=64)
def _held(m: PoreMaterial, branch: float) -> tuple[Array, Array, Array]:
    """Water on the grid, its slope per u, and the sorbed part of it, on a branch."""
    median = m.median_suction_pa * m.drying_suction_ratio**branch
    pore = m.capacity_kg_m3 - _sorbed_full(m)
    lognormal, slope_lognormal, _ = pores.lognormal_functions(_LOG_S, median, m.suction_spread)
    lognormal = np.where(_DRY, lognormal, 1.0)
    slope_lognormal = np.where(_DRY, slope_lognormal * _DLOG_DU, 0.0)
    along = _POSITIVE / median
    tail = np.where(_DRY, 1.0 / (1.0 + along), 1.0 - S_GRID / median)
    slope_tail = np.where(_DRY, -1.0 / (median * (1.0 + along) ** 2), -1.0 / median) * DS_DU
    share = WET_SLOPE_SHARE
    sorbed, sorbed_slope = _sorbed(m, S_GRID, m.drying_sorption_ratio**branch)
    # a trace of slope everywhere: 1e-7 of the capacity per unit u, so that no interval is ever flat
    trace = 1e-7 * max(m.capacity_kg_m3, 1.0)
    water = sorbed + pore * ((1 - share) * lognormal + share * tail) - trace * U_GRID
    slope = sorbed_slope * DS_DU + pore * ((1 - share) * slope_lognormal + share * slope_tail) - trace
    return water, slope, sorbed


def _liquid(m: PoreMaterial, median: float) -> tuple[Array, Array]:
    """Conductivity and Kirchhoff potential, scaled so that uptake from air-dry gives the measured A_w."""
    if m.absorption_kg_m2s05 <= 0.0 or m.capacity_kg_m3 <= 0.0:
        return np.zeros(U_POINTS), np.zeros(U_POINTS)
    _, _, relative = pores.lognormal_functions(_LOG_S, median, m.suction_spread)
    _, _, mid = pores.lognormal_functions(_LOG_MID_S, median, m.suction_spread)
    k0 = _conductivity_at_saturation(m)
    return k0 * relative, k0 * kirchhoff(mid)


@lru_cache(maxsize=512)
def _conductivity_at_saturation(m: PoreMaterial) -> float:
    """K0: it belongs to the material, not to a branch, and is set by uptake from air-dry on the wetting branch."""
    start = float(moist_air.suction_pa(0.5, REFERENCE_TEMPERATURE_C))
    use = (S_GRID > 0.0) & (start * 1.2 >= S_GRID)
    water, _, _ = _held(m, 0.0)
    _, _, relative = pores.lognormal_functions(_LOG_S[use], m.median_suction_pa, m.suction_spread)
    suction = np.append(S_GRID[use][::-1], 0.0)
    held = np.append(water[use][::-1], m.capacity_kg_m3)
    k = np.append(relative[::-1], 1.0)
    return float(conductivity_scale(m.absorption_kg_m2s05, suction, held, k, start, SCALE_TOLERANCE))
