"""Where in a grid of cells the column names stand and the readings begin."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from bibula.intake.numbers import Raw, is_number_like
from bibula.intake.separators import Row, split_rows
from bibula.intake.text import TextFile
from bibula.intake.times import is_time_like
from bibula.intake.units import any_unit, split_header
from bibula.intake.words import plain, roles_of

NumberedRow = tuple[int, list[Raw]]
_SEARCHED = 300


@dataclass(frozen=True, eq=False)
class Grid:
    """Rows of cells with their line numbers, the names asked for, and the separator ("" for workbooks)."""

    rows: list[NumberedRow]
    names: Sequence[str]
    separator: str


@dataclass(frozen=True, eq=False)
class Body:
    """Rows before the header, the column names ([] if the file has none), the rows of readings."""

    before: list[NumberedRow]
    header: list[str]
    rows: list[NumberedRow]


def find_body(grid: Grid, comments: Sequence[Row]) -> Body:
    """Find header and readings.

    The header is, in this order: the row with all names asked for; the first row with two known words and
    no number; the row of words right above the first row of readings; a comment line with known words.
    """
    rows = grid.rows
    width = Counter(len(cells) for _, cells in rows).most_common(1)[0][0]
    at = _named_row(grid)
    if at is None:
        at = _worded_row(rows, width)
    first = _first_reading(rows)
    if at is None:
        at = _row_above(rows, first)
    if at is None:
        header = _from_comments(comments, rows[first][0], width, grid.separator)
        return Body(rows[:first], header, rows[first:])
    header = [str(cell).strip() for cell in rows[at][1]]
    start = at + 1
    if start < len(rows) and _is_units(rows[start][1]):
        header = _with_units(header, rows[start][1])
        start += 1
    body = [row for row in rows[start:] if row[1] != rows[at][1]]
    return Body(rows[:at], header, body)


def _number_like(cells: Sequence[Raw]) -> int:
    return sum(1 for cell in cells if cell != "" and (is_number_like(cell) or is_time_like(cell)))


def _words(cells: Sequence[Raw]) -> list[str]:
    return [cell.strip() for cell in cells if isinstance(cell, str) and cell.strip()]


def _named_row(grid: Grid) -> int | None:
    wanted = {plain(name) for name in grid.names if plain(name)}
    if not wanted:
        return None
    for index, (_, cells) in enumerate(grid.rows[:_SEARCHED]):
        words = _words(cells)
        have = {plain(word) for word in words} | {plain(split_header(word)[0]) for word in words}
        if wanted <= have and len(words) >= len(wanted):
            return index
    return None


def _worded_row(rows: Sequence[NumberedRow], width: int) -> int | None:
    for index, (_, cells) in enumerate(rows[:_SEARCHED]):
        words = _words(cells)
        known = sum(1 for word in words if roles_of(word))
        complete = len(cells) >= width or known == len(cells)
        if known >= min(2, width) and complete and not _number_like(cells):
            return index
    return None


def _first_reading(rows: Sequence[NumberedRow]) -> int:
    counts = Counter(_number_like(cells) for _, cells in rows[-_SEARCHED:])
    usual = counts.most_common(1)[0][0]
    need = max(1, min(2, usual))
    for index, (_, cells) in enumerate(rows):
        if _number_like(cells) >= need:
            return index
    return 0


def _row_above(rows: Sequence[NumberedRow], first: int) -> int | None:
    at = first - 1
    if at > 0 and _is_units(rows[at][1]):
        at -= 1
    if at < 0:
        return None
    cells = rows[at][1]
    enough = len(_words(cells)) >= min(2, len(rows[first][1]))
    key_line = len(cells) == 1 and re.search(r"[:=]", str(cells[0]))
    if enough and not _number_like(cells) and not key_line and len(cells) >= len(rows[first][1]):
        return at
    return None


def _is_units(cells: Sequence[Raw]) -> bool:
    words = [word.strip("[]() ") for word in _words(cells)]
    if _number_like(cells):
        return False
    return bool(words) and len(words) == sum(1 for cell in cells if cell != "") and all(map(any_unit, words))


def _with_units(header: Sequence[str], units: Sequence[Raw]) -> list[str]:
    marks = [str(unit).strip("[]() ") for unit in units] + [""] * len(header)
    return [f"{name} [{unit}]" if unit else name for name, unit in zip(header, marks, strict=False)]


def _from_comments(comments: Sequence[Row], line: int, width: int, separator: str) -> list[str]:
    """Column names in the comment line right above the readings ("# time [s]  mass [g]")."""
    if not comments or not separator:
        return []
    above = [cells[0] for number, cells in comments if number == line - 1]
    if not above:
        return []
    bare = re.sub(r"^[#%/;\s]+", "", above[0])
    if not bare:
        return []
    parted, _ = split_rows(TextFile("", "", (bare,), (), False), separator)
    cells = parted[0][1] if parted else []
    known = sum(1 for word in cells if roles_of(word))
    return cells if len(cells) == width and known >= min(2, width) else []
