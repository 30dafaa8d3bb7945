"""The arithmetic of the standard absorption tests: Cobb, Klemm, ISO 15148, ASTM C1585, drop test.

Readings in, small frozen results out, with standard errors from the replicates or the line.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.stats import linregress

from bibula.formulas.arrays import Array, require
from bibula.quantities.errors import InputError

WATER_DENSITY_C1585 = 1000.0  # kg/m3, as that standard's formula has it
MINIMUM_CORRELATION_C1585 = 0.98
DROP_LIMIT_S = 120.0


@dataclass(frozen=True)
class MeanResult:
    """Mean of n replicates with its standard error (nan for a single one), in the unit the function names."""

    mean: float
    standard_error: float
    n: int
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True)
class LineResult:
    """Slope of uptake against the square root of time.

    Attributes:
        slope: kg/(m2 s^0.5) for ISO 15148, m/s^0.5 for ASTM C1585.
        standard_error: of the slope; nan with two points or for type B.
        intercept: uptake the line gives at time 0, kg/m2 or m.
        correlation: r of the line, nan for type B.
        n: readings used.
        kind: `A`, `B` (ISO 15148), `initial`, `secondary` (ASTM C1585).
        accepted: whether the standard allows the value to be reported.
        warnings: sentences.
    """

    slope: float
    standard_error: float
    intercept: float
    correlation: float
    n: int
    kind: Literal["A", "B", "initial", "secondary"]
    accepted: bool = True
    warnings: tuple[str, ...] = ()

    @property
    def per_root_hour(self) -> float:
        """The slope per square root of an hour (W_w of ISO 15148)."""
        return 60.0 * self.slope


def _mean(values: Array, warnings: tuple[str, ...] = ()) -> MeanResult:
    n = int(values.size)
    error = float(np.std(values, ddof=1) / np.sqrt(n)) if n > 1 else float("nan")
    return MeanResult(float(np.mean(values)), error, n, warnings)


def _column(values: Sequence[float] | Array | float, low: float, high: float, what: str, unit: str) -> Array:
    x = np.atleast_1d(np.asarray(values, dtype=np.float64))
    if x.ndim != 1 or x.size == 0:
        raise InputError(f"no readings of {what}", "give at least one")
    require(x, low, high, what, unit)
    return x


def cobb(
    dry_kg: Sequence[float] | float,
    wet_kg: Sequence[float] | float,
    area_m2: float = 0.01,
    grammage_g_m2: float | None = None,
    blotting_paper: bool = False,
) -> MeanResult:
    """Cobb value in g/m2: water taken up by one side in a set time (ISO535).

    Args:
        dry_kg: masses before, one per specimen.
        wet_kg: masses after blotting, same order.
        area_m2: wetted area; 100 cm2 normally.
        grammage_g_m2: of the dry paper, for the warning below 50 g/m2.
        blotting_paper: whether it is a blotter, for which the method does not hold.

    Raises:
        InputError: columns that do not match, or a specimen that lost mass.
    """
    dry, wet = _column(dry_kg, 0.0, 1.0, "dry mass", "kg"), _column(wet_kg, 0.0, 1.0, "wet mass", "kg")
    if dry.shape != wet.shape:
        raise InputError(f"{dry.size} dry and {wet.size} wet masses", "give one of each for every specimen")
    require(area_m2, 1e-5, 1.0, "test area", "m2")
    require(wet - dry, 0.0, 1.0, "gain in mass", "kg", "the wet mass must not be below the dry mass")
    warnings: list[str] = []
    if blotting_paper:
        warnings.append("ISO 535 does not hold for blotting paper: it drinks more than the method can measure.")
    if grammage_g_m2 is not None and grammage_g_m2 < 50.0:
        warnings.append(f"ISO 535 does not hold below 50 g/m2; this paper has {grammage_g_m2:g} g/m2.")
    return _mean(1000.0 * (wet - dry) / area_m2, tuple(warnings))


def klemm(rise_m: Sequence[float] | float) -> MeanResult:
    """Capillary rise after 10 min in m: the mean over the strips of one direction (ISO8787)."""
    rises = _column(rise_m, 0.0, 1.0, "capillary rise", "m")
    short = () if rises.size >= 10 else (f"{rises.size} strips: the usual number is 10 per direction (from memory).",)
    return _mean(rises, short)


def klemm_ratio(early_s: float, late_s: float) -> float:
    """Rise at the late time over rise at the early time by Washburn's law: sqrt(late/early).

    Holds as long as gravity and evaporation do not count (Washburn1921).
    """
    require(early_s, 1e-3, 1e7, "early time", "s")
    require(late_s, early_s, 1e7, "late time", "s")
    return float(np.sqrt(late_s / early_s))


def drop_absorbency(seconds: Sequence[float] | float) -> MeanResult:
    """Mean time in s until a measured drop's shine is gone (T432, ASTMD824); not for times above 120 s."""
    times = _column(seconds, 0.0, 1e6, "absorption time", "s")
    slow = int(np.sum(times > DROP_LIMIT_S))
    text = f"{slow} of {times.size} drops took more than 120 s: the method does not hold, use a Cobb test (ISO 535)."
    return _mean(times, (text,) if slow else ())


