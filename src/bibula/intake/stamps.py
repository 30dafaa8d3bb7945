"""Dates with times: ISO 8601 with or without zone, 26.03.2019 08:48, 03/26/2019 8:48 AM."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date, datetime, time, timedelta

import numpy as np

from bibula.intake.numbers import FloatArray, PlaceOf, Raw
from bibula.quantities.errors import InputError, Place

_ISO = re.compile(r"\d{4}-\d{2}-\d{2}(?:[T ]\d{2}:\d{2}(?::\d{2}(?:[.,]\d{1,9})?)?(?:Z|[+-]\d{2}:?\d{2})?)?")
_OTHER = re.compile(
    r"(?P<a>\d{1,4})(?P<sep>[./-])(?P<b>\d{1,2})(?P=sep)(?P<c>\d{1,4})"
    r"(?:[T,\s]+(?P<h>\d{1,2}):(?P<m>\d{2})(?::(?P<s>\d{2}(?:[.,]\d{1,6})?))?\s*(?P<half>[AaPp]\.?[Mm]\.?)?)?"
)
_YEARS = range(1900, 2200)
ORDERS = ("dmy", "mdy")


def is_stamp(cell: Raw) -> bool:
    """The cell begins with a date."""
    return isinstance(cell, str) and (_ISO.fullmatch(cell.strip()) or _OTHER.fullmatch(cell.strip())) is not None


def is_date_only(cell: Raw) -> bool:
    """The cell is a date without a time of day."""
    return is_stamp(cell) and ":" not in str(cell)


def read_stamps(cells: Sequence[Raw], place_of: PlaceOf, order: str | None = None) -> tuple[FloatArray, list[str]]:
    """Read a column of time stamps.

    Returns:
        Seconds since the first cell (n,), and each stamp as an ISO string (zone kept as written).

    Raises:
        InputError: a cell is no stamp, day and month can be swapped, or zones are given only in part.
    """
    chosen = _order_of(cells, place_of, order)
    moments: list[datetime] = []
    for row, cell in enumerate(cells):
        moment = _moment(str(cell).strip(), chosen)
        if moment is None or moment.year not in _YEARS:
            raise InputError(
                f"'{str(cell)[:40]}' is not a date and time", "write it as 2019-03-26 08:48:00", place_of(row)
            )
        if moments and (moment.tzinfo is None) != (moments[0].tzinfo is None):
            raise InputError(
                "some time stamps give a time zone and some do not", "give it in all of them or in none", place_of(row)
            )
        moments.append(moment)
    if not moments:
        return np.zeros(0), []
    first, second = moments[0], timedelta(seconds=1)
    seconds = np.array([(moment - first) / second for moment in moments], dtype=float)
    return seconds, [moment.isoformat() for moment in moments]


def _moment(text: str, order: str) -> datetime | None:
    try:
        if _ISO.fullmatch(text):
            return datetime.fromisoformat(text)
        match = _OTHER.fullmatch(text)
        if match is None:
            return None
        a, b, c = int(match["a"]), int(match["b"]), int(match["c"])
        if len(match["a"]) == 4:
            year, month, day = a, b, c
        elif len(match["c"]) == 4:
            day, month, year = (b, a, c) if order == "mdy" and match["sep"] != "." else (a, b, c)
        else:
            return None
        hour, minute = int(match["h"] or 0), int(match["m"] or 0)
        if match["half"]:
            if not 1 <= hour <= 12:
                return None
            hour = hour % 12 + (12 if match["half"][0] in "Pp" else 0)
        seconds = float((match["s"] or "0").replace(",", "."))
        whole = int(seconds)
        micro = round((seconds - whole) * 1e6) % 1_000_000
        return datetime.combine(date(year, month, day), time(hour, minute, whole, micro))
    except ValueError:
        return None


def _order_of(cells: Sequence[Raw], place_of: PlaceOf, asked: str | None) -> str:
    if asked is not None:
        if asked not in ORDERS:
            raise InputError(f"'{asked}' is not an order of day and month", "use dmy or mdy", Place(field="date_order"))
        return asked
    first_row, possible = None, {"dmy", "mdy"}
    for row, cell in enumerate(cells):
        text = str(cell)
        if "/" not in text and not re.match(r"\s*\d{1,2}-", text):
            continue
        match = _OTHER.fullmatch(text.strip())
        if match is None or len(match["a"]) == 4 or match["sep"] == ".":
            continue
        first_row = row if first_row is None else first_row
        if int(match["a"]) > 12:
            possible.discard("mdy")
        if int(match["b"]) > 12:
            possible.discard("dmy")
    if first_row is not None and len(possible) != 1:
        raise InputError(
            f"in '{cells[first_row]}' day and month can be swapped",
            "give the option date_order: dmy or mdy",
            place_of(first_row),
        )
    return next(iter(possible)) if first_row is not None else "dmy"
