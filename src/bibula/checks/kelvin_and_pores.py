"""Kelvin's suction, capillaries and pore-size distributions against handbook values and quadrature."""

from __future__ import annotations

import math
from collections.abc import Callable

from scipy.integrate import quad

from bibula.checks.rows import CheckOrigin, CheckRow
from bibula.formulas import en15026, moist_air, pores

_GAMMA = 0.07275  # N/m at 20 C, the handbook value the typed numbers were computed with
_MU = 1.002e-3  # Pa s at 20 C

# relative humidity -> suction in MPa, radius in nm, at 20 C with 998.2 kg/m3 and 0.07275 N/m
_KELVIN = {
    0.50: (93.61, 1.55),
    0.80: (30.14, 4.83),
    0.90: (14.23, 10.23),
    0.95: (6.927, 21.0),
    0.98: (2.728, 53.3),
    0.99: (1.357, 107.2),
    0.999: (0.1351, 1077.0),
}
_DIGITS = "digits typed"


def _row(
    name: str, origin: CheckOrigin, source: str, ours: float, theirs: float, tolerance: float, reason: str = _DIGITS
) -> CheckRow:
    return CheckRow(name, source, origin, ours, theirs, tolerance, reason, relative=True)


def rows() -> list[CheckRow]:
    """All of them; relative tolerances."""
    return [*_kelvin_rows(), *_capillary_rows(), *_water_rows(), *_benchmark_rows(), *_mualem_rows()]


def _kelvin_rows() -> list[CheckRow]:
    out = []
    by_hand = "computed independently from Kelvin's relation"
    for rh, (suction, radius) in _KELVIN.items():
        ours = moist_air.suction_pa(rh, 20.0)
        r = pores.capillary_radius_m(ours, moist_air.water_surface_tension_n_m(20.0))
        out.append(
            _row(f"Kelvin at 20 C, {100 * rh:g} %: suction [MPa]", "computed", by_hand, ours / 1e6, suction, 5e-4)
        )
        out.append(_row(f"Kelvin at 20 C, {100 * rh:g} %: radius [nm]", "computed", by_hand, r * 1e9, radius, 3e-3))
    return out


def _capillary_rows() -> list[CheckRow]:
    by_hand = "computed independently from the Lucas-Washburn law"
    out = [
        _row(
            f"Washburn, water at 20 C, radius {r * 1e6:g} um [mm/s^0.5]",
            "computed",
            by_hand,
            1e3 * pores.washburn_rate_m_s05(r, _GAMMA, _MU),
            theirs,
            3e-4,
        )
        for r, theirs in ((1e-7, 1.905), (1e-6, 6.025), (1e-5, 19.053))
    ]
    reach = 1e3 * pores.washburn_rate_m_s05(1e-6, _GAMMA, _MU) * math.sqrt(60.0)
    tube = 1e3 * pores.jurin_height_m(0.3e-3, 0.073, density_kg_m3=1000.0, gravity_m_s2=9.81)
    cold, warm = ((moist_air.water_surface_tension_n_m(t), moist_air.water_viscosity_pa_s(t)) for t in (20.0, 25.0))
    faster = pores.washburn_rate_m_s05(1e-6, *warm) / pores.washburn_rate_m_s05(1e-6, *cold)
    bundle = pores.bundle_absorption_kg_m2s05(1e-6, 0.55, 2.5, _GAMMA, _MU)
    jurin = pores.jurin_height_m(1e-6, _GAMMA)
    return [
        *out,
        _row("Washburn, radius 1 um after 60 s [mm]", "computed", by_hand, reach, 46.67, 3e-4),
        _row(
            "Suction of radius 1 um [kPa]",
            "computed",
            "computed independently (Young-Laplace)",
            pores.capillary_suction_pa(1e-6, _GAMMA) / 1e3,
            145.5,
            3e-4,
        ),
        _row("Jurin's height, radius 1 um [m]", "computed", "computed independently", jurin, 14.86, 5e-4),
        _row("Rise in a tube of 0.6 mm bore [mm]", "published", "a textbook's worked example", tube, 49.6, 2e-3),
        _row(
            "Uptake rate at 25 C over that at 20 C",
            "computed",
            "from handbook tension and viscosity, from memory",
            faster,
            1.055,
            1e-3,
        ),
        _row(
            "A_w of a bundle: 0.55, 1 um, path 2.5 [kg/(m2 s^0.5)]",
            "computed",
            "computed independently",
            bundle,
            1.32,
            5e-3,
        ),
    ]


