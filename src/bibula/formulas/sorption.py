"""Sorption: water held at a humidity, and the conversions between ways to say how wet paper is.

`X` is kg water per kg dry; humidity (water activity) is a fraction from 0 to 1.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bibula.formulas.arrays import Real, Result, plain, require, require_valid
from bibula.formulas.moist_air import KELVIN


@dataclass(frozen=True)
class Gab:
    """Constants of a GAB isotherm: monolayer water X_m in kg/kg, C > 0 and 0 < K <= 1."""

    monolayer_kg_kg: float
    c: float
    k: float

    def __post_init__(self) -> None:
        require(self.monolayer_kg_kg, 0.0, 1.0, "GAB monolayer water", "kg/kg")
        require(self.c, 1e-6, 1e6, "GAB constant C")
        require(self.k, 1e-6, 1.0, "GAB constant K")


def gab_water(humidity: Real, isotherm: Gab) -> Result:
    """Equilibrium water X of a GAB isotherm (Guggenheim, Anderson, de Boer; Berg1981).

    Args:
        humidity: 0 to 1 (below 1/K, where the formula has its pole).
        isotherm: its constants.
    """
    require(humidity, 0.0, 1.0, "relative humidity", mend="give a fraction between 0 and 1")
    ka = isotherm.k * np.asarray(humidity, dtype=np.float64)
    require_valid(ka, 0.0, 1.0 - 1e-12, "K times relative humidity", mend="this isotherm has no end value at 100 %")
    return plain(isotherm.monolayer_kg_kg * isotherm.c * ka / ((1.0 - ka) * (1.0 - ka + isotherm.c * ka)))


def gab_slope(humidity: Real, isotherm: Gab) -> Result:
    """dX/d(humidity) of a GAB isotherm, same range as `gab_water`."""
    gab_water(humidity, isotherm)
    c, x = isotherm.c, isotherm.k * np.asarray(humidity, dtype=np.float64)
    top = 1.0 + (c - 1.0) * x**2
    return plain(isotherm.monolayer_kg_kg * c * isotherm.k * top / ((1.0 - x) * (1.0 - x + c * x)) ** 2)


def gab_humidity(water_kg_kg: Real, isotherm: Gab) -> Result:
    """Humidity at which a GAB isotherm holds this much water: the inverse of `gab_water`.

    Raises:
        ValidityError: more water than the isotherm holds at 100 % humidity.
    """
    require(water_kg_kg, 0.0, 100.0, "water content", "kg/kg")
    top = gab_water(1.0, isotherm) if isotherm.k < 1.0 else np.inf
    require_valid(water_kg_kg, 0.0, top * (1.0 + 1e-12), "water content", "kg/kg")
    if isotherm.monolayer_kg_kg == 0.0:
        return plain(np.zeros_like(np.asarray(water_kg_kg, dtype=np.float64)))
    ratio = np.asarray(water_kg_kg, dtype=np.float64) / isotherm.monolayer_kg_kg
    # ratio (1-x)(1+(c-1)x) = c x, solved in the form that stays exact for little water and for c = 1
    a, b = ratio * (isotherm.c - 1.0), ratio * (2.0 - isotherm.c) + isotherm.c
    root = 2.0 * ratio / (b + np.sqrt(b**2 + 4.0 * a * ratio))
    return plain(np.minimum(root / isotherm.k, 1.0))


def gab_bleached_pulp(temperature_c: float) -> Gab:
    """GAB constants of pure unsized bleached pulp fibre (Leuk2016), 20 to 80 C.

    Some 1.3 to 1.5 times the water of a finished, sized paper: not a default for an object.
    """
    require_valid(temperature_c, 20.0, 80.0, "temperature", "C")
    rt = 0.4615 * (temperature_c + KELVIN)
    return Gab(0.0578, 0.4273 * float(np.exp(468.9266 / rt)), 0.1011 * float(np.exp(297.7358 / rt)))


def henderson_fibre_saturation(temperature_c: Real) -> Result:
    """Water at fibre saturation of bleached pulp, kg/kg, 20 to 80 C (Leuk2016)."""
    require_valid(temperature_c, 20.0, 80.0, "temperature", "C")
    return plain(2.49 * (1.0 + (296.15 - (np.asarray(temperature_c) + KELVIN)) / 310.0))


def henderson_humidity(water_kg_kg: Real, temperature_c: Real) -> Result:
    """Humidity over bleached pulp by Henderson's equation with fibre saturation (Leuk2016).

    Args:
        water_kg_kg: 0 up to (not including) the water at fibre saturation.
        temperature_c: 20 to 80.
    """
    limit = henderson_fibre_saturation(temperature_c)
    ratio = np.divide(water_kg_kg, limit)
    require_valid(ratio, 0.0, 1.0 - 1e-9, "water over fibre saturation")
    t = np.asarray(temperature_c) + KELVIN
    kappa = 0.0629 * np.exp((377.8934 / t) ** 5.71 / 5.71)
    return plain(-np.expm1(-((water_kg_kg / kappa / (1.0 - ratio**3)) ** (1.0 / 0.5786))))


def henderson_water(humidity: Real, temperature_c: float) -> Result:
    """Water at a humidity (0 to 0.999): the inverse of `henderson_humidity`, by bracketed root finding."""
    require_valid(humidity, 0.0, 0.999, "relative humidity")
    top = henderson_fibre_saturation(temperature_c) * (1.0 - 2e-9)

    def one(a: float) -> float:
        from scipy.optimize import brentq  # slow to import, seldom needed

        return float(brentq(lambda x: henderson_humidity(x, temperature_c) - a, 0.0, top, xtol=1e-13))

    return plain(np.vectorize(one, otypes=[np.float64])(humidity))


def wood_water(humidity: Real, temperature_c: Real) -> Result:
    """Equilibrium water of wood, kg/kg, as a stand-in for cellulosics (Hailwood-Horrobin form, WoodHandbook2010).

    Args:
        humidity: 0 to 0.99.
        temperature_c: 0 to 100.
    """
    require_valid(humidity, 0.0, 0.99, "relative humidity")
    require_valid(temperature_c, 0.0, 100.0, "temperature", "C")
    t = np.asarray(temperature_c, dtype=np.float64)
    w = 349.0 + 1.29 * t + 0.0135 * t**2
    kh = (0.805 + 7.36e-4 * t - 2.73e-6 * t**2) * humidity
    k1 = 6.27 - 9.38e-3 * t - 3.03e-4 * t**2
    k2 = 1.91 + 0.0407 * t - 2.93e-4 * t**2
    hydrate = (k1 * kh + 2.0 * k1 * k2 * kh**2) / (1.0 + k1 * kh + k1 * k2 * kh**2)
    return plain(18.0 / w * (kh / (1.0 - kh) + hydrate))


def solids_from_water_ratio(water_kg_kg: Real) -> Result:
    """Solids (dry mass over wet mass, 0 to 1) from water per dry mass X (0 or more)."""
    require(water_kg_kg, 0.0, 1e6, "water content", "kg/kg")
    return plain(1.0 / (1.0 + np.asarray(water_kg_kg, dtype=np.float64)))


def water_ratio_from_solids(solids: Real) -> Result:
    """Water per dry mass X from solids (dry mass over wet mass, above 0, up to 1)."""
    require(solids, 1e-6, 1.0, "solids", mend="give a fraction above 0 and up to 1, 63 % being 0.63")
    return plain(1.0 / np.asarray(solids, dtype=np.float64) - 1.0)


def water_ratio_from_masses(wet_kg: Real, dry_kg: Real) -> Result:
    """Water per dry mass X from a wet and a dry mass in the same unit; the wet mass is not below the dry."""
    require(dry_kg, 1e-12, float("inf"), "dry mass")
    ratio = np.divide(wet_kg, dry_kg) - 1.0
    require(ratio, 0.0, 1e6, "wet mass over dry mass, less one", mend="the wet mass must not be below the dry mass")
    return plain(ratio)


def dry_mass_from_air_dry_kg(air_dry_kg: Real, water_kg_kg: Real) -> Result:
    """Dry mass from the air-dry mass and the equilibrium water X at the humidity of that weighing."""
    require(air_dry_kg, 0.0, float("inf"), "air-dry mass", "kg")
    require(water_kg_kg, 0.0, 10.0, "water content", "kg/kg")
    return plain(np.divide(air_dry_kg, 1.0 + np.asarray(water_kg_kg)))
