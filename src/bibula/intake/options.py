"""The choices a user can make when a file leaves something open."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import TypedDict

from bibula.intake.tables import Table
from bibula.intake.units import split_header
from bibula.intake.words import Role, plain, roles_of
from bibula.quantities.errors import InputError, Place

ColumnName = str | int
OptionValue = str | int | float | bool


class TableArguments(TypedDict, total=False):
    """Keyword arguments common to all readers; each may be left out.

    sheet: sheet of a workbook. separator: ';', ',', '|', 'tab', 'whitespace', 'none'. encoding: e.g. 'cp1252'.
    decimal: '.' or ','. time_column, date_column: name, or number from 1. time_unit: 's', 'min', 'h', 'd'.
    clock: 'time of day', 'elapsed', 'mm:ss' or 'hh:mm'. date_order: 'dmy' or 'mdy'.
    """

    sheet: str | None
    separator: str | None
    encoding: str | None
    decimal: str | None
    time_column: ColumnName | None
    date_column: ColumnName | None
    time_unit: str | None
    clock: str | None
    date_order: str | None


class WeighingArguments(TableArguments, total=False):
    """Arguments of the weighing readers, besides those of every table.

    mass_column: name or number. mass_unit: 'g', 'mg', 'kg'. status_column: marks of steadiness.
    keep_unsteady: do not exclude readings marked unsteady. subtract_tare: subtract the tare lines of the file.
    tare_kg: a tare to subtract from every reading. interval_s: seconds between readings of a file without times.
    """

    mass_column: ColumnName | None
    mass_unit: str | None
    status_column: ColumnName | None
    keep_unsteady: bool
    subtract_tare: bool
    tare_kg: float | None
    interval_s: float | None


class RoomArguments(TableArguments, total=False):
    """Arguments of the room logger reader: columns and units of temperature and humidity ('%' or '1')."""

    temperature_column: ColumnName | None
    humidity_column: ColumnName | None
    temperature_unit: str | None
    humidity_unit: str | None


@dataclass(frozen=True)
class Options:
    """All arguments in one place; None means: find it in the file or ask."""

    sheet: str | None = None
    separator: str | None = None
    encoding: str | None = None
    decimal: str | None = None
    time_column: ColumnName | None = None
    date_column: ColumnName | None = None
    time_unit: str | None = None
    clock: str | None = None
    date_order: str | None = None
    mass_column: ColumnName | None = None
    mass_unit: str | None = None
    status_column: ColumnName | None = None
    keep_unsteady: bool = False
    subtract_tare: bool = False
    tare_kg: float | None = None
    interval_s: float | None = None
    temperature_column: ColumnName | None = None
    humidity_column: ColumnName | None = None
    temperature_unit: str | None = None
    humidity_unit: str | None = None

    def names(self) -> tuple[str, ...]:
        """Column names given as text (digits alone may mean a column number)."""
        given = (getattr(self, field.name) for field in fields(self) if field.name.endswith("_column"))
        return tuple(name for name in given if isinstance(name, str) and not name.strip().isdigit())

    def settled(self, **found: OptionValue | None) -> dict[str, OptionValue]:
        """These options with what was found in the file, without the empty ones."""
        full = replace(self, **{key: value for key, value in found.items() if value is not None})  # type: ignore[arg-type]
        pairs = ((field.name, getattr(full, field.name), field.default) for field in fields(full))
        return {name: value for name, value, default in pairs if value is not None and value != default}


def find_column(table: Table, asked: ColumnName, option: str) -> int:
    """Index of the column with this name or number (from 1).

    Raises:
        InputError: no such column, or two of that name.
    """
    names = ", ".join(f"'{name}'" for name in table.header)
    for same in (str, plain, lambda name: plain(split_header(name)[0])):
        fits = [i for i, name in enumerate(table.header) if same(name) and same(name) == same(str(asked))]
        if len(fits) == 1:
            return fits[0]
        if fits:
            numbers = " or ".join(str(i + 1) for i in fits)
            raise InputError(
                f"{len(fits)} columns are called '{asked}'",
                f"give the option {option} as a number: {numbers}",
                Place(file=table.file),
            )
    if str(asked).strip().isdecimal() and 1 <= int(asked) <= len(table.header):
        return int(asked) - 1
    raise InputError(f"there is no column '{asked}'", f"the columns are {names}", Place(table.file, field=option))


def fitting(table: Table, role: Role) -> list[int]:
    """Columns whose name fits a role."""
    return [i for i, name in enumerate(table.header) if table.named and role in roles_of(name)]


def choose_column(
    table: Table, role: Role, asked: ColumnName | None, option: str, fits: list[int] | None = None
) -> int:
    """The one column for a role, from the option or from the names.

    Raises:
        InputError: none fits, or more than one.
    """
    if asked is not None:
        return find_column(table, asked, option)
    found = fitting(table, role) if fits is None else fits
    if len(found) == 1:
        return found[0]
    names = ", ".join(f"'{table.header[i]}'" for i in (found or range(len(table.header))))
    if found:
        what = f"{len(found)} columns can hold the {role}: {names}"
        raise InputError(what, f"give the option {option}", Place(file=table.file))
    what = f"no column is named as {role}; the columns are {names}"
    raise InputError(what, f"give the option {option} (a name, or a number from 1)", Place(file=table.file))


def column_key(table: Table, column: int) -> ColumnName:
    """How to name a column so that it is found again: its name if that is unique, else its number."""
    name = table.header[column]
    unique = table.named and sum(plain(other) == plain(name) for other in table.header) == 1
    return name if unique and plain(name) and not name.isdigit() else column + 1


def unused(table: Table, used: Sequence[int]) -> list[int]:
    """Columns not in `used`."""
    return [i for i in range(len(table.header)) if i not in set(used)]
