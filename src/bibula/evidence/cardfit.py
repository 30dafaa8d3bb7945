"""From weighings to a card: all bench tests of one material fitted together on the forward model.

Every number the tests touch is fitted, with the prior of the material's kind on its logarithm, so
that what they do not determine keeps its width and its correlations. A value becomes `measured`
only where the readings took away more than half of its prior variance; the rest stays `assumed`.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from importlib.metadata import version

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from bibula.cards.model import PROPERTIES, Card
from bibula.cards.priors import complete
from bibula.evidence.bench_base import BenchTest
from bibula.evidence.bench_tests import ConditioningTest, UptakeTest
from bibula.evidence.fit_parameters import Material, Parameters, parameters_of
from bibula.evidence.fit_summaries import fit_warnings, summaries_of
from bibula.evidence.summaries import Summary
from bibula.quantities.values import Value
from bibula.statistics.costly import CostlyFit, Progress, fit_costly, profile_costly, profile_moments
from bibula.statistics.parameters import FitResult, Guess, ProfileInterval

Array = NDArray[np.float64]

MEASURED_SHARE = 0.5
"""A value is called measured where the readings took away more than this share of its prior variance."""
POOR_FIT = 0.99
"""The search is started again elsewhere where chi2 and priors together exceed this quantile of their distribution."""
ELSEWHERE = {
    "contact_kg_m2spa": (0.1, 10.0),
    "suction_spread": (1.6, 0.6),
    "median_suction_pa": (0.3, 3.0),
    "absorption_kg_m2s05": (1.5, 3.0),
}
"""Factors for those other starts."""
MADE_FOR: dict[str, set[str]] = {
    "uptake": {"capacity_kg_m3", "absorption_kg_m2s05"},
    "contact": {"contact_kg_m2spa"},
    "air drying": {"capacity_kg_m3"},
    "sealed rest": {"median_suction_pa", "drying_suction_ratio"},
    "conditioning": {"gab_monolayer_kg_kg"},
}
"""What each test is made to tell. Suction and spread, say, also bend a drying curve, but so does much else."""
FLOOR_SHARE = 0.5
"""A value that stays assumed keeps at least this share of its prior spread: a bend in a curve is no measurement."""
LUMPED = ("contact_kg_m2spa",)
"""Measured only together with the test sheet's own resistance: keeps that share of its prior spread all the same. In
the recovery study its 95 % intervals covered 78 % of the truths without it."""
WEAKEST_CORRELATION = 0.1
"""Correlations weaker than this are left off the card."""
NOTES = {
    "contact_kg_m2spa": "one conductance for sheet and contact together, as lumped by the contact test at its pressure",
    "absorption_kg_m2s05": "at the room's humidity before the uptake",
}
KEPT = 32
"""Predictions remembered per test: one derivative's worth."""


@dataclass(frozen=True)
class TestFit:
    """One test after the fit.

    Attributes:
        name, kind: of the test.
        x: time in s, humidity (share of 1) for conditioning, shared water in kg for a sealed rest.
        observed, fitted, sigma: kg.
        residuals: (observed - fitted) / sigma.
    """

    __test__ = False  # no test case, whatever pytest may think
    name: str
    kind: str
    x: Array
    observed: Array
    fitted: Array
    sigma: Array
    residuals: Array


@dataclass(frozen=True)
class CardFit:
    """A fitted card with all that a reader must see beside it.

    Attributes:
        card: every property with unit, uncertainty, origin; correlations of the logarithms.
        result: the fit; names as in `Parameters.guesses`.
        tests: observed, fitted, residuals of every test.
        summaries: the plain numbers of the standards, without the model.
        measured, assumed: card keys by what became of them.
        warnings: plain sentences.
        profiles: profile intervals where asked for.
        files: (file, SHA-256) of the readings.
        code_version: of Bibula.
        error_scale: factor by which the uncertainties were widened, because the readings scatter more than stated.
    """

    card: Card
    result: FitResult
    tests: tuple[TestFit, ...]
    summaries: tuple[Summary, ...]
    measured: tuple[str, ...]
    assumed: tuple[str, ...]
    warnings: tuple[str, ...]
    profiles: Mapping[str, ProfileInterval]
    files: tuple[tuple[str, str], ...]
    code_version: str
    error_scale: float = 1.0


