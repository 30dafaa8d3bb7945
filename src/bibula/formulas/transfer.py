"""Exchange of heat and vapour between a wet surface and the room.

Coefficients of heat transfer in W/(m2 K), of vapour transfer in kg/(m2 s Pa) = s/m.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from bibula.formulas.arrays import Real, Result, plain, require, require_valid
from bibula.formulas.moist_air import (
    GRAVITY,
    KELVIN,
    R_AIR,
    R_V,
    STANDARD_PRESSURE,
    delta_air_s,
    humidity_ratio,
    latent_heat_j_kg,
    saturation_pressure_pa,
    specific_volume_m3_kg,
    vapour_pressure_pa,
)
from bibula.quantities.errors import ValidityError

STEFAN_BOLTZMANN = 5.670374419e-8  # W/(m2 K4), exact in the SI since 2019
AIR_HEAT_CAPACITY_J_M3K = 1.2 * 1006.0  # room air at 20 C
PRANDTL_AIR = 0.71


def vapour_transfer_s_m(
    h_c: Real, temperature_c: Real, lewis: float = 0.86, air_heat_capacity_j_m3k: float = AIR_HEAT_CAPACITY_J_M3K
) -> Result:
    """Vapour transfer coefficient that belongs to a convective heat transfer coefficient (ChiltonColburn1934).

    Args:
        h_c: W/(m2 K), 0 to 1000.
        temperature_c: of the air, 0 to 100; about 6.8e-9 times h_c at 20 C.
        lewis: thermal diffusivity of air over vapour diffusivity, 0.5 to 1.5.
        air_heat_capacity_j_m3k: of the air, by volume.
    """
    require(h_c, 0.0, 1000.0, "heat transfer coefficient", "W/(m2 K)")
    require_valid(temperature_c, 0.0, 100.0, "temperature", "C")
    require(lewis, 0.5, 1.5, "Lewis number")
    h_m = np.asarray(h_c) / air_heat_capacity_j_m3k * lewis ** (-2.0 / 3.0)
    return plain(h_m / (R_V * (np.asarray(temperature_c) + KELVIN)))


def radiation_w_m2k(surface_c: Real, surroundings_c: Real, emissivity: Real = 0.95) -> Result:
    """Radiative heat transfer coefficient to much larger surroundings; about 5.4 in a room (Incropera2007)."""
    require_valid(surface_c, -50.0, 200.0, "surface temperature", "C")
    require_valid(surroundings_c, -50.0, 200.0, "temperature of the surroundings", "C")
    require(emissivity, 0.0, 1.0, "emissivity")
    a, b = np.asarray(surface_c) + KELVIN, np.asarray(surroundings_c) + KELVIN
    return plain(np.asarray(emissivity) * STEFAN_BOLTZMANN * (a**2 + b**2) * (a + b))


def air_viscosity_m2_s(temperature_c: Real, pressure_pa: Real = STANDARD_PRESSURE) -> Result:
    """Kinematic viscosity of dry air, -50 to 200 C (Sutherland1893)."""
    require_valid(temperature_c, -50.0, 200.0, "temperature", "C")
    t = np.asarray(temperature_c, dtype=np.float64) + KELVIN
    return plain(1.716e-5 * (t / KELVIN) ** 1.5 * (KELVIN + 110.4) / (t + 110.4) * R_AIR * t / pressure_pa)


def air_conductivity_w_mk(temperature_c: Real) -> Result:
    """Thermal conductivity of dry air, -50 to 200 C (Sutherland's form, constants from memory)."""
    require_valid(temperature_c, -50.0, 200.0, "temperature", "C")
    t = np.asarray(temperature_c, dtype=np.float64) + KELVIN
    return plain(0.0241 * (t / KELVIN) ** 1.5 * (KELVIN + 194.0) / (t + 194.0))


def rayleigh(density_share: Real, length_m: Real, film_c: Real) -> Result:
    """Rayleigh number of air at a plate.

    Args:
        density_share: |density at the surface - density of the room| over the room's, 0 to 0.5.
        length_m: area over perimeter for a lying plate, height for a standing one.
        film_c: mean of surface and room temperature.
    """
    require(density_share, 0.0, 0.5, "share of density")
    require(length_m, 1e-4, 100.0, "length", "m")
    nu = air_viscosity_m2_s(film_c)
    return plain(GRAVITY * np.asarray(density_share) * np.asarray(length_m) ** 3 * PRANDTL_AIR / nu**2)


def nusselt_natural(rayleigh_number: float, layering: Literal["unstable", "stable"]) -> float:
    """Nusselt number of a lying plate in still air (Incropera2007).

    Args:
        rayleigh_number: 1e4 to 1e11 unstable, 1e4 to 1e10 stable.
        layering: `unstable` where the air at the plate wants to leave (warm side up, cold side
            down), `stable` where it stays (cold side up, warm side down).

    Raises:
        ValidityError: outside that range.
    """
    if layering == "stable":
        require_valid(rayleigh_number, 1e4, 1e10, "Rayleigh number")
        return float(0.27 * rayleigh_number**0.25)
    require_valid(rayleigh_number, 1e4, 1e11, "Rayleigh number")
    low = rayleigh_number <= 1e7
    return float(0.54 * rayleigh_number**0.25 if low else 0.15 * rayleigh_number ** (1.0 / 3.0))


def nusselt_forced(reynolds: Real, prandtl: Real = PRANDTL_AIR) -> Result:
    """Mean Nusselt number of laminar flow along a plate, Reynolds 1e2 to 5e5 (Incropera2007)."""
    require_valid(reynolds, 1e2, 5e5, "Reynolds number")
    require_valid(prandtl, 0.6, 50.0, "Prandtl number")
    return plain(0.664 * np.sqrt(reynolds) * np.asarray(prandtl) ** (1.0 / 3.0))


def natural_convection_w_m2k(
    surface_c: float, room_c: float, length_m: float, facing: Literal["up", "down"] = "up"
) -> float:
    """Convective coefficient of a lying plate in still air, from temperatures alone.

    The vapour over a wet sheet makes its air lighter and can cancel or turn what the cold does:
    for a drying sheet take this as one end of a band.
    """
    film = 0.5 * (surface_c + room_c)
    share = abs(surface_c - room_c) / (film + KELVIN)
    unstable = (surface_c > room_c) == (facing == "up")
    number = nusselt_natural(rayleigh(share, length_m, film), "unstable" if unstable else "stable")
    return float(number * air_conductivity_w_mk(film) / length_m)


def forced_convection_w_m2k(speed_m_s: Real, length_m: Real, film_c: Real = 20.0) -> Result:
    """Convective coefficient of air flowing along a plate of this length, laminar, averaged."""
    require(speed_m_s, 0.0, 100.0, "air speed", "m/s")
    require(length_m, 1e-4, 100.0, "length", "m")
    re = np.asarray(speed_m_s) * np.asarray(length_m) / air_viscosity_m2_s(film_c)
    return plain(nusselt_forced(re) * air_conductivity_w_mk(film_c) / np.asarray(length_m))


@dataclass(frozen=True)
class Evaporation:
    """Steady evaporation of a wet surface: rate in kg/(m2 s) and surface temperature in C."""

    rate_kg_m2s: float
    surface_c: float


def evaporation_rate(
    room_c: float, relative_humidity: float, h_c: float, h_r: float = 0.0, lewis: float = 0.86
) -> Evaporation:
    """Steady evaporation of one wet face whose other side takes no heat, by its heat balance.

    Args:
        room_c: temperature of air and walls, 0 to 60.
        relative_humidity: of the room, 0 to 1.
        h_c: convective coefficient, above 0 to 1000 W/(m2 K).
        h_r: radiative coefficient, 0 to 20 W/(m2 K); 0 leaves radiation out.
        lewis: see `vapour_transfer_s_m`.

    Raises:
        ValidityError: the surface would freeze.
    """
    require_valid(room_c, 0.0, 60.0, "room temperature", "C")
    require(h_c, 1e-3, 1000.0, "heat transfer coefficient", "W/(m2 K)")
    require(h_r, 0.0, 20.0, "radiative coefficient", "W/(m2 K)")
    p_room = vapour_pressure_pa(relative_humidity, room_c)
    beta = vapour_transfer_s_m(h_c, room_c, lewis)

    def rate(surface_c: float) -> float:
        return float(beta * (saturation_pressure_pa(surface_c) - p_room))

    def missing_heat(surface_c: float) -> float:
        return float(rate(surface_c) * latent_heat_j_kg(surface_c) - (h_c + h_r) * (room_c - surface_c))

    if missing_heat(room_c) <= 0.0:
        return Evaporation(0.0, room_c)
    if missing_heat(0.0) > 0.0:
        raise ValidityError("the wet surface would be colder than 0 C", "frost is not modelled")
    from scipy.optimize import brentq  # slow to import, seldom needed

    surface = float(brentq(missing_heat, 0.0, room_c, xtol=1e-11))
    return Evaporation(rate(surface), surface)


def _dry_air_density(relative_humidity: float, temperature_c: float) -> tuple[float, float]:
    w = humidity_ratio(relative_humidity, temperature_c)
    return 1.0 / specific_volume_m3_kg(temperature_c, w), w


def pool_evaporation_natural_kg_m2s(water_c: float, air_c: float, relative_humidity: float) -> float:
    """Evaporation of still, warm water by natural convection, Shah's correlation (Shah2014).

    Gives 0 where the air over the water is denser than the room's: a sheet cooled by its own
    evaporation is such a case, so this is a check for pools and trays, not a model of sheets.
    """
    dense_room, w_room = _dry_air_density(relative_humidity, air_c)
    dense_wet, w_wet = _dry_air_density(1.0, water_c)
    lift = dense_room - dense_wet
    if lift <= 0.0 or w_wet <= w_room:
        return 0.0
    factor = 35.0 if lift > 0.02 else 40.0
    return float(factor * dense_wet * lift ** (1.0 / 3.0) * (w_wet - w_room) / 3600.0)


def pool_evaporation_forced_kg_m2s(water_c: float, air_c: float, relative_humidity: float) -> float:
    """The same correlation's branch for the air currents of any room: 5e-5 kg/(m2 h) per Pa (Shah2014)."""
    difference = saturation_pressure_pa(water_c) - vapour_pressure_pa(relative_humidity, air_c)
    return max(0.0, 5.0e-5 * float(difference) / 3600.0)


def pool_evaporation_kg_m2s(water_c: float, air_c: float, relative_humidity: float) -> float:
    """The larger of both branches of Shah's correlation."""
    return max(
        pool_evaporation_natural_kg_m2s(water_c, air_c, relative_humidity),
        pool_evaporation_forced_kg_m2s(water_c, air_c, relative_humidity),
    )


def still_air_resistance_m2spa_kg(gap_m: Real, temperature_c: Real = 20.0) -> Result:
    """Vapour resistance of a layer of still air of this thickness (0 to 0.1 m)."""
    require(gap_m, 0.0, 0.1, "gap", "m")
    return plain(np.asarray(gap_m) / delta_air_s(temperature_c))
