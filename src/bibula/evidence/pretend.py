"""Invented weighings: what the balance would show for a known material, with its errors.

For demonstrations, for judging a test before it is done, and for showing that a fit finds the truth.
Never a measurement; whoever shows it must say so.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from bibula.evidence.bench_base import SeriesTest
from bibula.evidence.bench_tests import AirDryingTest, ConditioningTest, ContactTest, SealedRestTest, UptakeTest
from bibula.evidence.pieces import Piece, Sheet, Surroundings, Values

Array = NDArray[np.float64]
S = TypeVar("S", bound=SeriesTest)

_RISING = 1e-3
"""Share by which the stand-in masses rise or fall before the invented ones take their place."""


def pretend_uptake(
    piece: Piece,
    time_s: Array,
    values: Values,
    surroundings: Surroundings,
    rng: np.random.Generator | None,
    name: str = "uptake",
) -> UptakeTest:
    """An uptake test with invented readings; `rng` None leaves out every error."""
    start = piece.air_dry_kg(values, 0.5)
    stand_in = np.asarray(start * (1.0 + _RISING * np.arange(len(time_s))), dtype=float)
    return _read(UptakeTest(name=name, piece=piece, time_s=time_s, mass_kg=stand_in), values, surroundings, rng)


def pretend_contact(
    piece: Piece, sheet: Sheet, start_kg: float, time_s: Array, values: Values, surroundings: Surroundings,
    rng: np.random.Generator | None, name: str = "contact", pressure_pa: float = 500.0,
) -> ContactTest:  # fmt: skip
    """A contact test with invented readings; the sheet starts at `start_kg`."""
    stand_in = np.asarray(start_kg * (1.0 - _RISING * np.arange(len(time_s))), dtype=float)
    test = ContactTest(name=name, piece=piece, sheet=sheet, pressure_pa=pressure_pa, time_s=time_s, mass_kg=stand_in)
    return _read(test, values, surroundings, rng)


def pretend_drying(
    piece: Piece, start_kg: float, time_s: Array, values: Values, surroundings: Surroundings,
    rng: np.random.Generator | None, name: str = "drying",
) -> AirDryingTest:  # fmt: skip
    """An air drying test with invented readings; the piece starts at `start_kg`."""
    stand_in = np.asarray(start_kg * (1.0 - 0.1 * _RISING * np.arange(len(time_s))), dtype=float)
    return _read(AirDryingTest(name=name, piece=piece, time_s=time_s, mass_kg=stand_in), values, surroundings, rng)


def _read(test: S, values: Values, surroundings: Surroundings, rng: np.random.Generator | None) -> S:
    """The readings of a series: each a little early or late, each with its own error of mass."""
    start = float(test.mass_kg[0])
    if rng is None:
        curve = test.reading_curve(values, surroundings, test.x)
        noise = np.zeros(len(test.x))
    else:
        late = test.error.time_sigma(test.x) * rng.standard_normal(len(test.x))
        curve = test.reading_curve(values, surroundings, np.maximum(test.x + late, 0.2 * test.x))
        sd = test.error.sigma(test.wetted_m2)
        noise = sd * rng.standard_normal(len(test.x))
    offset = start if isinstance(test, UptakeTest) else 0.0
    return replace(test, mass_kg=np.concatenate([[start], offset + curve + noise]))


def pretend_rest(
    piece: Piece, sheet: Sheet, water_kg: Array, values: Values, surroundings: Surroundings,
    rng: np.random.Generator | None, name: str = "sealed rest",
) -> SealedRestTest:  # fmt: skip
    """A sealed rest with invented readings, for each amount of water in sheet and piece together."""
    dry = piece.dry_kg(values)
    total = sheet.dry_kg + dry + np.asarray(water_kg)
    stand_in = np.full(len(total), sheet.dry_kg * 1.05)
    test = SealedRestTest(name=name, piece=piece, sheet=sheet, sheet_kg=stand_in, piece_kg=total - stand_in)
    wet = test.predict(values, surroundings)
    noise = np.zeros(len(wet)) if rng is None else test.sigma(values) * rng.standard_normal(len(wet))
    return replace(test, sheet_kg=wet + noise, piece_kg=total - wet)


def pretend_conditioning(
    piece: Piece, humidity: Array, values: Values, rng: np.random.Generator | None, name: str = "conditioning"
) -> ConditioningTest:
    """A conditioning test with invented readings."""
    stand_in = np.asarray(piece.dry_kg(values) * (1.0 + _RISING * np.arange(len(humidity))), dtype=float)
    test = ConditioningTest(name=name, piece=piece, humidity=humidity, mass_kg=stand_in)
    exact = test.predict(values)
    noise = np.zeros(len(exact)) if rng is None else test.sigma(values) * rng.standard_normal(len(exact))
    return replace(test, mass_kg=exact + noise)