@dataclass
class _Model:
    """All tests as one residual function; a test is computed again only if a number it depends on has changed."""

    tests: Sequence[BenchTest]
    parameters: Parameters
    sigmas: dict[str, Array] = field(default_factory=dict)
    seen: dict[str, dict[tuple[float, ...], Array]] = field(default_factory=dict)

    def predict(self, test: BenchTest, p: Mapping[str, float]) -> Array:
        key = tuple(p[name] for name in self.parameters.used_by[test.name])
        known = self.seen.setdefault(test.name, {})
        if key not in known:
            while len(known) >= KEPT:
                known.pop(next(iter(known)))
            with warnings.catch_warnings():
                # the integrator's last resort says so on its own; a run without an answer is stepped back from
                warnings.filterwarnings("ignore", "lsoda", UserWarning)
                known[key] = test.predict(self.parameters.values(p), self.parameters.surroundings(test, p))
        return known[key]

    def weigh(self, p: Mapping[str, float]) -> None:
        """Set the standard uncertainties at these values; they are held while a search runs."""
        for test in self.tests:
            self.sigmas[test.name] = test.sigma(self.parameters.values(p), self.parameters.surroundings(test, p))

    @property
    def spread(self) -> Array:
        """The standard uncertainties of all readings, in the order of the residuals; 1 for the limits."""
        limits = sum(len(t.limits(self.parameters.fixed)) for t in self.tests)
        return np.concatenate([*(self.sigmas[t.name] for t in self.tests), np.ones(limits)])

    def __call__(self, p: Mapping[str, float]) -> Array:
        values = self.parameters.values(p)
        readings = [(t.observed - self.predict(t, p)) / self.sigmas[t.name] for t in self.tests]
        return np.concatenate([*readings, *(t.limits(values) for t in self.tests)])


def fit_card(
    material: Material,
    tests: Sequence[BenchTest],
    progress: Progress | None = None,
    profile: bool = False,
) -> CardFit:
    """Fit all tests of one material together.

    Args:
        material: what the card is of.
        tests: at least one.
        progress: called with (runs, expected runs) of the model.
        profile: also profile intervals of all measured values.

    Raises:
        InputError: tests that do not belong together, or readings the model cannot begin with.
    """
    parameters = parameters_of(material, tests)
    model = _Model(tests, parameters)
    guesses = dict(parameters.guesses)
    progress = _counted(progress, 3 * len(guesses) + 15)
    model.weigh({n: g.value for n, g in guesses.items()})
    poor = float(stats.chi2.ppf(POOR_FIT, len(model.spread))) / len(model.spread)
    others = _elsewhere(guesses)
    doubtful = _doubtful(tests)
    if doubtful:  # a flat valley: look along it, however good the first answer
        poor, others = 0.0, tuple(o for o in others if next(iter(o)) in doubtful)
    rough = fit_costly(model, guesses, more_starts=others, poor=poor, rough=True, progress=progress)
    before = model.spread
    model.weigh(rough.result.values)
    again = {n: _from(g, rough.result.values[n]) for n, g in guesses.items()}
    derivative = rough.jacobian * (before / model.spread)[:, None]
    found = fit_costly(model, again, derivative=derivative, progress=progress)
    found = replace(found, result=_one_sided(model, found, tests))
    scale = _error_scale(found.result)
    measured = _measured(found.result, parameters, tests)
    card = _card(material, tests, found.result, parameters, measured, scale)
    profiles = {k: profile_costly(model, found, k) for k in measured} if profile else {}
    return CardFit(
        card=card,
        result=found.result,
        tests=_test_fits(model, found),
        summaries=summaries_of(tests),
        measured=measured,
        assumed=tuple(k for k, v in card.values.items() if v.origin == "assumed"),
        warnings=fit_warnings(material, tests, found.result, parameters, scale),
        profiles=profiles,
        files=tuple(dict.fromkeys((t.origin.file, t.origin.sha256) for t in tests if t.origin.file)),
        code_version=version("bibula"),
        error_scale=scale,
    )


