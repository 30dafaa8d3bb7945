"""Pores: how much a pore-size distribution holds at a suction, how it conducts, how fast it drinks.

Suction in Pa, positive; 0 is full. Radii are of round capillaries.
"""

from __future__ import annotations

import numpy as np
from scipy.special import erfc, erfcinv

from bibula.formulas.arrays import Array, Real, Result, plain, require
from bibula.formulas.moist_air import GRAVITY, RHO_WATER

_INF = float("inf")
_ROOT2 = float(np.sqrt(2.0))


def _log_suction(suction: Real, median_suction_pa: Real, spread: Real) -> Result:
    require(suction, 0.0, _INF, "suction", "Pa")
    require(median_suction_pa, 1e-9, 1e12, "median suction", "Pa")
    require(spread, 1e-3, 20.0, "spread of ln suction")
    with np.errstate(divide="ignore"):
        return np.log(np.divide(suction, median_suction_pa)) / (np.asarray(spread) * _ROOT2)


def lognormal_saturation(suction: Real, median_suction_pa: Real, spread: Real) -> Result:
    """Share of the pores filled at a suction, for a lognormal pore-size distribution (Kosugi1996).

    Args:
        suction: 0 or more; 0 gives 1.
        median_suction_pa: suction at which half the pores are full.
        spread: standard deviation of ln suction.
    """
    return plain(0.5 * erfc(_log_suction(suction, median_suction_pa, spread)))


def lognormal_saturation_slope(suction: Real, median_suction_pa: Real, spread: Real) -> Result:
    """dS/d(suction) in 1/Pa (never positive), same arguments as `lognormal_saturation`; 0 at suction 0."""
    x = _log_suction(suction, median_suction_pa, spread)
    s = np.asarray(suction, dtype=np.float64)
    safe = np.where(s > 0.0, s, 1.0)
    return plain(np.where(s > 0.0, -np.exp(-(x**2)) / (safe * np.asarray(spread) * np.sqrt(2.0 * np.pi)), 0.0))


def lognormal_suction(saturation: Real, median_suction_pa: Real, spread: Real) -> Result:
    """Suction in Pa at a saturation (above 0, up to 1): the inverse of `lognormal_saturation`."""
    require(saturation, float(np.finfo(np.float64).tiny), 1.0, "saturation")
    _log_suction(1.0, median_suction_pa, spread)
    x = erfcinv(2.0 * np.asarray(saturation, dtype=np.float64))
    return plain(median_suction_pa * np.exp(np.asarray(spread) * _ROOT2 * x))


def lognormal_conductivity(suction: Real, median_suction_pa: Real, spread: Real, tortuosity: float = 0.5) -> Result:
    """Relative liquid conductivity (0 to 1) of a lognormal distribution by Mualem's integral (Kosugi1996).

    Args:
        suction: 0 or more.
        median_suction_pa: see `lognormal_saturation`.
        spread: see `lognormal_saturation`.
        tortuosity: Mualem's exponent l.
    """
    x = _log_suction(suction, median_suction_pa, spread)
    tail = 0.5 * erfc(x + np.asarray(spread) / _ROOT2)
    return plain((0.5 * erfc(x)) ** tortuosity * tail**2)


def lognormal_functions(
    log_suction: Array, median_suction_pa: float, spread: float, tortuosity: float = 0.5
) -> tuple[Array, Array, Array]:
    """Saturation, its slope per unit of ln suction, and relative conductivity, all at once (Kosugi1996).

    The same as the three functions above, without their checks of every argument: tables are built of
    it by the thousand.

    Args:
        log_suction: ln of the suction in Pa, shape (n,).
        median_suction_pa: suction at which half the pores are full.
        spread: standard deviation of ln suction.
        tortuosity: Mualem's exponent l.
    """
    x = (log_suction - np.log(median_suction_pa)) / (spread * _ROOT2)
    saturation = 0.5 * erfc(x)
    slope = -np.exp(-(x**2)) / (spread * np.sqrt(2.0 * np.pi))
    return saturation, slope, saturation**tortuosity * (0.5 * erfc(x + spread / _ROOT2)) ** 2


