"""Weighted least squares for a model that is costly and carries a little integration noise.

A search with few runs: one-sided differences with wide steps, the derivative kept up to date by
Broyden's rule and renewed only where it serves no more, damping by Levenberg and Marquardt. Every
parameter has a prior, so there is no direction without a bottom. The errors are those of
`fitting.fit` on the model made straight about its minimum; a skew interval comes from the profile.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt
from scipy import stats

from bibula.quantities.errors import BibulaError, InputError
from bibula.statistics.fitting import fit
from bibula.statistics.parameters import Array, FitResult, Guess, ProfileInterval

Residuals = Callable[[Mapping[str, float]], npt.ArrayLike]
Progress = Callable[[int, int], None]

STEP = 0.03
"""Width of a difference in the fitted scale; a wide prior makes it no wider, a narrow one narrower."""
SETTLED = 0.01
"""The search ends where a step would lower chi2 by less: a tenth of a standard error at most."""
ROUGH = 0.3
"""The same for a first, rough search: half a standard error."""
LONGEST = 2.0
"""A step moves no parameter by more than this in the fitted scale, or three standard deviations of its prior."""
LIMIT_ROUNDS, ROUGH_ROUNDS = 40, 15


@dataclass
class CostlyFit:
    """A finished search.

    Attributes:
        result: estimates, errors, what was determined; `n_evaluations` are runs of the whole model.
        jacobian: d residual / d coordinate at the estimates, (n, p).
        start: the guesses it started from.
    """

    result: FitResult
    jacobian: Array
    start: Mapping[str, Guess]


@dataclass
class _Search:
    residuals: Residuals
    start: Mapping[str, Guess]
    progress: Progress | None = None
    runs: int = 0
    expected: int = 0
    mean: Array = field(init=False)
    sd: Array = field(init=False)
    low: Array = field(init=False)
    high: Array = field(init=False)

    def __post_init__(self) -> None:
        guesses = list(self.start.values())
        for name, g in self.start.items():
            if g.prior is None:
                raise InputError(f"'{name}' has no prior", "give every parameter one")
        self.mean = np.array([g.prior[0] for g in guesses if g.prior])
        self.sd = np.array([g.prior[1] for g in guesses if g.prior])
        self.low = np.array([g.inward(g.low) for g in guesses])
        self.high = np.array([g.inward(g.high) for g in guesses])
        self.expected = 4 * len(guesses) + 12

    def natural(self, q: Array) -> dict[str, float]:
        return {n: g.outward(float(x)) for (n, g), x in zip(self.start.items(), q, strict=True)}

    def run(self, q: Array) -> Array | None:
        """Residuals, or None where the model has no answer there."""
        self.runs += 1
        if self.progress:
            self.progress(self.runs, max(self.expected, self.runs))
        try:
            r = np.asarray(self.residuals(self.natural(q)), dtype=float)
        except BibulaError:
            return None
        return r if np.isfinite(r).all() else None

    def cost(self, q: Array, r: Array) -> float:
        return float(r @ r + np.sum(((q - self.mean) / self.sd) ** 2))

    def jacobian(self, q: Array, r: Array) -> Array:
        """One-sided differences, towards the prior's mean (away from the bounds)."""
        columns = []
        for k in range(len(q)):
            h = min(STEP, 0.3 * float(self.sd[k])) * (1.0 if q[k] <= self.mean[k] else -1.0)
            column = np.zeros_like(r)
            for width in (h, -h, 0.2 * h):
                trial = q.copy()
                trial[k] = min(max(q[k] + width, self.low[k]), self.high[k])
                moved = self.run(trial) if trial[k] != q[k] else None
                if moved is not None:
                    column = (moved - r) / (trial[k] - q[k])
                    break
            columns.append(column)
        return np.column_stack(columns)

    def step(self, q: Array, r: Array, jac: Array, damping: float, held: int | None = None) -> tuple[Array, float]:
        """A damped step and the fall of chi2 it promises; one coordinate may be held."""
        weight = jac.T @ jac + np.diag(self.sd**-2.0)
        slope = jac.T @ r + (q - self.mean) / self.sd**2
        free = np.ones(len(q), dtype=bool)
        if held is not None:
            free[held] = False
        free &= ~(((q <= self.low) & (slope > 0)) | ((q >= self.high) & (slope < 0)))
        move = np.zeros(len(q))
        if free.any():
            w = weight[np.ix_(free, free)]
            move[free] = np.linalg.solve(w + damping * np.diag(np.diag(w)), -slope[free])
        reach = np.minimum(LONGEST, 3.0 * self.sd)
        move *= min(1.0, float(np.min(reach / np.maximum(np.abs(move), 1e-300))))
        move = np.clip(q + move, self.low, self.high) - q
        return move, -float(2.0 * slope @ move + move @ weight @ move)


