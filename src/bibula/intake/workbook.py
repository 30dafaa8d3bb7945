"""Rows of an .xlsx workbook; openpyxl is loaded only when one is read."""

from __future__ import annotations

import importlib
import io
import zipfile
from datetime import date, datetime, time, timedelta
from typing import Any

from bibula.intake.numbers import Raw
from bibula.intake.text import Source
from bibula.quantities.errors import InputError, Place

MAX_UNPACKED = 600_000_000
MAX_COLUMNS = 500
_OLD = b"\xd0\xcf\x11\xe0"


def is_workbook(source: Source) -> bool:
    """The bytes begin like a zip container.

    Raises:
        InputError: an old .xls workbook, which is not read.
    """
    if source.data.startswith(_OLD):
        raise InputError("this is an old .xls workbook", "save it as .xlsx or as CSV text", Place(file=source.name))
    return source.data.startswith(b"PK\x03\x04")


def workbook_rows(source: Source, sheet: str | None) -> tuple[str, list[tuple[int, list[Raw]]]]:
    """Read one sheet.

    Args:
        source: the file.
        sheet: its name; needed where more than one sheet has content.

    Returns:
        The sheet's name, and (row number, cells) of every row that is not blank.

    Raises:
        InputError: damaged file, unknown sheet, several sheets with content, formulas without stored results.
    """
    try:
        unpacked = sum(item.file_size for item in zipfile.ZipFile(io.BytesIO(source.data)).infolist())
        if unpacked > MAX_UNPACKED:
            raise InputError("the workbook is too large", "save the sheet as CSV text", Place(file=source.name))
        sheets = _all_rows(source.data)
        name = _choose(source, sheets, sheet)
        _refuse_empty_formulas(source, name)
    except InputError:
        raise
    except Exception as error:
        raise InputError(
            "this cannot be read as an .xlsx workbook",
            "the file may be damaged or of another kind: save it again as .xlsx or as CSV text",
            Place(file=source.name),
        ) from error
    rows = [(number, [_raw(value) for value in values]) for number, values in sheets[name]]
    return name, rows


def cell_name(row: int, column: int) -> str:
    """The spreadsheet's name of a cell: row 4, column 2 is B4 (both from 1)."""
    letters = ""
    while column > 0:
        column, rest = divmod(column - 1, 26)
        letters = chr(65 + rest) + letters
    return f"{letters}{row}"


def _open(data: bytes, values: bool) -> Any:
    openpyxl = importlib.import_module("openpyxl")
    book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=values)
    for page in book.worksheets:
        page.reset_dimensions()
    return book


def _all_rows(data: bytes) -> dict[str, list[tuple[int, list[Any]]]]:
    book = _open(data, values=True)
    sheets: dict[str, list[tuple[int, list[Any]]]] = {}
    for page in book.worksheets:
        rows = []
        for number, values in enumerate(page.iter_rows(values_only=True), 1):
            if any(value is not None and str(value).strip() for value in values):
                rows.append((number, list(values[:MAX_COLUMNS])))
        sheets[str(page.title)] = rows
    return sheets


def _choose(source: Source, sheets: dict[str, list[tuple[int, list[Any]]]], asked: str | None) -> str:
    names = ", ".join(f"'{name}'" for name in sheets)
    if asked is not None:
        if asked not in sheets:
            raise InputError(f"there is no sheet '{asked}'", f"the sheets are {names}", Place(file=source.name))
        return asked
    filled = [name for name, rows in sheets.items() if rows]
    if not filled:
        raise InputError("the workbook is empty", "export the readings again", Place(file=source.name))
    if len(filled) > 1:
        raise InputError("several sheets hold data", f"give the option sheet: {names}", Place(file=source.name))
    return filled[0]


def _refuse_empty_formulas(source: Source, name: str) -> None:
    """A formula whose result was never stored looks like a blank cell, so it is looked for."""
    if b"<f" not in b"".join(_sheet_parts(source.data)):
        return
    formulas, values = _open(source.data, values=False)[name], _open(source.data, values=True)[name]
    pairs = zip(formulas.iter_rows(values_only=True), values.iter_rows(values_only=True), strict=False)
    for number, (written, stored) in enumerate(pairs, 1):
        for column, (formula, value) in enumerate(zip(written, stored, strict=False), 1):
            if value is None and isinstance(formula, str) and formula.startswith("="):
                raise InputError(
                    "this cell holds a formula without a stored result",
                    "open and save the workbook once, or paste the values",
                    Place(source.name, number, column, f"sheet {name}, cell {cell_name(number, column)}"),
                )


def _sheet_parts(data: bytes) -> list[bytes]:
    with zipfile.ZipFile(io.BytesIO(data)) as box:
        return [box.read(name) for name in box.namelist() if name.startswith("xl/worksheets/")]


def _raw(value: object) -> Raw:
    """A cell as text, or as a number where the workbook holds one."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value)
    if isinstance(value, int | float):
        return float(value) if abs(value) < 1e300 else str(value)
    if isinstance(value, datetime):
        midnight = value.time() == time(0)
        return value.date().isoformat() if midnight else value.isoformat(timespec="microseconds")
    if isinstance(value, timedelta):
        return f"{value.total_seconds()!r} s"
    if isinstance(value, date | time):
        return value.isoformat()
    return str(value).strip()
