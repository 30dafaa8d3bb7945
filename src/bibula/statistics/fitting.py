"""Weighted least squares with priors, bounds and log scales; standard errors and profile intervals.

The one place that imports lmfit, and only when a profile interval is asked for.
A residual function returns standardised residuals, (data - model) / sigma; a prior on a
parameter is one more residual. Each parameter is fitted in its own scale: `linear`, or `log`
for a quantity that cannot be negative.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy import stats
from scipy.optimize import least_squares

from bibula.quantities.errors import InputError, Place
from bibula.statistics.parameters import Array, FitResult, Guess, ProfileInterval, Scale

__all__ = ["FitResult", "Guess", "ProfileInterval", "Scale", "fit", "fit_curve", "profile_interval"]

Residuals = Callable[[Mapping[str, float]], npt.ArrayLike]
Model = Callable[[Array, Mapping[str, float]], npt.ArrayLike]

CORRELATION_LIMIT = 0.95
_TIGHT = 4.0e-16
_STEP = 6.0e-6  # cube root of machine epsilon: best for central differences


@dataclass
class _Problem:
    """The fit in coordinates: data residuals over `error_scale`, then the priors."""

    residuals: Residuals
    start: Mapping[str, Guess]
    error_scale: float = 1.0
    step: float = _STEP
    count: int = field(default=0)

    def natural(self, q: Sequence[float] | Array) -> dict[str, float]:
        return {n: g.outward(float(x)) for (n, g), x in zip(self.start.items(), q, strict=True)}

    def data(self, q: Sequence[float] | Array) -> Array:
        self.count += 1
        with np.errstate(all="ignore"):
            return np.asarray(self.residuals(self.natural(q)), dtype=np.float64).reshape(-1)

    def priors(self, q: Sequence[float] | Array) -> Array:
        terms = [(x - g.prior[0]) / g.prior[1] for x, g in zip(q, self.start.values(), strict=True) if g.prior]
        return np.array(terms, dtype=np.float64)

    def __call__(self, q: Array) -> Array:
        return np.concatenate([self.data(q) / self.error_scale, self.priors(q)])

    def bounds(self) -> tuple[Array, Array]:
        low = np.array([g.inward(g.low) for g in self.start.values()])
        high = np.array([g.inward(g.high) for g in self.start.values()])
        return low, high

    def jacobian(self, q: Array) -> Array:
        """Central differences, relative to a linear parameter and absolute in the log; one-sided at a bound."""
        low, high = self.bounds()
        columns = []
        for k, g in enumerate(self.start.values()):
            size = 1.0 if g.scale == "log" else abs(float(q[k])) or abs(g.value) or 1.0
            up, down = q.copy(), q.copy()
            up[k] = min(q[k] + self.step * size, high[k])
            down[k] = max(q[k] - self.step * size, low[k])
            columns.append((self(up) - self(down)) / (up[k] - down[k]))
        matrix = np.column_stack(columns)
        return np.where(np.isfinite(matrix), matrix, 0.0)


def fit(
    residuals: Residuals,
    start: Mapping[str, Guess],
    *,
    scale_covariance: bool = False,
    derivative_step: float = _STEP,
    more_starts: Sequence[Mapping[str, float]] = (),
    tolerance: float = _TIGHT,
    max_evaluations: int | None = None,
) -> FitResult:
    """Fit parameters so that the standardised residuals and the priors are smallest in squares.

    Args:
        residuals: name -> value in, standardised residuals out; always the same number of them. Values
            that are not finite are stepped back from, but the starting values must give finite ones.
        start: name -> Guess, in the order wanted.
        scale_covariance: True where sigmas are only relative: errors then come from the scatter.
        derivative_step: step of the central differences, relative to the parameter; give 1e-3 or so for
            a model that carries integration noise.
        more_starts: further starting values (natural scale); the lowest sum of squares wins.
        tolerance: relative change of parameters and sum of squares at which the search stops.
        max_evaluations: of the residual function, derivatives not counted.

    Raises:
        InputError: no data, a start out of its bounds, no finite residuals at any start.
    """
    _check(start)
    problem = _Problem(residuals, start, step=derivative_step)
    options: dict[str, Any] = {
        "method": "trf", "x_scale": "jac", "jac": problem.jacobian,
        "ftol": max(tolerance, _TIGHT), "xtol": max(tolerance, _TIGHT), "gtol": None, "max_nfev": max_evaluations,
    }  # fmt: skip
    answer = _best(problem, [_first(start), *(_first(start, m) for m in more_starts)], options)
    n = len(problem.data(answer.x))
    if scale_covariance:
        answer = _rescale(problem, answer, n, options)
    return _result(problem, answer, n, scale_covariance)


def fit_curve(
    model: Model,
    x: npt.ArrayLike,
    y: npt.ArrayLike,
    start: Mapping[str, Guess],
    *,
    sigma: npt.ArrayLike | None = None,
    more_starts: Sequence[Mapping[str, float]] = (),
    tolerance: float = _TIGHT,
) -> FitResult:
    """Fit `model(x, parameters)` to y. Without `sigma` the errors come from the scatter about the curve.

    Args:
        model: (x, name -> value) -> modelled y, same length as x.
        x: places of the readings, shape (n,), finite.
        y: readings, shape (n,), finite.
        start: name -> Guess.
        sigma: standard uncertainty of y, one number or one per point, > 0.
        more_starts: as in `fit`.
        tolerance: as in `fit`; 1e-9 or so for a model that interpolates.
    """
    xs, ys = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    if xs.shape != ys.shape or xs.ndim != 1 or not (np.isfinite(xs).all() and np.isfinite(ys).all()):
        raise InputError("x and y must be two lists of finite numbers of one length", "check the table")
    s = np.ones_like(ys) if sigma is None else np.broadcast_to(np.asarray(sigma, dtype=float), ys.shape)
    if not (np.isfinite(s).all() and (s > 0.0).all()):
        raise InputError("every standard uncertainty must be above zero", "give the balance's resolution at least")

    def standardised(p: Mapping[str, float]) -> Array:
        return np.asarray((ys - np.asarray(model(xs, p), dtype=float)) / s, dtype=float)

    return fit(standardised, start, scale_covariance=sigma is None, more_starts=more_starts, tolerance=tolerance)


def profile_interval(
    residuals: Residuals, start: Mapping[str, Guess], result: FitResult, name: str, level: float = 0.95
) -> ProfileInterval:
    """Interval of one parameter from the profile of chi2 (lmfit's search along it), natural scale.

    The F test is used where the covariance was scaled, the chi2 test with one degree otherwise
    (Newville2025). A side on which chi2 does not rise far enough goes to the bound, and a warning
    says so.
    """
    import lmfit

    i = result.index(name)
    problem = _Problem(residuals, start)
    keys = [f"p{k}" for k in range(len(start))]
    params = lmfit.Parameters()
    low, high = problem.bounds()
    for k, key in enumerate(keys):
        params.add(key, value=float(result.coordinates[k]), min=float(low[k]), max=float(high[k]))
    problem.error_scale = result.error_scale
    params.add("spare", value=0.1, vary=len(start) == 1)  # lmfit profiles two parameters or more

    def objective(p: Any) -> Array:
        own = problem(np.array([p[k].value for k in keys]))
        own = np.where(np.isfinite(own), own, 1e9)  # where the model has no answer, the fit is bad
        return np.append(own, p["spare"].value) if len(start) == 1 else own

    minimizer = lmfit.Minimizer(objective, params)
    best = minimizer.minimize(method="leastsq")
    best.params["spare"].stderr = 1.0
    for k, key in enumerate(keys):
        best.params[key].stderr = math.sqrt(max(float(result.covariance[k, k]), 1e-300))
    probability = None if result.scaled else _chi2_probability
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", UserWarning)  # a bound that was reached is told below
            table = lmfit.conf_interval(minimizer, best, p_names=[keys[i]], sigmas=[level], prob_func=probability)
        lo, hi = float(table[keys[i]][0][1]), float(table[keys[i]][-1][1])
    except (lmfit.minimizer.MinimizerException, ValueError) as error:
        return ProfileInterval(name, result[name], math.nan, math.nan, level, (f"No profile of {name}: {error}.",))
    guess = start[name]
    found = (
        guess.outward(lo) if math.isfinite(lo) else guess.low,
        guess.outward(hi) if math.isfinite(hi) else guess.high,
    )
    open_sides = [side for side, x in zip(("below", "above"), (lo, hi), strict=True) if not math.isfinite(x)]
    notes = tuple(f"The data do not bound {name} {side}." for side in open_sides)
    return ProfileInterval(name, result[name], found[0], found[1], level, notes)


def _chi2_probability(best: Any, new: Any) -> float:
    return float(stats.chi2.cdf(max(new.chisqr - best.chisqr, 0.0), 1))


def _check(start: Mapping[str, Guess]) -> None:
    if not start:
        raise InputError("there is nothing to fit", "name at least one parameter")
    for name, g in start.items():
        place = Place(field=name)
        if not g.low < g.high:
            raise InputError(f"bounds {g.low:g} to {g.high:g} leave no room", "give low < high", place)
        if not g.low <= g.value <= g.high or (g.scale == "log" and g.value <= 0.0):
            raise InputError(f"start {g.value:g} is outside {g.low:g} to {g.high:g}", "start inside the bounds", place)
        if g.prior is not None and not g.prior[1] > 0.0:
            raise InputError(
                "the prior's standard deviation must be above zero", "give it, or leave the prior out", place
            )


def _first(start: Mapping[str, Guess], other: Mapping[str, float] | None = None) -> Array:
    """Coordinates of a start, nudged inside the bounds (trf wants the interior)."""
    out = []
    for name, g in start.items():
        low, high = g.inward(g.low), g.inward(g.high)
        q = g.inward((other or {}).get(name, g.value))
        room = high - low if math.isfinite(high - low) else max(1.0, abs(q))
        out.append(min(max(q, low + 1e-10 * room), high - 1e-10 * room))
    return np.array(out)


def _best(problem: _Problem, starts: Sequence[Array], options: dict[str, Any]) -> Any:
    good = [q for q in starts if np.isfinite(problem(q)).all()]
    answers = [least_squares(problem, q, bounds=problem.bounds(), **options) for q in good]
    if not answers:
        raise InputError("the model gives no finite number at its starting values", "start nearer to the data")
    return min(answers, key=lambda a: float(a.cost))


def _rescale(problem: _Problem, answer: Any, n: int, options: dict[str, Any]) -> Any:
    """Find the error scale from the scatter; where priors weigh in, refit until the two agree."""
    for _ in range(20):
        cov, _ = _invert(answer.jac)
        finite = np.where(np.isfinite(cov), cov, 0.0)
        left = n - float(np.trace(finite @ answer.jac[:n].T @ answer.jac[:n]))
        chi2 = float(np.sum(answer.fun[:n] ** 2)) * problem.error_scale**2
        new = max(math.sqrt(chi2 / left), 1e-140) if left > 0.5 else problem.error_scale
        if not any(g.prior for g in problem.start.values()):
            answer.jac, answer.fun = answer.jac / new, answer.fun / new
            problem.error_scale = new
            return answer
        settled = abs(new / problem.error_scale - 1.0) < 1e-6
        problem.error_scale = new
        answer = least_squares(problem, answer.x, bounds=problem.bounds(), **options)
        if settled:
            break
    return answer


def _invert(jac: Array) -> tuple[Array, bool]:
    """(J'J)^-1 and whether a direction was lost. Columns are scaled first so that units do not matter."""
    size = np.linalg.norm(jac, axis=0)
    safe = np.where(size > 0.0, size, 1.0)
    _, s, vt = np.linalg.svd(jac / safe, full_matrices=True)
    full = np.zeros(jac.shape[1])
    full[: len(s)] = s
    lost = full <= np.finfo(float).eps * max(jac.shape) * max(float(full.max(initial=0.0)), 1e-300)
    weights = 1.0 / np.where(lost, 1e-12, full) ** 2
    cov = (vt.T * weights) @ vt / np.outer(safe, safe)
    cov[size == 0.0, size == 0.0] = math.inf
    return cov, bool(lost.any())


def _result(problem: _Problem, answer: Any, n: int, scaled: bool) -> FitResult:
    q, guesses = answer.x, list(problem.start.values())
    cov, lost = _invert(answer.jac)
    m = len(answer.fun) - n
    if scaled and n + m - len(guesses) <= 0:
        cov = np.full_like(cov, math.inf)  # no scatter to take an error from
    sd = np.sqrt(np.diag(cov))
    with np.errstate(invalid="ignore", divide="ignore"):
        corr = np.where(np.outer(sd, sd) > 0.0, cov / np.outer(sd, sd), 0.0)
    np.fill_diagonal(corr, 1.0)
    corr = np.clip(np.nan_to_num(corr), -1.0, 1.0)
    estimates = np.array([g.outward(float(x)) for g, x in zip(guesses, q, strict=True)])
    is_log = np.array([g.scale == "log" for g in guesses])
    with np.errstate(divide="ignore", invalid="ignore"):
        natural = np.where(is_log, sd * estimates, sd)
        relative = np.where(is_log, sd, sd / np.abs(estimates))
    determined = [1.0 if math.isfinite(s) else 0.0 for s in sd]
    for i, g in enumerate(guesses):
        if g.prior:
            determined[i] = min(max(1.0 - float(cov[i, i]) / g.prior[1] ** 2, 0.0), 1.0)
    result = FitResult(
        names=tuple(problem.start), scales=tuple(g.scale for g in guesses), estimates=estimates,
        standard_errors=natural, log_standard_errors=relative, coordinates=np.asarray(q),
        covariance=cov, correlation=corr,
        chi2=float(np.sum(answer.fun[:n] ** 2)) * problem.error_scale**2, prior_chi2=float(np.sum(answer.fun[n:] ** 2)),
        n_data=n, dof=n + m - len(guesses), residuals=answer.fun[:n] * problem.error_scale, n_evaluations=problem.count,
        determined=np.array(determined), scaled=scaled, error_scale=problem.error_scale,
        converged=bool(answer.status > 0), message=str(answer.message),
    )  # fmt: skip
    return replace(result, warnings=_warnings(result, guesses, lost))


def _warnings(r: FitResult, guesses: Sequence[Guess], lost: bool) -> tuple[str, ...]:
    out = []
    if not r.converged:
        out.append("The search did not converge: do not use these numbers.")
    if r.dof < 0 or (r.dof == 0 and r.scaled):
        out.append(f"{r.n_data} readings cannot determine {len(r.names)} parameters and their errors.")
    if lost:
        out.append("Some combination of parameters is not determined at all.")
    for name, g, x in zip(r.names, guesses, r.coordinates, strict=True):
        low, high = g.inward(g.low), g.inward(g.high)
        near = 1e-6 * (high - low if math.isfinite(high - low) else max(1.0, abs(float(x))))
        if x - low < near or high - x < near:
            out.append(f"{name} = {g.outward(float(x)):.4g} stopped at its bound: its error means nothing.")
    out.extend(
        f"{r.names[j]} and {r.names[i]} cannot be told apart (correlation {r.correlation[i, j]:+.3f})."
        for i in range(len(r.names))
        for j in range(i)
        if abs(r.correlation[i, j]) > CORRELATION_LIMIT
    )
    return tuple(out)