def fit_costly(
    residuals: Residuals,
    start: Mapping[str, Guess],
    *,
    more_starts: tuple[Mapping[str, float], ...] = (),
    poor: float = math.inf,
    derivative: Array | None = None,
    rough: bool = False,
    progress: Progress | None = None,
) -> CostlyFit:
    """Fit a costly model with priors on all parameters.

    Args:
        residuals: name -> value in, standardised residuals out; a BibulaError or a value that is not finite
            means "not here". It may keep what it has computed: most calls change one parameter only.
        start: name -> Guess with a prior, in the order wanted.
        more_starts: other starting values, tried where the best search so far ends with chi2 and priors together
            above `poor` per residual.
        poor: see there.
        derivative: of the residuals at the start, about right, from an earlier search; saves computing it.
        rough: end at about half a standard error from the minimum, for a first search.
        progress: called with (runs, expected runs) before every run.

    Raises:
        InputError: a parameter without a prior, or a model without an answer at the start.
    """
    search = _Search(residuals, start, progress)
    first = np.array([g.inward(g.value) for g in start.values()])
    best = _descend(search, first, derivative, rough)
    for other in more_starts:
        if search.cost(best[0], best[1]) / len(best[1]) <= poor:
            break
        q = np.array([g.inward(other.get(n, g.value)) for n, g in start.items()])
        found = _descend(search, q, None, rough)
        best = min(best, found, key=lambda b: search.cost(b[0], b[1]))
    return _finish(search, *best)


def _descend(search: _Search, q: Array, derivative: Array | None, rough: bool) -> tuple[Array, Array, Array, bool]:
    q = np.clip(q, search.low, search.high)
    r = search.run(q)
    if r is None:
        raise InputError("the model gives no answer at its starting values", "check the description of the tests")
    jac, fresh, damping = derivative, False, 1e-3
    if jac is None:
        jac, fresh = search.jacobian(q, r), True
    enough = ROUGH if rough else SETTLED
    for _ in range(ROUGH_ROUNDS if rough else LIMIT_ROUNDS):
        if search.step(q, r, jac, 0.0)[1] < enough:
            if fresh or rough:
                return q, r, jac, True
            jac, fresh = search.jacobian(q, r), True
            continue
        move, promised = search.step(q, r, jac, damping)
        moved = search.run(q + move)
        gain = -math.inf if moved is None else search.cost(q, r) - search.cost(q + move, moved)
        if moved is not None and gain > 0.0:
            jac = jac + np.outer(moved - r - jac @ move, move) / float(move @ move)
            q, r = q + move, moved
            damping = max(damping / 5.0, 1e-6)
            fresh = float(np.abs(move).max()) < 0.3 * STEP and fresh
            if gain < 0.5 * promised and gain > enough:
                jac, fresh = search.jacobian(q, r), True
        elif fresh:
            if damping > 1e4:
                return q, r, jac, promised < 0.2
            damping = max(8.0 * damping, 1e-2)
        else:
            jac, fresh = search.jacobian(q, r), True
    return q, r, jac, rough


def _finish(search: _Search, q: Array, r: Array, jac: Array, settled: bool) -> CostlyFit:
    # without its bounds: only its slope is wanted, and a value at a bound would halt the fit
    at = {
        n: replace(g, value=v, low=-math.inf, high=math.inf)
        for (n, g), v in zip(search.start.items(), search.natural(q).values(), strict=True)
    }
    inward = [g.inward for g in search.start.values()]

    def straight(p: Mapping[str, float]) -> Array:
        return np.asarray(r + jac @ (np.array([f(v) for f, v in zip(inward, p.values(), strict=True)]) - q))

    result = fit(straight, at)
    # the straight model only gives the errors: the estimates stay where the model itself was last run
    natural = np.array(list(search.natural(q).values()))
    result = replace(
        result,
        estimates=natural,
        coordinates=q,
        residuals=r,
        chi2=float(r @ r),
        prior_chi2=search.cost(q, r) - float(r @ r),
        standard_errors=np.where(
            [s == "log" for s in result.scales], result.log_standard_errors * natural, result.standard_errors
        ),
        n_evaluations=search.runs,
        converged=settled,
        message="settled" if settled else "the search used up its rounds",
        warnings=(*result.warnings, *_ended_at(search, q, settled)),
    )
    return CostlyFit(result, jac, search.start)


