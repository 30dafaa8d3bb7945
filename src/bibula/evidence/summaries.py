"""What an uptake series says: capillary absorption, sorptivity, Cobb value, initial rate.

Every function takes plain arrays of one series: `time_s` (s, rising, from first contact),
`mass_kg` (kg) and the wetted `area_m2` (m2). Results carry their interval, method and warnings.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt
from scipy import stats

from bibula.formulas import standards
from bibula.quantities.errors import InputError
from bibula.statistics.lines import fit_line

Array = npt.NDArray[np.float64]

A_W = "capillary absorption coefficient A_w"
DAY_S = 86400.0
BLOTTING = frozenset({"slab", "blotter", "felt", "absorbent"})


@dataclass(frozen=True)
class Summary:
    """One number from a series.

    Attributes:
        quantity: what it is.
        value, unit: SI.
        u: standard uncertainty (nan where the data give none).
        low, high: 95 % interval (nan where none).
        method: how it was got, with the standard's number where one is followed.
        n: readings used.
        warnings: plain sentences.
        sources: keys of docs/references.bib.
    """

    quantity: str
    value: float
    unit: str
    u: float
    low: float
    high: float
    method: str
    n: int
    warnings: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()


@dataclass(frozen=True)
class Absorption(Summary):
    """Capillary absorption by ISO 15148: `value` is A_w in kg/(m2 s^0.5).

    Attributes:
        kind: `A` (one straight line against the root of time, intercept kept) or `B` (it bends; last reading only).
        intercept_kg_m2: dm'_0 of the line, not forced through zero.
        end_s: last reading used.
        kink_s: time at which the line breaks, nan for type A.
        residuals_kg_m2: reading - line.
    """

    kind: str = "A"
    intercept_kg_m2: float = math.nan
    end_s: float = math.nan
    kink_s: float = math.nan
    residuals_kg_m2: tuple[float, ...] = ()


def checked_series(time_s: npt.ArrayLike, mass_kg: npt.ArrayLike, area_m2: float, least: int) -> tuple[Array, Array]:
    """The arrays of one series, or one clear sentence: finite, same length, time rising, area > 0, enough readings."""
    t, m = np.asarray(time_s, dtype=float), np.asarray(mass_kg, dtype=float)
    if t.ndim != 1 or t.shape != m.shape or not (np.isfinite(t).all() and np.isfinite(m).all()):
        raise InputError("times and masses must be two lists of numbers of one length", "check the series")
    if not (math.isfinite(area_m2) and area_m2 > 0.0):
        raise InputError(f"the area {area_m2:g} m2 makes no sense", "give the wetted area of the piece")
    if len(t) < least:
        raise InputError(f"this needs at least {least} readings and the series has {len(t)}", "weigh more often")
    if (np.diff(t) <= 0.0).any():
        raise InputError("the times do not rise", "sort the readings and give no time twice")
    return t, m


def interval_from_t(value: float, u: float, dof: int) -> tuple[float, float]:
    """95 % interval by Student's t; nan without a degree of freedom."""
    if dof < 1 or not math.isfinite(u):
        return math.nan, math.nan
    half = float(stats.t.ppf(0.975, dof)) * u
    return value - half, value + half


def uptake_per_area(time_s: npt.ArrayLike, mass_kg: npt.ArrayLike, area_m2: float, least: int) -> tuple[Array, Array]:
    """(time, gain per area) after the first reading, which must be the dry mass at time 0."""
    t, m = checked_series(time_s, mass_kg, area_m2, least + 1)
    if t[0] != 0.0:
        raise InputError("an uptake series must begin with the dry mass at time 0", "add that reading")
    return t[1:], (m[1:] - m[0]) / area_m2


