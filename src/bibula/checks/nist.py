"""The fitter against the certified regressions of NIST's Statistical Reference Datasets.

The data files are NIST's own (public domain), read from `checks/data`. Every set is fitted from both
of its starting points; values, standard errors and the residual sum of squares are compared.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np
import numpy.typing as npt

from bibula.checks.rows import CheckRow
from bibula.statistics.fitting import FitResult, Guess, fit_curve
from bibula.statistics.lines import fit_line

Array = npt.NDArray[np.float64]
Params = Mapping[str, float]

SOURCE = "NISTStRD"
TOLERANCE = 1e-6
REASON = "six digits, what NIST's own guide asks of a good fitter; the certified values carry eleven"
NUMBER = r"[-+]?\d+\.?\d*(?:[eE][-+]?\d+)?"


@dataclass(frozen=True)
class ReferenceSet:
    """One certified regression: data, two starts, certified values and standard deviations, in the file's order."""

    name: str
    x: Array
    y: Array
    starts: tuple[tuple[float, ...], tuple[float, ...]]
    values: tuple[float, ...]
    deviations: tuple[float, ...]
    rss: float


def _saturating(x: Array, p: Params) -> Array:
    return np.asarray(p["b1"] * -np.expm1(-p["b2"] * x))


def _mgh09(x: Array, p: Params) -> Array:
    return p["b1"] * (x**2 + x * p["b2"]) / (x**2 + x * p["b3"] + p["b4"])


def _logistic(x: Array, p: Params) -> Array:
    return np.asarray(p["b1"] / (1.0 + np.exp(p["b2"] - p["b3"] * x)))


def _power(x: Array, p: Params) -> Array:
    return np.asarray(p["b1"] * x ** p["b2"])


def _cubics(x: Array, p: Params) -> Array:
    top = p["b1"] + p["b2"] * x + p["b3"] * x**2 + p["b4"] * x**3
    return top / (1.0 + p["b5"] * x + p["b6"] * x**2 + p["b7"] * x**3)


MODELS: dict[str, Callable[[Array, Params], Array]] = {
    "Misra1a": _saturating,
    "BoxBOD": _saturating,
    "MGH09": _mgh09,
    "Rat42": _logistic,
    "DanWood": _power,
    "Thurber": _cubics,
}


def _text(name: str) -> str:
    return (files("bibula.checks") / "data" / f"nist_{name.lower()}.dat").read_text(encoding="ascii")


def _table(text: str) -> tuple[Array, Array]:
    """The (x, y) table after the last line that starts with "Data:"."""
    lines = text.splitlines()
    begin = max(i for i, line in enumerate(lines) if line.startswith("Data:"))
    pairs = np.array([[float(v) for v in line.split()] for line in lines[begin + 1 :] if line.strip()])
    return pairs[:, 1], pairs[:, 0]


def read_reference(name: str) -> ReferenceSet:
    """Read one non-linear set from NIST's file ("Misra1a", "BoxBOD", ...)."""
    text = _text(name)
    rows = re.findall(rf"^\s*b\d+ =\s+({NUMBER})\s+({NUMBER})\s+({NUMBER})\s+({NUMBER})\s*$", text, re.MULTILINE)
    numbers = np.array(rows, dtype=float)
    found = re.search(rf"Residual Sum of Squares:\s+({NUMBER})", text)
    if found is None or len(numbers) == 0:
        raise ValueError(f"the data file of {name} has lost its certified values")
    x, y = _table(text)
    first, second, values, deviations = (tuple(float(v) for v in numbers[:, i]) for i in range(4))
    return ReferenceSet(name, x, y, (first, second), values, deviations, float(found[1]))


@cache
def fit_reference(name: str, start: int) -> FitResult:
    """Fit one set from its start 1 or 2, no bounds, linear scales, errors from the scatter."""
    data = read_reference(name)
    guesses = {f"b{i + 1}": Guess(v) for i, v in enumerate(data.starts[start - 1])}
    return fit_curve(MODELS[name], data.x, data.y, guesses)


def matching_digits(ours: float, theirs: float) -> float:
    """Log relative error, -log10 |ours - theirs| / |theirs|: how many digits agree (at most 15)."""
    difference = abs(ours - theirs) / abs(theirs)
    return min(15.0, -math.log10(difference)) if difference > 0.0 else 15.0


def _row(name: str, ours: float, theirs: float, tolerance: float = TOLERANCE, reason: str = REASON) -> CheckRow:
    return CheckRow(f"NIST {name}", SOURCE, "published", ours, theirs, tolerance, reason, relative=True)


def _norris() -> list[CheckRow]:
    """The certified line; slope 1.002, intercept -0.262, 36 points."""
    text = _text("Norris")
    (b0, u0), (b1, u1) = re.findall(rf"^\s*B\d\s+({NUMBER})\s+({NUMBER})\s*$", text, re.MULTILINE)
    line = fit_line(*_table(text))
    reason = "ten digits: a line in double precision loses a few of fifteen where x varies over 1000"
    pairs = [
        ("B0", line.intercept, b0),
        ("B0 sd", line.intercept_u, u0),
        ("B1", line.slope, b1),
        ("B1 sd", line.slope_u, u1),
    ]
    return [_row(f"Norris {what}", ours, float(theirs), 1e-10, reason) for what, ours, theirs in pairs]


def rows() -> list[CheckRow]:
    """All certified values, from both starts."""
    out = _norris()
    for name in MODELS:
        data = read_reference(name)
        for start in (1, 2):
            result = fit_reference(name, start)
            out.append(_row(f"{name} residual sum of squares, start {start}", result.chi2, data.rss))
            for i, key in enumerate(result.names):
                out.append(_row(f"{name} {key}, start {start}", float(result.estimates[i]), data.values[i]))
                out.append(
                    _row(f"{name} {key} sd, start {start}", float(result.standard_errors[i]), data.deviations[i])
                )
    return out
