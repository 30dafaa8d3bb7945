"""Correct a forecast with what was observed: an ensemble smoother with multiple data assimilation.

The members' numbers are moved by the covariance between numbers and predicted observations, in two
passes with the members run again after each (Emerick and Reynolds 2013). Before that the run is
tested, see doubt.py.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bibula.cards.model import PROPERTIES, Card
from bibula.cards.priors import complete, spread_of
from bibula.forecast.doubt import doubt, doubt_sentence, predictions
from bibula.forecast.draws import DRYING_SHARE_LOW
from bibula.forecast.ensemble import Ensemble, Progress, estimate, run_ensemble
from bibula.forecast.forecast import DEFAULT_MEMBERS, assemble, milestones_of, starting_water
from bibula.forecast.laying import LaidPlan, lay
from bibula.forecast.observations import Observation, air_dry_water, uncertainties
from bibula.forecast.result import Forecast, Milestone
from bibula.forecast.stacking import Numbers
from bibula.plan.model import Plan
from bibula.plan.rules import check_plan
from bibula.quantities.errors import InputError
from bibula.quantities.values import Estimate

Array = NDArray[np.float64]

PASSES = 2
INFORMED = 0.15
"""A number counts as informed by the observations if its spread shrank by more than this share."""
WEAK_CORRELATION = 2.0
"""Sample correlations below this many standard errors of nought are taken as nought."""


@dataclass(frozen=True)
class Informed:
    """One number the observations have moved or narrowed."""

    name: str
    before: Estimate
    after: Estimate


@dataclass(frozen=True)
class Update:
    """A corrected forecast.

    Attributes:
        forecast: of the corrected ensemble.
        fits: whether the run still fits the model.
        p_value: share of sound runs that lie at least as far off.
        distance, degrees: squared distance of the observations, and their number.
        informed: the numbers the observations inform.
        residuals: per observation (what, observed, predicted before, u of both) for a table.
        former: the milestones before the correction.
    """

    forecast: Forecast
    fits: bool
    p_value: float
    distance: float
    degrees: int
    informed: tuple[Informed, ...]
    residuals: tuple[tuple[str, float, float, float], ...]
    former: tuple[Milestone, ...] = ()


def update_forecast(
    plan: Plan,
    cards: Mapping[str, Card],
    observed: Sequence[Observation],
    *,
    members: int = DEFAULT_MEMBERS,
    seed: int = 1,
    logger: Array | None = None,
    executor: Executor | None = None,
    progress: Progress | None = None,
    made: str = "",
) -> Update:
    """Correct the forecast of a plan by what was observed.

    Args:
        plan: the plan.
        cards: cards by name.
        observed: at least one observation, within the plan's time.
        members: size of the ensemble; it is run three times.
        seed: of the ensemble.
        logger: the room's log, as for make_forecast.
        executor: as for make_forecast.
        progress: as for make_forecast.
        made: date and time to print, ISO.

    Raises:
        InputError: no observation, or one outside the plan's time.
    """
    full = {name: complete(card) for name, card in cards.items()}
    laid = lay(plan, full, logger)
    _check(laid, observed)
    prior = run_ensemble(laid, starting_water(laid), members, seed, executor, progress)
    fits, p_value, distance = doubt(prior, observed, seed)
    posterior = assimilate(prior, observed, seed, executor, progress)
    notes = () if fits else (doubt_sentence(p_value),)
    seen = tuple((o.time_s, 1000.0 * _water(prior, o), o.kind) for o in observed if o.kind == "object weight")
    forecast = assemble(posterior, check_plan(plan, full), made, seen, notes)
    return Update(
        forecast,
        fits,
        p_value,
        distance,
        len(observed),
        informed(prior, posterior),
        _residuals(prior, observed),
        milestones_of(prior),
    )


def _water(prior: Ensemble, o: Observation) -> float:
    """The water an object's weight stands for, kg/m2, with the nominal isotherm where it is told from air-dry."""
    before = air_dry_water(prior.laid, prior.nominal_numbers, o.air_dry_rh) if o.air_dry_rh else 0.0
    return o.value + before


def _check(laid: LaidPlan, observed: Sequence[Observation]) -> None:
    if not observed:
        raise InputError("there is no observation to correct by", "give at least one weight, temperature or stage seen")
    end = sum(s.duration_s for s in laid.stages)
    for i, o in enumerate(observed, 1):
        if not 0.0 <= o.time_s <= end:
            raise InputError(
                f"observation {i} is at {o.time_s / 3600:.2f} h, outside the plan's {end / 3600:.2f} h",
                "give times from the plan's start, or a longer last stage",
            )
        if not (np.isfinite(o.value) and o.u > 0.0):
            raise InputError(
                f"observation {i} has no uncertainty above zero", "give u, the balance's repeatability say"
            )


