"""Moisture content, drying-curve forms and filling curves against typed, certified and integrated values."""

from __future__ import annotations

import math

import numpy as np
from scipy.integrate import quad

from bibula.checks.nist import SOURCE, read_reference
from bibula.checks.rows import CheckRow
from bibula.evidence.moisture_content import moisture_content
from bibula.evidence.saturation import saturation
from bibula.formulas import drying_curves

_COMPUTED = "by hand from the definition, computed independently"
_DIGITS = "digits typed"


def rows() -> list[CheckRow]:
    """Typed values."""
    return [*_moisture_rows(), *_form_rows(), *_period_rows(), *_filling_rows()]


def _moisture_rows() -> list[CheckRow]:
    """1.0832 g wet, 1.0241 g dry, 0.2 mg per weighing."""
    dry = moisture_content(1.0832e-3, 1.0241e-3, 2e-7)
    wet = moisture_content(1.0832e-3, 1.0241e-3, 2e-7, "wet")
    return [
        CheckRow("Moisture content, dry basis [%]", _COMPUTED, "computed", 100 * dry.value, 5.7709, 5e-5, _DIGITS),
        CheckRow("Moisture content, wet basis [%]", _COMPUTED, "computed", 100 * wet.value, 5.4561, 5e-5, _DIGITS),
        CheckRow("Its standard uncertainty, dry basis [%]", _COMPUTED, "computed", 100 * dry.u, 0.0284, 5e-5, _DIGITS),
    ]


def _form_rows() -> list[CheckRow]:
    k, t = 2.5e-4, 3600.0
    t90 = math.log(10.0) / k
    typed = [
        ("Lewis: ratio left at t90 = ln 10 / k", drying_curves.lewis(t90, k), 0.1, 1e-12),
        ("Page: k 0.01, n 1.2, t 100 s", drying_curves.page(100.0, 0.01, 1.2), 0.0811151, 1e-7),
        ("Henderson-Pabis: a 0.95, k 2.5e-4, t 3600 s", drying_curves.henderson_pabis(t, 0.95, k), 0.38624117, 1e-8),
        ("Midilli: with a 0.95, b -1e-5", drying_curves.midilli(100.0, 0.95, 0.01, 1.2, -1e-5), 0.0760593, 1e-7),
        ("Two-term: 0.6, 1e-3, 0.4, 1e-4, t 3600 s", drying_curves.two_term(t, 0.6, 1e-3, 0.4, 1e-4), 0.29546476, 1e-8),
    ]  # fmt: skip
    return [
        CheckRow(f"Drying curve, {name}", _COMPUTED, "computed", ours, theirs, tolerance, _DIGITS)
        for name, ours, theirs, tolerance in typed
    ]


def _period_rows() -> list[CheckRow]:
    """Time from X = 2.0 to 0.1 at 1e-4 /s down to 0.8, end 0.07; the second road integrates 1/rate."""
    start, critical, end, rate, target = 2.0, 0.8, 0.07, 1e-4, 0.1

    def slowness(x: float) -> float:
        return 1.0 / (rate * min(1.0, (x - end) / (critical - end)))

    integrated = quad(slowness, target, critical)[0] + quad(slowness, critical, start)[0]
    ours = drying_curves.time_constant_then_falling_s(target, start, critical, end, rate)
    back = drying_curves.constant_then_falling(integrated, start, critical, end, rate)
    said = "numerical integration of 1/rate, computed independently"
    why = "the integration's own error is far smaller"
    return [
        CheckRow("Constant then falling rate: drying time [s]", said, "computed", ours, integrated, 1e-3, why),
        CheckRow("Constant then falling rate: water at that time", said, "computed", back, target, 1e-8, why),
    ]


def _filling_rows() -> list[CheckRow]:
    """First-order filling is the model of two certified sets: capacity b1, half-time ln 2 / b2."""
    out = []
    for name in ("Misra1a", "BoxBOD"):
        data = read_reference(name)
        (b1, b2), (u1, u2) = data.values, data.deviations
        time, gain = np.concatenate([[0.0], data.x]), np.concatenate([[0.0], data.y])
        found = saturation(time, gain, 1.0, exponent=1.0, profile=False)
        half = math.log(2.0) / b2
        pairs = [
            ("capacity is b1", found.capacity.value, b1),
            ("standard error of the capacity", found.capacity.u, u1),
            ("half-time is ln 2 / b2", found.half_time.value, half),
            ("standard error of the half-time", found.half_time.u, half * u2 / b2),
        ]
        why = "six digits; fitted in logs from our own start, so nothing is copied from the certified road"
        out += [
            CheckRow(
                f"Filling curve on NIST {name}: {what}", SOURCE, "published", ours, theirs, 1e-6, why, relative=True
            )
            for what, ours, theirs in pairs
        ]
    return out
