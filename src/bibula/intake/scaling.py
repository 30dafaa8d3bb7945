"""From the units of cells, header and options to factors to SI."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np

from bibula.intake.numbers import FloatArray, Numbers, PlaceOf
from bibula.intake.units import asked_unit, scale, split_header, unit_of
from bibula.quantities.errors import InputError

_ALLOWED = {"time": "s, min, h or d", "mass": "g, mg or kg"}


def to_si(
    numbers: Numbers,
    header: str,
    asked: str | None,
    dimension: Literal["time", "mass"],
    place_of: PlaceOf,
) -> tuple[FloatArray, str | None, tuple[str, ...]]:
    """Scale a column to seconds or kilograms.

    A unit in the cell counts for the cell; else the option; else the header.

    Returns:
        Values (NaN stays NaN), the unit of cells without one, remarks.

    Raises:
        InputError: no unit, an unknown unit, or cell and column contradict each other.
    """
    in_header = unit_of(split_header(header)[1], dimension)
    unit = asked_unit(asked, dimension, f"{dimension}_unit") or in_header
    notes: tuple[str, ...] = ()
    if asked and in_header and unit != in_header:
        notes = (f"'{header}' was read in {unit}, as asked, not in {in_header}",)
    values = numbers.values
    if numbers.units is None:
        if unit is None:
            given = np.flatnonzero(~np.isnan(values))
            raise _no_unit(
                float(values[given[0]]) if given.size else 0.0, dimension, place_of, int(given[0]) if given.size else 0
            )
        return values * scale(unit, dimension), unit, notes
    factors = np.full(len(values), math.nan)
    for row, word in enumerate(numbers.units):
        own = unit_of(word, dimension) if word else unit
        if word and own is None:
            raise InputError(f"'{word}' is not a unit of {dimension}", f"use {_ALLOWED[dimension]}", place_of(row))
        if word and unit and own != unit:
            what = f"the cell says {word}, the column {unit}"
            raise InputError(what, "make the two agree", place_of(row))
        if own is None:
            if math.isnan(values[row]):
                continue
            raise _no_unit(float(values[row]), dimension, place_of, row)
        factors[row] = scale(own, dimension)
    return values * factors, unit, notes


def _no_unit(value: float, dimension: str, place_of: PlaceOf, row: int) -> InputError:
    example = "time [s]" if dimension == "time" else "mass [g]"
    return InputError(
        f"the {dimension} {value:g} has no unit",
        f"give the option {dimension}_unit ({_ALLOWED[dimension]}), or name the column '{example}'",
        place_of(row),
    )
