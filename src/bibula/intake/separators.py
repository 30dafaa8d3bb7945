"""What parts the cells of a text table: found from the lines themselves, then the lines are split."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Iterator, Sequence

from bibula.intake.numbers import is_number_like
from bibula.intake.text import TextFile
from bibula.intake.times import is_time_like
from bibula.quantities.errors import InputError, Place

WHITESPACE = "whitespace"
NONE = "none"
SEPARATORS = {";": ";", "\t": "\t", "tab": "\t", "|": "|", ",": ",", WHITESPACE: WHITESPACE, NONE: NONE}
COMMENT_STARTS = ("#", "//", "%")
_SAMPLE = 500
_NBSP = "\u00a0"
_CODES = "NET|NETTO|GROSS|BRUTTO|ST|US|NT|GS|N|G|S|B"
_GLUE = (
    (re.compile(rf"(?<![^\s])({_CODES})[ \t]+(?=[+\-]?[ \t]*\d)"), rf"\1{_NBSP}"),
    (re.compile(r"(?<![^\s\u00a0])([?*+\-])[ \t]+(?=\d)"), rf"\1{_NBSP}"),
    (re.compile(r"(?<=\d)[ \t]+(?=(?:[mk\u00b5\u03bc]?g|s|sec|min|h|d|°C|°F|K|%|%RH)(?:[ \t]|$))"), _NBSP),
    (re.compile(r"(?<=\S)[ \t]+(?=(?:S[ \t]+D|US|[?*]|unstable)(?:[ \t]|$))"), _NBSP),
    (re.compile(r"(?<=g)[ \t]+(?=[SD](?:[ \t]|$))|(?<=[\s]S)[ \t]+(?=D(?:[ \t]|$))"), _NBSP),
    (re.compile(r"[ \t]+(?=[\[(][^\])]*[\])])"), _NBSP),
    (re.compile(r"[ \t]+/[ \t]+"), f"{_NBSP}/{_NBSP}"),
    (re.compile(r"(?<=^T)[ \t]+(?=\d)|(?<=^TAR[EA])[ \t]*[:=]?[ \t]*(?=[\d+-])", re.IGNORECASE), _NBSP),
)

Row = tuple[int, list[str]]


def is_comment(line: str) -> bool:
    """A line that starts with #, // or % (but not a bare '% RH' cell)."""
    return line.lstrip().startswith(COMMENT_STARTS)


def asked_separator(asked: str | None) -> str | None:
    """Check the option.

    Raises:
        InputError: no known separator.
    """
    if asked is None:
        return None
    if asked not in SEPARATORS:
        raise InputError(f"'{asked}' is not a separator", "use ; , | tab, whitespace or none", Place(field="separator"))
    return SEPARATORS[asked]


