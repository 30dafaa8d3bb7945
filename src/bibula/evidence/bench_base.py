"""What every bench test shares: piece, room, error of weighing, and how a prediction is compared."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from bibula.evidence import bench_models as models
from bibula.evidence.bench_models import FINE, QUICK
from bibula.evidence.pieces import Nuisance, Origin, Piece, Sheet, Surroundings, Values, WeighingError
from bibula.quantities.errors import InputError, Place

Array = NDArray[np.float64]

PORES = ("capacity_kg_m3", "median_suction_pa", "suction_spread", "gab_monolayer_kg_kg", "gab_c", "gab_k")
USUAL_ERRORS = {
    "uptake": WeighingError(),
    "contact": WeighingError(1e-5, 0.004, 2.0),
    "sealed rest": WeighingError(),
    "air drying": WeighingError(1e-5, 0.003, 15.0, 0.01),
    "conditioning": WeighingError(1e-5, 0.0, 0.0),
}
"""What is taken of the weighings of each test unless the user says otherwise. Assumed."""
OFF_BY = 1.25
"""A first reading this many times heavier or lighter than the piece itself is another piece, or another unit."""


@dataclass(frozen=True, kw_only=True, eq=False)
class BenchTest:
    """What all tests share.

    Attributes:
        name: unique among the tests of a material.
        piece: the piece of the material.
        temperature_c, rh: of the room (share of 1).
        error: of the weighings.
        origin: the file the readings came from.
    """

    kind: ClassVar[str] = ""
    name: str
    piece: Piece
    temperature_c: float = 20.0
    rh: float = 0.5
    error: WeighingError = field(default_factory=WeighingError)
    origin: Origin = field(default_factory=Origin)

    def place(self, name: str | None = None) -> Place:
        """Where this test stands, for messages."""
        return Place(self.origin.file or None, field=name or self.name)

    @property
    def reads(self) -> tuple[str, ...]:
        """The card's values that matter to this test."""
        raise NotImplementedError

    @property
    def nuisances(self) -> dict[str, Nuisance]:
        """Fields of Surroundings to be fitted along, each with its prior."""
        return {}

    @property
    def sheet_keys(self) -> tuple[str, ...]:
        """Values of the test sheet to be fitted along."""
        return ()

    @property
    def x(self) -> Array:
        """What the readings are plotted against (time in s, or see the test)."""
        raise NotImplementedError

    @property
    def observed(self) -> Array:
        """What is compared with `predict`."""
        raise NotImplementedError

    def predict(self, values: Values, surroundings: Surroundings | None = None, *, fine: bool = False) -> Array:
        """The readings as the model gives them, in the units of `observed`.

        Args:
            values: every property of the card, SI.
            surroundings: the numbers that are not the material's; defaults if None.
            fine: on the full grid with tight tolerances, to judge the quick one.
        """
        raise NotImplementedError

    def sigma(self, values: Values, surroundings: Surroundings | None = None) -> Array:
        """Standard uncertainty of each reading; where the rate matters, at the model's rate for these values."""
        raise NotImplementedError

    def limits(self, values: Values) -> Array:
        """What cannot be, as standardised residuals: 0 where these values allow the readings at all."""
        del values
        return np.zeros(0)

    def residuals(self, values: Values, surroundings: Surroundings | None = None, sigma: Array | None = None) -> Array:
        """(observed - predicted) / sigma."""
        s = self.sigma(values, surroundings) if sigma is None else sigma
        return np.asarray((self.observed - self.predict(values, surroundings)) / s)


@dataclass(frozen=True, kw_only=True, eq=False)
class SeriesTest(BenchTest):
    """A test that is a series of weighings.

    Attributes:
        time_s: (n,) rising from 0.
        mass_kg: (n,) at those times; the first is the start.
    """

    time_s: Array
    mass_kg: Array

    def __post_init__(self) -> None:
        t, m = np.asarray(self.time_s, dtype=float), np.asarray(self.mass_kg, dtype=float)
        object.__setattr__(self, "time_s", t)
        object.__setattr__(self, "mass_kg", m)
        if t.shape != m.shape or t.ndim != 1 or len(t) < 3:
            raise InputError("a series needs three readings or more", "weigh more often", self.place())
        if not (np.isfinite(t).all() and np.isfinite(m).all()):
            raise InputError(
                "a time or mass of the series is no number", "correct or leave out the reading", self.place()
            )
        if t[0] != 0.0 or (np.diff(t) <= 0.0).any():
            what = "the times do not rise from 0, where the first mass was weighed"
            raise InputError(what, "put the readings in order of time and give no time twice", self.place("time"))

    @property
    def x(self) -> Array:
        """Times of the readings after the first, s."""
        return self.time_s[1:]

    def reading_curve(
        self, values: Values, surroundings: Surroundings, time_s: Array, detail: models.Detail = QUICK
    ) -> Array:
        """Predicted readings (units of `observed`) at any times above 0."""
        raise NotImplementedError

    @property
    def wetted_m2(self) -> float:
        """Area from which water drips or clings when the piece is taken to the balance."""
        raise NotImplementedError

    def predict(self, values: Values, surroundings: Surroundings | None = None, *, fine: bool = False) -> Array:
        """As BenchTest.predict, at the readings after the first."""
        return self.reading_curve(values, surroundings or Surroundings(), self.x, FINE if fine else QUICK)

    def sigma(self, values: Values, surroundings: Surroundings | None = None) -> Array:
        """As BenchTest.sigma: with the slope over the uncertainty of each time."""
        h = np.minimum(self.error.time_sigma(self.x), 0.5 * self.x) + 1e-6
        both = np.concatenate([self.x - h, self.x + h])
        curve = self.reading_curve(values, surroundings or Surroundings(), both, QUICK)
        n = len(self.x)
        return self.error.sigma(self.wetted_m2, (curve[n:] - curve[:n]) / (2.0 * h), self.x)

    def _check_start(self, mass_kg: float, thing: str) -> None:
        ratio = mass_kg / self.piece.mass_kg
        if not 1.0 / OFF_BY < ratio < OFF_BY:
            what = f"{thing} weighs {1e3 * mass_kg:.4g} g here and {1e3 * self.piece.mass_kg:.4g} g as described"
            raise InputError(what, "check the unit of the masses and which piece was used", self.place("mass"))


def check_sheet(mass_kg: Array, sheet: Sheet, place: Place) -> None:
    """Refuse masses that cannot be those of a wet sheet."""
    if float(mass_kg.min()) < 0.98 * sheet.dry_kg:
        what = f"the sheet weighs {1e3 * float(mass_kg.min()):.4g} g here and {1e3 * sheet.dry_kg:.4g} g when dry"
        raise InputError(what, "check the unit of the masses and the sheet's dry mass", place)
    if float(mass_kg[0]) > 12.0 * sheet.dry_kg:
        what = f"the sheet starts at {float(mass_kg[0]) / sheet.dry_kg:.3g} times its dry mass"
        raise InputError(what, "check the unit of the masses and the sheet's dry mass", place)