def absorption_coefficient(
    time_s: npt.ArrayLike,
    mass_kg: npt.ArrayLike,
    area_m2: float,
    *,
    end_s: float | None = None,
    kind: Literal["auto", "A", "B"] = "auto",
) -> Absorption:
    """A_w from partial immersion by the recipe of ISO 15148.

    Args:
        time_s: times in s, the first 0 with the dry mass.
        mass_kg: masses in kg.
        area_m2: face in the water.
        end_s: use readings up to here only (a thin piece is full long before the standard's 24 h).
        kind: `A`, `B`, or `auto`: type B where a broken line against the root of time is far better
            (corrected Akaike difference above 10 and slopes that differ by a fifth).

    Raises:
        InputError: fewer than three readings after the dry mass (type B: one), or no gain.
    """
    if kind not in {"auto", "A", "B"}:
        raise InputError(f"ISO 15148 knows no type '{kind}'", "say A, B or auto")
    t, dm = uptake_per_area(time_s, mass_kg, area_m2, 1 if kind == "B" else 3)
    if end_s is not None:
        keep = t <= end_s
        t, dm = t[keep], dm[keep]
        if len(t) < (1 if kind == "B" else 3):
            raise InputError(f"too few readings up to {end_s:g} s", "choose a later end or weigh more often")
    if dm[-1] <= 0.0:
        raise InputError("the piece gained no water", "check which reading is the dry mass")
    kink = _kink(np.sqrt(t), dm) if kind in {"auto", "B"} else math.nan
    chosen: Literal["A", "B"] = "B" if kind == "B" or (kind == "auto" and math.isfinite(kink)) else "A"
    if chosen == "B" and len(t) < 3:
        value, line = float(dm[-1] / math.sqrt(t[-1])), None
    else:
        line = standards.absorption_coefficient(t, dm, chosen)
        value = line.slope
    notes = []
    if abs(t[-1] - DAY_S) > 0.01 * DAY_S:
        notes.append(f"The standard ends at 24 h, this series at {t[-1]:g} s.")
    if math.isfinite(kink):
        notes.append(f"The line bends at about {kink**2:.3g} s: set the end there for the free uptake before it.")
    if chosen == "B" or line is None:
        return Absorption(
            A_W, value, "kg/(m2 s^0.5)", math.nan, math.nan, math.nan,
            "ISO 15148, type B (last reading over the root of its time)", 1, tuple(notes), ("ISO15148",),
            kind="B", end_s=float(t[-1]), kink_s=kink**2,
        )  # fmt: skip
    if line.intercept < -0.1 * dm[-1]:
        notes.append("The line starts well below zero: wetting began late or the dry mass is off.")
    residuals = dm - line.intercept - line.slope * np.sqrt(t)
    low, high = interval_from_t(line.slope, line.standard_error, line.n - 2)
    return Absorption(
        A_W, line.slope, "kg/(m2 s^0.5)", line.standard_error, low, high,
        "ISO 15148, type A (line against the root of time, intercept kept)", line.n, tuple(notes), ("ISO15148",),
        kind="A", intercept_kg_m2=line.intercept, end_s=float(t[-1]), residuals_kg_m2=tuple(map(float, residuals)),
    )  # fmt: skip


def aicc(rss: float, n: int, parameters: int) -> float:
    """Corrected Akaike criterion of a least-squares fit with unknown scatter (counted as one parameter more)."""
    k = parameters + 1
    if n - k - 1 <= 0:
        return math.inf
    return n * math.log(max(rss, 1e-300) / n) + 2.0 * k + 2.0 * k * (k + 1) / (n - k - 1)


def _kink(x: Array, y: Array) -> float:
    """Where a continuous broken line beats one line by far; nan where it does not."""
    if len(x) < 7:
        return math.nan
    floor = len(x) * (1e-9 * float(np.ptp(y))) ** 2  # what rounding alone leaves
    one = aicc(float(np.sum(fit_line(x, y).residuals ** 2)) + floor, len(x), 2)
    best = (math.inf, math.nan, 0.0, 0.0)
    for knot in np.linspace(x[1], x[-2], 101):
        design = np.column_stack([np.ones_like(x), x, np.maximum(x - knot, 0.0)])
        coefficients = np.linalg.lstsq(design, y, rcond=None)[0]
        rss = float(np.sum((y - design @ coefficients) ** 2)) + floor
        best = min(best, (rss, float(knot), float(coefficients[1]), float(coefficients[2])))
    rss, knot, slope, change = best
    return knot if one - aicc(rss, len(x), 4) > 10.0 and abs(change) > 0.2 * abs(slope) else math.nan


def sorptivity_c1585(
    time_s: npt.ArrayLike, mass_kg: npt.ArrayLike, area_m2: float, *, secondary: bool = False
) -> Summary:
    """Sorptivity in m/s^0.5 by the recipe of ASTM C1585: slope of the absorbed depth against the root of time.

    Initial: readings from 1 min to 6 h. `secondary`: 1 d to 7 d. A correlation below 0.98 means, by
    the standard, that it cannot be determined; the value is then given with that warning.

    Raises:
        InputError: fewer than three readings in the span.
    """
    t, dm = uptake_per_area(time_s, mass_kg, area_m2, 1)
    stretch: Literal["initial", "secondary"] = "secondary" if secondary else "initial"
    line = standards.c1585_sorptivity(t, dm * area_m2, area_m2, stretch)
    low, high = interval_from_t(line.slope, line.standard_error, line.n - 2)
    return Summary(
        f"{stretch} sorptivity", line.slope, "m/s^0.5", line.standard_error, low, high,
        f"ASTM C1585, {stretch} rate of absorption (line against the root of time)",
        line.n, line.warnings, ("ASTMC1585",),
    )  # fmt: skip


