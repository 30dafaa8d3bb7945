"""Which rows and columns of a table make a series: time cells, decimal mark, further columns."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bibula.intake.numbers import FloatArray, PlaceOf, Raw, decide_decimal, parse_numbers, take_apart
from bibula.intake.options import ColumnName, Options, choose_column, column_key, find_column, fitting, unused
from bibula.intake.stamps import is_date_only
from bibula.intake.tables import Table
from bibula.intake.times import TimeColumn, TimeQuestion, is_clock, is_time_like, read_times
from bibula.intake.units import split_header, unit_of
from bibula.quantities.errors import InputError, Place

RowIndex = NDArray[np.intp]
_LOOKED_AT = 50


@dataclass(frozen=True)
class TimeSource:
    """The time column, and the date column beside it (None where there is none); both counted from 0."""

    time: int
    date: int | None

    @property
    def columns(self) -> list[int]:
        """The columns used."""
        return [self.time] if self.date is None else [self.time, self.date]


def cells_fitting(table: Table, dimension: str) -> list[int]:
    """Columns whose own cells show that they hold times or masses (by unit, colon or date)."""

    def fits(cell: Raw) -> bool:
        if dimension == "time" and is_time_like(cell):
            return True
        parts = take_apart(cell) if isinstance(cell, str) else None
        return parts is not None and unit_of(parts.unit, "time" if dimension == "time" else "mass") is not None

    found = []
    for index, column in enumerate(table.columns):
        filled = [cell for cell in column[:_LOOKED_AT] if cell != ""]
        if filled and all(fits(cell) for cell in filled):
            found.append(index)
    return found


def mass_columns(table: Table) -> list[int]:
    """Columns that can hold masses: by a word or a unit in the name, else by units in the cells."""
    named = [
        i
        for i, name in enumerate(table.header)
        if table.named and (i in fitting(table, "mass") or unit_of(split_header(name)[1], "mass"))
    ]
    return named or cells_fitting(table, "mass")


def choose_time(table: Table, options: Options) -> TimeSource:
    """The time column, with its date column where times and dates stand apart.

    Raises:
        InputError: no column or several can hold the time.
    """
    dates = fitting(table, "date")
    times = fitting(table, "time") or (
        [] if dates else [i for i, name in enumerate(table.header) if unit_of(split_header(name)[1], "time")]
    )
    times = times or dates or cells_fitting(table, "time")
    if not table.named and len(times) == 2 and options.time_column is None:
        parted = _date_and_clock(table, times)
        if parted is not None:
            return parted
    time = choose_column(table, "time", options.time_column, "time_column", times)
    if options.date_column is not None:
        return TimeSource(time, find_column(table, options.date_column, "date_column"))
    if time in dates or not any(is_clock(cell) for cell in table.columns[time][:_LOOKED_AT]):
        return TimeSource(time, None)
    if not dates:
        return TimeSource(time, None)
    return TimeSource(time, choose_column(table, "date", None, "date_column", dates))


def _date_and_clock(table: Table, pair: Sequence[int]) -> TimeSource | None:
    first, second = pair
    if is_date_only(table.columns[first][0]) and is_clock(table.columns[second][0]):
        return TimeSource(second, first)
    return None


def row_places(table: Table, rows: RowIndex, column: int) -> PlaceOf:
    """Place of the i-th of these rows."""
    return lambda i: table.place(int(rows[i]), column)


def cells_of(table: Table, column: int, rows: RowIndex) -> list[Raw]:
    """The cells of a column in these rows."""
    cells = table.columns[column]
    return list(cells) if len(rows) == len(cells) else [cells[i] for i in rows]


def units_beside(table: Table, column: int) -> tuple[str, ...] | None:
    """Mass units that stand in a column of their own, right of the masses; None where there is none."""
    if column + 1 >= len(table.header):
        return None
    words = tuple(str(cell).strip() for cell in table.columns[column + 1])
    given = {word for word in words if word}
    return words if given and all(unit_of(word, "mass") for word in given) else None


def file_decimal(table: Table, used: Sequence[int], asked: str | None) -> str:
    """The decimal mark of the file, from the columns used (see `decide_decimal`)."""
    pairs = [(table.columns[i], table.place_of(i)) for i in used]
    others = [table.columns[i] for i in unused(table, used)]
    return decide_decimal(pairs, others, table.separator, asked)


def times_of(
    table: Table, source: TimeSource, rows: RowIndex, segments: Sequence[RowIndex], decimal: str, options: Options
) -> TimeColumn:
    """Read the times of these rows; `segments` index into `rows`."""
    cells = cells_of(table, source.time, rows)
    if source.date is not None:
        dates = cells_of(table, source.date, rows)
        cells = [f"{date} {clock}".strip() for date, clock in zip(dates, cells, strict=True)]
    ask = TimeQuestion(
        cells=cells,
        header=table.header[source.time] if table.named else "",
        place_of=row_places(table, rows, source.time),
        segments=tuple(segments),
        decimal=decimal,
        unit=options.time_unit,
        clock=options.clock,
        date_order=options.date_order,
    )
    return read_times(ask)


def further_columns(
    table: Table, used: Sequence[int], rows: RowIndex, decimal: str
) -> tuple[dict[str, FloatArray], dict[str, tuple[str, ...]]]:
    """All other columns: numbers as written (NaN where blank), and texts."""
    numbers: dict[str, FloatArray] = {}
    texts: dict[str, tuple[str, ...]] = {}
    for column in unused(table, used):
        cells = cells_of(table, column, rows)
        key = str(column_key(table, column)) if table.named else table.header[column]
        name = key if not key.isdigit() else f"{table.header[column]} (column {key})"
        try:
            parsed = parse_numbers(cells, decimal, row_places(table, rows, column))
        except InputError:
            parsed = None
        units = set(parsed.units or ("",)) if parsed else set()
        if parsed is None or len(units) > 1 or parsed.missing.all():
            texts[name] = tuple(str(cell) for cell in cells)
            continue
        unit = units.pop()
        parsed.values.flags.writeable = False
        numbers[f"{name} [{unit}]" if unit else name] = parsed.values
    return numbers, texts


def place_in(table: Table) -> Place:
    """The file as a whole."""
    return Place(file=table.file)


def source_keys(table: Table, source: TimeSource | None) -> dict[str, ColumnName | None]:
    """Options that find the same time columns again."""
    if source is None:
        return {"time_column": None, "date_column": None}
    date = None if source.date is None else column_key(table, source.date)
    return {"time_column": column_key(table, source.time), "date_column": date}