def _counted(progress: Progress | None, expected: int) -> Progress | None:
    """One count over all searches."""
    if progress is None:
        return None
    count = 0

    def say(done: int, all_runs: int) -> None:
        nonlocal count
        del done, all_runs
        count += 1
        progress(count, max(count, expected))

    return say


def _elsewhere(guesses: Mapping[str, Guess]) -> tuple[Mapping[str, float], ...]:
    """Other places to start from: one value at a time well to the side of its first guess."""
    return tuple({key: guesses[key].value * f} for key, factors in ELSEWHERE.items() if key in guesses for f in factors)


def _from(guess: Guess, value: float) -> Guess:
    return replace(guess, value=min(max(value, guess.low), guess.high))


def _error_scale(result: FitResult) -> float:
    """How much wider than stated the errors must be: 1 where chi2 (readings and priors) is no surprise at 1 %."""
    total, n = result.chi2 + result.prior_chi2, result.n_data
    return math.sqrt(total / n) if total > float(stats.chi2.ppf(0.99, n)) else 1.0


def _doubtful(tests: Sequence[BenchTest]) -> list[str]:
    """Card keys that the uptakes only bound from one side."""
    uptakes = [t for t in tests if isinstance(t, UptakeTest)]
    doubtful: list[str] = []
    if uptakes and all(t.late for t in uptakes):
        doubtful.append("absorption_kg_m2s05")
    if uptakes and all(t.unfinished for t in uptakes):
        doubtful.append("capacity_kg_m3")
    return doubtful


def _one_sided(model: _Model, found: CostlyFit, tests: Sequence[BenchTest]) -> FitResult:
    """Values that the readings only bound from one side: their mean and spread from the profile of chi2."""
    result = found.result
    for name in _doubtful(tests):
        mean, sd = profile_moments(model, found, name)
        result = _with_moments(result, found.start[name], name, mean, sd)
    return result


def _with_moments(result: FitResult, guess: Guess, name: str, mean: float, sd: float) -> FitResult:
    i = result.index(name)
    factor = np.ones(len(result.names))
    factor[i] = sd / math.sqrt(float(result.covariance[i, i]))
    covariance = result.covariance * np.outer(factor, factor)
    estimates, coordinates, relative = (
        x.copy() for x in (result.estimates, result.coordinates, result.log_standard_errors)
    )
    estimates[i], coordinates[i], relative[i] = guess.outward(mean), mean, sd
    determined, natural = result.determined.copy(), result.standard_errors.copy()
    natural[i] = sd * estimates[i]
    determined[i] = min(max(1.0 - (sd / guess.prior[1]) ** 2, 0.0), 1.0) if guess.prior else 1.0
    return replace(
        result, estimates=estimates, coordinates=coordinates, covariance=covariance,
        log_standard_errors=relative, standard_errors=natural, determined=determined,
    )  # fmt: skip


def _measurable(tests: Sequence[BenchTest]) -> set[str]:
    """The card keys that these tests are made to tell; others they touch stay assumed, whatever the fit says."""
    out: set[str] = set()
    for test in tests:
        out |= MADE_FOR[test.kind]
        if isinstance(test, ConditioningTest) and len(np.unique(test.humidity)) >= 3:
            out |= {"gab_c", "gab_k"}
    return out


def _measured(result: FitResult, parameters: Parameters, tests: Sequence[BenchTest]) -> tuple[str, ...]:
    able = _measurable(tests)
    return tuple(k for k in parameters.keys if k in able and float(result.determined[result.index(k)]) > MEASURED_SHARE)