def cobb_value(
    time_s: npt.ArrayLike, mass_kg: npt.ArrayLike, area_m2: float, *, test_time_s: float = 60.0,
    kind: str = "paper", grammage_kg_m2: float | None = None, balance_u_kg: float = 0.0,
) -> Summary:  # fmt: skip
    """Cobb value in kg/m2 (ISO 535) from the reading at the test time.

    Args:
        time_s: times in s, the first 0 with the dry mass.
        mass_kg: masses in kg.
        area_m2: area under water.
        test_time_s: 30, 60, 120, 300 or 1800 s are usual.
        kind: the card's kind of material; the test is not meant for blotters.
        grammage_kg_m2: of the sheet, if known; below 0.05 the standard does not apply.
        balance_u_kg: standard uncertainty of one weighing.

    Raises:
        InputError: no reading within a twentieth of the test time.
    """
    t, dm = uptake_per_area(time_s, mass_kg, area_m2, 1)
    i = int(np.argmin(np.abs(t - test_time_s)))
    if abs(t[i] - test_time_s) > 0.05 * test_time_s:
        raise InputError(f"no reading near {test_time_s:g} s", f"weigh at {test_time_s:g} s, or name another test time")
    dry = float(np.asarray(mass_kg, dtype=float)[0])
    grammage = None if grammage_kg_m2 is None else 1000.0 * grammage_kg_m2
    found = standards.cobb(dry, dry + float(dm[i]) * area_m2, area_m2, grammage, kind in BLOTTING)
    value = found.mean / 1000.0
    u = math.sqrt(2.0) * balance_u_kg / area_m2 if balance_u_kg > 0.0 else math.nan
    return Summary(
        f"Cobb value at {test_time_s:g} s", value, "kg/m2", u, value - 1.96 * u, value + 1.96 * u,
        "ISO 535", 1, found.warnings, ("ISO535",),
    )  # fmt: skip


def initial_rate(
    time_s: npt.ArrayLike, mass_kg: npt.ArrayLike, area_m2: float, *, points: int | None = None, shape: str = "auto"
) -> Summary:
    """Rate of change of mass per area at the first reading, kg/(m2 s); a loss is negative.

    Args:
        time_s: times in s.
        mass_kg: masses in kg.
        area_m2: area through which water passes.
        points: how many first readings to use; default the first third, but 6 to 8.
        shape: `linear`, `quadratic` (slope of the parabola at the first reading), or `auto` (the better
            by the corrected Akaike criterion).

    Raises:
        InputError: fewer than three readings.
    """
    t, m = checked_series(time_s, mass_kg, area_m2, 3)
    k = min(len(t), points if points is not None else min(8, max(6, len(t) // 3)))
    if k < 3 or shape not in {"auto", "linear", "quadratic"}:
        raise InputError("an initial rate needs three readings and a known shape", "use `linear` or `quadratic`")
    x, y = t[:k] - t[0], (m[:k] - m[0]) / area_m2
    fits = {name: _polynomial(x, y, degree) for name, degree in (("linear", 1), ("quadratic", 2)) if k > degree + 1}
    if shape == "auto":
        floor = k * (1e-9 * float(np.ptp(y))) ** 2
        shape = min(fits, key=lambda s: aicc(fits[s][2] + floor, k, 2 if s == "linear" else 3))
    if shape not in fits:
        raise InputError(f"a {shape} initial rate needs more than {k} readings", "weigh more often at the start")
    value, u, _ = fits[shape]
    low, high = interval_from_t(value, u, k - (2 if shape == "linear" else 3))
    notes: tuple[str, ...] = ()
    if len(fits) == 2 and abs(fits["linear"][0] - fits["quadratic"][0]) > 0.2 * abs(value):
        notes = ("The rate changes within these first readings: the line and the parabola differ by over a fifth.",)
    return Summary("initial rate", value, "kg/(m2 s)", u, low, high, f"{shape} fit to the first {k} readings", k, notes)


def _polynomial(x: Array, y: Array, degree: int) -> tuple[float, float, float]:
    """Slope at x = 0, its standard error, residual sum of squares."""
    scale = float(x[-1])
    design = np.vander(x / scale, degree + 1, increasing=True)
    coefficients = np.linalg.lstsq(design, y, rcond=None)[0]
    rss = float(np.sum((y - design @ coefficients) ** 2))
    dof = len(x) - degree - 1
    covariance = np.linalg.inv(design.T @ design) * rss / dof
    return float(coefficients[1]) / scale, math.sqrt(float(covariance[1, 1])) / scale, rss
