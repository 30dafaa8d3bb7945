"""A straight line by weighted least squares, with the errors of slope and intercept."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bibula.quantities.errors import InputError


@dataclass(frozen=True)
class LineFit:
    """y = intercept + slope x.

    Attributes:
        slope, intercept: in the units of y/x and y.
        slope_u, intercept_u: standard errors (nan with two points and no sigma).
        covariance: of slope and intercept.
        residual_sd: sqrt(residual sum of squares / dof); nan without a degree of freedom.
        r: correlation of x and y (nan if y is constant).
        dof: points - 2.
        residuals: y - line, shape (n,).
    """

    slope: float
    intercept: float
    slope_u: float
    intercept_u: float
    covariance: float
    residual_sd: float
    r: float
    dof: int
    residuals: npt.NDArray[np.float64]


def fit_line(x: npt.ArrayLike, y: npt.ArrayLike, sigma: npt.ArrayLike | None = None) -> LineFit:
    """Fit a line to at least two points at two different x.

    With `sigma` (standard uncertainty of y, > 0, one or one per point) the errors come from it;
    without, from the scatter about the line.

    Raises:
        InputError: too few points, or all at one x.
    """
    xs, ys = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    if xs.ndim != 1 or xs.shape != ys.shape or len(xs) < 2 or np.ptp(xs) == 0.0:
        raise InputError("a line needs two points or more at different places", "take more readings")
    s = np.ones_like(ys) if sigma is None else np.broadcast_to(np.asarray(sigma, dtype=float), ys.shape)
    w = 1.0 / s**2
    x0, y0 = float(np.average(xs, weights=w)), float(np.average(ys, weights=w))
    dx, dy = xs - x0, ys - y0
    sxx, sxy, syy = float(np.sum(w * dx * dx)), float(np.sum(w * dx * dy)), float(np.sum(w * dy * dy))
    slope = sxy / sxx
    residuals = dy - slope * dx
    dof = len(xs) - 2
    variance = float(np.sum(w * residuals**2)) / dof if dof > 0 else math.nan
    unit = variance if sigma is None else 1.0
    slope_var, mean_var = unit / sxx, unit / float(np.sum(w))
    return LineFit(
        slope=slope,
        intercept=y0 - slope * x0,
        slope_u=math.sqrt(slope_var),
        intercept_u=math.sqrt(mean_var + slope_var * x0**2),
        covariance=-x0 * slope_var,
        residual_sd=math.sqrt(variance)
        if sigma is None
        else math.sqrt(float(np.sum(residuals**2)) / dof)
        if dof > 0
        else math.nan,
        r=sxy / math.sqrt(sxx * syy) if syy > 0.0 else math.nan,
        dof=dof,
        residuals=residuals,
    )
