"""What a drying series says: constant rate, knee (critical water), falling rate, final water; which curve fits best.

Plain arrays of one series: `time_s` (s, rising), `mass_kg`, the drying `area_m2`. The two-piece
model is a constant rate down to the knee and then a rate in proportion to the water above the end.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bibula.evidence.summaries import Array, Summary, aicc, checked_series, interval_from_t
from bibula.formulas import drying_curves
from bibula.quantities.errors import InputError
from bibula.statistics.fitting import FitResult, Guess, fit_curve, profile_interval

Params = Mapping[str, float]
Model = Callable[[Array, Params], Array]


@dataclass(frozen=True)
class DryingPeriods:
    """The two-piece fit of a weighing series.

    Attributes:
        rate: constant-rate loss, kg/(m2 s), positive.
        knee_time: end of the constant rate, s after the first reading.
        knee_water: water above the end at the knee, kg/m2.
        end_mass: mass per area the series tends to, kg/m2.
        knee_mass: mass per area at the knee, kg/m2 (end mass + knee water).
        critical_content: moisture content at the knee, dry basis, kg/kg; None where no dry mass was given.
        fit: the fit; its residuals are in units of `sigma_kg_m2`.
        sigma_kg_m2: standard uncertainty given per reading, or 1 where none was.
        rms_kg: root mean square of the residuals, as mass.
        rms_over_resolution: the same over the balance's resolution, nan where that was not given.
        better_than_exponential: corrected Akaike difference to a falling rate from the start (positive: a
            constant rate is really there; above 10 is strong).
        warnings: plain sentences.
    """

    rate: Summary
    knee_time: Summary
    knee_water: Summary
    end_mass: Summary
    knee_mass: Summary
    critical_content: Summary | None
    fit: FitResult
    sigma_kg_m2: float
    rms_kg: float
    rms_over_resolution: float
    better_than_exponential: float
    warnings: tuple[str, ...]


@dataclass(frozen=True)
class RatePeriods:
    """The two-piece fit of a measured rate.

    Attributes:
        plateau: the constant rate, unit of the rates given.
        knee_time: its end, s.
        decay_time: e-folding time of the falling rate, s.
        rest: the rate it tends to.
        fit: the fit.
        rms: root mean square residual, unit of the rates.
        warnings: plain sentences.
    """

    plateau: Summary
    knee_time: Summary
    decay_time: Summary
    rest: Summary
    fit: FitResult
    rms: float
    warnings: tuple[str, ...]


@dataclass(frozen=True)
class CurveFit:
    """One drying-curve formula fitted to moisture ratios.

    Attributes:
        name: of the formula.
        result: the fit.
        rms: root mean square residual of the moisture ratio.
        aicc: corrected Akaike criterion; smaller is better.
        weight: Akaike weight among those compared, 0 to 1.
        sources: keys of docs/references.bib.
    """

    name: str
    result: FitResult
    rms: float
    aicc: float
    weight: float
    sources: tuple[str, ...] = ()


def _two_piece(t: Array, p: Params) -> Array:
    slow = p.get("slow_rate", 0.0)
    rate = p["rate"] - slow
    excess = rate * p["knee_time"]
    if not rate > 0.0:
        return np.full_like(t, np.nan)
    above = drying_curves.constant_then_falling(t, excess + p["knee_water"], p["knee_water"], 0.0, rate)
    return np.asarray(p["end"] + above - slow * t)


def _exponential(t: Array, p: Params) -> Array:
    falling = np.asarray(drying_curves.lewis(t, p["k"]))
    return np.asarray(p["end"] + p["water"] * falling - p.get("slow_rate", 0.0) * t)


def drying_periods(
    time_s: npt.ArrayLike,
    mass_kg: npt.ArrayLike,
    area_m2: float,
    *,
    dry_mass_kg: float | None = None,
    resolution_kg: float | None = None,
    balance_u_kg: float | None = None,
    slow_loss: bool = False,
    profile: bool = True,
) -> DryingPeriods:
    """Constant and falling rate of a drying series, the knee between with its interval, and the end.

    Args:
        time_s: times in s, rising; the first reading is time 0 of the result.
        mass_kg: masses in kg, falling overall.
        area_m2: area from which water leaves.
        dry_mass_kg: mass of the piece without water, for the critical moisture content.
        resolution_kg: the balance's last digit, for comparing the residuals with.
        balance_u_kg: standard uncertainty of a mass, if errors shall come from it instead of the scatter.
        slow_loss: let a slow steady loss remain after the fall (a skin, a coating, an edge seal); the end is
            then the mass without it.
        profile: intervals from the profile of chi2 for the knee (else from standard errors).

    Raises:
        InputError: fewer than six readings (seven with `slow_loss`), or no loss.
    """
    t, m = checked_series(time_s, mass_kg, area_m2, 7 if slow_loss else 6)
    t, w = t - t[0], m / area_m2
    start, plain, tries = _drying_guesses(t, w, slow_loss)
    sigma = None if balance_u_kg is None else balance_u_kg / area_m2
    result = fit_curve(_two_piece, t, w, start, sigma=sigma, more_starts=tries)
    scale = 1.0 if sigma is None else sigma

    def residuals(p: Params) -> Array:
        return np.asarray((w - _two_piece(t, p)) / scale)

    gain = _better_than_exponential(t, w, plain, sigma, result)
    rms = float(np.sqrt(np.mean(result.residuals**2))) * scale * area_m2
    notes = _drying_notes(result, gain, rms, resolution_kg, float(t[-1]))
    pack = _packer(result, residuals, start, profile, len(t), notes)
    knee = _knee_mass(result, len(t), notes)
    return DryingPeriods(
        rate=pack("rate", "constant drying rate", "kg/(m2 s)", False),
        knee_time=pack("knee_time", "end of the constant rate", "s", True),
        knee_water=pack("knee_water", "critical water above the end", "kg/m2", True),
        end_mass=pack("end", "final mass per area", "kg/m2", False),
        knee_mass=knee,
        critical_content=None if dry_mass_kg is None else _critical_content(knee, dry_mass_kg / area_m2),
        fit=result,
        sigma_kg_m2=scale,
        rms_kg=rms,
        rms_over_resolution=math.nan if resolution_kg is None else rms / resolution_kg,
        better_than_exponential=gain,
        warnings=notes,
    )


def _better_than_exponential(
    t: Array, w: Array, plain: Mapping[str, Guess], sigma: float | None, result: FitResult
) -> float:
    """Corrected Akaike difference of a falling rate from the start to the two-piece fit."""
    other = fit_curve(_exponential, t, w, plain, sigma=sigma)
    n, floor = len(t), len(t) * (1e-9 * float(np.ptp(w)) / (sigma or 1.0)) ** 2  # what rounding alone leaves
    return aicc(other.chi2 + floor, n, len(plain)) - aicc(result.chi2 + floor, n, len(result.names))


def _knee_mass(r: FitResult, n: int, notes: tuple[str, ...]) -> Summary:
    """End mass plus knee water, the correlation of the two carried through."""
    gradient = np.zeros(len(r.names))
    gradient[r.index("end")], gradient[r.index("knee_water")] = 1.0, r["knee_water"]
    variance = float(gradient @ r.covariance @ gradient)
    value, u = r["end"] + r["knee_water"], math.sqrt(variance) if variance >= 0.0 else math.nan
    method = "two-piece fit, interval from the standard error"
    return Summary("mass per area at the knee", value, "kg/m2", u, *interval_from_t(value, u, r.dof), method, n, notes)


def _critical_content(knee: Summary, dry_kg_m2: float) -> Summary:
    if not dry_kg_m2 > 0.0:
        raise InputError("the dry mass must be above zero", "give it, or leave it out")
    value, u, low, high = (
        x / dry_kg_m2 for x in (knee.value - dry_kg_m2, knee.u, knee.low - dry_kg_m2, knee.high - dry_kg_m2)
    )
    label = "critical moisture content, dry basis"
    return Summary(
        label, value, "kg/kg", u, low, high, knee.method + ", dry mass taken as exact", knee.n, knee.warnings
    )


def _drying_guesses(
    t: Array, w: Array, slow_loss: bool
) -> tuple[dict[str, Guess], dict[str, Guess], list[dict[str, float]]]:
    """Guesses for the two-piece model, for a falling rate from the start, and further starts for the first."""
    loss, span = float(w[0] - w.min()), float(t[-1])
    if loss <= 0.0:
        raise InputError("the piece lost no water", "check the order of the readings")
    first_rate = max(float(np.max((w[0] - w[1:]) / t[1:])), loss / span)
    two = {
        "rate": Guess(first_rate, 1e-3 * loss / span, 1e3 * first_rate, "log"),
        "knee_time": Guess(0.3 * span, 1e-4 * span, 2.0 * span, "log"),
        "knee_water": Guess(0.5 * loss, 1e-4 * loss, 100.0 * loss, "log"),
        "end": Guess(float(w.min()) - 0.02 * loss),
    }
    one = {
        "water": Guess(loss, 1e-6 * loss, 1e3 * loss, "log"),
        "k": Guess(2.0 / span, 1e-6 / span, 1e6 / span, "log"),
        "end": two["end"],
    }
    if slow_loss:
        slow = Guess(0.05 * loss / span, 1e-6 * loss / span, loss / span, "log")
        two, one = {**two, "slow_rate": slow}, {**one, "slow_rate": slow}
    tries = [{"knee_time": f * span, "knee_water": g * loss} for f in (0.02, 0.1, 0.6) for g in (0.2, 0.7)]
    return two, one, tries


def _drying_notes(r: FitResult, gain: float, rms: float, resolution: float | None, span: float) -> tuple[str, ...]:
    notes = []
    if gain < 10.0:
        notes.append("A constant rate is not shown: a falling rate from the start fits nearly as well.")
    notes.extend(r.warnings)
    if r["knee_time"] > 0.9 * span:
        notes.append("The falling rate is hardly reached: weigh longer for knee and end.")
    if resolution is not None and rms > 3.0 * resolution:
        notes.append(
            f"The residuals (rms {rms:.2g} kg) are {rms / resolution:.0f} times the balance's resolution: "
            "the two-piece model or the room's constancy limits this fit, not the balance."
        )
    return tuple(notes)


def _packer(
    result: FitResult,
    residuals: Callable[[Params], Array],
    start: Mapping[str, Guess],
    profile: bool,
    n: int,
    notes: tuple[str, ...],
) -> Callable[[str, str, str, bool], Summary]:
    def pack(name: str, label: str, unit: str, skew: bool) -> Summary:
        low, high = result.interval(name)
        method = "two-piece fit, interval from the standard error"
        if profile and skew:
            found = profile_interval(residuals, start, result, name)
            if math.isfinite(found.low) and math.isfinite(found.high):
                low, high, method = found.low, found.high, "two-piece fit, profile interval"
            return Summary(label, result[name], unit, result.error(name), low, high, method, n, notes + found.warnings)
        return Summary(label, result[name], unit, result.error(name), low, high, method, n, notes)

    return pack


def _rate_model(t: Array, p: Params) -> Array:
    falling = np.exp(-np.maximum(t - p["knee_time"], 0.0) / p["decay_time"])
    return np.asarray(p["rest"] + (p["plateau"] - p["rest"]) * falling)


def rate_periods(
    time_s: npt.ArrayLike, rate: npt.ArrayLike, *, begin_s: float = 0.0, profile: bool = True
) -> RatePeriods:
    """Plateau, knee and exponential fall of a measured drying rate (any unit), readings equally trusted.

    Args:
        time_s: times in s, rising.
        rate: drying rate at those times, positive.
        begin_s: leave out readings before this (the first hours, when the piece still cools down).
        profile: interval of the knee from the profile of chi2.

    Raises:
        InputError: fewer than six readings left, or a rate that never falls.
    """
    t, y = checked_series(time_s, rate, 1.0, 6)
    t, y = t[t >= begin_s], y[t >= begin_s]
    if len(t) < 6 or float(y.min()) > 0.9 * float(y.max()):
        raise InputError("the rate does not fall by a tenth, so there is no knee", "measure longer")
    unit, low, span = float(y.max()), float(max(y.min(), 0.0)), float(t[-1])
    ys = y / unit
    low_rate = y < 0.5 * unit
    half = float(t[np.argmax(low_rate)]) if low_rate.any() else float(np.median(t))
    start = {
        "plateau": Guess(float(np.median(ys[t <= half])), 0.0, 10.0, "log"),
        "knee_time": Guess(0.8 * half, 1e-6 * span, span, "log"),
        "decay_time": Guess(0.2 * span, 1e-4 * span, 100.0 * span, "log"),
        "rest": Guess(low / unit, -0.5, 1.0),
    }
    tries = [{"knee_time": f * half, "decay_time": g * half} for f in (0.5, 0.95) for g in (0.1, 0.4)]
    result = fit_curve(_rate_model, t, ys, start, more_starts=tries)

    def residuals(p: Params) -> Array:
        return np.asarray(ys - _rate_model(t, p))

    notes = result.warnings
    pack = _packer(result, residuals, start, profile, len(t), notes)

    def scaled(s: Summary) -> Summary:
        return Summary(
            s.quantity, s.value * unit, s.unit, s.u * unit, s.low * unit, s.high * unit, s.method, s.n, s.warnings
        )

    return RatePeriods(
        plateau=scaled(pack("plateau", "constant rate", "as given", False)),
        knee_time=pack("knee_time", "end of the constant rate", "s", True),
        decay_time=pack("decay_time", "e-folding time of the falling rate", "s", False),
        rest=scaled(pack("rest", "rate it tends to", "as given", False)),
        fit=result,
        rms=float(np.sqrt(np.mean(result.residuals**2))) * unit,
        warnings=notes,
    )


def _half_form(t: Array, half: float, n: float) -> Array:
    """exp(-k t^n) with k = ln 2 / half^n."""
    return np.asarray(drying_curves.page(t, math.log(2.0) / half**n, n))


_CURVES: tuple[tuple[str, tuple[str, ...], Model, tuple[str, ...]], ...] = (
    ("Lewis", ("half_time",), lambda t, p: _half_form(t, p["half_time"], 1.0), ("Lewis1921",)),
    ("Page", ("half_time", "n"), lambda t, p: _half_form(t, p["half_time"], p["n"]), ()),
    ("Henderson-Pabis", ("half_time", "a"), lambda t, p: p["a"] * _half_form(t, p["half_time"], 1.0), ()),
    (
        "Midilli",
        ("half_time", "n", "a", "b"),
        lambda t, p: p["a"] * _half_form(t, p["half_time"], p["n"]) + p["b"] * t,
        (),
    ),
)


def compare_drying_curves(time_s: npt.ArrayLike, moisture_ratio: npt.ArrayLike) -> tuple[CurveFit, ...]:
    """Fit Lewis, Page, Henderson-Pabis and Midilli to moisture ratios; best first by the corrected Akaike criterion.

    The rate constant is fitted as the half-time of the exponential part, k = ln 2 / half_time^n, since
    k's own unit changes with n. Descriptions of one measured curve: they carry nothing to another stack.

    Raises:
        InputError: fewer than six readings.
    """
    t, y = checked_series(time_s, moisture_ratio, 1.0, 6)
    t = t - t[0]
    span = float(t[-1])
    middle = float(np.interp(-0.5, np.maximum.accumulate(-y), t)) or 0.2 * span
    guesses = {
        "half_time": Guess(middle, 1e-6 * span, 1e4 * span, "log"),
        "n": Guess(1.0, 0.05, 10.0, "log"),
        "a": Guess(1.0, 0.01, 100.0, "log"),
        "b": Guess(0.0, -10.0 / span, 10.0 / span),
    }
    fits = []
    for name, keys, model, sources in _CURVES:
        result = fit_curve(model, t, y, {k: guesses[k] for k in keys})
        floor = len(t) * 1e-18
        fits.append((name, result, aicc(result.chi2 + floor, len(t), len(keys)), sources))
    best = min(a for _, _, a, _ in fits)
    total = sum(math.exp(-0.5 * (a - best)) for _, _, a, _ in fits)
    made = [
        CurveFit(name, r, float(np.sqrt(np.mean(r.residuals**2))), a, math.exp(-0.5 * (a - best)) / total, sources)
        for name, r, a, sources in fits
    ]
    return tuple(sorted(made, key=lambda c: c.aicc))
