"""Does a run still fit the model as told? A test with a stated share of false alarms.

Two distances of the observations from the members' own predictions, in units of both their scatters:
over everything observed, and along the one line a wrong room humidity would move it (the mistake most
often made, and one that the first distance thins out over many observations). The same two of every
member, taken as if it were the truth, are the reference. The less likely of the two counts, judged
against the same of every member: so one sound run in twenty is doubted, whatever the scatter's shape.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from bibula.forecast.ensemble import Ensemble
from bibula.forecast.observations import Observation, observe, uncertainties

Array = NDArray[np.float64]

DOUBT = 0.05
"""Share of sound runs that are doubted wrongly."""


def predictions(ensemble: Ensemble, observed: Sequence[Observation]) -> Array:
    """What every member shows; shape (members, observations)."""
    pairs = zip(ensemble.numbers, ensemble.traces, strict=True)
    return np.array([observe(ensemble.laid, n, t, observed) for n, t in pairs])


def doubt(ensemble: Ensemble, observed: Sequence[Observation], seed: int) -> tuple[bool, float, float]:
    """(fits, p value, squared distance) of the observations against the members' own scatter.

    Every member is also taken as the truth, with noise drawn as the observations' own, and its
    distances from the others (itself left out by the exact rank-one formula) give the reference.
    """
    y = predictions(ensemble, observed)
    n = len(y)
    u = uncertainties(observed)
    noise = np.diag(u**2)
    mean = y.mean(axis=0)
    away = y - mean
    scatter = away.T @ away
    humidity = np.array([m.room_shift_rh for m in ensemble.numbers])
    line = away.T @ (humidity - humidity.mean())
    rng = np.random.default_rng(seed + 1000003)
    shaken = y + rng.standard_normal(y.shape) * u
    far = np.empty((n + 1, 2))
    for i in range(n):
        without = scatter - np.outer(away[i], away[i]) * n / (n - 1)
        gap = shaken[i] - mean + away[i] / (n - 1)
        far[i] = _distances(gap, without / (n - 2) * (1.0 + 1.0 / (n - 1)) + noise, line)
    gap = np.array([o.value for o in observed]) - mean
    far[n] = _distances(gap, scatter / (n - 1) * (1.0 + 1.0 / n) + noise, line)
    p_value = _rarer(far)
    return p_value > DOUBT, p_value, float(far[n, 0])


def _distances(gap: Array, covariance: Array, line: Array) -> tuple[float, float]:
    """Squared distance over all observations, and along a line (0 where the line is no line)."""
    leaning = np.linalg.solve(covariance, line)
    length = float(line @ leaning)
    along = float(gap @ leaning) ** 2 / length if length > 0.0 else 0.0
    return float(gap @ np.linalg.solve(covariance, gap)), along


def _rarer(far: Array) -> float:
    """P-value of the last row: how many rows have a rarest distance at least as rare as its own."""
    tails = np.array([[np.count_nonzero(column >= x) for x in column] for column in far.T])
    rarest = tails.min(axis=0)
    return float(np.count_nonzero(rarest <= rarest[-1])) / len(far)


def doubt_sentence(p_value: float) -> str:
    """The sentence shown when a run no longer fits."""
    return (
        "This run does not fit the model as told "
        f"(only {100 * p_value:.1f} % of sound runs would lie as far off). Check the room's humidity, which "
        "stack is really lying there, the balance and the times before relying on the corrected forecast."
    )
