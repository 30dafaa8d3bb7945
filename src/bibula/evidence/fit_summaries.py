"""Beside a fitted card: the plain numbers of the standards, and what the reader of the fit must be told."""

from __future__ import annotations

import contextlib
from collections.abc import Sequence

from bibula.evidence.bench_base import BenchTest
from bibula.evidence.bench_tests import AirDryingTest, ConditioningTest, ContactTest, SealedRestTest, UptakeTest
from bibula.evidence.fit_parameters import Material, Parameters
from bibula.evidence.saturation import saturation
from bibula.evidence.summaries import Summary, absorption_coefficient, initial_rate
from bibula.quantities.errors import InputError
from bibula.statistics.parameters import FitResult

FREE_SHARE = 0.85
"""The line for A_w uses readings up to this share of the largest gain: later the far end is felt."""
WIDEST = 0.2
"""A standard uncertainty above this share of the value is remarked upon."""


def summaries_of(tests: Sequence[BenchTest]) -> tuple[Summary, ...]:
    """A_w by ISO 15148, capacity, half-time and initial rate of every uptake; initial loss of every drying.

    What too few readings cannot give is left out.
    """
    out: list[Summary] = []
    for test in tests:
        if isinstance(test, UptakeTest):
            out += _uptake(test)
        elif isinstance(test, AirDryingTest):
            try:
                out.append(initial_rate(test.time_s, test.mass_kg, test.wetted_m2))
            except InputError:
                continue
    return tuple(out)


def _uptake(test: UptakeTest) -> list[Summary]:
    t, m, area = test.time_s, test.mass_kg, test.wetted_m2
    gain = test.observed
    free = [float(x) for x, g in zip(test.x, gain, strict=True) if g < FREE_SHARE * gain.max()]
    out: list[Summary] = []
    with contextlib.suppress(InputError):
        out.append(absorption_coefficient(t, m, area, end_s=free[-1] if free else None))
    if not test.late:  # a curve that is flat from its first reading has no half-time
        with contextlib.suppress(InputError):
            filled = saturation(t, m, area, profile=False)
            out += [filled.capacity, filled.half_time]
    with contextlib.suppress(InputError):
        out.append(initial_rate(t, m, area))
    return out


def fit_warnings(
    material: Material, tests: Sequence[BenchTest], result: FitResult, parameters: Parameters, scale: float
) -> tuple[str, ...]:
    """Plain sentences: of the fit itself, of readings that scatter, of what these tests cannot say."""
    out = list(result.warnings)
    if scale > 1.0:
        out.append(
            f"The readings lie {scale:.1f} times further from the model than their stated errors: the uncertainties "
            "were widened by that factor. Look at the residuals for a wrong reading, size or room."
        )
    for test in tests:
        if isinstance(test, UptakeTest):
            gain = test.observed
            if test.late:
                out.append(
                    f"{test.name}: the first reading already holds {100 * float(gain[0] / gain.max()):.0f} % of the "
                    "last. Weigh sooner, or stand a longer piece on its edge."
                )
            if test.unfinished:
                out.append(f"{test.name}: the piece was still gaining at the end: weigh until it gains no more.")
    kinds = {type(test) for test in tests}
    if UptakeTest not in kinds and "absorption_kg_m2s05" in parameters.keys:
        out.append("No uptake test: A_w rests on the other tests and on the prior of the kind.")
    missing = {
        ContactTest: "the contact with paper",
        SealedRestTest: "the suction against paper's",
        AirDryingTest: "how it dries in the room",
        ConditioningTest: "the sorption isotherm",
    }
    absent = [what for kind, what in missing.items() if kind not in kinds]
    if absent:
        out.append("No test tells of " + ", ".join(absent) + ": these keep what is assumed of the kind.")
    for key in ("capacity_kg_m3", "absorption_kg_m2s05"):
        if key in parameters.keys and result.log_standard_errors[result.index(key)] > WIDEST:
            share = 100 * float(result.log_standard_errors[result.index(key)])
            out.append(f"{key} is known to {share:.0f} % only.")
    if material.piece.mass_rh > 0.0 and ConditioningTest not in kinds:
        out.append("The dry mass comes from the air-dry mass and an assumed isotherm.")
    return tuple(out)