def _series(
    times_s: Sequence[float] | Array, uptake: Sequence[float] | Array, what: str, unit: str
) -> tuple[Array, Array]:
    t = _column(times_s, 0.0, 1e8, "time", "s")
    y = _column(uptake, -1e-6, 1e4, what, unit)
    if t.shape != y.shape:
        raise InputError(f"{t.size} times and {y.size} values of {what}", "give one value for every time")
    if np.any(np.diff(t) <= 0.0):
        raise InputError("the times do not rise", "order the readings by time, each once")
    return t, y


def absorption_coefficient(
    times_s: Sequence[float] | Array,
    uptake_kg_m2: Sequence[float] | Array,
    kind: Literal["A", "B"] | None = None,
) -> LineResult:
    """Water absorption coefficient A_w in kg/(m2 s^0.5) from a partial immersion series (ISO15148).

    Type A is the slope of the straight line of uptake against sqrt(t), its intercept not forced
    to zero; type B is the last uptake over the root of its time, for a curve with a kink.

    Args:
        times_s: shape (n,), rising, above 0, n at least 3.
        uptake_kg_m2: mass gained per area, same shape.
        kind: the type; None takes B where the late half climbs less than half as fast as the early.

    Raises:
        InputError: columns that do not match, too few readings, or times out of order.
    """
    t, m = _series(times_s, uptake_kg_m2, "uptake", "kg/m2")
    if t.size < 3 or t[0] <= 0.0:
        raise InputError("a series needs at least three readings after the start", "leave out the reading at time 0")
    root = np.sqrt(t)
    half = max(2, (t.size + 1) // 2)
    early = linregress(root[:half], m[:half]).slope
    late = linregress(root[-half:], m[-half:]).slope
    kinked = bool(late < 0.5 * early)
    warnings: list[str] = []
    if kinked:
        warnings.append("The curve bends: use only the readings before the water reached the far side, or type B.")
    if kind is None:
        kind = "B" if kinked else "A"
    if kind == "B":
        nan = float("nan")
        return LineResult(float(m[-1] / root[-1]), nan, 0.0, nan, int(t.size), "B", warnings=tuple(warnings))
    line = linregress(root, m)
    return LineResult(
        float(line.slope),
        float(line.stderr),
        float(line.intercept),
        float(line.rvalue),
        int(t.size),
        "A",
        warnings=tuple(warnings),
    )


def c1585_absorption_m(gain_kg: Sequence[float] | Array | float, area_m2: float) -> Array:
    """Absorption I in m: mass gained per area and water density (ASTMC1585)."""
    require(area_m2, 1e-6, 10.0, "exposed area", "m2")
    return _column(gain_kg, -1e-6, 1e3, "mass gained", "kg") / (area_m2 * WATER_DENSITY_C1585)


def c1585_sorptivity(
    times_s: Sequence[float] | Array,
    gain_kg: Sequence[float] | Array,
    area_m2: float,
    stretch: Literal["initial", "secondary"] = "initial",
) -> LineResult:
    """Rate of water absorption in m/s^0.5 by ASTMC1585 (times 1000 for the mm of its report).

    Args:
        times_s: shape (n,), rising.
        gain_kg: mass gained, same shape.
        area_m2: exposed area.
        stretch: `initial` uses 1 min to 6 h, `secondary` 1 d to 7 d.

    Returns:
        The line; `accepted` is False, with a sentence, where its correlation is below 0.98.

    Raises:
        InputError: fewer than three readings in the stretch, or columns that do not match.
    """
    t, gain = _series(times_s, gain_kg, "mass gained", "kg")
    low, high = (60.0, 6 * 3600.0) if stretch == "initial" else (86400.0, 7 * 86400.0)
    use = (t >= low) & (t <= high)
    if int(use.sum()) < 3:
        words = "1 min and 6 h" if stretch == "initial" else "1 d and 7 d"
        raise InputError(f"fewer than three readings between {words}", "weigh at more times")
    line = linregress(np.sqrt(t[use]), c1585_absorption_m(gain[use], area_m2))
    r = float(line.rvalue)
    good = r >= MINIMUM_CORRELATION_C1585
    text = f"r = {r:.3f} is below 0.98: by ASTM C1585 this {stretch} rate cannot be determined."
    return LineResult(
        float(line.slope),
        float(line.stderr),
        float(line.intercept),
        r,
        int(use.sum()),
        stretch,
        good,
        () if good else (text,),
    )
