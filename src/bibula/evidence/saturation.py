"""How a piece fills with water: capacity, half-time and the shape between, from an uptake series."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bibula.evidence.summaries import Array, Summary, uptake_per_area
from bibula.quantities.errors import InputError
from bibula.statistics.fitting import FitResult, Guess, fit_curve, profile_interval


@dataclass(frozen=True)
class Saturation:
    """How a piece fills: areal capacity, time to half of it, and the shape between.

    Attributes:
        capacity: kg/m2.
        half_time: s.
        exponent: 0.5 at first where capillarity or diffusion rules, 1 for first-order filling.
        fit: the fit they come from.
    """

    capacity: Summary
    half_time: Summary
    exponent: Summary
    fit: FitResult


def saturation(
    time_s: npt.ArrayLike,
    mass_kg: npt.ArrayLike,
    area_m2: float,
    *,
    exponent: float | None = None,
    balance_u_kg: float | None = None,
    profile: bool = True,
) -> Saturation:
    """Capacity and half-time from gain = capacity (1 - 2^-((t / half-time)^exponent)).

    Exponent 1 is first-order filling. Intervals come from the profile of chi2 (`profile`) or the standard errors.

    Args:
        time_s: times in s, the first 0 with the dry mass.
        mass_kg: masses in kg.
        area_m2: area the capacity is given per.
        exponent: hold it at this value, 0.1 to 5; None fits it.
        balance_u_kg: standard uncertainty of a gain; without it errors come from the scatter.
        profile: profile intervals.

    Raises:
        InputError: fewer than four readings after the dry mass, or no gain.
    """
    t, dm = uptake_per_area(time_s, mass_kg, area_m2, 4)
    top = float(dm.max())
    if top <= 0.0:
        raise InputError("the piece gained no water", "check which reading is the dry mass")
    if exponent is not None and not 0.1 <= exponent <= 5.0:
        raise InputError(f"the exponent {exponent:g} is outside 0.1 to 5", "leave it out to have it fitted")
    half = max(float(np.interp(0.5 * top, np.maximum.accumulate(dm), t)), 0.1 * float(t[0]))
    start = {
        "capacity": Guess(top, 0.5 * top, 1e3 * top, "log"),
        "half_time": Guess(half, 1e-3 * half, 1e6 * half, "log"),
    }
    if exponent is None:
        start["exponent"] = Guess(0.8, 0.1, 5.0, "log")
    sigma = 1.0 if balance_u_kg is None else balance_u_kg / area_m2
    filling = _Filling(t, dm, sigma, start, exponent or 0.0)
    tries = [{"exponent": 0.5}, {"exponent": 1.2}] if exponent is None else []
    result = fit_curve(filling.model, t, dm, start, sigma=None if balance_u_kg is None else sigma, more_starts=tries)
    notes = list(result.warnings)
    if top < 0.95 * result["capacity"]:
        share = 100.0 * top / result["capacity"]
        notes.append(f"The piece reached only {share:.0f} % of the fitted capacity: weigh longer.")
    if float(dm[0]) > 0.5 * result["capacity"]:
        notes.append("The first reading lies beyond the half-time: weigh sooner.")
    held = Summary("exponent", filling.exponent, "1", 0.0, filling.exponent, filling.exponent, "held", len(t))
    said = tuple(notes)
    return Saturation(
        filling.summary(result, "capacity", "areal capacity", "kg/m2", profile, said),
        filling.summary(result, "half_time", "half-time", "s", profile, said),
        held if exponent is not None else filling.summary(result, "exponent", "exponent", "1", profile, said),
        result,
    )


@dataclass(frozen=True)
class _Filling:
    """The readings and the model of one fit; `exponent` is used where the fit has none."""

    t: npt.NDArray[np.float64]
    dm: npt.NDArray[np.float64]
    sigma: float
    start: dict[str, Guess]
    exponent: float

    def model(self, t: Array, p: Mapping[str, float]) -> Array:
        with np.errstate(over="ignore"):
            power = (t / p["half_time"]) ** p.get("exponent", self.exponent)
            return np.asarray(p["capacity"] * -np.expm1(-math.log(2.0) * power))

    def residuals(self, p: Mapping[str, float]) -> Array:
        return np.asarray((self.dm - self.model(self.t, p)) / self.sigma)

    def summary(
        self, result: FitResult, name: str, label: str, unit: str, profile: bool, notes: tuple[str, ...]
    ) -> Summary:
        low, high = result.interval(name)
        method = "fit of a stretched exponential, interval from the standard error"
        if profile:
            found = profile_interval(self.residuals, self.start, result, name)
            if math.isfinite(found.low) and math.isfinite(found.high):
                low, high, method = found.low, found.high, "fit of a stretched exponential, profile interval"
                notes += found.warnings
        return Summary(label, result[name], unit, result.error(name), low, high, method, len(self.t), notes)
