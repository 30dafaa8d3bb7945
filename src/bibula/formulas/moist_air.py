"""Moist air and liquid water: saturation, humidity, wet bulb, Kelvin's suction, properties.

Temperatures in degrees Celsius, relative humidity as a fraction (0 to 1) over liquid water,
pressures in Pa. Every function refuses values outside its range, and "not a number".
"""

from __future__ import annotations

import numpy as np

from bibula.formulas.arrays import Real, Result, plain, require, require_valid
from bibula.quantities.errors import ValidityError

GAS_CONSTANT = 8.314462618  # J/(mol K), exact in the SI since 2019
MOLAR_MASS_WATER = 0.01801528  # kg/mol
MOLAR_MASS_AIR = 0.028966  # kg/mol, dry air (ASHRAE2017)
R_V = GAS_CONSTANT / MOLAR_MASS_WATER  # J/(kg K), water vapour, 461.52
R_AIR = GAS_CONSTANT / MOLAR_MASS_AIR  # J/(kg K), dry air, 287.04
RHO_WATER = 998.2  # kg/m3 at 20 C
GRAVITY = 9.80665  # m/s2, standard
KELVIN = 273.15
STANDARD_PRESSURE = 101325.0  # Pa
MASS_RATIO = 0.621945  # water over dry air (ASHRAE2017)
C_WATER = 4186.0  # J/(kg K)
C_AIR = 1006.0  # J/(kg K), dry air
C_VAPOUR = 1860.0  # J/(kg K)

_WATER = (-5.8002206e3, 1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8, 0.0, 6.5459673)
_ICE = (-5.6745359e3, 6.3925247, -9.677843e-3, 6.2215701e-7, 2.0747825e-9, -9.484024e-13, 4.1635019)


def _ln_saturation(t: Result, c: tuple[float, ...]) -> Result:
    return c[0] / t + c[1] + c[2] * t + c[3] * t**2 + c[4] * t**3 + c[5] * t**4 + c[6] * np.log(t)


def _require_humidity(relative_humidity: Real, low: float = 0.0) -> None:
    mend = "give a fraction between 0 and 1, 50 % being 0.50"
    require(relative_humidity, low, 1.0, "relative humidity", mend=mend)


def saturation_pressure_pa(temperature_c: Real, over_ice: bool = False) -> Result:
    """Saturation vapour pressure (Hyland and Wexler 1983, in the form of ASHRAE2017).

    Args:
        temperature_c: 0 to 100 over water.
        over_ice: also answer from -100 to 0, over ice.

    Raises:
        ValidityError: outside that range; frost is refused unless asked for.
    """
    mend = "" if over_ice else "the formula holds for liquid water, 0 to 100 C"
    require_valid(temperature_c, -100.0 if over_ice else 0.0, 100.0, "temperature", "C", mend)
    t = np.asarray(temperature_c, dtype=np.float64) + KELVIN
    water = _ln_saturation(t, _WATER)
    return plain(np.exp(np.where(t < KELVIN, _ln_saturation(t, _ICE), water) if over_ice else water))


def saturation_slope_pa_k(temperature_c: Real) -> Result:
    """Slope of the saturation pressure over water in Pa/K, 0 to 100 C (HylandWexler1983)."""
    p = saturation_pressure_pa(temperature_c)
    t = np.asarray(temperature_c, dtype=np.float64) + KELVIN
    c = _WATER
    return plain(p * (-c[0] / t**2 + c[2] + 2 * c[3] * t + 3 * c[4] * t**2 + c[6] / t))


def dew_point_c(vapour_pressure_pa: Real) -> Result:
    """Temperature at which air of this vapour pressure is saturated, by Newton's method.

    Args:
        vapour_pressure_pa: 611.2 to 101 419 Pa (dew points from 0 to 100 C; frost is refused).
    """
    low, high = saturation_pressure_pa(0.0), saturation_pressure_pa(100.0)
    mend = "the dew point must lie between 0 and 100 C"
    require_valid(vapour_pressure_pa, low, high, "vapour pressure", "Pa", mend)
    target = np.log(np.asarray(vapour_pressure_pa, dtype=np.float64))
    ratio = target - np.log(611.2)
    t = np.clip(243.12 * ratio / (17.62 - ratio), 0.0, 100.0)
    for _ in range(8):
        p = saturation_pressure_pa(t)
        t = np.clip(t + (target - np.log(p)) * p / saturation_slope_pa_k(t), 0.0, 100.0)
    return plain(t)


