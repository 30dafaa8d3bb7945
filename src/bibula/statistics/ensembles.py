"""Seeded ensembles: draws that fill the space evenly, quantile bands, members mapped on any executor."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from concurrent.futures import Executor, Future, as_completed
from typing import Literal, TypeVar

import numpy as np
import numpy.typing as npt
from scipy.special import ndtri

from bibula.quantities.errors import InputError

Array = npt.NDArray[np.float64]
Spread = Literal["lognormal", "normal"]
Progress = Callable[[int, int], None]
M = TypeVar("M")
R = TypeVar("R")

BAND_LEVELS = (0.025, 0.5, 0.975)


def log_sd(value: npt.ArrayLike, u: npt.ArrayLike) -> Array:
    """Standard deviation of ln x for a lognormal of median `value` and relative width u/value.

    sqrt(ln(1 + (u/value)^2)), so that a small u/value is the standard deviation itself.
    """
    v, s = np.asarray(value, dtype=float), np.asarray(u, dtype=float)
    return np.asarray(np.sqrt(np.log1p((s / v) ** 2)))


def draw(
    medians: npt.ArrayLike,
    *,
    n: int,
    seed: int,
    u: npt.ArrayLike | None = None,
    correlations: npt.ArrayLike | None = None,
    covariance: npt.ArrayLike | None = None,
    spread: Spread | Sequence[Spread] = "lognormal",
) -> Array:
    """Draw n members of p parameters, shape (n, p); the same seed gives the same draws.

    The margins are stratified (one Latin hypercube, one draw in each n-th of every margin), so
    medians and quantiles are close with few members; chance correlations are taken out.

    Args:
        medians: (p,) median of each parameter (for `normal` the mean); > 0 for `lognormal`.
        n: number of members, 1 or more.
        seed: of the generator.
        u: (p,) standard uncertainties, natural scale (see `log_sd`).
        correlations: (p, p) in the drawn scale (of logs for `lognormal`); none means independent.
        covariance: (p, p) in the drawn scale, instead of `u` and `correlations`.
        spread: one for all or one per parameter.

    Raises:
        InputError: shapes that do not match, a median of 0 or less for `lognormal`, a matrix that is
            no covariance (not symmetric, or negative in some direction).
    """
    m = np.atleast_1d(np.asarray(medians, dtype=float))
    p = len(m)
    kinds: list[Spread] = [spread] * p if isinstance(spread, str) else list(spread)
    if n < 1 or len(kinds) != p:
        raise InputError("an ensemble needs one member or more and one spread per parameter", "check the numbers given")
    is_log = np.array([k == "lognormal" for k in kinds], dtype=bool)
    if (m[is_log] <= 0.0).any():
        raise InputError("a lognormal parameter needs a median above zero", "use the normal spread for it")
    root = _root(_covariance(m, is_log, u, correlations, covariance))
    scores = _scores(n, p, seed)
    centre = np.where(is_log, np.log(np.where(is_log, m, 1.0)), m)
    q = centre + scores @ root.T
    return np.asarray(np.where(is_log, np.exp(np.where(is_log, q, 0.0)), q))


def _covariance(
    m: Array,
    is_log: npt.NDArray[np.bool_],
    u: npt.ArrayLike | None,
    correlations: npt.ArrayLike | None,
    covariance: npt.ArrayLike | None,
) -> Array:
    p = len(m)
    if (u is None) == (covariance is None):
        raise InputError("the width of an ensemble must be given once", "give either uncertainties or a covariance")
    if covariance is not None:
        c = np.asarray(covariance, dtype=float)
    else:
        s = np.atleast_1d(np.asarray(u, dtype=float))
        if s.shape != (p,) or not (s >= 0.0).all():
            raise InputError("uncertainties must be zero or more, one per parameter", "check the numbers given")
        sd = np.where(is_log, log_sd(np.where(is_log, m, 1.0), s), s)
        r = np.eye(p) if correlations is None else np.asarray(correlations, dtype=float)
        if r.shape != (p, p):
            raise InputError("correlations must be a square table, one row per parameter", "check the numbers given")
        c = r * np.outer(sd, sd)
    if c.shape != (p, p) or not np.allclose(c, c.T, rtol=1e-9, atol=1e-300):
        raise InputError("a covariance must be a symmetric table, one row per parameter", "check the numbers given")
    return c


def _root(c: Array) -> Array:
    """A matrix whose square is c; directions of no width are allowed."""
    sd = np.sqrt(np.maximum(np.diag(c), 0.0))
    safe = np.where(sd > 0.0, sd, 1.0)
    values, vectors = np.linalg.eigh(c / np.outer(safe, safe))
    if values.min(initial=0.0) < -1e-8:
        raise InputError("these correlations contradict one another", "make them weaker until they agree")
    return np.asarray(safe[:, None] * (vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T)


def _scores(n: int, p: int, seed: int) -> Array:
    """Standard normal scores (n, p), stratified; ranks rearranged so that columns are nearly uncorrelated."""
    # a Latin hypercube in two lines: scipy.stats would cost every start half a second
    rng = np.random.default_rng(seed)
    z = ndtri((np.argsort(rng.random((n, p)), axis=0) + rng.random((n, p))) / n)
    if n > 2 * p and p > 1:
        target = (z - z.mean(axis=0)) @ np.linalg.inv(np.linalg.cholesky(np.corrcoef(z.T))).T
        ranks = np.argsort(np.argsort(target, axis=0), axis=0)
        z = np.take_along_axis(np.sort(z, axis=0), ranks, axis=0)
    return np.asarray(z, dtype=float)


def weighted_quantile(
    values: npt.ArrayLike, q: npt.ArrayLike, weights: npt.ArrayLike | None = None, axis: int = 0
) -> Array:
    """Quantiles of weighted members along `axis`; result shape (len(q), ...) or (...) for a single q.

    Each member stands at the middle of its share of the weight and quantiles are interpolated
    between; with equal weights this is Hazen's rule. Weights are relative, >= 0, not all zero.

    Raises:
        InputError: weights that do not match, are negative or all zero; q outside 0 to 1.
    """
    v = np.moveaxis(np.asarray(values, dtype=float), axis, 0)
    w = np.ones(v.shape[0]) if weights is None else np.asarray(weights, dtype=float)
    qs = np.atleast_1d(np.asarray(q, dtype=float))
    if w.shape != (v.shape[0],) or not np.isfinite(w).all() or (w < 0.0).any() or not w.sum() > 0.0:
        raise InputError("weights must be zero or more, one per member, and not all zero", "check the members")
    if ((qs < 0.0) | (qs > 1.0)).any():
        raise InputError("a quantile lies between 0 and 1", "write 2.5 % as 0.025")
    keep = w > 0.0
    v, w = v[keep], w[keep] / w.sum()
    flat = v.reshape(v.shape[0], -1)
    order = np.argsort(flat, axis=0)
    ranked = np.take_along_axis(flat, order, axis=0)
    shares = w[order]
    position = np.cumsum(shares, axis=0) - 0.5 * shares
    out = np.stack([np.interp(qs, position[:, j], ranked[:, j]) for j in range(flat.shape[1])], axis=1)
    out = out.reshape((len(qs), *v.shape[1:]))
    return np.asarray(out[0] if np.ndim(q) == 0 else out)


def quantile_band(
    values: npt.ArrayLike, weights: npt.ArrayLike | None = None, axis: int = 0
) -> tuple[Array, Array, Array]:
    """(low, median, high): the 2.5 %, 50 % and 97.5 % quantiles over the members along `axis`."""
    low, mid, high = weighted_quantile(values, BAND_LEVELS, weights, axis)
    return low, mid, high


def effective_size(weights: npt.ArrayLike) -> float:
    """How many equally weighted members the weighted ones are worth: (sum w)^2 / sum w^2."""
    w = np.asarray(weights, dtype=float)
    return float(w.sum() ** 2 / np.sum(w**2))


def map_members(
    function: Callable[[M], R],
    members: Sequence[M],
    executor: Executor | None = None,
    chunk: int | None = None,
    progress: Progress | None = None,
) -> list[R]:
    """function(member) for every member, results in the order of the members.

    Args:
        function: for processes it must be importable (a function of a module, or a partial of one).
        members: the members.
        executor: any `concurrent.futures` executor; None runs here.
        chunk: members per task; default gives each task about 1/32 of the work.
        progress: called with (done, all) after each chunk; what it raises stops the run.

    Raises:
        whatever `function` or `progress` raises; tasks not yet begun are then cancelled.
    """
    total = len(members)
    size = max(1, chunk if chunk is not None else math.ceil(total / 32))
    pieces = [members[i : i + size] for i in range(0, total, size)]
    if executor is None:
        return _here(function, pieces, total, progress)
    futures: dict[Future[list[R]], int] = {executor.submit(_run, function, piece): i for i, piece in enumerate(pieces)}
    parts: list[list[R]] = [[] for _ in pieces]
    done = 0
    try:
        for future in as_completed(futures):
            parts[futures[future]] = future.result()
            done += len(pieces[futures[future]])
            if progress:
                progress(done, total)
    except BaseException:
        for future in futures:
            future.cancel()
        raise
    return [r for part in parts for r in part]


def _run(function: Callable[[M], R], piece: Sequence[M]) -> list[R]:
    return [function(m) for m in piece]


def _here(function: Callable[[M], R], pieces: Sequence[Sequence[M]], total: int, progress: Progress | None) -> list[R]:
    out: list[R] = []
    for piece in pieces:
        out += _run(function, piece)
        if progress:
            progress(len(out), total)
    return out
