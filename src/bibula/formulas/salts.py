"""Relative humidity over saturated salt solutions, for conditioning and for checking hygrometers.

Two public copies of Greenspan's lithium chloride polynomial carry the linear term with the wrong
sign and give 10.9 % at 25 C; the published table says 11.30 %, and so do the constants here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bibula.formulas.arrays import Real, Result, plain, require_valid
from bibula.quantities.errors import InputError


@dataclass(frozen=True)
class SaltPolynomial:
    """Humidity in per cent as a polynomial in C, lowest order first, with its range and uncertainty at 20 to 25 C."""

    name: str
    coefficients: tuple[float, ...]
    low_c: float
    high_c: float
    uncertainty_percent: float


# Greenspan1977; the uncertainties (from memory) are the larger of those at 20 and 25 C.
POLYNOMIALS: dict[str, SaltPolynomial] = {
    "LiCl": SaltPolynomial("lithium chloride", (11.2323, 8.24245e-3, -2.14890e-4), 0.0, 50.0, 0.31),
    "KCH3COO": SaltPolynomial("potassium acetate", (22.4388, 0.156288, -6.12868e-3), 10.0, 30.0, 0.32),
    "MgCl2": SaltPolynomial("magnesium chloride", (33.6686, -7.97397e-3, -1.08988e-3), 0.0, 50.0, 0.18),
    "NaCl": SaltPolynomial("sodium chloride", (75.5164, 3.98321e-2, -2.65459e-3, 2.848e-5), 0.0, 50.0, 0.14),
    "KCl": SaltPolynomial("potassium chloride", (88.619, -0.19334, 8.99706e-4), 0.0, 50.0, 0.29),
}

# Humidity in per cent at 20 and at 25 C; Greenspan's table, from memory.
TABLE_20_25: dict[str, tuple[float, float]] = {
    "K2CO3": (43.16, 43.16),
    "Mg(NO3)2": (54.38, 52.89),
    "NaBr": (59.14, 57.57),
    "KI": (69.90, 68.86),
    "(NH4)2SO4": (81.34, 80.99),
    "KNO3": (94.62, 93.58),
    "K2SO4": (97.59, 97.30),
}

# RH = A exp(B/T), in per cent, within 2 % of the value: the coarse two-constant form of CRC.
COARSE: dict[str, tuple[float, float]] = {
    "MgCl2": (29.26, 34.0),
    "NaCl": (69.20, 25.0),
    "KCl": (49.38, 159.0),
    "KNO3": (43.22, 225.0),
    "K2SO4": (86.75, 34.0),
    "LiCl": (14.53, -75.0),
    "Mg(NO3)2": (25.28, 220.0),
}


def saturated_salt_humidity(salt: str, temperature_c: Real) -> Result:
    """Relative humidity (0 to 1) over a saturated solution (Greenspan1977).

    Args:
        salt: a chemical formula, one of `POLYNOMIALS` or `TABLE_20_25`.
        temperature_c: within the polynomial's range; 20 to 25 for a salt that has only a table.

    Raises:
        InputError: an unknown salt.
        ValidityError: a temperature outside that range.
    """
    if salt in POLYNOMIALS:
        p = POLYNOMIALS[salt]
        require_valid(temperature_c, p.low_c, p.high_c, f"temperature over {p.name}", "C")
        return plain(
            np.polynomial.polynomial.polyval(np.asarray(temperature_c, dtype=np.float64), p.coefficients) / 100
        )
    if salt in TABLE_20_25:
        require_valid(temperature_c, 20.0, 25.0, f"temperature over {salt}", "C")
        return plain(np.interp(temperature_c, (20.0, 25.0), TABLE_20_25[salt]) / 100.0)
    raise InputError(
        f"no humidity is known for the salt '{salt}'", "use one of " + ", ".join([*POLYNOMIALS, *TABLE_20_25])
    )


def coarse_salt_humidity(salt: str, temperature_c: Real) -> Result:
    """The same within 2 % of the value, from two constants (CRCHandbook), 10 to 40 C."""
    if salt not in COARSE:
        raise InputError(f"no coarse constants are known for the salt '{salt}'", "use one of " + ", ".join(COARSE))
    require_valid(temperature_c, 10.0, 40.0, "temperature", "C")
    a, b = COARSE[salt]
    return plain(a * np.exp(b / (np.asarray(temperature_c, dtype=np.float64) + 273.15)) / 100.0)