def van_genuchten_saturation(suction: Real, alpha_1_pa: float, n: float) -> Result:
    """Effective saturation (1 + (alpha s)^n)^-(1 - 1/n), suction 0 or more, n > 1 (VanGenuchten1980)."""
    require(suction, 0.0, _INF, "suction", "Pa")
    require(alpha_1_pa, 1e-15, 1e6, "alpha", "1/Pa")
    require(n, 1.0 + 1e-9, 100.0, "n")
    return plain((1.0 + (alpha_1_pa * np.asarray(suction, dtype=np.float64)) ** n) ** (1.0 / n - 1.0))


def van_genuchten_conductivity(saturation: Real, n: float, tortuosity: float = 0.5) -> Result:
    """Relative conductivity S^l (1 - (1 - S^(1/m))^m)^2, m = 1 - 1/n, saturation 0 to 1 (VanGenuchten1980)."""
    require(saturation, 0.0, 1.0, "saturation")
    require(n, 1.0 + 1e-9, 100.0, "n")
    m = 1.0 - 1.0 / n
    s = np.asarray(saturation, dtype=np.float64)
    return plain(s**tortuosity * (1.0 - (1.0 - s ** (1.0 / m)) ** m) ** 2)


def capillary_suction_pa(radius_m: Real, surface_tension_n_m: Real, contact_angle_deg: Real = 0.0) -> Result:
    """Young-Laplace: suction 2 gamma cos(theta) / r of a round capillary; contact angle 0 to 90 degrees."""
    require(radius_m, 1e-12, 1.0, "radius", "m")
    require(surface_tension_n_m, 0.0, 1.0, "surface tension", "N/m")
    require(contact_angle_deg, 0.0, 90.0, "contact angle", "degrees")
    return plain(2.0 * np.asarray(surface_tension_n_m) * np.cos(np.radians(contact_angle_deg)) / radius_m)


def capillary_radius_m(suction: Real, surface_tension_n_m: Real, contact_angle_deg: Real = 0.0) -> Result:
    """Radius of the round capillary with this suction in Pa: the inverse of `capillary_suction_pa`."""
    require(suction, 1e-9, _INF, "suction", "Pa")
    return plain(capillary_suction_pa(1.0, surface_tension_n_m, contact_angle_deg) / np.asarray(suction))


def jurin_height_m(
    radius_m: Real,
    surface_tension_n_m: Real,
    contact_angle_deg: Real = 0.0,
    density_kg_m3: float = RHO_WATER,
    gravity_m_s2: float = GRAVITY,
) -> Result:
    """Height to which a capillary lifts the liquid (Jurin's law)."""
    return plain(
        capillary_suction_pa(radius_m, surface_tension_n_m, contact_angle_deg) / (density_kg_m3 * gravity_m_s2)
    )


def washburn_rate_m_s05(
    radius_m: Real, surface_tension_n_m: Real, viscosity_pa_s: Real, contact_angle_deg: Real = 0.0
) -> Result:
    """Length per square root of time a horizontal capillary fills, sqrt(gamma r cos / (2 mu)) (Washburn1921)."""
    require(viscosity_pa_s, 1e-6, 1e3, "viscosity", "Pa s")
    p = capillary_suction_pa(radius_m, surface_tension_n_m, contact_angle_deg)
    return plain(np.sqrt(p * np.asarray(radius_m) ** 2 / (4.0 * np.asarray(viscosity_pa_s))))


def bundle_absorption_kg_m2s05(
    radius_m: Real,
    porosity: Real,
    path_ratio: Real,
    surface_tension_n_m: Real,
    viscosity_pa_s: Real,
    density_kg_m3: float = RHO_WATER,
) -> Result:
    """A_w of a bundle of equal capillaries whose path is `path_ratio` times the straight way (1 or more)."""
    require(porosity, 0.0, 1.0, "porosity")
    require(path_ratio, 1.0, 100.0, "path length over straight length")
    rate = washburn_rate_m_s05(radius_m, surface_tension_n_m, viscosity_pa_s)
    return plain(density_kg_m3 * np.asarray(porosity) * rate / np.asarray(path_ratio))


def bundle_permeability_m2(radius_m: Real, porosity: Real, path_ratio: Real) -> Result:
    """Permeability eps r^2 / (8 tau^2) of the same bundle."""
    require(radius_m, 1e-12, 1.0, "radius", "m")
    require(porosity, 0.0, 1.0, "porosity")
    require(path_ratio, 1.0, 100.0, "path length over straight length")
    return plain(np.asarray(porosity) * np.asarray(radius_m) ** 2 / (8.0 * np.asarray(path_ratio) ** 2))
