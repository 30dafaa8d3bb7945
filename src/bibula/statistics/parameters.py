"""Parameters of a fit: what is guessed beforehand, what comes out, how sure it is."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt
from scipy import stats

from bibula.quantities.errors import InputError

Scale = Literal["log", "linear"]
Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Guess:
    """Where the search for one parameter starts and what is known of it beforehand.

    Attributes:
        value: starting value, natural scale.
        low, high: bounds, natural scale; with `log` a low of 0 or less means no lower bound.
        scale: `log` fits ln(value).
        prior: (mean, standard deviation) in the fitted scale, so of ln(value) for `log`; None for none.
    """

    value: float
    low: float = -math.inf
    high: float = math.inf
    scale: Scale = "linear"
    prior: tuple[float, float] | None = None

    def inward(self, value: float) -> float:
        """Natural value -> fitted coordinate; -inf for `log` of 0 or less."""
        if self.scale == "linear":
            return value
        return math.log(value) if value > 0.0 else -math.inf

    def outward(self, coordinate: float) -> float:
        """Fitted coordinate -> natural value."""
        if self.scale == "linear":
            return coordinate
        return math.exp(coordinate) if coordinate < 700.0 else math.inf


@dataclass(frozen=True)
class FitResult:
    """A fit. Arrays run over the parameters in the order of `names`.

    Attributes:
        names: parameter names.
        scales: the scale each was fitted in.
        estimates, standard_errors: natural scale.
        log_standard_errors: standard error of ln(estimate), the relative error.
        coordinates: estimates in the fitted scale.
        covariance, correlation: (p, p), fitted scale.
        chi2: sum of squares of the data residuals as given (priors left out).
        prior_chi2: the share of the priors.
        n_data: number of data residuals.
        dof: data + priors - parameters.
        residuals: standardised data residuals at the estimates.
        n_evaluations: calls of the residual function, derivatives included.
        determined: 1 - posterior variance / prior variance; 1 without a prior, 0 where the data say nothing.
        scaled: whether the covariance was multiplied by the reduced chi2.
        error_scale: factor by which sigmas were judged too small (1 unless `scaled`).
        converged, message: as the search ended.
        warnings: plain sentences.
    """

    names: tuple[str, ...]
    scales: tuple[Scale, ...]
    estimates: Array
    standard_errors: Array
    log_standard_errors: Array
    coordinates: Array
    covariance: Array
    correlation: Array
    chi2: float
    prior_chi2: float
    n_data: int
    dof: int
    residuals: Array
    n_evaluations: int
    determined: Array
    scaled: bool
    error_scale: float
    converged: bool
    message: str
    warnings: tuple[str, ...] = ()

    @property
    def reduced_chi2(self) -> float:
        """(chi2 + prior chi2) / dof; nan without a degree of freedom."""
        return (self.chi2 + self.prior_chi2) / self.dof if self.dof > 0 else math.nan

    @property
    def values(self) -> dict[str, float]:
        """Estimates by name, natural scale."""
        return {n: float(v) for n, v in zip(self.names, self.estimates, strict=True)}

    def __getitem__(self, name: str) -> float:
        return float(self.estimates[self.index(name)])

    def error(self, name: str) -> float:
        """Standard error of one parameter, natural scale."""
        return float(self.standard_errors[self.index(name)])

    def index(self, name: str) -> int:
        """Position of a parameter; InputError for an unknown name."""
        if name not in self.names:
            raise InputError(f"the fit has no parameter '{name}'", "use one of " + ", ".join(self.names))
        return self.names.index(name)

    def interval(self, name: str, level: float = 0.95) -> tuple[float, float]:
        """Interval from the standard error, symmetric in the fitted scale (Student's t where scaled)."""
        i = self.index(name)
        q = 0.5 + 0.5 * level
        factor = stats.t.ppf(q, self.dof) if self.scaled and self.dof > 0 else stats.norm.ppf(q)
        half = float(factor) * math.sqrt(float(self.covariance[i, i]))
        guess = Guess(1.0, scale=self.scales[i])
        return guess.outward(float(self.coordinates[i]) - half), guess.outward(float(self.coordinates[i]) + half)


@dataclass(frozen=True)
class ProfileInterval:
    """An interval from the profile of chi2, as skew as the data make it.

    A side the data leave open ends at the parameter's bound.
    """

    name: str
    estimate: float
    low: float
    high: float
    level: float
    warnings: tuple[str, ...] = ()