def _test_fits(model: _Model, found: CostlyFit) -> tuple[TestFit, ...]:
    out = []
    for test in model.tests:
        fitted, sigma = model.predict(test, found.result.values), model.sigmas[test.name]
        residuals = (test.observed - fitted) / sigma
        out.append(TestFit(test.name, test.kind, test.x, test.observed, fitted, sigma, residuals))
    return tuple(out)


def _covariance(material: Material, result: FitResult, parameters: Parameters, scale: float) -> tuple[list[str], Array]:
    """Keys, and the covariance of their logarithms (of the value itself for a `normal` property).

    What was weighed is water per area, so the errors of the piece's size go into capacity, A_w and
    density afterwards, with the correlations they bring.
    """
    piece = material.piece
    keys = [*parameters.keys, "thickness_m", "density_kg_m3"]
    index = [result.index(k) for k in parameters.keys]
    cov = np.zeros((len(keys), len(keys)))
    cov[: len(index), : len(index)] = scale**2 * result.covariance[np.ix_(index, index)]
    depth = piece.thickness_u_m / piece.thickness_m
    area = piece.length_u_m * math.hypot(1.0 / piece.length_m, 1.0 / piece.width_m)
    shares = {
        "thickness_m": (1.0, 0.0),
        "density_kg_m3": (-1.0, -1.0),
        "capacity_kg_m3": (-1.0, -1.0),
        "absorption_kg_m2s05": (0.0, -1.0),
    }
    size = np.array([shares.get(k, (0.0, 0.0)) for k in keys]) * np.array([depth, area])
    return keys, cov + size @ size.T


def _card(
    material: Material,
    tests: Sequence[BenchTest],
    result: FitResult,
    parameters: Parameters,
    measured: tuple[str, ...],
    scale: float,
) -> Card:
    before = complete(material.before or Card(material.name, material.kind, {}))  # type: ignore[arg-type]
    keys, cov = _covariance(material, result, parameters, scale)
    for i, key in enumerate(keys):
        guess = parameters.guesses.get(key)
        if guess is not None and guess.prior and (key not in measured or key in LUMPED):
            cov[i, i] = max(cov[i, i], (FLOOR_SHARE * guess.prior[1]) ** 2)
    sd = dict(zip(keys, np.sqrt(np.diag(cov)), strict=True))
    values: dict[str, Value] = {}
    for key, prop in PROPERTIES.items():
        if key not in sd:
            values[key] = before.values[key]
            continue
        value = result[key] if key in parameters.keys else parameters.fixed[key]
        u = float(sd[key]) * (1.0 if prop.spread == "normal" else value)
        if key in measured or key not in parameters.keys:
            source = ", ".join(_label(t) for t in tests if key in _measurable([t])) or "the piece's size and mass"
            values[key] = Value(value, prop.unit, u, "measured", source, material.date, NOTES.get(key, ""))
        else:
            old = before.values[key]
            note = f"taken along in the fit: the readings do not determine it; {old.note}".rstrip("; ")
            values[key] = replace(old, value=value, u=u, note=note)
    return Card(before.name, before.kind, values, material.lot, material.date, _pairs(keys, cov), material.notes)


def _pairs(keys: Sequence[str], cov: Array) -> dict[tuple[str, str], float]:
    """The correlations worth writing down; as many of the weak ones as the others need to agree with each other."""
    spread = np.sqrt(np.diag(cov))
    full = np.clip(cov / np.outer(spread, spread), -1.0, 1.0)
    weakest = WEAKEST_CORRELATION
    kept = np.where(np.abs(full) > weakest, full, 0.0)
    while np.linalg.eigvalsh(kept).min() < 0.0 and weakest > 1e-6:
        weakest /= 2.0
        kept = np.where(np.abs(full) > weakest, full, 0.0)
    return {(keys[i], keys[j]): float(kept[i, j]) for i in range(len(keys)) for j in range(i) if kept[i, j] != 0.0}


def _label(test: BenchTest) -> str:
    return f"{test.name} ({test.origin.file})" if test.origin.file else test.name