def assimilate(
    prior: Ensemble,
    observed: Sequence[Observation],
    seed: int,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> Ensemble:
    """The members moved by the observations and run again."""
    laid = prior.laid
    names = coordinates(laid, prior.numbers[0])
    current = prior
    rng = np.random.default_rng(seed + 7)
    u = uncertainties(observed)
    value = np.array([o.value for o in observed])
    for _ in range(PASSES):
        theta = np.array([to_vector(names, n) for n in current.numbers])
        y = predictions(current, observed)
        noise = PASSES * np.diag(u**2)
        gain = _gain(theta, y, noise)
        shaken = value + np.sqrt(PASSES) * u * rng.standard_normal(y.shape)
        moved = theta + (shaken - y) @ gain.T
        numbers = [from_vector(names, row, n) for row, n in zip(moved, current.numbers, strict=True)]
        middle = from_vector(names, np.median(moved, axis=0), current.nominal_numbers)
        current = run_ensemble(
            laid, starting_water(laid), len(numbers), prior.seed, executor, progress, numbers, middle
        )
    return current


def _gain(theta: Array, y: Array, noise: Array) -> Array:
    n = len(theta)
    a, b = theta - theta.mean(axis=0), y - y.mean(axis=0)
    cross = a.T @ b / (n - 1)
    size = np.outer(a.std(axis=0, ddof=1), b.std(axis=0, ddof=1))
    correlation = np.divide(cross, size, out=np.zeros_like(cross), where=size > 0.0)
    cross = np.where(np.abs(correlation) * np.sqrt(n) < WEAK_CORRELATION, 0.0, cross)
    own = b.T @ b / (n - 1) + noise
    return np.asarray(np.linalg.solve(own, cross.T).T)


@dataclass(frozen=True)
class Coordinate:
    """One uncertain number of a member: a property of a card, or one of the shared ones (card "")."""

    card: str
    key: str
    log: bool
    low: float
    high: float


def coordinates(laid: LaidPlan, numbers: Numbers) -> tuple[Coordinate, ...]:
    """The numbers the observations may move."""
    out = []
    for name in numbers.cards:
        out += [
            Coordinate(name, key, PROPERTIES[key].spread == "lognormal", PROPERTIES[key].low, PROPERTIES[key].high)
            for key, value in laid.cards[name].values.items()
            if spread_of(key, value) > 0.0
        ]
    out += [Coordinate("", f"water {i}", True, 0.01, 30.0) for i in range(len(numbers.water_content))]
    out.append(Coordinate("", "room_shift_k", False, -15.0, 15.0))
    out.append(Coordinate("", "room_shift_rh", False, -0.6, 0.6))
    out.append(Coordinate("", "surface_factor", True, 0.05, 20.0))
    out.append(Coordinate("", "drying_share", False, DRYING_SHARE_LOW, 1.0))
    return tuple(out)


def _read(c: Coordinate, n: Numbers) -> float:
    if c.card:
        return float(n.cards[c.card][c.key])
    if c.key.startswith("water "):
        return n.water_content[int(c.key[6:])]
    return float(getattr(n, c.key))


def to_vector(names: Sequence[Coordinate], numbers: Numbers) -> Array:
    """A member's numbers in the scale they are moved in (logs of what cannot be negative)."""
    values = [max(_read(c, numbers), 1e-30) if c.log else _read(c, numbers) for c in names]
    return np.array([np.log(v) if c.log else v for c, v in zip(names, values, strict=True)])


def from_vector(names: Sequence[Coordinate], vector: Array, like: Numbers) -> Numbers:
    """The member a vector stands for; kept within each number's range."""
    cards: dict[str, dict[str, float]] = {name: dict(values) for name, values in like.cards.items()}
    water = list(like.water_content)
    shared: dict[str, float] = {}
    for c, x in zip(names, vector, strict=True):
        value = float(np.clip(np.exp(np.clip(x, -80.0, 80.0)) if c.log else x, c.low, c.high))
        if c.card:
            cards[c.card][c.key] = value
        elif c.key.startswith("water "):
            water[int(c.key[6:])] = value
        else:
            shared[c.key] = value
    return Numbers(cards=cards, water_content=tuple(water), **shared)


def informed(prior: Ensemble, posterior: Ensemble) -> tuple[Informed, ...]:
    """Numbers whose spread the observations narrowed by more than INFORMED, most narrowed first."""
    names = coordinates(prior.laid, prior.numbers[0])
    before = np.array([to_vector(names, n) for n in prior.numbers])
    after = np.array([to_vector(names, n) for n in posterior.numbers])
    spread = before.std(axis=0)
    left = np.divide(after.std(axis=0), spread, out=np.ones(len(names)), where=spread > 0.0)
    out = []
    for i in np.argsort(left):
        if left[i] < 1.0 - INFORMED:
            c = names[i]
            label = f"{c.card}: {PROPERTIES[c.key].meaning}" if c.card else SHARED_LABELS.get(c.key, "starting water")
            unit = PROPERTIES[c.key].unit if c.card else "1"
            out.append(
                Informed(
                    label,
                    estimate([_read(c, n) for n in prior.numbers], unit),
                    estimate([_read(c, n) for n in posterior.numbers], unit),
                )
            )
    return tuple(out)


SHARED_LABELS = {
    "room_shift_k": "room temperature, difference from what was told (K)",
    "room_shift_rh": "room humidity, difference from what was told (share of 1)",
    "surface_factor": "exchange with the air, against what its kind would give",
    "drying_share": "how far drying layers follow their drying branch",
}


def _residuals(prior: Ensemble, observed: Sequence[Observation]) -> tuple[tuple[str, float, float, float], ...]:
    y = predictions(prior, observed)
    spread = np.hypot(y.std(axis=0, ddof=1), uncertainties(observed))
    return tuple(
        (f"{o.kind} at {o.time_s / 3600:.2f} h", o.value, float(m), float(s))
        for o, m, s in zip(observed, np.median(y, axis=0), spread, strict=True)
    )