def vapour_pressure_pa(relative_humidity: Real, temperature_c: Real) -> Result:
    """Partial vapour pressure of air at a relative humidity (0 to 1) and temperature (0 to 100 C)."""
    _require_humidity(relative_humidity)
    return plain(np.multiply(relative_humidity, saturation_pressure_pa(temperature_c)))


def humidity_ratio(relative_humidity: Real, temperature_c: Real, pressure_pa: Real = STANDARD_PRESSURE) -> Result:
    """Water per dry air in kg/kg, as ideal gases (ASHRAE2017); some 0.4 % below real air.

    Args:
        relative_humidity: 0 to 1.
        temperature_c: 0 to 100.
        pressure_pa: total pressure, above twice the vapour pressure.
    """
    p_v = vapour_pressure_pa(relative_humidity, temperature_c)
    require_valid(np.asarray(p_v / np.asarray(pressure_pa)), 0.0, 0.5, "vapour pressure over total pressure")
    return plain(MASS_RATIO * p_v / (pressure_pa - p_v))


def enthalpy_j_kg(temperature_c: Real, humidity_ratio_kg_kg: Real) -> Result:
    """Enthalpy of moist air per kg of dry air, zero for dry air and liquid water at 0 C (ASHRAE2017)."""
    require_valid(temperature_c, -50.0, 100.0, "temperature", "C")
    require(humidity_ratio_kg_kg, 0.0, 1.0, "humidity ratio", "kg/kg")
    t, w = np.asarray(temperature_c), np.asarray(humidity_ratio_kg_kg)
    return plain(C_AIR * t + w * (2.501e6 + C_VAPOUR * t))


def specific_volume_m3_kg(
    temperature_c: Real, humidity_ratio_kg_kg: Real, pressure_pa: Real = STANDARD_PRESSURE
) -> Result:
    """Volume of moist air per kg of dry air, ideal gas (ASHRAE2017)."""
    require_valid(temperature_c, -50.0, 100.0, "temperature", "C")
    require(humidity_ratio_kg_kg, 0.0, 1.0, "humidity ratio", "kg/kg")
    t = np.asarray(temperature_c) + KELVIN
    return plain(R_AIR * t * (1.0 + np.asarray(humidity_ratio_kg_kg) / MASS_RATIO) / pressure_pa)


def moist_air_density_kg_m3(
    relative_humidity: Real, temperature_c: Real, pressure_pa: Real = STANDARD_PRESSURE
) -> Result:
    """Density of moist air (dry air plus vapour), ideal gases, 0 to 100 C."""
    p_v = vapour_pressure_pa(relative_humidity, temperature_c)
    t = np.asarray(temperature_c) + KELVIN
    return plain((pressure_pa - p_v) / (R_AIR * t) + p_v / (R_V * t))


def humidity_ratio_from_wet_bulb(
    temperature_c: Real, wet_bulb_temperature_c: Real, pressure_pa: Real = STANDARD_PRESSURE
) -> Result:
    """Humidity ratio in kg/kg from dry and wet bulb, both 0 to 100 C (ASHRAE2017).

    Raises:
        ValidityError: the wet bulb is above the dry bulb, or so far below that no water is left.
    """
    require_valid(temperature_c, 0.0, 100.0, "dry-bulb temperature", "C")
    require_valid(np.subtract(temperature_c, wet_bulb_temperature_c), 0.0, 100.0, "dry bulb minus wet bulb", "K")
    w = _wet_bulb_ratio(np.asarray(temperature_c), np.asarray(wet_bulb_temperature_c), pressure_pa)
    require_valid(w, 0.0, 10.0, "the humidity ratio these bulbs give", "kg/kg", "check both temperatures")
    return plain(w)


def _wet_bulb_ratio(t: Result, wet: Result, pressure: Real) -> Result:
    saturated = humidity_ratio(1.0, wet, pressure)
    return ((2.501e6 - 2326.0 * wet) * saturated - C_AIR * (t - wet)) / (2.501e6 + C_VAPOUR * t - C_WATER * wet)


