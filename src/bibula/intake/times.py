"""A column of times becomes seconds: numbers with a unit, mm:ss, hh:mm:ss, time of day, time stamps.

Every reading that the cells allow is tried; one must be left, or the user is asked.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bibula.intake.numbers import FloatArray, PlaceOf, Raw, parse_numbers
from bibula.intake.scaling import to_si
from bibula.intake.stamps import is_stamp, read_stamps
from bibula.intake.units import CLOCK_UNITS, asked_unit, split_header, unit_of
from bibula.intake.words import says_elapsed, says_time_of_day
from bibula.quantities.errors import InputError, Place

DAY_S = 86400.0
CLOCKS = ("time of day", "elapsed", "mm:ss", "hh:mm")
_LONGEST_S = 40 * 366 * DAY_S
_CLOCK = re.compile(
    r"(?P<a>\d{1,4}):(?P<b>\d{1,2})(?::(?P<c>\d{1,2}))?(?P<frac>[.,]\d+)?\s*(?P<half>[AaPp]\.?[Mm]\.?)?\s*(?P<unit>[a-z:]+)?"
)
_DURATION = re.compile(
    r"(?:(?P<d>\d+)\s*d)?\s*(?:(?P<h>\d+)\s*h)?\s*(?:(?P<m>\d+)\s*min)?\s*(?:(?P<s>\d+(?:[.,]\d+)?)\s*s)?"
)
_READINGS = {
    "mm:ss": "elapsed minutes:seconds",
    "hh:mm": "elapsed hours:minutes",
    "elapsed": "elapsed hours:minutes:seconds",
    "time of day": "time of day",
}


@dataclass(frozen=True)
class TimeColumn:
    """Times of every row.

    Attributes:
        time_s: (n,); since the first reading of its segment for stamps and time of day, as written for elapsed times.
        starts: ISO stamp of the first row of each segment, or None.
        settled: the options that give this reading again (time_unit, clock, date_order).
        notes: remarks.
    """

    time_s: FloatArray
    starts: tuple[str | None, ...]
    settled: dict[str, str]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class TimeQuestion:
    """What is to be read, and what is known beforehand."""

    cells: Sequence[Raw]
    header: str
    place_of: PlaceOf
    segments: tuple[NDArray[np.intp], ...]
    decimal: str = "."
    unit: str | None = None
    clock: str | None = None
    date_order: str | None = None


def is_clock(cell: Raw) -> bool:
    """The cell is written with colons and without a date."""
    return isinstance(cell, str) and _CLOCK.fullmatch(cell.strip()) is not None


def is_time_like(cell: Raw) -> bool:
    """A stamp, a clock or a duration such as '1 h 30 min' (plain numbers are not counted)."""
    return is_stamp(cell) or is_clock(cell) or _duration(cell) is not None


def read_times(ask: TimeQuestion) -> TimeColumn:
    """Read a column of times; each segment is one series.

    Raises:
        InputError: a cell is no time, times run backwards, or more than one reading is possible.
    """
    if ask.clock is not None and ask.clock not in CLOCKS:
        raise InputError(f"'{ask.clock}' is not a kind of clock", "use " + ", ".join(CLOCKS), Place(field="clock"))
    for row, cell in enumerate(ask.cells):
        if isinstance(cell, str) and not cell.strip():
            raise InputError("the time is missing here", "fill it in or delete the row", ask.place_of(row))
    if any(is_stamp(cell) for cell in ask.cells[:5]):
        result = _from_stamps(ask)
    elif any(is_clock(cell) for cell in ask.cells):
        result = _from_clocks(ask)
    else:
        result = _from_numbers(ask)
    for segment in ask.segments:
        back = _first_back(result.time_s[segment])
        if back is not None:
            row = int(segment[back])
            raise InputError(
                f"the time '{ask.cells[row]}' comes before the reading above it",
                "put the rows in order, or correct this time",
                ask.place_of(row),
            )
    longest = np.abs(result.time_s) > _LONGEST_S
    if longest.any():
        row = int(np.flatnonzero(longest)[0])
        raise InputError(f"'{ask.cells[row]}' would be more than 40 years", "check the unit", ask.place_of(row))
    return result


def _first_back(times: FloatArray) -> int | None:
    back = np.flatnonzero(np.diff(times) < 0)
    return int(back[0]) + 1 if back.size else None


def _from_stamps(ask: TimeQuestion) -> TimeColumn:
    seconds, isos = read_stamps(ask.cells, ask.place_of, ask.date_order)
    time_s = np.zeros(len(ask.cells))
    starts = []
    for segment in ask.segments:
        time_s[segment] = seconds[segment] - seconds[segment[0]]
        starts.append(isos[segment[0]])
    settled = {"date_order": ask.date_order} if ask.date_order else {}
    return TimeColumn(time_s, tuple(starts), settled, ())


def _from_numbers(ask: TimeQuestion) -> TimeColumn:
    if any(isinstance(cell, str) and len(re.findall(r"[a-z]+", cell)) > 1 for cell in ask.cells):
        durations = [_duration(cell) for cell in ask.cells]
        if None not in durations:
            times = np.array(durations, dtype=float)
            return TimeColumn(times, (None,) * len(ask.segments), {}, ())
    numbers = parse_numbers(ask.cells, ask.decimal, ask.place_of, "time")
    if np.isnan(numbers.values).any():
        row = int(np.flatnonzero(np.isnan(numbers.values))[0])
        raise InputError("the time is missing here", "fill it in or delete the row", ask.place_of(row))
    times, unit, notes = to_si(numbers, ask.header, ask.unit, "time", ask.place_of)
    if (times < 0).any():
        row = int(np.flatnonzero(times < 0)[0])
        raise InputError(
            f"the time '{ask.cells[row]}' is negative", "count from the start of the test", ask.place_of(row)
        )
    settled = {"time_unit": unit} if unit else {}
    return TimeColumn(times, (None,) * len(ask.segments), settled, notes)


def _duration(cell: Raw) -> float | None:
    if not isinstance(cell, str) or not cell.strip() or len(cell) > 40:
        return None
    match = _DURATION.fullmatch(cell.strip())
    if match is None or not any(match.groups()):
        return None
    seconds = float((match["s"] or "0").replace(",", "."))
    return int(match["d"] or 0) * DAY_S + int(match["h"] or 0) * 3600.0 + int(match["m"] or 0) * 60.0 + seconds


@dataclass(frozen=True)
class _Clocks:
    """Fields of colon cells: (n,) arrays; `c` is NaN where a cell has two parts."""

    a: FloatArray
    b: FloatArray
    c: FloatArray
    fraction: FloatArray
    halves: bool
    units: frozenset[str]


def _take_clocks(ask: TimeQuestion) -> _Clocks:
    fields = np.full((4, len(ask.cells)), math.nan)
    halves, units = False, set()
    for row, cell in enumerate(ask.cells):
        match = _CLOCK.fullmatch(str(cell).strip())
        good = match is not None and int(match["b"]) < 60 and int(match["c"] or 0) < 60
        if match is None or not good:
            raise InputError(
                f"'{str(cell)[:40]}' is not a time like the others", "write it as hh:mm:ss", ask.place_of(row)
            )
        hour = int(match["a"])
        if match["half"]:
            if not 1 <= hour <= 12:
                raise InputError(f"'{cell}' is not a time of day", "write it as hh:mm:ss", ask.place_of(row))
            hour = hour % 12 + (12 if match["half"][0] in "Pp" else 0)
            halves = True
        if match["unit"]:
            units.add(match["unit"])
        fraction = float((match["frac"] or "0").replace(",", "."))
        fields[:, row] = (hour, int(match["b"]), int(match["c"]) if match["c"] else math.nan, fraction)
    return _Clocks(fields[0], fields[1], fields[2], fields[3], halves, frozenset(units))


def _allowed(ask: TimeQuestion, clocks: _Clocks) -> set[str]:
    """The readings that option, header and the cells' own marks leave open."""
    if ask.clock is not None:
        return {ask.clock}
    two_part = bool(np.isnan(clocks.c).any())
    left = {"mm:ss", "hh:mm", "time of day"} if two_part else {"elapsed", "time of day"}
    patterns = {CLOCK_UNITS.get(split_header(ask.header)[1].lower(), "")}
    patterns |= {CLOCK_UNITS.get(word, "min:s" if word == "min" else "") for word in clocks.units}
    patterns.discard("")
    if "mm:ss" in patterns or "min:s" in patterns:
        left &= {"mm:ss", "elapsed"}
    if "hh:mm" in patterns or "hh:mm:ss" in patterns or "h" in clocks.units:
        left -= {"mm:ss"}
    unit = asked_unit(ask.unit, "time", "time_unit") or unit_of(split_header(ask.header)[1], "time")
    if unit in {"min", "s"}:
        left &= {"mm:ss", "elapsed"}
    elif unit == "h":
        left -= {"mm:ss"}
    if says_elapsed(ask.header):
        left -= {"time of day"}
    elif says_time_of_day(ask.header) or clocks.halves:
        left &= {"time of day"}
    if two_part and bool((clocks.fraction[np.isnan(clocks.c)] > 0).any()):
        left &= {"mm:ss"}
    return left


