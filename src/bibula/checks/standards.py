"""The arithmetic of the absorption standards, on readings whose answer is known."""

from __future__ import annotations

import math

from bibula.checks.rows import CheckRow
from bibula.formulas import standards

_ARITHMETIC = "arithmetic, to rounding"


def rows() -> list[CheckRow]:
    """Typed values and constructed series."""
    return [*_paper_rows(), *_iso15148_rows(), *_c1585_rows()]


def _paper_rows() -> list[CheckRow]:
    full, small = standards.cobb(0.001, 0.001245), standards.cobb(0.001, 0.001245, area_m2=0.0025)
    drops = standards.drop_absorbency([8.0, 9.0, 10.0])
    formula = "ISO535, formula recomputed by hand"
    return [
        CheckRow("Cobb: 0.245 g on 100 cm2 [g/m2]", formula, "computed", full.mean, 24.5, 1e-9, _ARITHMETIC),
        CheckRow("Cobb: 0.245 g on 25 cm2 [g/m2]", formula, "computed", small.mean, 98.0, 1e-9, _ARITHMETIC),
        CheckRow(
            "Cobb of a blotter: warnings",
            "ISO535",
            "published",
            float(len(standards.cobb(0.001, 0.002, blotting_paper=True).warnings)),
            1.0,
            0.0,
            "the scope excludes it",
        ),
        CheckRow(
            "Cobb of 45 g/m2 paper: warnings",
            "ISO535",
            "published",
            float(len(standards.cobb(0.001, 0.002, grammage_g_m2=45.0).warnings)),
            1.0,
            0.0,
            "the scope excludes it",
        ),
        CheckRow(
            "Klemm: rise at 10 min over rise at 1 min",
            "ISO8787; Washburn's law by hand",
            "computed",
            standards.klemm_ratio(60.0, 600.0),
            3.1623,
            5e-5,
            "digits typed",
        ),
        CheckRow("Drop test: mean of 8, 9, 10 s [s]", "ASTMD824", "computed", drops.mean, 9.0, 1e-12, _ARITHMETIC),
        CheckRow(
            "Drop test: standard error of 8, 9, 10 s [s]",
            "by hand: 1/sqrt(3)",
            "computed",
            drops.standard_error,
            0.57735,
            1e-5,
            "digits typed",
        ),
    ]


def _iso15148_rows() -> list[CheckRow]:
    minutes = (5.0, 20.0, 60.0, 120.0, 240.0, 480.0, 1440.0)
    times = [60.0 * m for m in minutes]
    line = standards.absorption_coefficient(times, [0.04 + 0.012 * math.sqrt(t) for t in times])
    type_b = standards.absorption_coefficient(times, [0.5, 0.9, 1.5, 2.9, 2.95, 2.97, 3.0], kind="B")
    # by hand: roots 10, 20, 30 s^0.5 and uptakes 1.0, 1.9, 3.1 kg/m2: slope 2.1/20, scatter sum 0.015
    short = standards.absorption_coefficient([100.0, 400.0, 900.0], [1.0, 1.9, 3.1])
    source = "ISO15148, formula from memory, recomputed by hand"
    return [
        CheckRow(
            "ISO 15148 type A: A_w of a straight series", source, "computed", line.slope, 0.012, 1e-12, _ARITHMETIC
        ),
        CheckRow(
            "ISO 15148 type A: intercept is kept [kg/m2]", source, "computed", line.intercept, 0.04, 1e-10, _ARITHMETIC
        ),
        CheckRow(
            "ISO 15148: W_w of A_w 0.012 [kg/(m2 h^0.5)]",
            source,
            "computed",
            line.per_root_hour,
            0.72,
            1e-10,
            _ARITHMETIC,
        ),
        CheckRow(
            "ISO 15148 type B: 3 kg/m2 after a day",
            source,
            "computed",
            type_b.slope,
            3.0 / 293.9388,
            1e-8,
            "digits typed",
        ),
        CheckRow("ISO 15148: slope of three readings", source, "computed", short.slope, 0.105, 1e-12, _ARITHMETIC),
        CheckRow(
            "ISO 15148: its standard error, sqrt(0.015/200)",
            source,
            "computed",
            short.standard_error,
            0.00866025,
            1e-8,
            "digits typed",
        ),
    ]


def _c1585_rows() -> list[CheckRow]:
    area = math.pi * 0.05**2
    one = standards.c1585_absorption_m(0.007854, area)
    times = [60.0, 300.0, 600.0, 1200.0, 1800.0, 3600.0, 7200.0, 10800.0, 14400.0, 18000.0, 21600.0]
    times += [86400.0 * d for d in (1, 2, 3, 5, 6, 7)]
    early, late = 2.0e-5, 5.0e-6
    gain = [1000.0 * area * (early * math.sqrt(t) if t <= 21600.0 else 2e-3 + late * math.sqrt(t)) for t in times]
    initial = standards.c1585_sorptivity(times, gain, area)
    secondary = standards.c1585_sorptivity(times, gain, area, "secondary")
    bent = standards.c1585_sorptivity([60.0, 600.0, 3600.0, 21600.0], [0.0, 0.01, 0.01, 0.011], area)
    source = "ASTMC1585, formula from memory, recomputed by hand"
    return [
        CheckRow(
            "ASTM C1585: area of 100 mm diameter [mm2]", source, "computed", 1e6 * area, 7853.98, 5e-3, "digits typed"
        ),
        CheckRow(
            "ASTM C1585: I of 7.854 g on it [mm]", source, "computed", 1e3 * float(one[0]), 1.0, 5e-6, "digits typed"
        ),
        CheckRow(
            "ASTM C1585: initial rate, 1 min to 6 h [mm/s^0.5]",
            source,
            "computed",
            1e3 * initial.slope,
            0.02,
            1e-10,
            _ARITHMETIC,
        ),
        CheckRow(
            "ASTM C1585: readings in the initial stretch", source, "computed", float(initial.n), 11.0, 0.0, "a count"
        ),
        CheckRow(
            "ASTM C1585: secondary rate, 1 d to 7 d [mm/s^0.5]",
            source,
            "computed",
            1e3 * secondary.slope,
            0.005,
            1e-10,
            _ARITHMETIC,
        ),
        CheckRow(
            "ASTM C1585: a bent curve (r < 0.98) is accepted",
            source,
            "memory",
            float(bent.accepted),
            0.0,
            0.0,
            "the standard's limit",
        ),
    ]
