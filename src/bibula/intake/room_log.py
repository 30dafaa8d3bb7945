"""Temperature and relative humidity of a room, as a logger or a hand-kept table gives them."""

from __future__ import annotations

from pathlib import Path
from typing import Unpack

import numpy as np

from bibula.intake.numbers import FloatArray, PlaceOf, parse_numbers
from bibula.intake.options import Options, RoomArguments, choose_column, column_key
from bibula.intake.selection import RowIndex, cells_of, choose_time, file_decimal, row_places, source_keys, times_of
from bibula.intake.series import RoomLog
from bibula.intake.tables import Table, read_table
from bibula.intake.text import Source
from bibula.intake.units import Dimension, asked_unit, split_header, unit_of
from bibula.quantities.errors import InputError

MIN_C, MAX_C = -40.0, 100.0
MAX_HUMIDITY = 1.005
_WARMEST_ROOM = 45.0


def read_room_log(path: str | Path | Source, **arguments: Unpack[RoomArguments]) -> RoomLog:
    """Read a room logger's file.

    Temperature without a unit is taken as degC, with a remark, as long as it does not exceed 45.
    Humidity without a unit is taken as % if every value is above 1.005, as a fraction if none is.

    Args:
        path: a text table, an .xlsx workbook, or a Source with the bytes.
        arguments: see `RoomArguments`; needed only where the file leaves something open.

    Returns:
        The log; `read_room_log(path, **log.options)` reads the same again.

    Raises:
        InputError: one sentence on what cannot be read, or which option must settle a doubt.
    """
    options = Options(**arguments)
    table = read_table(
        path, sheet=options.sheet, separator=options.separator, encoding=options.encoding, names=options.names()
    )
    source = choose_time(table, options)
    warm = choose_column(table, "temperature", options.temperature_column, "temperature_column")
    damp = choose_column(table, "humidity", options.humidity_column, "humidity_column")
    decimal = file_decimal(table, [source.time, warm, damp], options.decimal)
    rows, notes = _complete_rows(table, warm, damp)
    temperature, t_unit, t_notes = _temperature(table, warm, rows, decimal, options)
    humidity, h_unit, h_notes = _humidity(table, damp, rows, decimal, options)
    times = times_of(table, source, rows, [np.arange(len(rows))], decimal, options)
    text = table.sheet is None
    return RoomLog(
        name=table.file.rsplit(".", 1)[0] or table.file,
        time_s=times.time_s,
        temperature_c=temperature,
        humidity=humidity,
        start=times.starts[0],
        notes=(*table.notes, *notes, *t_notes, *h_notes, *times.notes),
        metadata=dict(table.metadata),
        source=table.file,
        sha256=table.sha256,
        options=options.settled(
            sheet=table.sheet,
            separator=table.separator if text else None,
            encoding=table.encoding if text else None,
            decimal=decimal,
            temperature_column=column_key(table, warm),
            humidity_column=column_key(table, damp),
            temperature_unit=t_unit,
            humidity_unit=h_unit,
            **source_keys(table, source),
            **times.settled,
        ),
    )


def _complete_rows(table: Table, warm: int, damp: int) -> tuple[RowIndex, tuple[str, ...]]:
    """Rows with both values; the others are noted."""
    blank = [
        row
        for row, pair in enumerate(zip(table.columns[warm], table.columns[damp], strict=True))
        if any(isinstance(cell, str) and not cell.strip() for cell in pair)
    ]
    rows = np.setdiff1d(np.arange(len(table.lines)), blank)
    if not rows.size:
        raise InputError("no row has both temperature and humidity", "choose other columns", table.place(0, warm))
    return rows, tuple(f"line {table.lines[row]}: temperature or humidity missing, left out" for row in blank)


def _values(
    table: Table, column: int, rows: RowIndex, decimal: str, dimension: Dimension, asked: str | None
) -> tuple[FloatArray, str | None]:
    """Values as written and their one unit (from option, header or cells), if any."""
    place_of = row_places(table, rows, column)
    numbers = parse_numbers(cells_of(table, column, rows), decimal, place_of, dimension)
    if numbers.missing.any():
        row = int(np.flatnonzero(numbers.missing)[0])
        raise InputError(f"the {dimension} is missing here", "fill it in or delete the row", place_of(row))
    header = split_header(table.header[column])[1] if table.named else ""
    unit = asked_unit(asked, dimension, f"{dimension}_unit") or unit_of(header, dimension)
    for row, word in enumerate(numbers.units or ()):
        own = unit_of(word, dimension) if word else unit
        if own is None or (unit and own != unit):
            what = f"'{word}' is not the unit of this column" if word else f"the {dimension} has no unit here"
            raise InputError(what, "give every cell the same unit", place_of(row))
        unit = own
    return numbers.values, unit


def _temperature(
    table: Table, column: int, rows: RowIndex, decimal: str, options: Options
) -> tuple[FloatArray, str, tuple[str, ...]]:
    values, unit = _values(table, column, rows, decimal, "temperature", options.temperature_unit)
    place_of = row_places(table, rows, column)
    notes: tuple[str, ...] = ()
    if unit is None:
        _refuse(
            values > _WARMEST_ROOM, values, place_of, "is warm for a room in °C", "give temperature_unit: °C, °F or K"
        )
        unit, notes = "°C", ("the temperature has no unit in the file; read as °C",)
    if unit == "°F":
        values = (values - 32.0) / 1.8
    elif unit == "K":
        values = values - 273.15
    outside = (values < MIN_C) | (values > MAX_C)
    _refuse(outside, values, place_of, f"is not between {MIN_C:g} and {MAX_C:g} °C", "correct or empty this cell")
    return values, unit, notes


def _humidity(
    table: Table, column: int, rows: RowIndex, decimal: str, options: Options
) -> tuple[FloatArray, str, tuple[str, ...]]:
    values, unit = _values(table, column, rows, decimal, "humidity", options.humidity_unit)
    place_of = row_places(table, rows, column)
    notes: tuple[str, ...] = ()
    if unit is None:
        large = values > MAX_HUMIDITY
        if large.any():
            _refuse(~large, values, place_of, "can be % or a fraction", "give the option humidity_unit: % or 1")
        unit = "%" if large.any() else "1"
        notes = (f"the humidity has no unit in the file; read as {'%' if unit == '%' else 'a fraction'}",)
    shares = values / 100.0 if unit == "%" else values
    outside = (shares < 0) | (shares > MAX_HUMIDITY)
    _refuse(outside, values, place_of, "is no relative humidity", "correct or empty this cell, or give humidity_unit")
    if (shares > 1).any():
        notes = (*notes, "humidity just above 100 % was set to 100 %")
    return np.minimum(shares, 1.0), unit, notes


def _refuse(bad: np.typing.NDArray[np.bool_], values: FloatArray, place_of: PlaceOf, what: str, mend: str) -> None:
    if bad.any():
        row = int(np.flatnonzero(bad)[0])
        raise InputError(f"{values[row]:g} {what}", mend, place_of(row))
