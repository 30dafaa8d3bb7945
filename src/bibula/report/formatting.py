"""Numbers become words: durations, masses, percentages, lengths and temperatures, with sensible digits.

`units` is "metric" or "inch". Inch changes lengths (inches) and temperatures (°F); masses stay in grams, as a
balance shows them.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from typing import Any, Literal

from bibula.quantities.errors import InputError, Place
from bibula.quantities.printed import plain_number
from bibula.quantities.values import Estimate

Units = Literal["metric", "inch"]
UNKNOWN = "not known"
AT_ONCE_S = 30.0
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
    """A number with so many significant digits, with a power of ten below 1e-4 and from 1e6 on."""
    return plain_number(value, digits) if math.isfinite(value) else UNKNOWN


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
    elif seconds < 115.0:  # half minutes are too coarse here: 104 s is neither 1.5 nor 2 min
        text = f"{10 * round(seconds / 10.0)} s"
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


def brief(seconds: float) -> str:
    """A stretch of time for a narrow heading, as short as it goes: `45 s`, `75 min`, `1:45 h`, `3:45 h`, `3.5 d`."""
    text = duration(seconds)
    if text.endswith(" min") and seconds >= 97.5 * MINUTE_S:
        hours, minutes = divmod(5 * round(seconds / MINUTE_S / 5.0), 60) if " h " not in text else (0, 0)
        if hours:
            return f"{hours}:{minutes:02d} h"
        return text.removesuffix(" min").replace(" h ", ":") + " h"
    return text.replace(" days", " d")


def duration_band(median_s: float | None, low_s: float | None, high_s: float | None) -> tuple[str, str]:
    """(`about 40 min`, `25 to 70 min`); says "not within the plan" where a time is missing or not finite."""
    median_s, low_s, high_s = (None if t is None or not math.isfinite(t) else t for t in (median_s, low_s, high_s))
    if median_s is None:
        when = "not within the plan"
        return when, f"at the earliest {duration(low_s)}" if low_s is not None else ""
    low = "" if low_s is None else duration(low_s)
    when = f"about {duration(median_s)}" if median_s >= 1.0 else "at once"
    if high_s is None:
        return when, f"{low} to beyond the plan" if low else ""
    if high_s < 1.0:
        return when, ""
    high = duration(high_s)
    if low.split(" ")[1:] == high.split(" ")[1:] and len(low.split(" ")) == 2:
        low = low.split(" ")[0]
    return when, f"{low} to {high}" if low else f"up to {high}"


def recovery(estimate: Estimate, within_s: float, at_once: str = "") -> str:
    """When something is ready again after its stage, watched for `within_s`; an end that is not finite was not seen.

    `at once`, with the remark `at_once` in brackets, where the median is under half a minute; `about 5 h (3 to 9 h)`;
    `within 5 h in half of the runs, in some not within 3 days`; `not within 3 days in most runs, 20 h at the earliest`.
    """
    watched = duration(within_s)
    late = "" if math.isfinite(estimate.high) else f"in some {{}}not within {watched}"
    if not math.isfinite(estimate.median):
        low = f", {duration(estimate.low)} at the earliest" if math.isfinite(estimate.low) else ""
        return f"not within {watched}{' in most runs' if low else ''}{low}"
    if estimate.median < AT_ONCE_S:
        now = f"at once ({at_once})" if at_once else "at once"
        if late:
            return f"{now}, {late.format('runs ')}"
        return now if estimate.high < MINUTE_S else f"{now}, in some runs up to {duration(estimate.high)}"
    if late:
        return f"within {duration(estimate.median)} in half of the runs, {late.format('')}"
    return about(estimate.median, estimate.low, estimate.high)


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


def unbroken(data: Any) -> Any:
    """The same data with numbers and their units on one line: a no-break space between them."""
    if isinstance(data, str):
        data = re.sub(r"(?<=m²) (?=√?s|K)|(?<=s) (?=Pa\))", "\u00a0", data)
        return re.sub(r"(?<=[0-9]) (?=(%|g/m²|min|h|s|days|mm|in|k?Pa|kg|°C|°F)(?![A-Za-z]))", "\u00a0", data)
    if isinstance(data, dict):
        return {key: unbroken(value) for key, value in data.items()}
    return [unbroken(value) for value in data] if isinstance(data, list | tuple) else data
