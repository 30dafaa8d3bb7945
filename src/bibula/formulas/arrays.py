"""What the formulas take and give, and how they refuse what they cannot answer.

A formula takes floats or NumPy arrays that broadcast, and gives a float where all inputs are
scalars, else an array. A number out of range, and "not a number", is refused.
"""

from __future__ import annotations

from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from bibula.quantities.errors import BibulaError, InputError, ValidityError

Array: TypeAlias = NDArray[np.float64]
Real: TypeAlias = float | Array
# A float where all inputs are scalars, else an array: NumPy's own stubs say no more than this.
Result: TypeAlias = Any


def _refuse_outside(
    value: Real, low: float, high: float, what: str, unit: str, error: type[BibulaError], mend: str
) -> None:
    x = np.atleast_1d(np.asarray(value, dtype=np.float64))
    good = (x >= low) & (x <= high)
    if not good.all():
        worst = float(x[~good].flat[0])
        raise error(
            f"{what} is {worst:g} {unit}".rstrip(), mend or f"it must lie between {low:g} and {high:g} {unit}".rstrip()
        )


def require(value: Real, low: float, high: float, what: str, unit: str = "", mend: str = "") -> None:
    """Refuse a value that makes no sense (or is not a number) with an `InputError`."""
    _refuse_outside(value, low, high, what, unit, InputError, mend)


def require_valid(value: Real, low: float, high: float, what: str, unit: str = "", mend: str = "") -> None:
    """Refuse a value outside the range in which the formula was established with a `ValidityError`."""
    _refuse_outside(value, low, high, what, unit, ValidityError, mend)


def plain(value: Result) -> Result:
    """A float from a zero-dimensional result, an array unchanged."""
    return float(value) if np.ndim(value) == 0 else value
