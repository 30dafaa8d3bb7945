"""Run the members of an ensemble and put their curves into bands."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from bibula.forecast.draws import members as draw_members
from bibula.forecast.draws import nominal
from bibula.forecast.laying import LaidPlan
from bibula.forecast.milestones import RESTRAINT_SOLIDS, RESTRAINT_SOLIDS_U, times_of
from bibula.forecast.result import Band
from bibula.forecast.simulate import Trace, plan_times, simulate
from bibula.forecast.stacking import Numbers
from bibula.physics.run import StageResult
from bibula.quantities.errors import BalanceError, ValidityError
from bibula.quantities.values import Estimate
from bibula.statistics.ensembles import map_members, weighted_quantile

Array = NDArray[np.float64]
Progress = Callable[[int, int], None]

LOST_SHARE = 0.02
"""A forecast is refused if more than this share of its members has no answer."""


@dataclass(frozen=True)
class Ensemble:
    """The members that ran, with the nominal member apart.

    nominal_stages: full fields of the nominal member's stages, for pictures.
    lost: members whose numbers the model refused (said in the warnings).
    """

    laid: LaidPlan
    numbers: tuple[Numbers, ...]
    traces: tuple[Trace, ...]
    nominal: Trace
    nominal_numbers: Numbers
    nominal_stages: tuple[StageResult, ...]
    lost: int
    seed: int

    def band(self, values: Callable[[Trace], Array], unit: str) -> Band:
        """A curve of every member as median and 95 % band."""
        rows = np.array([values(t) for t in self.traces])
        low, mid, high = weighted_quantile(rows, [0.025, 0.5, 0.975])
        return Band(mid, low, high, unit)

    def estimate(self, value: Callable[[Trace], float], unit: str = "1") -> Estimate:
        """A number of every member as median and 95 % band."""
        return estimate([value(t) for t in self.traces], unit)

    def milestone_times(self) -> dict[str, Array]:
        """Every rule's time in every member, s; inf where not reached."""
        target = self.laid.plan.target
        scores = np.random.default_rng(self.seed + 5).permutation(len(self.traces)) + 0.5
        solids = RESTRAINT_SOLIDS + RESTRAINT_SOLIDS_U * ndtri(scores / len(self.traces))
        rows = [
            times_of(t, self.laid.dry_kg_m2, target.goal, target.holding_time_s, float((1.0 - s) / s))
            for t, s in zip(self.traces, solids, strict=True)
        ]
        return {key: np.array([row[key] for row in rows]) for key in rows[0]}


def estimate(values: Sequence[float], unit: str = "1") -> Estimate:
    """Median and 95 % band of members' values; infinite values stay at the upper end."""
    finite = np.sort(np.asarray(values, dtype=float))
    low, mid, high = (quantile(finite, q) for q in (0.025, 0.5, 0.975))
    return Estimate(mid, low, high, unit)


def quantile(ordered: Array, q: float) -> float:
    """A quantile of sorted values that may end in infinities."""
    position = min(max(q * len(ordered) - 0.5, 0.0), len(ordered) - 1.0)  # as statistics.ensembles has it
    i = int(position)
    if i + 1 >= len(ordered) or not np.isfinite(ordered[i + 1]):
        return float(ordered[min(round(position), len(ordered) - 1)])
    return float(ordered[i] + (position - i) * (ordered[i + 1] - ordered[i]))


def _run(numbers: Numbers, laid: LaidPlan, times: list[Array]) -> Trace | None:
    try:
        return simulate(laid, numbers, times)
    except (ValidityError, BalanceError):
        return None


def run_ensemble(
    laid: LaidPlan,
    water: tuple[tuple[float, float], ...],
    n: int,
    seed: int,
    executor: Executor | None = None,
    progress: Progress | None = None,
    numbers: Sequence[Numbers] | None = None,
    middle: Numbers | None = None,
) -> Ensemble:
    """Draw and run the members; the nominal member's refusals are the user's to see.

    Args:
        laid: the resolved plan.
        water: (median, u) of each object layer's starting water content.
        n: members.
        seed: of their numbers.
        executor: any concurrent.futures executor, or None to run here.
        progress: called with (done, all).
        numbers: members already drawn (a corrected forecast), instead of n and seed.
        middle: the nominal member, for members already drawn; else every number at its median.

    Raises:
        ValidityError, BalanceError: the nominal member, or too many others, have no answer.
    """
    times = plan_times(laid)
    stages: list[StageResult] = []
    middle = middle or nominal(laid, water)
    trace = simulate(laid, middle, times, keep=stages)
    drawn = tuple(numbers) if numbers is not None else tuple(draw_members(laid, water, n, seed))
    answers = map_members(partial(_run, laid=laid, times=times), drawn, executor, progress=progress)
    good = [(d, a) for d, a in zip(drawn, answers, strict=True) if a is not None]
    lost = len(drawn) - len(good)
    if lost > max(1, LOST_SHARE * len(drawn)):
        raise ValidityError(
            f"{lost} of {len(drawn)} members of the ensemble lie outside the model's range",
            "narrow the uncertainties of the cards or the room",
        )
    return Ensemble(
        laid, tuple(d for d, _ in good), tuple(a for _, a in good), trace, middle, tuple(stages), lost, seed
    )