def _ended_at(search: _Search, q: Array, settled: bool) -> list[str]:
    out = [] if settled else ["The search did not converge: do not use these numbers."]
    at_bound = (q <= search.low + 1e-9) | (q >= search.high - 1e-9)
    for name, value, stopped in zip(search.start, search.natural(q).values(), at_bound, strict=True):
        if stopped:
            out.append(f"{name} = {value:.4g} stopped at its bound: its error means nothing.")
    return out


def profile_costly(residuals: Residuals, found: CostlyFit, name: str, level: float = 0.95) -> ProfileInterval:
    """Interval of one parameter from the profile of chi2 and priors, natural scale.

    At each trial value the others are moved to their minimum with the derivative at hand; the value at
    which the sum has risen by the chi2 quantile with one degree is found by secants.
    """
    search = _Search(residuals, found.start)
    result = found.result
    i = result.index(name)
    guess = found.start[name]
    target = float(np.sqrt(stats.chi2.ppf(level, 1)))
    bottom = result.chi2 + result.prior_chi2
    sd = math.sqrt(float(result.covariance[i, i]))
    ends, notes = [], []
    for side, sign in (("below", -1.0), ("above", 1.0)):
        limit = float(search.low[i] if sign < 0 else search.high[i])
        reach, end = target * sd, math.nan
        for _ in range(5):
            at = result.coordinates[i] + sign * reach
            end = max(at, limit) if sign < 0 else min(at, limit)
            rise = math.sqrt(max(_rise(search, found, i, end) - bottom, 1e-12))
            if abs(rise - target) < 0.03 * target:
                break
            if end == limit and rise < target:
                notes.append(f"The data do not bound {name} {side}.")
                break
            reach = abs(end - result.coordinates[i]) * min(max(target / rise, 0.3), 3.0)
        ends.append(guess.outward(end))
    return ProfileInterval(name, result[name], ends[0], ends[1], level, tuple(notes))


def profile_moments(residuals: Residuals, found: CostlyFit, name: str) -> tuple[float, float]:
    """Mean and standard deviation of one coordinate under exp(-profile/2), in the fitted scale.

    For a parameter the data bound on one side only, where the straight model's error says nothing.
    """
    search = _Search(residuals, found.start)
    result = found.result
    i = result.index(name)
    bottom = result.chi2 + result.prior_chi2
    points = {float(result.coordinates[i]): 0.0}
    for sign in (-1.0, 1.0):
        reach = 0.5 * math.sqrt(float(result.covariance[i, i]))
        for _ in range(24):
            at = float(np.clip(result.coordinates[i] + sign * reach, search.low[i], search.high[i]))
            points[at] = _rise(search, found, i, at) - bottom
            if points[at] > 12.0 or at in (search.low[i], search.high[i]):
                break
            reach *= 2.0 if points[at] < 2.0 else 1.4 if points[at] < 6.0 else 1.2
    for left, right in itertools.pairwise(sorted(points)):
        if min(points[left], points[right]) < min(points.values()) + 6.0:
            middle = 0.5 * (left + right)
            points[middle] = _rise(search, found, i, middle) - bottom
    q = np.array(sorted(points))
    rise = np.array([points[x] for x in q])
    fine = np.linspace(q[0], q[-1], 801)
    weight = np.exp(-0.5 * (np.interp(fine, q, rise) - rise.min()))
    mean = float((fine * weight).sum() / weight.sum())
    return mean, math.sqrt(float(((fine - mean) ** 2 * weight).sum() / weight.sum()))


def _rise(search: _Search, found: CostlyFit, i: int, value: float) -> float:
    """Least sum of squares with coordinate i held at a value."""
    home, column = found.result.coordinates, found.result.covariance[:, i]
    # from the others where they were, or moved along by their correlations: whichever is lower
    starts = []
    for q in (home.copy(), home + (value - home[i]) * column / float(column[i])):
        at = np.clip(q, search.low, search.high)
        at[i] = value
        r = search.run(at)
        if r is not None:
            starts.append((search.cost(at, r), at, r))
    if not starts:
        return math.inf
    best, q, r = min(starts, key=lambda s: s[0])
    jac, fresh, damping = found.jacobian, False, 1e-3
    for _ in range(8):
        move, promised = search.step(q, r, jac, damping, held=i)
        if promised < 5.0 * SETTLED:
            break
        moved = search.run(q + move)
        if moved is not None and search.cost(q + move, moved) < best:
            jac = jac + np.outer(moved - r - jac @ move, move) / float(move @ move)
            q, r = q + move, moved
            best = search.cost(q, r)
        elif fresh:
            damping *= 100.0
        else:
            jac, fresh = search.jacobian(q, r), True
    return best
