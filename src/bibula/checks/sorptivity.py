"""The absorption integral against exact solutions, a shooting solution and measured paper."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import partial

import numpy as np

from bibula.checks.rows import CheckRow
from bibula.formulas import pores
from bibula.formulas.arrays import Array
from bibula.formulas.sorptivity import sorptivity

# b -> S / sqrt(D1) for D = D1 exp(b (theta - 1)): shooting, relative tolerance 1e-11
_EXPONENTIAL = {2.0: 0.824145, 4.0: 0.654085, math.log(1000.0): 0.517366, 8.0: 0.483621, 10.0: 0.435650, 12.0: 0.399511}
# measured filter paper, fits published with the data: theta 0.025 to 0.7, S in m/s^0.5
_PAPER_VAN_GENUCHTEN = {"n": 8.093, "l": 2.344, "k_s": 2.079e-6, "low": 0.004943, "high": 0.7}
_PAPER_LETD = {"L": 0.004569, "E": 12930.0, "T": 1.505, "d_wet": 4.66e-4, "low": 0.019852, "high": 0.7}
_PAPER_DRY = 0.025
# At full this van Genuchten diffusivity is infinite; the published fit stops here, some 20 % of S^2 short.
_SHORT_OF_FULL = 1e-7
_S_VAN_GENUCHTEN, _S_LETD, _S_MEASURED = 1.3425e-3, 1.3518e-3, 1.350e-3


def from_diffusivity(integral: Callable[[Array], Array], water: Array) -> float:
    """Sorptivity for a diffusivity given by its integral over water: conductivity 1 makes it the suction."""
    whole = integral(water)
    suction = whole[-1] - whole
    return sorptivity(suction, water, np.ones_like(suction), float(suction[0]))


def rows() -> list[CheckRow]:
    """Typed values."""
    return [*_exact_rows(), *_exponential_rows(), *_paper_rows()]


def _exact_rows() -> list[CheckRow]:
    theta = np.r_[0.0, np.geomspace(1e-9, 1.0, 8000)]
    constant = from_diffusivity(lambda x: x, theta)

    def philip(x: Array) -> Array:
        return np.where(x > 0.0, 0.5 * x * (2.0 - np.log(np.maximum(x, 1e-300))), 0.0)

    by_hand = "exact, computed independently"
    name = "Sorptivity, constant D = 1"
    return [
        CheckRow(name + ": 2/sqrt(pi)", by_hand, "computed", constant, 1.1283792, 2e-6, "row spacing, second order"),
        CheckRow(
            "Sorptivity, D = (1 - ln theta)/2: exactly 1",
            "Philip1960, " + by_hand,
            "computed",
            from_diffusivity(philip, theta),
            1.0,
            2e-6,
            "row spacing, second order",
        ),
    ]


def _exponential_integral(b: float, theta: Array) -> Array:
    return np.asarray(np.exp(b * (theta - 1.0)) / b, dtype=np.float64)


def _exponential_rows() -> list[CheckRow]:
    theta = np.linspace(0.0, 1.0, 8001)
    out, by_b = [], {}
    for b, theirs in _EXPONENTIAL.items():
        ours = by_b[b] = from_diffusivity(partial(_exponential_integral, b), theta)
        name = f"Sorptivity, D = exp({b:.4g} (theta - 1))"
        out.append(
            CheckRow(name, "shooting solution, computed independently", "computed", ours, theirs, 3e-6, "digits typed")
        )
    steep = by_b[math.log(1000.0)]
    out.append(
        CheckRow(
            "Factor k of D = k (A_w/w_f)^2 1000^(w/w_f - 1), exact",
            "shooting solution, computed independently",
            "computed",
            1.0 / steep**2,
            3.73598,
            3e-5,
            "digits typed",
        )
    )
    out.append(
        CheckRow(
            "The customary rounded factor 3.8",
            "Kuenzel1995, from memory",
            "memory",
            1.0 / steep**2,
            3.8,
            0.02,
            "rounded in the source: 0.85 % in A_w",
            relative=True,
        )
    )
    for b, theirs in ((math.log(1000.0), 0.518121), (8.0, 0.484085)):
        out.append(
            CheckRow(
                f"Sorptivity, Parlange's estimate at b = {b:.4g}",
                "Parlange1975",
                "computed",
                by_b[b],
                theirs,
                2e-3,
                "the estimate is 0.1 to 0.15 % high",
                relative=True,
            )
        )
    return out


def _van_genuchten_paper() -> float:
    p = _PAPER_VAN_GENUCHTEN
    span, n = p["high"] - p["low"], p["n"]
    dry, wet = (((x - p["low"]) / span) ** (-n / (n - 1.0)) - 1.0 for x in (_PAPER_DRY, p["high"] - _SHORT_OF_FULL))
    suction = np.geomspace(dry ** (1.0 / n), wet ** (1.0 / n), 4000)
    saturation = pores.van_genuchten_saturation(suction, 1.0, n)
    relative = pores.van_genuchten_conductivity(saturation, n, p["l"])
    above = suction - suction[-1]  # only differences of suction count: the wet face is the last row
    return sorptivity(above, p["low"] + span * saturation, p["k_s"] * relative, float(above[0]))


def _letd_paper() -> float:
    p = _PAPER_LETD
    theta = np.linspace(_PAPER_DRY, p["high"], 8001)
    s = (theta - p["low"]) / (p["high"] - p["low"])
    with np.errstate(invalid="ignore"):
        d = p["d_wet"] * s ** p["L"] / (s ** p["L"] + p["E"] * (1.0 - s) ** p["T"])
    total = np.r_[0.0, np.cumsum(0.5 * (d[1:] + d[:-1]) * np.diff(theta))]
    return from_diffusivity(lambda _: total, theta)


def _paper_rows() -> list[CheckRow]:
    vg, letd = 1e3 * _van_genuchten_paper(), 1e3 * _letd_paper()
    source = "Gerlero2022, fitted model"
    name = "Filter paper, sorptivity [1e-3 m/s^0.5]: "
    solver = "an independent solver at 1e-3 of its own tolerance"
    return [
        CheckRow(
            name + "van Genuchten fit", source, "computed", vg, 1e3 * _S_VAN_GENUCHTEN, 2e-3, solver, relative=True
        ),
        CheckRow(name + "LETd fit", source, "computed", letd, 1e3 * _S_LETD, 2e-3, solver, relative=True),
        CheckRow(
            name + "LETd fit against the measured profile",
            "Gerlero2022, profile integrated",
            "published",
            letd,
            1e3 * _S_MEASURED,
            0.01,
            "the profile's first stretch is extrapolated",
            relative=True,
        ),
    ]


def library_rows() -> list[CheckRow]:
    """The library `fronts`: a general solver of nonlinear diffusion in x/sqrt(t)."""
    try:
        import fronts
        from fronts import D
    except ImportError:
        return []
    p = _PAPER_VAN_GENUCHTEN
    law = D.van_genuchten(n=p["n"], l=p["l"], Ks=p["k_s"], theta_range=(p["low"], p["high"]))
    paper = 1e3 * float(fronts.solve(law, i=_PAPER_DRY, b=p["high"] - _SHORT_OF_FULL).sorptivity())
    return [
        CheckRow(
            "fronts: filter paper, van Genuchten [1e-3 m/s^0.5]",
            "fronts (BSD-3)",
            "library",
            1e3 * _van_genuchten_paper(),
            paper,
            2e-3,
            "its default tolerance is 1e-3",
            relative=True,
        )
    ]
