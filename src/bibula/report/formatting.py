"""Numbers become words: durations, masses, percentages, lengths and temperatures, with sensible digits.

`units` is "metric" or "inch". Inch changes lengths (inches) and temperatures (°F); masses stay in grams, as a
balance shows them.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Literal

from bibula.quantities.errors import InputError, Place
from bibula.quantities.values import Estimate

Units = Literal["metric", "inch"]
UNKNOWN = "not known"
MINUTE_S, HOUR_S, DAY_S = 60.0, 3600.0, 86400.0


def check_units(units: str) -> Units:
    """`units` itself, or an InputError if it is neither "metric" nor "inch"."""
    if units == "metric":
        return "metric"
    if units == "inch":
        return "inch"
    raise InputError(f"'{units}' is not a set of units", "write metric or inch", Place(field="units"))


def number(value: float, decimals: int) -> str:
    """A number with a fixed count of decimals; never "-0"; "not known" where it is not finite."""
    if not math.isfinite(value):
        return UNKNOWN
    text = f"{value:.{decimals}f}"
    return text.lstrip("-") if float(text) == 0.0 else text


def significant(value: float, digits: int = 3) -> str:
    """A number with so many significant digits, without an exponent between 1e-4 and 1e6."""
    if not math.isfinite(value):
        return UNKNOWN
    if value == 0.0:
        return "0"
    if not 1e-4 <= abs(value) < 1e6:
        return f"{value:.{digits - 1}e}"
    return number(value, max(0, digits - 1 - math.floor(math.log10(abs(value)))))


def decimals_for(low: float, high: float) -> int:
    """How many decimals a band deserves: the first figure of its half-width, at most four."""
    width = abs(high - low) / 2.0
    if not math.isfinite(width) or width <= 0.0:
        return 1
    return min(4, max(0, -math.floor(math.log10(width))))


def banded(median: float, low: float, high: float, unit: str = "", decimals: int | None = None) -> str:
    """`72 (60 to 81) g/m²`-like text: median, band, unit."""
    if not math.isfinite(median):
        return UNKNOWN
    digits = decimals_for(low, high) if decimals is None else decimals
    text = f"{number(median, digits)} ({number(low, digits)} to {number(high, digits)})"
    return f"{text} {unit}" if unit else text


def percent(estimate: Estimate) -> str:
    """A share 0..1 with its band as whole percent: `31 % (24 to 40 %)`."""
    if not math.isfinite(estimate.median):
        return UNKNOWN
    low, high = number(100.0 * estimate.low, 0), number(100.0 * estimate.high, 0)
    return f"{number(100.0 * estimate.median, 0)} % ({low} to {high} %)"


def mass_per_area(estimate: Estimate) -> str:
    """Grams per square metre with its band."""
    return banded(estimate.median, estimate.low, estimate.high, "g/m²", 0 if estimate.high >= 10.0 else 1)


def length(metres: float, units: Units = "metric") -> str:
    """A thickness: mm with two significant digits, or decimal inches."""
    if units == "inch":
        return f"{significant(metres / 0.0254, 2)} in"
    return f"{significant(1000.0 * metres, 2)} mm"


def temperature_scale(units: Units) -> tuple[Callable[[float], float], str]:
    """How a temperature in °C is shown: a function and the unit's sign."""
    if units == "inch":
        return (lambda celsius: 1.8 * celsius + 32.0), "°F"
    return (lambda celsius: celsius), "°C"


def temperature(celsius: float, units: Units = "metric") -> str:
    """One temperature with one decimal."""
    shown, unit = temperature_scale(units)
    return f"{number(shown(celsius), 1)} {unit}"


def temperature_band(estimate: Estimate, units: Units = "metric") -> str:
    """A temperature in °C with its band, in the unit asked for."""
    shown, unit = temperature_scale(units)
    return banded(shown(estimate.median), shown(estimate.low), shown(estimate.high), unit, 1)


def duration(seconds: float) -> str:
    """A stretch of time a person can use: `45 s`, `40 min`, `2 h 30 min`, `14 h`, `3.5 days`."""
    if not math.isfinite(seconds):
        return UNKNOWN
    if seconds < 0.0:
        return f"-{duration(-seconds)}"
    if seconds < 89.0:
        text = f"{round(seconds / 5.0) * 5 if seconds >= 20.0 else round(seconds)} s"
    elif seconds < 9.5 * MINUTE_S:
        text = f"{_halves(seconds / MINUTE_S)} min"
    elif seconds < 30.5 * MINUTE_S:
        text = f"{round(seconds / MINUTE_S)} min"
    elif seconds < 117.5 * MINUTE_S:
        text = f"{5 * round(seconds / MINUTE_S / 5.0)} min"
    elif seconds < 9.75 * HOUR_S:
        hours, minutes = divmod(15 * round(seconds / MINUTE_S / 15.0), 60)
        text = f"{hours} h {minutes} min" if minutes else f"{hours} h"
    elif seconds < 71.5 * HOUR_S:
        text = f"{round(seconds / HOUR_S)} h"
    else:
        text = f"{_halves(seconds / DAY_S)} days"
    return text


def _halves(value: float) -> str:
    """Rounded to a half, without `.0`."""
    return number(round(2.0 * value) / 2.0, 1).removesuffix(".0")


def duration_band(median_s: float | None, low_s: float | None, high_s: float | None) -> tuple[str, str]:
    """(`about 40 min`, `25 to 70 min`); says "not within the plan" where a time is missing."""
    if median_s is None:
        when = "not within the plan"
        return when, f"at the earliest {duration(low_s)}" if low_s is not None else ""
    low = "" if low_s is None else duration(low_s)
    if high_s is None:
        return f"about {duration(median_s)}", f"{low} to beyond the plan" if low else ""
    high = duration(high_s)
    if low.split(" ")[1:] == high.split(" ")[1:] and len(low.split(" ")) == 2:
        low = low.split(" ")[0]
    return f"about {duration(median_s)}", f"{low} to {high}" if low else f"up to {high}"


def about(median_s: float | None, low_s: float | None, high_s: float | None) -> str:
    """`about 40 min (25 to 70 min)` in one string."""
    when, band = duration_band(median_s, low_s, high_s)
    return f"{when} ({band})" if band else when


def clock(seconds: float) -> str:
    """A planned time from the start as h:mm, with seconds only where they count: `0:20`, `0:00:30`."""
    if not math.isfinite(seconds):
        return UNKNOWN
    whole = round(seconds)
    hours, rest = divmod(whole, 3600)
    minutes, secs = divmod(rest, 60)
    return f"{hours}:{minutes:02d}:{secs:02d}" if secs else f"{hours}:{minutes:02d}"
