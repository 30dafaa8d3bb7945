"""Weighings over time from balance files and spreadsheets."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Unpack

import numpy as np

from bibula.intake.numbers import (
    STEADY,
    TARE,
    UNSTEADY,
    BoolArray,
    FloatArray,
    convert,
    parse_numbers,
    take_apart,
)
from bibula.intake.options import (
    ColumnName,
    Options,
    WeighingArguments,
    choose_column,
    column_key,
    find_column,
    fitting,
)
from bibula.intake.scaling import to_si
from bibula.intake.selection import (
    RowIndex,
    TimeSource,
    choose_time,
    file_decimal,
    further_columns,
    mass_columns,
    place_in,
    source_keys,
    times_of,
    units_beside,
)
from bibula.intake.series import WeighingSeries
from bibula.intake.stamps import is_stamp, read_stamps
from bibula.intake.tables import Table, read_table
from bibula.intake.text import Source
from bibula.intake.units import asked_unit, scale, split_header, unit_of
from bibula.intake.words import plain
from bibula.quantities.errors import InputError, Place

MAX_MASS_KG = 100.0
_NAME_KEYS = ("sample", "probe", "echantillon", "campione", "muestra", "name")
_START_KEYS = ("start", "start time", "started", "beginn", "startzeit", "debut", "inizio", "inicio")


def read_weighings(path: str | Path | Source, **arguments: Unpack[WeighingArguments]) -> WeighingSeries:
    """Read one series of weighings.

    Args:
        path: a text table, an .xlsx workbook, or a Source with the bytes.
        arguments: see `WeighingArguments`; needed only where the file leaves something open.

    Returns:
        The series; `read_weighings(path, **series.options)` reads the same again.

    Raises:
        InputError: one sentence on what cannot be read, or which option must settle a doubt.
    """
    options = Options(**arguments)
    table = _table(path, options)
    mass = choose_column(table, "mass", options.mass_column, "mass_column", mass_columns(table))
    groups = {_name(table): np.arange(len(table.lines))}
    return next(iter(_read(table, options, mass, groups).values()))


def read_weighing_columns(
    path: str | Path | Source, columns: Sequence[ColumnName] | None = None, **arguments: Unpack[WeighingArguments]
) -> dict[str, WeighingSeries]:
    """Read several series that stand side by side with one time column ("sheet [g]", "slab 1 [g]").

    Args:
        path: as in `read_weighings`.
        columns: names or numbers of the mass columns; all that look like masses if not given.
        arguments: as in `read_weighings`, without `mass_column`.

    Returns:
        Column name (without its unit) -> series; rows where a column is blank are left out of its series.

    Raises:
        InputError: as in `read_weighings`.
    """
    options = Options(**arguments)
    names = tuple(str(name) for name in columns or () if not str(name).isdigit())
    table = _table(path, options, names)
    chosen = mass_columns(table) if columns is None else [find_column(table, name, "columns") for name in columns]
    if not chosen:
        choose_column(table, "mass", None, "columns", [])
    everything = np.arange(len(table.lines))
    found: dict[str, WeighingSeries] = {}
    for column in chosen:
        base = split_header(table.header[column])[0]
        name = base if base not in found else table.header[column]
        name = name if name not in found else f"{name} (column {column + 1})"
        found.update(_read(table, options, column, {name: everything}, beside=chosen))
    return found


def read_weighing_groups(
    path: str | Path | Source, by: ColumnName | Sequence[ColumnName], **arguments: Unpack[WeighingArguments]
) -> dict[str, WeighingSeries]:
    """Read a long table in which one or more columns name the sample of each row.

    Args:
        path: as in `read_weighings`.
        by: the naming column, or several.
        arguments: as in `read_weighings`.

    Returns:
        Group ("10% / 1" for two columns) -> series, in the file's order. Rows of groups may be mixed.

    Raises:
        InputError: as in `read_weighings`; also a blank group cell.
    """
    options = Options(**arguments)
    wanted = [by] if isinstance(by, str | int) else list(by)
    names = tuple(name for name in wanted if isinstance(name, str) and not name.isdigit())
    table = _table(path, options, names)
    keys = [find_column(table, name, "by") for name in wanted]
    free = [i for i in mass_columns(table) if i not in keys]
    mass = choose_column(table, "mass", options.mass_column, "mass_column", free)
    rows_of: dict[str, list[int]] = {}
    for row in range(len(table.lines)):
        parts = [_label(table, row, key) for key in keys]
        rows_of.setdefault(" / ".join(parts), []).append(row)
    groups = {name: np.array(rows, dtype=np.intp) for name, rows in rows_of.items()}
    return _read(table, options, mass, groups)


def _table(path: str | Path | Source, options: Options, names: Sequence[str] = ()) -> Table:
    return read_table(
        path,
        sheet=options.sheet,
        separator=options.separator,
        encoding=options.encoding,
        names=(*options.names(), *names),
    )


def _label(table: Table, row: int, column: int) -> str:
    cell = table.columns[column][row]
    text = f"{cell:g}" if isinstance(cell, float) else str(cell).strip()
    if not text:
        raise InputError("the group is missing here", "fill it in", table.place(row, column))
    return text


def _name(table: Table) -> str:
    for key, value in table.metadata.items():
        if plain(key) in _NAME_KEYS:
            return value
    return table.file.rsplit(".", 1)[0] or table.file


@dataclass(frozen=True)
class _Masses:
    """Masses of the rows that hold a reading (`rows` index into the table)."""

    rows: RowIndex
    mass_kg: FloatArray
    excluded: BoolArray
    notes: dict[int, str]
    remarks: tuple[str, ...]
    unit: str | None


def _read(
    table: Table,
    options: Options,
    mass: int,
    groups: Mapping[str, RowIndex],
    beside: Sequence[int] = (),
) -> dict[str, WeighingSeries]:
    """Read the mass column and the times, then part the rows into series."""
    source = None if options.interval_s is not None else choose_time(table, options)
    status = _status_column(table, options)
    used = [mass, *(source.columns if source else []), *([] if status is None else [status])]
    decimal = file_decimal(table, [mass, *([source.time] if source else [])], options.decimal)
    masses = _masses(table, options, mass, status, decimal)
    position = np.full(len(table.lines), -1, dtype=np.intp)
    position[masses.rows] = np.arange(len(masses.rows))
    segments = {name: position[rows][position[rows] >= 0] for name, rows in groups.items()}
    segments = {name: rows for name, rows in segments.items() if rows.size}
    times, starts, found, remarks = _times(table, options, source, masses.rows, list(segments.values()), decimal)
    settled = _settled(table, options, source, mass, status, {"decimal": decimal, "mass_unit": masses.unit, **found})
    result = {}
    for (name, segment), start in zip(segments.items(), starts, strict=True):
        rows = masses.rows[segment]
        numbers, texts = further_columns(table, [*used, *beside], rows, decimal)
        own = tuple(f"line {table.lines[row]}: {masses.notes[row]}" for row in groups[name] if row in masses.notes)
        result[name] = WeighingSeries(
            name=name,
            time_s=times[segment],
            mass_kg=masses.mass_kg[segment],
            excluded=masses.excluded[segment],
            notes=(*table.notes, *masses.remarks, *remarks, *own),
            metadata=dict(table.metadata),
            start=start or _start_key(table, options),
            source=table.file,
            sha256=table.sha256,
            options=dict(settled),
            numbers=numbers,
            texts=texts,
        )
    return result


def _settled(
    table: Table,
    options: Options,
    source: TimeSource | None,
    mass: int,
    status: int | None,
    found: Mapping[str, Any],
) -> dict[str, Any]:
    text = table.sheet is None
    return options.settled(
        sheet=table.sheet,
        separator=table.separator if text else None,
        encoding=table.encoding if text else None,
        mass_column=column_key(table, mass),
        status_column=None if status is None else column_key(table, status),
        **source_keys(table, source),
        **found,
    )


def _status_column(table: Table, options: Options) -> int | None:
    if options.status_column is not None:
        return find_column(table, options.status_column, "status_column")
    found = fitting(table, "status")
    if len(found) != 1:
        return None
    words = {str(cell).strip().upper() for cell in table.columns[found[0]]} - {""}
    return found[0] if words & UNSTEADY or words <= STEADY else None


def _times(
    table: Table,
    options: Options,
    source: TimeSource | None,
    rows: RowIndex,
    segments: Sequence[RowIndex],
    decimal: str,
) -> tuple[FloatArray, Sequence[str | None], dict[str, str], tuple[str, ...]]:
    if source is None:
        step = options.interval_s or 0.0
        if not (np.isfinite(step) and step > 0):
            raise InputError(
                f"an interval of {step:g} s is not possible", "give seconds above 0", Place(field="interval_s")
            )
        times = np.zeros(len(rows))
        for segment in segments:
            times[segment] = step * np.arange(len(segment))
        return times, [None] * len(segments), {}, ()
    column = times_of(table, source, rows, segments, decimal, options)
    remarks = list(column.notes)
    if any((np.diff(column.time_s[segment]) == 0).any() for segment in segments):
        remarks.append("some readings have the same time as the one before")
    return column.time_s, column.starts, column.settled, tuple(remarks)


def _masses(table: Table, options: Options, mass: int, status: int | None, decimal: str) -> _Masses:
    everything = np.arange(len(table.lines))
    place_of = table.place_of(mass)
    numbers = parse_numbers(table.columns[mass], decimal, place_of, "mass")
    if numbers.units is None:
        numbers = replace(numbers, units=units_beside(table, mass))
    mass_kg, unit, remarks = to_si(
        numbers, table.header[mass] if table.named else "", options.mass_unit, "mass", place_of
    )
    notes = {int(row): "no mass, left out" for row in np.flatnonzero(numbers.missing)}
    unsteady = numbers.unsteady | _marked(table, status)
    excluded = unsteady & (not options.keep_unsteady)
    notes.update({int(row): "marked unsteady by the balance" for row in np.flatnonzero(unsteady)})
    if _cut_short(table, mass):
        excluded[-1] = True
        notes[len(everything) - 1] = "the file ends inside this number, left out"
    if {"G", "B", "GS", "GROSS", "BRUTTO"} & numbers.codes and {"N", "NT", "NET", "NETTO"} & numbers.codes:
        remarks = (*remarks, "net and gross readings are mixed in this column")
    rows = everything[~np.isnan(mass_kg)]
    if not rows.size:
        raise InputError("there is no mass in this column", "choose another with the option mass_column", place_of(0))
    mass_kg, tare_notes = _tared(table, options, mass_kg, numbers.tares, decimal, unit)
    _refuse_absurd(table, mass, mass_kg, excluded)
    return _Masses(rows, mass_kg[rows], excluded[rows], notes, (*remarks, *tare_notes), unit)


def _marked(table: Table, status: int | None) -> BoolArray:
    """Rows whose status cell says unsteady."""
    if status is None:
        return np.zeros(len(table.lines), dtype=bool)
    words = [str(cell).strip().upper() for cell in table.columns[status]]
    unknown = next((row for row, word in enumerate(words) if word and word not in UNSTEADY | STEADY), None)
    if unknown is not None:
        raise InputError(
            f"'{table.columns[status][unknown]}' is not known as a mark of a steady or unsteady reading",
            "write 'stable' or 'unstable'",
            table.place(unknown, status),
        )
    return np.array([word in UNSTEADY for word in words], dtype=bool)


def _cut_short(table: Table, mass: int) -> bool:
    """The last line has no end, and its mass fewer decimals than all those above it, which agree."""
    if not table.cut_end or table.sheet is not None or len(table.lines) < 5 or mass != len(table.columns) - 1:
        return False
    last = [re.search(r"[.,](\d*)\D*$", str(cell)) for cell in table.columns[mass][-50:]]
    digits = [len(match[1]) if match else 0 for match in last]
    return len(set(digits[:-1])) == 1 and digits[-1] < digits[0]


def _tared(
    table: Table, options: Options, mass_kg: FloatArray, inside: Mapping[int, str], decimal: str, unit: str | None
) -> tuple[FloatArray, tuple[str, ...]]:
    """Subtract tares if the options say so, else note them."""
    if options.tare_kg is not None:
        if options.subtract_tare:
            raise InputError("two tares are asked for", "give tare_kg or subtract_tare", Place(field="tare_kg"))
        return mass_kg - options.tare_kg, (f"a tare of {options.tare_kg * 1000:g} g was subtracted",)
    tares = sorted([*table.tares, *((table.lines[row], text) for row, text in inside.items())])
    if not options.subtract_tare:
        return mass_kg, tuple(f"line {line}: '{text}', not subtracted" for line, text in tares)
    if not tares:
        raise InputError("there is no tare line to subtract", "give the option tare_kg", place_in(table))
    lines = np.array(table.lines)
    result, notes = mass_kg.copy(), []
    for number, (line, text) in enumerate(tares):
        tare = _tare_kg(table, line, text, decimal, options.mass_unit or unit)
        end = tares[number + 1][0] if number + 1 < len(tares) else np.inf
        result[(lines > line) & (lines < end)] -= tare
        notes.append(f"line {line}: '{text}', subtracted from the readings below it")
    return result, tuple(notes)


def _tare_kg(table: Table, line: int, text: str, decimal: str, unit: str | None) -> float:
    match = TARE.match(text)
    parts = take_apart(match["rest"]) if match and match["rest"] else None
    value = convert(parts, decimal) if parts else None
    word = parts.unit if parts else ""
    own = unit_of(word, "mass") if word else asked_unit(unit, "mass", "mass_unit")
    if value is None or own is None:
        raise InputError(
            f"the tare line '{text}' gives no mass with a unit", "give the option tare_kg", Place(table.file, line)
        )
    return value * scale(own, "mass")


def _refuse_absurd(table: Table, mass: int, mass_kg: FloatArray, excluded: BoolArray) -> None:
    low, high = (mass_kg < 0) & ~excluded, (mass_kg > MAX_MASS_KG) & ~excluded
    if low.any():
        row = int(np.flatnonzero(low)[0])
        what = f"the mass {mass_kg[row] * 1000:g} g is negative"
        raise InputError(what, "correct it, or check the tare", table.place(row, mass))
    if high.any():
        row = int(np.flatnonzero(high)[0])
        what = f"the mass {mass_kg[row]:g} kg is above {MAX_MASS_KG:g} kg"
        raise InputError(what, "check unit and decimal mark", table.place(row, mass))


def _start_key(table: Table, options: Options) -> str | None:
    """The header key "start", where it is a time stamp."""
    for key, value in table.metadata.items():
        if plain(key) in _START_KEYS and is_stamp(value):
            return read_stamps([value], lambda _: place_in(table), options.date_order)[1][0]
    return None


__all__ = ["read_weighing_columns", "read_weighing_groups", "read_weighings"]
