"""Drying curves: the moisture ratio MR = (X - X_e) / (X_0 - X_e) against time.

Forms in common use for thin layers; times in s, rates in 1/s (or 1/s^n). They describe a curve
that was measured; they carry no physics from one stack to another.
"""

from __future__ import annotations

import numpy as np

from bibula.formulas.arrays import Real, Result, plain, require
from bibula.quantities.errors import InputError

_INF = float("inf")


def moisture_ratio(water_kg_kg: Real, start_kg_kg: float, end_kg_kg: float) -> Result:
    """(X - X_e) / (X_0 - X_e); the start must hold more water than the end."""
    if not start_kg_kg > end_kg_kg:
        raise InputError("the starting water is not above the final water", "check both contents")
    require(water_kg_kg, -1.0, 1e6, "water content", "kg/kg")
    return plain((np.asarray(water_kg_kg) - end_kg_kg) / (start_kg_kg - end_kg_kg))


def lewis(time_s: Real, k: float) -> Result:
    """exp(-k t), time and k not negative (Lewis1921)."""
    return page(time_s, k, 1.0)


def page(time_s: Real, k: float, n: float) -> Result:
    """exp(-k t^n), with k not negative and n from 0.01 to 10."""
    require(time_s, 0.0, _INF, "time", "s")
    require(k, 0.0, _INF, "rate constant k")
    require(n, 0.01, 10.0, "exponent n")
    return plain(np.exp(-k * np.asarray(time_s, dtype=np.float64) ** n))


def henderson_pabis(time_s: Real, a: float, k: float) -> Result:
    """a exp(-k t)."""
    return plain(a * lewis(time_s, k))


def midilli(time_s: Real, a: float, k: float, n: float, b: float) -> Result:
    """a exp(-k t^n) + b t; b in 1/s."""
    return plain(a * page(time_s, k, n) + b * np.asarray(time_s))


def two_term(time_s: Real, a: float, k_a: float, b: float, k_b: float) -> Result:
    """a exp(-k_a t) + b exp(-k_b t)."""
    return plain(a * lewis(time_s, k_a) + b * lewis(time_s, k_b))


def constant_then_falling(
    time_s: Real, start_kg_kg: float, critical_kg_kg: float, end_kg_kg: float, rate_kg_kg_s: float
) -> Result:
    """Water X against time: a constant rate down to the critical content, then a rate in proportion to X - X_e.

    Args:
        time_s: 0 or more.
        start_kg_kg: X_0.
        critical_kg_kg: X_c, between X_e and X_0.
        end_kg_kg: X_e.
        rate_kg_kg_s: the constant rate, above 0.
    """
    knee = _time_to_knee(start_kg_kg, critical_kg_kg, end_kg_kg, rate_kg_kg_s)
    require(time_s, 0.0, _INF, "time", "s")
    t = np.asarray(time_s, dtype=np.float64)
    span = critical_kg_kg - end_kg_kg
    falling = end_kg_kg + span * np.exp(-np.maximum(t - knee, 0.0) * rate_kg_kg_s / span)
    return plain(np.where(t <= knee, start_kg_kg - rate_kg_kg_s * t, falling))


def time_constant_then_falling_s(
    water_kg_kg: float, start_kg_kg: float, critical_kg_kg: float, end_kg_kg: float, rate_kg_kg_s: float
) -> float:
    """Time until the same curve has come down to a content between X_e (excluded) and X_0."""
    knee = _time_to_knee(start_kg_kg, critical_kg_kg, end_kg_kg, rate_kg_kg_s)
    if not end_kg_kg < water_kg_kg <= start_kg_kg:
        raise InputError("the content asked for lies outside start and end", "the end itself is never reached")
    if water_kg_kg >= critical_kg_kg:
        return (start_kg_kg - water_kg_kg) / rate_kg_kg_s
    span = critical_kg_kg - end_kg_kg
    return float(knee + span / rate_kg_kg_s * np.log(span / (water_kg_kg - end_kg_kg)))


def _time_to_knee(start: float, critical: float, end: float, rate: float) -> float:
    if not start >= critical > end >= 0.0:
        raise InputError("the contents do not fall from start over critical to end", "check their order")
    require(rate, 1e-15, _INF, "drying rate", "1/s")
    return (start - critical) / rate
