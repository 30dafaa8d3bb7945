"""Numbers and units as print has them: an uncertainty's own digits, raised powers, no bare exponents."""

from __future__ import annotations

import math

RAISED = str.maketrans("0123456789-", "⁰¹²³⁴⁵⁶⁷⁸⁹⁻")
EXACT_DIGITS = 4


def unit_text(unit: str) -> str:
    """A unit written plainly (`kg/(m2 s^0.5)`) as print has it (`kg/(m² √s)`); "" for the unit 1."""
    if unit == "1":
        return ""
    text = unit.replace("s^0.5", "√s")
    return text.replace("m2", "m²").replace("m3", "m³")


def power_of_ten(exponent: int) -> str:
    """`10⁻⁶`."""
    return f"10{str(exponent).translate(RAISED)}"


def plain_number(value: float, digits: int) -> str:
    """A finite number with so many significant digits; a power of ten below 1e-4 and from 1e6 on; never "-0"."""
    if value == 0.0:
        return "0"
    if not 1e-4 <= abs(value) < 1e6:
        exponent = math.floor(math.log10(abs(value)))
        return f"{value / 10.0**exponent:.{digits - 1}f}·{power_of_ten(exponent)}"
    return f"{value:.{max(0, digits - 1 - math.floor(math.log10(abs(value))))}f}"


def with_u(value: float, u: float, unit: str = "") -> str:
    """`0.312 ± 0.011 kg/m²`: the uncertainty with two significant digits, the value to the same place.

    Args:
        value: finite, in `unit`.
        u: standard uncertainty in the same unit; 0 or less where the value is exact.
        unit: as `Value` keeps it, or "" for none.
    """
    text = _pair(value, u) if u > 0.0 else plain_number(value, EXACT_DIGITS)
    shown = unit_text(unit) if unit else ""
    return f"{text} {shown}" if shown else text


def _pair(value: float, u: float) -> str:
    place = math.floor(math.log10(u))
    if place > -5 and max(abs(value), u) < 1e5:
        return _both(value, u, max(0, 1 - place))
    exponent = math.floor(math.log10(max(abs(value), u)))
    scale = 10.0**exponent
    return f"({_both(value / scale, u / scale, max(0, 1 - place + exponent))})·{power_of_ten(exponent)}"


def _both(value: float, u: float, digits: int) -> str:
    """Both with the same decimals, less a last one that is 0 in both: `1.0 ± 0.8`, not `1.00 ± 0.80`."""
    texts = [f"{x:.{digits}f}" for x in (value, u)]
    if digits and all(text.endswith("0") for text in texts):
        texts = [text[:-1].removesuffix(".") for text in texts]
    return " ± ".join(texts)