def find_separator(text: TextFile) -> str:
    """The separator that parts most lines into the same number of sensible cells.

    A semicolon, tab or bar is taken where it does so in at least half of the lines. Between comma and
    blank, the one whose cells are all sensible (numbers, times, words) wins.

    Raises:
        InputError: comma and blank both fit.
    """
    lines = [line for line in text.lines if line.strip() and not is_comment(line)]
    tables = [line for line in lines if not line.lstrip().startswith(";")]
    sample = tables or lines
    if len(sample) > _SAMPLE:
        sample = sample[: _SAMPLE // 5] + sample[-_SAMPLE:]
    if not sample:
        return NONE
    supports = {mark: _support(sample, mark) for mark in (";", "\t", "|")}
    best = max(supports, key=lambda mark: supports[mark])
    if supports[best] * 2 >= len(sample):
        return best
    comma, blank = _sensible(sample, ","), _sensible(sample, WHITESPACE)
    if comma and blank and comma * 2 >= len(sample) and blank * 2 >= len(sample):
        if _header_settles(sample):
            return ","
        raise InputError(
            f"the line '{sample[-1].strip()[:60]}' can be parted at commas or at blanks",
            "give the option separator: ',' or whitespace",
            Place(file=text.name),
        )
    if comma >= blank and comma * 2 >= len(sample):
        return ","
    if blank * 2 >= len(sample):
        return WHITESPACE
    if _support(sample, ",") * 2 >= len(sample):
        return ","
    return NONE


def _header_settles(sample: Sequence[str]) -> bool:
    counts = Counter(len(_split(line, ",")) for line in sample)
    modal = counts.most_common(1)[0][0]
    return any(len(_split(line, ",")) == modal and not re.search(r"\d", line) for line in sample)


def _support(sample: Sequence[str], mark: str) -> int:
    """Number of lines with the most frequent count of cells (at least two)."""
    counts = Counter(len(_split(line, mark)) for line in sample)
    counts.pop(1, None)
    return counts.most_common(1)[0][1] if counts else 0


def _sensible(sample: Sequence[str], mark: str) -> int:
    """Like `_support`, counting only lines whose cells are each a number, a time, a word or empty."""
    counts: Counter[int] = Counter()
    for line in sample:
        cells = _split(line, mark)
        if len(cells) > 1 and all(_cell_ok(cell) for cell in cells):
            counts[len(cells)] += 1
    return counts.most_common(1)[0][1] if counts else 0


def _cell_ok(cell: str) -> bool:
    cell = cell.strip()
    if not cell or is_time_like(cell):
        return True
    if re.match(r"[+-]?[\d.,]", cell):
        return is_number_like(cell) and not re.search(r"\d\s+\d|[\d.],$|^,", cell)
    return not re.search(r",\S|,$", cell)


def _split(line: str, mark: str) -> list[str]:
    if mark == WHITESPACE:
        return split_blanks(line)
    if mark == NONE:
        return [line.strip()]
    if mark not in line:
        return [line]
    if '"' not in line:
        return line.split(mark)
    try:
        return next(csv.reader([line], delimiter=mark, skipinitialspace=True), [])
    except csv.Error:
        return [line]


def split_blanks(line: str) -> list[str]:
    """Part a line at blanks, keeping sign, number, unit and marks of a reading together."""
    for pattern, replacement in _GLUE:
        line = pattern.sub(replacement, line)
    return [cell.replace(_NBSP, " ") for cell in re.split(r"[ \t]+", line.strip(" \t"))]


def split_rows(text: TextFile, separator: str) -> tuple[list[Row], list[Row]]:
    """Part all lines.

    Returns:
        Table lines and comment lines, each as (line number, cells); blank lines are left out.
        A line that starts with ';' is a comment unless ';' is the separator and the cell count fits.

    Raises:
        InputError: an opened quote that is not closed.
    """
    comments: list[Row] = []
    if separator in (WHITESPACE, NONE):
        rows = []
        for number, line in enumerate(text.lines, 1):
            if not line.strip():
                continue
            if is_comment(line) or line.lstrip().startswith(";"):
                comments.append((number, [line.strip()]))
            else:
                rows.append((number, _split(line, separator)))
        return rows, comments
    rows = _csv_rows(text, separator, comments)
    if separator == ";" and any(not cells[0] for _, cells in rows):
        usual = Counter(len(cells) for _, cells in rows).most_common(1)[0][0]
        stray = [row for row in rows if not row[1][0] and len(row[1]) != usual]
        comments.extend((number, [";".join(cells)]) for number, cells in stray)
        rows = [row for row in rows if row[1][0] or len(row[1]) == usual]
    return rows, comments


def _csv_rows(text: TextFile, separator: str, comments: list[Row]) -> list[Row]:
    rows: list[Row] = []
    first = last = 0
    fresh = True

    def pull() -> Iterator[str]:
        nonlocal first, last, fresh
        for number, line in enumerate(text.lines, 1):
            if fresh:
                if not line.strip(" \t;,|"):
                    continue
                if is_comment(line) or (separator != ";" and line.lstrip().startswith(";")):
                    comments.append((number, [line.strip()]))
                    continue
                first, fresh = number, False
            last = number
            yield line + "\n"

    reader = csv.reader(pull(), delimiter=separator, skipinitialspace=separator != "\t", strict=True)
    try:
        for cells in reader:
            rows.append((first, [cell.strip() for cell in cells]))
            fresh = True
    except csv.Error as error:
        raise InputError(
            "a quotation mark is opened here and not closed properly",
            "close it or take it out",
            Place(file=text.name, line=first or last),
        ) from error
    return rows
