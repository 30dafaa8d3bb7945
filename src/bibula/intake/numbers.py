"""Cells that hold a number, perhaps with a unit and marks of an unsteady reading; the decimal mark."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from bibula.intake.units import any_unit
from bibula.quantities.errors import InputError, Place

Raw = str | float
FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
PlaceOf = Callable[[int], Place]

UNSTEADY = frozenset("? * ~ D US UNS UNST UNSTABLE INSTABIL INSTABILE INSTABLE INESTABLE UNRUHIG DYN".split())
STEADY = frozenset(
    "S ST N G B NT GS NET NETTO NETT NETO GROSS BRUTTO BRUT LORDO BRUTO STABLE STABIL STABILE OK".split()
)
MISSING = frozenset(["", "NA", "N/A", "N.A.", "-", "--", "---", "–", "—"])
TARE = re.compile(
    r"^(?:(?P<short>T|PT)|TARE|TARED|TARA|TARIERT|TARAGE|TARADO)\b\s*[:=]?\s*(?P<rest>[+-]?\s*[\d.,].*)?$",
    re.IGNORECASE,
)
_SPACES = " \u00a0\u202f\u2009"
_PLAIN = {
    mark: re.compile(rf"\s*[+-]?(?:\d+(?:{re.escape(mark)}\d+)?|{re.escape(mark)}\d+)(?:[eE][+-]?\d+)?\s*", re.ASCII)
    for mark in ".,"
}
_SIMPLE = re.compile(r"\s*[+-]?(\d+[.,]\d+)\s*")
_CELL = re.compile(
    rf"^(?P<before>[^\d.,+\-\u2212]*)(?P<sign>[+\-\u2212]?)[{_SPACES}]*"
    rf"(?P<body>(?:\d[\d.,'\u2019{_SPACES}]*)?\d|[.,]\d+)"
    r"(?P<exp>[eE][+-]?\d+)?(?P<after>\D.*)?$",
    re.DOTALL,
)
_LAST_MARK = re.compile(r"[.,](?=[^.,]*$)")
_DATE_OR_CLOCK = re.compile(r"\s*[:/\-]\s*\d|\s*\d|T\d")
_GROUPS = re.compile(r"[1-9]\d{0,2}(?:([.,])\d{3})(?:\1\d{3})+")
_LONGEST_CELL = 80


@dataclass(frozen=True)
class Numbers:
    """A column of numbers as written.

    Attributes:
        values: (n,), NaN where the cell is blank or a tare mark.
        units: (n,) unit text behind each number ("" for none), or None if no cell has one.
        unsteady: (n,), the cell carries a mark of an unsteady reading.
        missing: (n,), blank cells.
        tares: row -> text of cells that are tare marks.
        codes: words of kind "net" or "gross" that occurred.
    """

    values: FloatArray
    units: tuple[str, ...] | None
    unsteady: BoolArray
    missing: BoolArray
    tares: dict[int, str]
    codes: frozenset[str]


@dataclass(frozen=True)
class Parts:
    """One cell taken apart; `unit` is the text behind the number without the marks."""

    sign: str
    body: str
    exponent: str
    unit: str
    unsteady: bool
    codes: frozenset[str]


@lru_cache(maxsize=8192)
def take_apart(text: str) -> Parts | None:
    """Split a cell into sign, digits, unit and marks; None if it is no number with known marks."""
    text = text.strip()
    if len(text) > _LONGEST_CELL:
        return None
    match = _CELL.match(text)
    if match is None:
        return None
    if _DATE_OR_CLOCK.match(match["after"] or ""):
        return None
    before = _words(match["before"])
    after = _words(match["after"] or "")
    unsteady, codes = False, set()
    for word in before:
        if _code(word) in UNSTEADY:
            unsteady = True
        elif _code(word) in STEADY:
            codes.add(_code(word))
        else:
            return None
    while after and _code(after[-1]) in UNSTEADY | (STEADY - {"G"}):
        unsteady = unsteady or _code(after[-1]) in UNSTEADY
        after.pop()
    if after and after[0] in {"?", "*", "~"}:
        unsteady = True
        after.pop(0)
    unit = " ".join(after)
    return Parts(match["sign"], match["body"], match["exp"] or "", unit, unsteady, frozenset(codes))


def _code(word: str) -> str:
    """A mark in capitals; one or two letters count only if written so (S is steady, s is a second)."""
    return word if len(word) <= 2 else word.upper()


def _words(text: str) -> list[str]:
    if not text:
        return []
    return re.sub(r"([?*~])", r" \1 ", text).replace(":", " ").split()


def is_number_like(cell: Raw) -> bool:
    """A number, alone or with a known unit and marks."""
    if not isinstance(cell, str):
        return True
    if _PLAIN["."].fullmatch(cell):
        return True
    parts = take_apart(cell)
    if parts is None or (parts.unit and any_unit(parts.unit) is None):
        return False
    return any(convert(parts, mark) is not None for mark in ".,")


def marks_of(body: str) -> str:
    """What the digits alone say of the decimal mark: '.', ',', '?.' or '?,' (open), '' (nothing)."""
    points, commas = body.count("."), body.count(",")
    if not points and not commas:
        return ""
    last = _LAST_MARK.search(body)
    mark = last.group() if last else ""
    if points and commas:
        return mark
    if points + commas > 1:
        if not _GROUPS.fullmatch(body):
            return ""
        return "," if points else "."
    before, after = body[: body.index(mark)], body[body.index(mark) + 1 :]
    if len(after) != 3 or not before or not before.isdigit() or len(before) > 3 or before[0] == "0":
        return mark
    return "?" + mark


def convert(parts: Parts, decimal: str) -> float | None:
    """The number with this decimal mark; None where its digits cannot be read so. NaN never."""
    whole, mark, fraction = parts.body.partition(decimal)
    if mark and not fraction.isdigit():
        return None
    if whole and not whole.isdigit():
        other = "." if decimal == "," else ","
        groups = re.split(rf"[{re.escape(other)}'\u2019{_SPACES}]", whole)
        separators = {sign for sign in whole if not sign.isdigit()}
        good = groups[0].isdigit() and len(groups[0]) <= 3 and groups[0][0] != "0" and len(separators) == 1
        if not good or any(len(group) != 3 for group in groups[1:]):
            return None
        whole = "".join(groups)
    if not (whole + fraction).isascii():
        return None
    value = float(f"{whole or '0'}.{fraction or '0'}{parts.exponent}")
    return -value if parts.sign in {"-", "\u2212"} else value


def evidence(cells: Sequence[Raw]) -> dict[str, int]:
    """First row that speaks for each mark: keys '.', ',', '?.', '?,' (see `marks_of`)."""
    found: dict[str, int] = {}
    for row, cell in enumerate(cells):
        if not isinstance(cell, str) or ("." not in cell and "," not in cell):
            continue
        simple = _SIMPLE.fullmatch(cell)
        if simple:
            found.setdefault(marks_of(simple[1]), row)
            continue
        parts = take_apart(cell)
        if parts is None:
            continue
        mark = marks_of(parts.body)
        if mark and parts.exponent:
            mark = mark[-1]
        if mark and mark not in found:
            found[mark] = row
    return found


def decide_decimal(
    used: Sequence[tuple[Sequence[Raw], PlaceOf]],
    others: Sequence[Sequence[Raw]],
    separator: str,
    asked: str | None,
) -> str:
    """The decimal mark of a file, from the columns used, then from the separator and the other columns.

    Args:
        used: cells of each column that will be read, with the place of each row.
        others: further columns of the table.
        separator: what parts the cells (a semicolon speaks for the comma as decimal mark).
        asked: the option, which settles it.

    Raises:
        InputError: two cells contradict each other, or both readings stay open.
    """
    if asked is not None:
        if asked not in {".", ","}:
            raise InputError(f"'{asked}' is not a decimal mark", "use '.' or ','", Place(field="decimal"))
        return asked
    sure: dict[str, tuple[str, Place]] = {}
    open_cells: dict[str, tuple[str, Place]] = {}
    for cells, place_of in used:
        found = evidence(cells)
        own = any(not mark.startswith("?") for mark in found)
        for mark, row in found.items():
            if mark.startswith("?") and own:
                continue
            target = open_cells if mark.startswith("?") else sure
            target.setdefault(mark[-1], (str(cells[row]).strip(), place_of(row)))
    if len(sure) == 2:
        raise InputError(
            f"'{sure['.'][0]}' is written with a decimal point, '{sure[','][0]}' ({sure[','][1]}) with a decimal comma",
            "use one decimal mark in the whole file, or give the option decimal",
            sure["."][1],
        )
    if sure and set(open_cells) <= set(sure):
        return next(iter(sure))
    if not open_cells:
        return "."
    mark = next(mark for mark in open_cells if mark not in sure)
    elsewhere = {other for cells in others for other in evidence(cells) if not other.startswith("?")}
    supported = elsewhere == {mark} or (not elsewhere and (mark == "." or separator == ";"))
    if supported and not sure and len(open_cells) == 1:
        return mark
    text, place = open_cells[mark]
    parts = take_apart(text)
    digits = parts.body if parts else text
    raise InputError(
        f"'{text}' can be {digits.replace(mark, '.')} or {digits.replace(mark, '')}",
        f"give the option decimal: '{mark}' for the first reading, '{',' if mark == '.' else '.'}' for the second",
        place,
    )


def parse_numbers(cells: Sequence[Raw], decimal: str, place_of: PlaceOf, what: str = "number") -> Numbers:
    """Read a column of number cells.

    Args:
        cells: text or (from workbooks) numbers.
        decimal: '.' or ','.
        place_of: row -> Place, for messages.
        what: what a cell should be, for messages ("mass", "temperature").

    Raises:
        InputError: a cell is not a number, or not a finite one.
    """
    n = len(cells)
    nothing = np.zeros(n, dtype=bool)
    plain = _PLAIN[decimal].fullmatch
    if all(not isinstance(cell, str) or plain(cell) for cell in cells):
        values = np.array([_plain_float(cell) for cell in cells], dtype=float)
        _refuse_infinite(values, nothing, cells, place_of, what)
        return Numbers(values, None, nothing, nothing, {}, frozenset())
    values = np.full(n, math.nan)
    units, unsteady, missing = [""] * n, nothing.copy(), nothing.copy()
    tares: dict[int, str] = {}
    codes: set[str] = set()
    for row, cell in enumerate(cells):
        if not isinstance(cell, str):
            values[row] = cell
            continue
        if plain(cell):
            values[row] = _plain_float(cell)
            continue
        if cell.strip().upper() in MISSING:
            missing[row] = True
            continue
        parts = take_apart(cell)
        value = convert(parts, decimal) if parts else None
        if parts is None or value is None:
            if what == "mass" and TARE.match(cell.strip()):
                tares[row] = cell.strip()
                continue
            raise _not_a_number(cell, decimal, place_of(row), what)
        values[row], units[row], unsteady[row] = value, parts.unit, parts.unsteady
        codes |= parts.codes
    skip = missing.copy()
    skip[list(tares)] = True
    _refuse_infinite(values, skip, cells, place_of, what)
    kept = tuple(units) if any(units) else None
    return Numbers(values, kept, unsteady, missing, tares, frozenset(codes))


def _plain_float(cell: Raw) -> float:
    return float(cell.replace(",", ".")) if isinstance(cell, str) else cell


def _not_a_number(cell: str, decimal: str, place: Place, what: str) -> InputError:
    shown = cell if len(cell) <= 40 else cell[:37] + "..."
    mark = "a decimal point" if decimal == "." else "a decimal comma"
    return InputError(f"'{shown}' is not a {what}", f"write a number with {mark}, or leave the cell empty", place)


def _refuse_infinite(values: FloatArray, skip: BoolArray, cells: Sequence[Raw], place_of: PlaceOf, what: str) -> None:
    bad = ~np.isfinite(values) & ~skip
    if bad.any():
        row = int(np.flatnonzero(bad)[0])
        raise InputError(f"'{cells[row]}' is not a finite {what}", "correct or empty the cell", place_of(row))