def _water_rows() -> list[CheckRow]:
    out = []
    for t, gamma, mu in ((20.0, 72.75, 1.002), (23.0, 72.28, 0.9321), (25.0, 71.97, 0.890)):
        ours = 1e3 * moist_air.water_surface_tension_n_m(t)
        out.append(
            _row(
                f"Surface tension of water at {t:g} C [mN/m]",
                "memory",
                "handbook value, from memory",
                ours,
                gamma,
                5e-4,
            )
        )
        ours = 1e3 * moist_air.water_viscosity_pa_s(t)
        out.append(
            _row(f"Viscosity of water at {t:g} C [mPa s]", "memory", "handbook value, from memory", ours, mu, 1e-3)
        )
    d = moist_air.vapour_diffusivity_m2_s(25.0)
    reason = "published values scatter by about 10 %"
    out.append(_row("Vapour diffusivity in air at 25 C [m2/s]", "memory", "from memory", d, 2.5e-5, 0.12, reason))
    k = pores.bundle_permeability_m2(1e-6, 0.55, 2.5)
    by_hand = "by hand: 0.55e-12/(8 x 6.25)"
    out.append(_row("Permeability of a bundle: 0.55, 1 um, path 2.5 [m2]", "computed", by_hand, k, 1.1e-14, 1e-9))
    d = moist_air.delta_air_s(20.0)
    out.append(_row("Vapour permeability of air at 20 C [s]", "memory", "1.97e-10, from memory", d, 1.97e-10, 3e-3))
    return out


def _benchmark_rows() -> list[CheckRow]:
    """Material curve of EN 15026, also through our own retention function (n = 1.6)."""
    out = []
    by_hand = "EN15026 constants, computed independently"
    for rh, theirs in ((0.5, 42.94), (0.95, 129.04)):
        s = en15026.humidity_suction_pa(rh, 20.0)
        ours = en15026.water_kg_m3(s)
        out.append(_row(f"EN 15026 curve at 20 C, {100 * rh:g} % [kg/m3]", "computed", by_hand, ours, theirs, 2e-4))
        ours = 146.0 * pores.van_genuchten_saturation(s, 8.0e-8, 1.6)
        out.append(
            _row(
                f"Van Genuchten with EN 15026 constants, {100 * rh:g} % [kg/m3]",
                "computed",
                by_hand,
                ours,
                theirs,
                2e-4,
            )
        )
    return out


def _mualem(suction_of: Callable[[float], float], saturation: float) -> float:
    """Mualem's relative conductivity by quadrature of dS / suction, l = 0.5."""

    def inverse(x: float) -> float:
        return 1.0 / suction_of(min(max(x, 1e-12), 1.0 - 1e-12))

    part = quad(inverse, 0.0, saturation, epsabs=0.0, epsrel=1e-9, limit=400)[0]
    rest = quad(inverse, saturation, 1.0, epsabs=0.0, epsrel=1e-9, limit=400)[0]
    return float(math.sqrt(saturation) * (part / (part + rest)) ** 2)


def _mualem_rows() -> list[CheckRow]:
    n = 2.5

    def lognormal(x: float) -> float:
        return float(pores.lognormal_suction(x, 3e4, 1.2))

    def van_genuchten(x: float) -> float:
        return float((x ** (-n / (n - 1.0)) - 1.0) ** (1.0 / n))

    source = "Mualem1976, integral by adaptive quadrature"
    reason = "accuracy of the quadrature near full"
    out = []
    for s in (1e4, 3e4, 2e5):
        theirs = _mualem(lognormal, pores.lognormal_saturation(s, 3e4, 1.2))
        ours = pores.lognormal_conductivity(s, 3e4, 1.2)
        name = f"Lognormal pores: relative conductivity at {s:g} Pa"
        out.append(_row(name, "computed", source, ours, theirs, 1e-5, reason))
    for saturation in (0.2, 0.5, 0.8):
        theirs = _mualem(van_genuchten, saturation)
        ours = pores.van_genuchten_conductivity(saturation, n)
        name = f"Van Genuchten n = 2.5: conductivity at saturation {saturation:g}"
        out.append(_row(name, "computed", source, ours, theirs, 1e-5, reason))
    return out
