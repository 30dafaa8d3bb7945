"""The similarity solver of imbibition profiles against exact and shooting solutions and another library."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from bibula.checks.rows import CheckRow
from bibula.evidence.diffusivity import exponential_diffusivity, similarity_profile

Array = npt.NDArray[np.float64]

# b -> S / sqrt(D1) for D = D1 exp(b (theta - 1)): shooting, relative tolerance 1e-11
_SHOOTING = {2.0: 0.824145, 4.0: 0.654085, math.log(1000.0): 0.517366, 8.0: 0.483621, 10.0: 0.435650, 12.0: 0.399511}
_GRID = "600 cells in content, second order"
_DRY, _WET = 0.025, 0.7


def rows() -> list[CheckRow]:
    """Typed values."""
    shooting = "shooting solution, computed independently"
    out = []
    for b, theirs in _SHOOTING.items():
        ours = similarity_profile(exponential_diffusivity(1.0, b), 0.0, 1.0).sorptivity_m_s05
        name = f"Imbibition profile, D = exp({b:.4g} (theta - 1)): sorptivity"
        out.append(CheckRow(name, shooting, "computed", ours, theirs, 3e-6, f"digits typed; {_GRID}"))
    philip = similarity_profile(lambda s: 0.5 * (1.0 - np.log(s)), 0.0, 1.0)
    for o in (0.1, 1.0, 3.0):
        name = f"Imbibition profile, D = (1 - ln theta)/2: theta at o = {o:g} is exp(-o)"
        ours = float(philip.theta_at(o))
        out.append(CheckRow(name, "Philip1960, exact", "computed", ours, math.exp(-o), 2e-5, _GRID))
    flat = similarity_profile(np.ones_like, 0.0, 1.0)
    for o in (0.5, 1.5):
        name = f"Imbibition profile, constant D: theta at o = {o:g} is erfc(o/2)"
        exact = math.erfc(0.5 * o)
        out.append(CheckRow(name, "Crank1975, exact", "computed", float(flat.theta_at(o)), exact, 2e-5, _GRID))
    return out


def _letd(share: Array) -> Array:
    """A diffusivity published for filter paper (Gerlero2022), in m2/s."""
    w = (_DRY + (_WET - _DRY) * share - 0.019852) / (_WET - 0.019852)
    return np.asarray(4.66e-4 * w**0.004569 / (w**0.004569 + 12930.0 * (1.0 - w) ** 1.505))


def library_rows() -> list[CheckRow]:
    """The same profile by `fronts`; empty where that is not installed."""
    try:
        from fronts import solve
        from fronts.D import letd
    except ImportError:
        return []
    law = letd(L=0.004569, E=12930.0, T=1.505, Dwt=4.66e-4, theta_range=(0.019852, _WET))
    theirs = solve(law, i=_DRY, b=_WET - 1e-8, itol=1e-5)  # exactly at full its formula divides by zero
    ours = similarity_profile(_letd, _DRY, _WET)
    source = "fronts (library), with the diffusivity of Gerlero2022"
    why = "the library starts 1e-8 below full and integrates to 1e-3 by default"
    out = [
        CheckRow(
            f"Imbibition profile of filter paper: theta at o = {o:g} m/s^0.5",
            source,
            "library",
            float(ours.theta_at(o)),
            float(theirs(o=o)),
            4e-4,
            why,
        )
        for o in (5e-4, 1.0e-3, 1.5e-3, 1.9e-3, 2.1e-3)
    ]
    name = "Imbibition profile of filter paper: sorptivity [m/s^0.5]"
    s, reference = ours.sorptivity_m_s05, float(theirs.sorptivity())
    return [*out, CheckRow(name, source, "library", s, reference, 2e-4, why, relative=True)]