def _times_as(reading: str, ask: TimeQuestion, clocks: _Clocks) -> FloatArray | None:
    """Seconds under one reading, or None where it is impossible."""
    three = ~np.isnan(clocks.c)
    full = clocks.a * 3600 + clocks.b * 60 + np.nan_to_num(clocks.c) + clocks.fraction
    short = clocks.a * 60 + clocks.b + clocks.fraction
    times = np.where(three, full, short) if reading == "mm:ss" else full
    if reading != "time of day":
        return times if all(_first_back(times[s]) is None for s in ask.segments) else None
    if (clocks.a > 23).any():
        return None
    unwrapped = np.zeros_like(times)
    for segment in ask.segments:
        own = times[segment]
        steps = np.diff(own)
        wraps = steps < 0
        if (steps[wraps] + DAY_S > DAY_S / 2).any():
            return None
        days = np.concatenate([[0.0], np.cumsum(wraps)]) * DAY_S
        unwrapped[segment] = own + days - own[0]
    return unwrapped


def _from_clocks(ask: TimeQuestion) -> TimeColumn:
    clocks = _take_clocks(ask)
    allowed = sorted(_allowed(ask, clocks), key=list(_READINGS).index)
    if not allowed:
        raise InputError(
            f"header and cells of '{ask.header}' contradict each other about what the times mean",
            "give the option clock: " + ", ".join(CLOCKS),
            ask.place_of(0),
        )
    possible = {reading: times for reading in allowed if (times := _times_as(reading, ask, clocks)) is not None}
    if not possible:
        raise _backwards(ask, clocks, allowed)
    readings = list(possible)
    first = possible[readings[0]]
    if any(not np.array_equal(first, possible[reading]) for reading in readings[1:]):
        meanings = " or ".join(_READINGS[reading] for reading in readings)
        options = " or ".join(f"'{reading}'" for reading in readings)
        raise InputError(f"'{ask.cells[0]}' can mean {meanings}", f"give the option clock: {options}", ask.place_of(0))
    crossed = any((np.diff(clocks.a[segment]) < 0).any() for segment in ask.segments)
    notes = ("the times pass midnight: a day was added there",) if crossed else ()
    return TimeColumn(first, (None,) * len(ask.segments), {"clock": readings[0]}, notes)


def _backwards(ask: TimeQuestion, clocks: _Clocks, allowed: Sequence[str]) -> InputError:
    """The message where no allowed reading runs forward."""
    full = clocks.a * 3600 + clocks.b * 60 + np.nan_to_num(clocks.c) + clocks.fraction
    for segment in ask.segments:
        steps = np.diff(full[segment])
        bad = (steps < 0) & (steps + DAY_S > DAY_S / 2) if "time of day" in allowed else steps < 0
        if bad.any():
            row = int(segment[int(np.flatnonzero(bad)[0]) + 1])
            return InputError(
                f"the time '{ask.cells[row]}' comes before the reading above it",
                "put the rows in order, or correct this time",
                ask.place_of(row),
            )
    row = int(np.argmax(clocks.a))
    return InputError(
        f"'{ask.cells[row]}' is not a time of day, and the times do not run forward",
        "correct this time, or give the option clock",
        ask.place_of(row),
    )
