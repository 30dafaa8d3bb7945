"""From an imbibition profile to a moisture diffusivity.

Where a dry body touches water, the profile depends on o = x / sqrt(t) alone (Boltzmann), and
-2 D dtheta/do is the integral of o over theta below. The flux-concentration iteration (Philip and
Knight 1974) solves this for any diffusivity D(theta); its parameters are fitted to a measured profile.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bibula.evidence.summaries import Summary
from bibula.formulas import pores
from bibula.quantities.errors import InputError, ValidityError
from bibula.statistics.fitting import FitResult, Guess, fit

Array = npt.NDArray[np.float64]
Params = Mapping[str, float]
Diffusivity = Callable[[Array], Array]

_GAUSS, _WEIGHT = np.polynomial.legendre.leggauss(4)


@dataclass(frozen=True)
class SimilarityProfile:
    """Profile of water drawn into a long dry body.

    Attributes:
        theta: water content by volume, falling from the wet face to the dry body.
        boltzmann_m_s05: o = x / sqrt(t) at these contents, rising from 0.
        sorptivity_m_s05: volume drawn in per area and root of time.
    """

    theta: Array
    boltzmann_m_s05: Array
    sorptivity_m_s05: float

    def theta_at(self, boltzmann_m_s05: npt.ArrayLike) -> Array:
        """Water content at given o; the dry content beyond the front."""
        places = np.asarray(boltzmann_m_s05, dtype=np.float64)
        return np.asarray(np.interp(places, self.boltzmann_m_s05, self.theta))


@dataclass(frozen=True)
class DiffusivityFit:
    """A diffusivity fitted to a profile.

    Attributes:
        model: its name.
        sorptivity: of the fitted model, m/s^0.5.
        scale_m2_s: the scale of D (D_wet of the exponential, `scale_m2_s` of the lognormal).
        fit: parameters and errors.
        rms: root mean square residual, in theta.
        lag_correlation: correlation of neighbouring residuals; near 1 the misfit is the model's, not noise.
        profile: the fitted profile.
        warnings: plain sentences.
    """

    model: str
    sorptivity: Summary
    scale_m2_s: float
    fit: FitResult
    rms: float
    lag_correlation: float
    profile: SimilarityProfile
    warnings: tuple[str, ...]


def similarity_profile(
    diffusivity: Diffusivity, theta_dry: float, theta_wet: float, cells: int = 600
) -> SimilarityProfile:
    """Solve 2 d/do(D dtheta/do) + o dtheta/do = 0, wet face at o = 0, dry far away (PhilipKnight1974).

    Args:
        diffusivity: D in m2/s as a function of the scaled content (theta - dry) / (wet - dry), called on
            arrays strictly between 0 and 1; positive, integrable.
        theta_dry: content far away, 0 or more.
        theta_wet: content at the face, above `theta_dry`.
        cells: of the grid in content, finer towards both ends; 600 give five digits.

    Raises:
        InputError: contents out of order, a diffusivity that is negative or not a number.
        ValidityError: the iteration does not settle.
    """
    if not 0.0 <= theta_dry < theta_wet:
        raise InputError("the wet face does not hold more water than the dry body", "check both contents")
    s = np.linspace(0.0, 1.0, cells + 1)
    share = s**3 / (s**3 + (1.0 - s) ** 3)  # gathers cells at both ends
    steps = (
        diffusivity.integrals(share) if isinstance(diffusivity, LognormalDiffusivity) else _gauss(diffusivity, share)
    )
    if not (np.isfinite(steps).all() and (steps >= 0.0).all() and steps.max() > 0.0):
        raise InputError("the diffusivity is negative or not a number somewhere", "check its parameters")
    half_square, reach = _flux_concentration(share, steps)
    width = theta_wet - theta_dry
    o = 2.0 * reach / math.sqrt(2.0 * half_square)
    theta = theta_dry + width * share
    if not math.isfinite(o[0]):
        o[0] = o[1] + (o[1] - o[2])
    return SimilarityProfile(theta[::-1].copy(), o[::-1].copy(), width * math.sqrt(2.0 * half_square))


def _gauss(diffusivity: Diffusivity, share: Array) -> Array:
    """Integral of D over each cell (scaled content)."""
    centre, half = 0.5 * (share[1:] + share[:-1]), 0.5 * np.diff(share)
    points = centre[:, None] + half[:, None] * _GAUSS[None, :]
    d = np.asarray(diffusivity(points.ravel()), dtype=np.float64).reshape(points.shape)
    if (d < 0.0).any():
        return np.full_like(half, np.nan)
    return np.asarray((d @ _WEIGHT) * half)


def _flux_concentration(share: Array, steps: Array) -> tuple[float, Array]:
    """Half the squared (scaled) sorptivity, and the integral of D/F from each content up to the wet end."""
    flux, last = np.sqrt(share), 0.0
    for _ in range(300):
        with np.errstate(divide="ignore", invalid="ignore"):
            ratio = share / flux
            log = np.log(flux[1:] / flux[:-1])
            inverse = np.where(log < 1e-6, 2.0 / (flux[1:] + flux[:-1]), log / np.diff(flux))
        ratio[0] = ratio[1]
        mass = np.concatenate([[0.0], np.cumsum(0.5 * (ratio[1:] + ratio[:-1]) * steps)])
        reach = np.concatenate([np.cumsum((inverse * steps)[::-1])[::-1], [0.0]])
        half_square = float(mass[-1])
        new = np.zeros_like(flux)
        new[1:] = np.clip((share[1:] * reach[1:] + mass[1:]) / half_square, share[1:], 1.0)
        flux = np.maximum.accumulate(new)
        if abs(half_square - last) < 1e-11 * half_square:
            return half_square, reach
        last = half_square
    raise ValidityError("the imbibition integral does not settle for this diffusivity", "check its parameters")


def exponential_diffusivity(wet_m2_s: float, steepness: float) -> Diffusivity:
    """D = D_wet exp(steepness (s - 1)) of the scaled content s."""
    return lambda s: np.asarray(wet_m2_s * np.exp(steepness * (s - 1.0)))


@dataclass(frozen=True)
class LognormalDiffusivity:
    """D = scale K_r / |dS/ds| of a lognormal pore-size distribution with Mualem's conductivity (Kosugi1996).

    s is the suction over its median. D is infinite at saturation, but its integrals over s are not.

    Attributes:
        scale_m2_s: K_sat (m/s) times the median suction head (m) over the range of theta.
        spread: standard deviation of ln suction.
        tortuosity: Mualem's exponent.
    """

    scale_m2_s: float
    spread: float
    tortuosity: float = 0.5

    def __call__(self, share: Array) -> Array:
        """D in m2/s at scaled contents strictly between 0 and 1."""
        suction = np.asarray(pores.lognormal_suction(share, 1.0, self.spread))
        slope = -np.asarray(pores.lognormal_saturation_slope(suction, 1.0, self.spread))
        d = self._relative(suction) / np.where(slope > 0.0, slope, 1.0)
        return np.asarray(np.where(slope > 0.0, self.scale_m2_s * d, 0.0))

    def integrals(self, share: Array) -> Array:
        """Integral of D over each cell of a grid that runs from 0 to 1: the integral of K over suction."""
        log_s = np.log(np.asarray(pores.lognormal_suction(share[1:-1], 1.0, self.spread)))
        centre, half = 0.5 * (log_s[1:] + log_s[:-1]), 0.5 * np.diff(log_s)
        s = np.exp(centre[:, None] + half[:, None] * _GAUSS[None, :])
        inner = np.abs(((self._relative(s) * s) @ _WEIGHT) * half)
        first, last = np.exp(log_s[0]), np.exp(log_s[-1])
        ends = float(self._relative(first) * first), float(0.5 * (1.0 + self._relative(last)) * last)
        return self.scale_m2_s * np.concatenate([ends[:1], inner, ends[1:]])

    def _relative(self, suction: Array | np.float64) -> Array:
        return np.asarray(pores.lognormal_conductivity(suction, 1.0, self.spread, self.tortuosity))


def sorptivity_from_profile(
    boltzmann_m_s05: npt.ArrayLike, theta: npt.ArrayLike, theta_dry: float, theta_wet: float
) -> Summary:
    """Sorptivity straight from the readings: trapezoids of theta - dry over o, the wet content carried back to o = 0.

    Args:
        boltzmann_m_s05: o of the readings, rising.
        theta: water content at each.
        theta_dry: content far away.
        theta_wet: content at the wet face, used between o = 0 and the first reading.
    """
    o, th = _checked_profile(boltzmann_m_s05, theta)
    value = float(np.trapezoid(th - theta_dry, o)) + float(o[0]) * (theta_wet - theta_dry)
    notes: tuple[str, ...] = ()
    if th[-1] - theta_dry > 0.02 * (theta_wet - theta_dry):
        notes = ("The profile ends before the front does: the value is too low.",)
    method = "trapezoids over the readings, wet content carried back to the face"
    return Summary("sorptivity", value, "m/s^0.5", math.nan, math.nan, math.nan, method, len(o), notes)


def fit_exponential(
    boltzmann_m_s05: npt.ArrayLike, theta: npt.ArrayLike, theta_dry: float, theta_wet: float, *, cells: int = 300
) -> DiffusivityFit:
    """Fit D = D_wet exp(steepness (s - 1)) to a profile, all readings equally trusted.

    Args:
        boltzmann_m_s05: o of the readings, rising, m/s^0.5.
        theta: water content by volume at each.
        theta_dry: content far away, fixed.
        theta_wet: content at the wet face, fixed.
        cells: see `similarity_profile`.
    """
    data = _Data(*_checked_profile(boltzmann_m_s05, theta), theta_dry, theta_wet, cells)
    start = {"steepness": Guess(7.0, 0.0, 200.0)}
    tries = [{"steepness": b} for b in (2.0, 15.0, 30.0)]
    return _fit("exponential diffusivity", lambda p: exponential_diffusivity(1.0, p["steepness"]), data, start, tries)


def fit_lognormal(
    boltzmann_m_s05: npt.ArrayLike,
    theta: npt.ArrayLike,
    theta_dry: float,
    theta_wet: float,
    *,
    tortuosity: float | None = 0.5,
    cells: int = 300,
) -> DiffusivityFit:
    """Fit the diffusivity of a lognormal pore-size distribution; `tortuosity` None fits Mualem's exponent too.

    Other arguments as for `fit_exponential`.
    """
    data = _Data(*_checked_profile(boltzmann_m_s05, theta), theta_dry, theta_wet, cells)
    start = {"spread": Guess(0.5, 0.1, 4.0, "log")}
    tries = [{"spread": spread} for spread in (0.15, 0.3, 1.0)]
    if tortuosity is None:
        start["tortuosity"] = Guess(0.5, -2.0, 20.0)
        tries += [{"spread": t["spread"], "tortuosity": 3.0} for t in tries]

    def shape(p: Params) -> Diffusivity:
        return LognormalDiffusivity(1.0, p["spread"], p["tortuosity"] if tortuosity is None else tortuosity)

    return _fit("lognormal pores", shape, data, start, tries)


@dataclass(frozen=True)
class _Data:
    o: Array
    theta: Array
    dry: float
    wet: float
    cells: int


def _checked_profile(o: npt.ArrayLike, theta: npt.ArrayLike) -> tuple[Array, Array]:
    x, y = np.asarray(o, dtype=float), np.asarray(theta, dtype=float)
    if x.ndim != 1 or x.shape != y.shape or len(x) < 5 or not (np.isfinite(x).all() and np.isfinite(y).all()):
        raise InputError("a profile needs five readings or more, place and content in lists of one length", "check it")
    if (np.diff(x) <= 0.0).any() or x[0] < 0.0:
        raise InputError("the places of the profile do not rise from the wet face", "sort the readings")
    return x, y


def _fit(
    model: str,
    shape: Callable[[Params], Diffusivity],
    data: _Data,
    start: Mapping[str, Guess],
    tries: Sequence[Mapping[str, float]],
) -> DiffusivityFit:
    """Fit sorptivity and shape: the scale of D follows from the sorptivity, which grows with its root."""
    measured = sorptivity_from_profile(data.o, data.theta, data.dry, data.wet).value
    if not measured > 0.0:
        raise InputError("the profile holds no water above the dry content", "check both contents")
    guesses = {"sorptivity": Guess(measured, 0.1 * measured, 10.0 * measured, "log"), **start}

    def unit(p: Params) -> SimilarityProfile:
        return similarity_profile(shape(p), data.dry, data.wet, data.cells)

    def curve(places: Array, p: Params) -> Array:
        try:
            found = unit(p)
        except (InputError, ValidityError):
            return np.full_like(places, np.nan)
        return found.theta_at(places * (found.sorptivity_m_s05 / p["sorptivity"]))

    # A steep front passes few readings, so the sum of squares is bumpy: several starts, a wide derivative.
    starts = [{**t, "sorptivity": f * measured} for t in [{}, *tries] for f in (0.98, 1.0, 1.015)]
    result = fit(
        lambda p: data.theta - curve(data.o, p),
        guesses,
        scale_covariance=True,
        derivative_step=2e-3,
        more_starts=starts,
        tolerance=1e-8,
    )
    found, value, r = unit(result.values), result["sorptivity"], result.residuals
    scale = value / found.sorptivity_m_s05
    lag = float(np.corrcoef(r[1:], r[:-1])[0, 1]) if float(np.std(r)) > 0.0 else 0.0
    notes = list(result.warnings)
    if lag > 0.5:
        notes.append("Neighbouring residuals go together: the misfit is the model's, and the errors are too small.")
    low, high = result.interval("sorptivity")
    summary = Summary(
        "sorptivity", value, "m/s^0.5", result.error("sorptivity"), low, high, f"fit of {model}", len(r),
        tuple(notes), ("PhilipKnight1974",),
    )  # fmt: skip
    profile = SimilarityProfile(found.theta, found.boltzmann_m_s05 * scale, value)
    return DiffusivityFit(model, summary, scale**2, result, float(np.sqrt(np.mean(r**2))), lag, profile, tuple(notes))