def wet_bulb_c(temperature_c: Real, relative_humidity: Real, pressure_pa: float = STANDARD_PRESSURE) -> Result:
    """Thermodynamic wet-bulb temperature, by bracketed root finding (ASHRAE2017).

    Args:
        temperature_c: 0 to 80.
        relative_humidity: 0 to 1.
        pressure_pa: total pressure.

    Raises:
        ValidityError: the wet bulb would be below 0 C (ice).
    """
    require_valid(temperature_c, 0.0, 80.0, "temperature", "C")
    _require_humidity(relative_humidity)

    def one(t: float, rh: float) -> float:
        target = humidity_ratio(rh, t, pressure_pa)

        def excess(wet: float) -> float:
            return float(_wet_bulb_ratio(t, wet, pressure_pa) - target)

        if excess(t) <= 0.0:
            return t
        if excess(0.0) > 0.0:
            raise ValidityError(f"the wet bulb of {t:g} C and {100 * rh:g} % is below 0 C", "frost is not modelled")
        from scipy.optimize import brentq  # slow to import, seldom needed

        return float(brentq(excess, 0.0, t, xtol=1e-10))

    return plain(np.vectorize(one, otypes=[np.float64])(temperature_c, relative_humidity))


def suction_pa(relative_humidity: Real, temperature_c: Real, density_kg_m3: float = RHO_WATER) -> Result:
    """Capillary suction in balance with a relative humidity (Kelvin's relation).

    Args:
        relative_humidity: above 0, up to 1.
        temperature_c: 0 to 100.
        density_kg_m3: of liquid water.
    """
    _require_humidity(relative_humidity, low=float(np.finfo(np.float64).tiny))
    require_valid(temperature_c, 0.0, 100.0, "temperature", "C")
    return plain(-density_kg_m3 * R_V * (np.asarray(temperature_c) + KELVIN) * np.log(relative_humidity) + 0.0)


def relative_humidity(suction: Real, temperature_c: Real, density_kg_m3: float = RHO_WATER) -> Result:
    """Relative humidity in balance with a capillary suction in Pa (0 or more), at 0 to 100 C."""
    require(suction, 0.0, float("inf"), "suction", "Pa")
    require_valid(temperature_c, 0.0, 100.0, "temperature", "C")
    return plain(np.exp(-np.asarray(suction) / (density_kg_m3 * R_V * (np.asarray(temperature_c) + KELVIN))))


def latent_heat_j_kg(temperature_c: Real) -> Result:
    """Heat of evaporation of water, 2.501e6 - 2361 t, 0 to 100 C (within 0.3 % up to 50 C)."""
    require_valid(temperature_c, 0.0, 100.0, "temperature", "C")
    return plain(2.501e6 - 2361.0 * np.asarray(temperature_c))


def delta_air_s(temperature_c: Real, pressure_pa: Real = STANDARD_PRESSURE) -> Result:
    """Vapour permeability of still air in kg/(m s Pa), 2e-7 T^0.81 / P (Kuenzel1995), -20 to 100 C."""
    require_valid(temperature_c, -20.0, 100.0, "temperature", "C")
    return plain(2.0e-7 * (np.asarray(temperature_c) + KELVIN) ** 0.81 / pressure_pa)


def vapour_diffusivity_m2_s(temperature_c: Real, pressure_pa: Real = STANDARD_PRESSURE) -> Result:
    """Diffusivity of vapour in air that belongs to `delta_air_s`; published values are 0 to 12 % lower."""
    return plain(delta_air_s(temperature_c, pressure_pa) * R_V * (np.asarray(temperature_c) + KELVIN))


def water_surface_tension_n_m(temperature_c: Real) -> Result:
    """Surface tension of water against its vapour, 0 to 100 C (IAPWS2014)."""
    require_valid(temperature_c, 0.0, 100.0, "temperature", "C")
    tau = 1.0 - (np.asarray(temperature_c) + KELVIN) / 647.096
    return plain(0.2358 * tau**1.256 * (1.0 - 0.625 * tau))


def water_viscosity_pa_s(temperature_c: Real) -> Result:
    """Dynamic viscosity of water, 0 to 100 C, 1.002 mPa s at 20 C (Kestin1978)."""
    require_valid(temperature_c, 0.0, 100.0, "temperature", "C")
    t = np.asarray(temperature_c, dtype=np.float64)
    d = 20.0 - t
    return plain(1.002e-3 * 10.0 ** (d / (t + 96.0) * (1.2378 - 1.303e-3 * d + 3.06e-6 * d**2 + 2.55e-8 * d**3)))


def water_density_kg_m3(temperature_c: Real) -> Result:
    """Density of air-free water at 101 325 Pa, 0 to 100 C (Kell1975)."""
    require_valid(temperature_c, 0.0, 100.0, "temperature", "C")
    t = np.asarray(temperature_c, dtype=np.float64)
    top = 999.83952 + 16.945176 * t - 7.9870401e-3 * t**2 - 46.170461e-6 * t**3
    return plain((top + 105.56302e-9 * t**4 - 280.54253e-12 * t**5) / (1.0 + 16.879850e-3 * t))
