"""A file becomes one table: header keys, column names, columns of raw cells that know their place."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from bibula.intake.header import Body, Grid, find_body
from bibula.intake.numbers import TARE, PlaceOf, Raw
from bibula.intake.separators import (
    NONE,
    WHITESPACE,
    Row,
    asked_separator,
    find_separator,
    is_comment,
    split_rows,
)
from bibula.intake.text import Source, decode, load_source
from bibula.intake.workbook import cell_name, is_workbook, workbook_rows
from bibula.quantities.errors import InputError, Place

_KEY = re.compile(r"^[#%/;\s]*(?P<key>[^\W\d][\w .()%°/²^-]{0,59}?)\s*[:=]\s*(?P<value>\S.*)$")
_TARE_CELLS = 2


@dataclass(frozen=True, eq=False)
class Table:
    """A table as it stands in a file.

    Attributes:
        file, sha256, encoding, separator, sheet: the origin; `sheet` only for workbooks.
        header: (m,) column names; "column 3" where the file gives none.
        named: the names stand in the file.
        columns: m columns of n raw cells.
        lines: (n,) line (row) number of each table row.
        metadata: header keys and their values.
        notes: remarks for the reader.
        tares: (line number, text) of tare lines.
        cut_end: the last line has no line end.
    """

    file: str
    sha256: str
    encoding: str
    separator: str
    sheet: str | None
    header: tuple[str, ...]
    named: bool
    columns: tuple[tuple[Raw, ...], ...]
    lines: tuple[int, ...]
    metadata: dict[str, str]
    notes: tuple[str, ...]
    tares: tuple[tuple[int, str], ...]
    cut_end: bool

    def place(self, row: int, column: int) -> Place:
        """Where a cell stands (row and column from 0)."""
        line = self.lines[row]
        field = self.header[column]
        if self.sheet is not None:
            field = f"{field} (sheet {self.sheet}, cell {cell_name(line, column + 1)})"
        return Place(self.file, line, column + 1, field)

    def place_of(self, column: int) -> PlaceOf:
        """Row -> Place for one column."""
        return lambda row: self.place(row, column)


def read_table(
    path: str | Path | Source,
    *,
    sheet: str | None = None,
    separator: str | None = None,
    encoding: str | None = None,
    names: Sequence[str] = (),
) -> Table:
    """Read a CSV, TSV, blank-parted or .xlsx file into a table.

    Args:
        path: the file, or a Source with its bytes.
        sheet: which sheet of a workbook.
        separator: ';', ',', '|', 'tab', 'whitespace' or 'none'; found if not given.
        encoding: found if not given.
        names: column names that must stand in the header (from the user's options).

    Raises:
        InputError: anything that is not one clear table.
    """
    source = load_source(path)
    if is_workbook(source):
        name, numbered = workbook_rows(source, sheet)
        comments = [(line, [str(cells[0])]) for line, cells in numbered if is_comment(str(cells[0]))]
        rows = [(line, cells) for line, cells in numbered if not is_comment(str(cells[0]))]
        return _assemble(source, Grid(rows, names, ""), comments, _Origin("xlsx", "", name, (), False))
    if sheet is not None:
        raise InputError("only workbooks have sheets", "leave the option sheet out", Place(file=source.name))
    text = decode(source, encoding)
    mark = asked_separator(separator) or find_separator(text)
    parted, comments = split_rows(text, mark)
    rows = [(line, list[Raw](cells)) for line, cells in parted]
    origin = _Origin(text.encoding, mark, None, text.notes, text.cut_end)
    return _assemble(source, Grid(rows, names, mark), comments, origin)


@dataclass(frozen=True)
class _Origin:
    encoding: str
    separator: str
    sheet: str | None
    notes: tuple[str, ...]
    cut_end: bool


def _assemble(source: Source, grid: Grid, comments: Sequence[Row], origin: _Origin) -> Table:
    rows, tares = _without_tares(grid.rows)
    if not rows:
        raise InputError("there are no readings in this file", "export them again", Place(file=source.name))
    body = find_body(Grid(rows, grid.names, grid.separator), comments)
    if not body.rows:
        raise InputError("there are no readings below the header", "export them again", Place(file=source.name))
    metadata = _metadata(body.before, origin.separator)
    for _, cells in comments:
        match = _KEY.match(str(cells[0]))
        if match and match["key"].strip() not in metadata:
            metadata[match["key"].strip()] = match["value"].strip()
    columns = _columns(source.name, body, origin)
    return Table(
        file=source.name,
        sha256=source.sha256,
        encoding=origin.encoding,
        separator=origin.separator,
        sheet=origin.sheet,
        header=_header(body, len(columns)),
        named=bool(body.header),
        columns=columns,
        lines=tuple(line for line, _ in body.rows),
        metadata=metadata,
        notes=origin.notes,
        tares=tuple(tares),
        cut_end=origin.cut_end,
    )


def _without_tares(rows: Sequence[tuple[int, list[Raw]]]) -> tuple[list[tuple[int, list[Raw]]], list[tuple[int, str]]]:
    """Take out lines that say nothing but a tare."""
    kept, tares = [], []
    for line, cells in rows:
        first = next((cell for cell in cells if not isinstance(cell, str) or cell), "")
        if isinstance(first, str) and first[:1] in "TtPp":
            filled = [str(cell) for cell in cells if not isinstance(cell, str) or cell.strip()]
            text = " ".join(filled) if len(filled) <= _TARE_CELLS else ""
            match = TARE.match(text)
            if match and (not match["short"] or not match["rest"] or re.search(r"\d\s*[mk]?g\b", match["rest"])):
                tares.append((line, text))
                continue
        kept.append((line, cells))
    return kept, tares


def _metadata(before: Sequence[tuple[int, list[Raw]]], separator: str) -> dict[str, str]:
    found: dict[str, str] = {}
    glue = " " if separator in ("", WHITESPACE, NONE) else separator
    for _, cells in before:
        filled = [str(cell).strip() for cell in cells if not isinstance(cell, str) or cell.strip()]
        match = _KEY.match(glue.join(filled))
        if len(filled) == 2 and not (match and len(match["key"]) < len(filled[0].rstrip(" :="))):
            key, value = filled[0].rstrip(" :="), filled[1].lstrip(" :=")
        elif match:
            key, value = match["key"], match["value"]
        else:
            continue
        found.setdefault(key.strip(), value.strip())
    return found


def _header(body: Body, width: int) -> tuple[str, ...]:
    names = [str(name).strip() for name in body.header[:width]]
    names += [""] * (width - len(names))
    return tuple(name or f"column {number}" for number, name in enumerate(names, 1))


def _columns(file: str, body: Body, origin: _Origin) -> tuple[tuple[Raw, ...], ...]:
    """Turn rows into columns; short rows are filled with blanks, long or (blank-parted) short ones refused."""
    width = len(body.header) or max(len(cells) for _, cells in body.rows)
    while body.header and width > 1 and not body.header[width - 1] and _all_blank(body, width - 1):
        width -= 1
    exact = origin.separator == WHITESPACE
    for line, cells in body.rows:
        if len(cells) == width:
            continue
        extra = [cell for cell in cells[width:] if cell != ""]
        if extra or (exact and len(cells) < width):
            hint = "a comma cannot part cells and be the decimal mark too: export with semicolons"
            mend = hint if origin.separator == "," else "give every row as many cells as the header"
            raise InputError(f"this row has {len(cells)} cells, the table has {width}", mend, Place(file, line))
        cells.extend([""] * (width - len(cells)))
        del cells[width:]
    return tuple(tuple(column) for column in zip(*(cells for _, cells in body.rows), strict=True))


def _all_blank(body: Body, column: int) -> bool:
    return all(len(cells) <= column or cells[column] == "" for _, cells in body.rows)
