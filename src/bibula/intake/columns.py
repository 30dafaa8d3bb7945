"""Any columns of numbers: a flux against time, a profile against depth."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Unpack

import numpy as np

from bibula.intake.numbers import FloatArray, parse_numbers
from bibula.intake.options import ColumnName, Options, TableArguments, choose_column
from bibula.intake.selection import TimeSource, choose_time, file_decimal, times_of
from bibula.intake.tables import Table, read_table
from bibula.intake.text import Source
from bibula.intake.units import scale, split_header, unit_of
from bibula.intake.words import Role
from bibula.quantities.errors import InputError, Place

_KINDS: tuple[dict[str, float], ...] = (
    {"m": 1.0, "cm": 1e-2, "mm": 1e-3, "µm": 1e-6},
    {"m/s": 1.0, "mm/s": 1e-3, "mm/h": 1e-3 / 3600, "mm/d": 1e-3 / 86400, "cm/d": 1e-2 / 86400},
    {"kg/m2/s": 1.0, "g/m2/s": 1e-3, "kg/m2/h": 1 / 3600, "g/m2/h": 1e-3 / 3600, "g/m2/d": 1e-3 / 86400},
    {"1": 1.0, "%": 1e-2},
)


@dataclass(frozen=True)
class Wanted:
    """One column to read.

    Attributes:
        column: its name or number (from 1); or leave it out and give
        role: what its name must stand for ("time", "mass", "temperature", "humidity", "flux").
        unit: convert to this unit; None leaves the numbers as written. A time is always returned in seconds.
        file_unit: unit in the file where neither header nor cells say it.
        low, high: allowed range, in `unit`.
    """

    column: ColumnName | None = None
    role: Role | None = None
    unit: str | None = None
    file_unit: str | None = None
    low: float = -math.inf
    high: float = math.inf


def read_columns(
    path: str | Path | Source,
    wanted: Mapping[str, Wanted | ColumnName],
    *,
    skip_blank: bool = False,
    **arguments: Unpack[TableArguments],
) -> dict[str, FloatArray]:
    """Read some columns of a table as arrays of one length.

    Args:
        path: a text table, an .xlsx workbook, or a Source with the bytes.
        wanted: key of the result -> column name, column number, or `Wanted`.
        skip_blank: leave out rows where a wanted cell is blank (else they are refused).
        arguments: see `TableArguments`.

    Returns:
        Key -> (n,) array.

    Raises:
        InputError: as in `read_weighings`; also a blank cell, or a value out of its range.
    """
    options = Options(**arguments)
    asks = {key: ask if isinstance(ask, Wanted) else Wanted(column=ask) for key, ask in wanted.items()}
    if not asks:
        raise InputError("no columns are asked for", "name at least one", Place(field="wanted"))
    named = (str(ask.column) for ask in asks.values() if ask.column is not None and not str(ask.column).isdigit())
    table = read_table(
        path, sheet=options.sheet, separator=options.separator, encoding=options.encoding, names=tuple(named)
    )
    columns = {key: _column(table, key, ask, options) for key, ask in asks.items()}
    decimal = file_decimal(table, sorted(set(columns.values())), options.decimal)
    rows = _rows(table, columns, skip_blank)
    return {
        key: _times(table, columns[key], rows, decimal, ask, options)
        if ask.role == "time"
        else _numbers(table, columns[key], rows, decimal, ask)
        for key, ask in asks.items()
    }


def _column(table: Table, key: str, ask: Wanted, options: Options) -> int:
    if ask.role == "time" and ask.column is None:
        return choose_time(table, options).time
    return choose_column(table, ask.role or "flux", ask.column, f"wanted '{key}'", None if ask.role else [])


def _rows(table: Table, columns: Mapping[str, int], skip_blank: bool) -> np.typing.NDArray[np.intp]:
    keep = np.ones(len(table.lines), dtype=bool)
    for column in columns.values():
        blank = [isinstance(cell, str) and not cell.strip() for cell in table.columns[column]]
        if any(blank) and not skip_blank:
            place = table.place(blank.index(True), column)
            raise InputError("this cell is blank", "fill it in, or leave out rows with blanks", place)
        keep &= ~np.array(blank, dtype=bool)
    rows = np.flatnonzero(keep)
    if not rows.size:
        raise InputError("no row has all the columns asked for", "check the columns", Place(file=table.file))
    return rows


def _times(
    table: Table, column: int, rows: np.typing.NDArray[np.intp], decimal: str, ask: Wanted, options: Options
) -> FloatArray:
    if ask.unit not in (None, "s"):
        raise InputError("times are read in seconds", "ask for unit s", Place(field="unit"))
    source = choose_time(table, options) if ask.column is None else TimeSource(column, None)
    if ask.file_unit is not None and options.time_unit is None:
        options = Options(**{**options.settled(), "time_unit": ask.file_unit})  # type: ignore[arg-type]
    times = times_of(table, source, rows, [np.arange(len(rows))], decimal, options).time_s
    return _in_range(table, column, rows, times, ask, "s")


def _numbers(table: Table, column: int, rows: np.typing.NDArray[np.intp], decimal: str, ask: Wanted) -> FloatArray:
    cells = [table.columns[column][row] for row in rows]
    numbers = parse_numbers(cells, decimal, lambda i: table.place(int(rows[i]), column))
    values = numbers.values
    if np.isnan(values).any():
        row = int(rows[int(np.flatnonzero(np.isnan(values))[0])])
        raise InputError("there is no number in this cell", "fill it in", table.place(row, column))
    units = set(numbers.units or ("",))
    if len(units) > 1:
        raise InputError("the cells of this column differ in unit", "use one unit", table.place(int(rows[0]), column))
    in_file = units.pop() or (split_header(table.header[column])[1] if table.named else "") or ask.file_unit or ""
    if ask.unit is not None and in_file != ask.unit:
        values = values_in(values, in_file, ask.unit, table.place(int(rows[0]), column))
    return _in_range(table, column, rows, values, ask, ask.unit or in_file)


def values_in(values: FloatArray, unit: str, target: str, place: Place) -> FloatArray:
    """Convert an array from one unit to another of the same kind.

    Raises:
        InputError: no unit given, an unknown one, or one of another kind.
    """
    if not unit:
        raise InputError(f"the unit is not given, and {target} is needed", "name the unit in the header", place)
    for dimension in ("time", "mass"):
        source, goal = unit_of(unit, dimension), unit_of(target, dimension)
        if source and goal:
            return values * (scale(source, dimension) / scale(goal, dimension))
    plain_unit, plain_target = _flat(unit), _flat(target)
    for factors in _KINDS:
        if plain_unit in factors and plain_target in factors:
            return values * (factors[plain_unit] / factors[plain_target])
    if plain_unit == plain_target:
        return values
    raise InputError(f"'{unit}' cannot be turned into {target}", "correct the unit in the header", place)


def _flat(unit: str) -> str:
    """One spelling for exponents and products: 'kg/(m² s)' and 'kg m-2 s-1' become 'kg/m2/s'."""
    flat = unit.strip().replace("²", "2").replace("^", "").replace("·", " ").replace("*", " ")
    flat = re.sub(r"\s*/\s*", "/", flat)
    flat = re.sub(r"\(([^()]*)\)", lambda match: match[1].strip().replace(" ", "/"), flat)
    return re.sub(r"\s*\b([a-z]+)-(\d)", lambda match: f"/{match[1]}{match[2] if match[2] != '1' else ''}", flat)


def _in_range(
    table: Table, column: int, rows: np.typing.NDArray[np.intp], values: FloatArray, ask: Wanted, unit: str
) -> FloatArray:
    bad = (values < ask.low) | (values > ask.high)
    if bad.any():
        at = int(np.flatnonzero(bad)[0])
        what = f"{values[at]:g} {unit}".strip() + f" is not between {ask.low:g} and {ask.high:g}"
        raise InputError(what, "correct this cell", table.place(int(rows[at]), column))
    return values
