"""The two tests that end in a balance: sealed rest and conditioning. No time runs in them: algebra and one root."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from bibula.evidence import bench_models as models
from bibula.evidence.bench_base import PORES, USUAL_ERRORS, BenchTest, check_sheet
from bibula.evidence.pieces import Sheet, Surroundings, Values, WeighingError
from bibula.quantities.errors import InputError

Array = NDArray[np.float64]

HUMIDITY_U = 0.01
"""Standard uncertainty of a humidity the user names, share of 1. Assumed."""
SHEET_REST_KEYS = ("median_suction_pa", "suction_spread", "drying_suction_ratio")


@dataclass(frozen=True, kw_only=True, eq=False)
class SealedRestTest(BenchTest):
    """Wet sheet and material wrapped together overnight, both weighed after; compared: the sheet's mass, kg.

    What was lost on the way does not matter: the water shared is what both hold at the end.

    Attributes:
        sheet: the test sheet.
        sheet_kg, piece_kg: (n,) masses at the end of each rest; the material is all pieces together.
        pieces: number of pieces around the sheet (1 or 2), each as `piece`.
    """

    kind: ClassVar[str] = "sealed rest"
    sheet: Sheet
    sheet_kg: Array
    piece_kg: Array
    pieces: int = 1

    def __post_init__(self) -> None:
        for name in ("sheet_kg", "piece_kg"):
            object.__setattr__(self, name, np.atleast_1d(np.asarray(getattr(self, name), dtype=float)))
        if self.sheet_kg.shape != self.piece_kg.shape:
            raise InputError("sheet and material were not weighed equally often", "give both masses", self.place())
        check_sheet(self.sheet_kg, self.sheet, self.place("sheet mass"))
        if self.piece_kg.min() < 0.98 * self.pieces * self.piece.mass_kg:
            what = f"the material weighs {1e3 * self.piece_kg.min():.4g} g after the rest, less than before"
            raise InputError(what, "check the unit of the masses and the number of pieces", self.place("piece mass"))

    @property
    def reads(self) -> tuple[str, ...]:
        """As BenchTest.reads."""
        return PORES

    @property
    def sheet_keys(self) -> tuple[str, ...]:
        """As BenchTest.sheet_keys."""
        return SHEET_REST_KEYS

    @property
    def x(self) -> Array:
        """Water of sheet and material together, kg (with the masses as described)."""
        return self.sheet_kg - self.sheet.dry_kg + self.piece_kg - self.pieces * self.piece.mass_kg

    @property
    def observed(self) -> Array:
        """Mass of the sheet after the rest, kg."""
        return self.sheet_kg

    def predict(self, values: Values, surroundings: Surroundings | None = None, *, fine: bool = False) -> Array:
        """As BenchTest.predict: one suction for both, sheet on its drying branch, material on its wetting branch."""
        del fine  # an equilibrium: there is no grid
        dry, sheet = self.piece.dry_kg(values), self.sheet
        own = {**sheet.values, **(surroundings or Surroundings()).sheet}
        flowless = {"absorption_kg_m2s05": 0.0}
        paper = models.tables_of({**own, **flowless}, sheet.density, 1.0)
        stone = models.tables_of({**values, **flowless}, dry / self.piece.volume_m3, 0.0)
        a = models.Body(paper, sheet.area_m2 * sheet.thickness_m, 2.0 * sheet.area_m2)
        b = models.Body(stone, self.pieces * self.piece.volume_m3, 2.0 * self.pieces * self.piece.face_m2)
        total = self.sheet_kg - sheet.dry_kg + self.piece_kg - self.pieces * dry
        return np.array([sheet.dry_kg + a.water_kg(models.shared_suction(a, b, float(w))) for w in total])

    def sigma(self, values: Values, surroundings: Surroundings | None = None) -> Array:
        """As BenchTest.sigma."""
        del values, surroundings
        return np.broadcast_to(self.error.sigma(self.sheet.area_m2), self.sheet_kg.shape)


@dataclass(frozen=True, kw_only=True, eq=False)
class ConditioningTest(BenchTest):
    """One piece in balance with air at two humidities or more; compared: its mass, kg.

    Attributes:
        humidity: (n,) share of 1.
        mass_kg: (n,).
        falling: (n,) True where the humidity was reached from a moister one.
        humidity_u: standard uncertainty of a humidity.
    """

    kind: ClassVar[str] = "conditioning"
    humidity: Array
    mass_kg: Array
    falling: tuple[bool, ...] = ()
    humidity_u: float = HUMIDITY_U
    error: WeighingError = USUAL_ERRORS["conditioning"]

    def __post_init__(self) -> None:
        rh, m = np.asarray(self.humidity, dtype=float), np.asarray(self.mass_kg, dtype=float)
        object.__setattr__(self, "humidity", rh)
        object.__setattr__(self, "mass_kg", m)
        object.__setattr__(self, "falling", self.falling or (False,) * len(rh))
        if rh.shape != m.shape or rh.ndim != 1 or len(rh) < 1:
            raise InputError("every humidity needs its mass", "give both", self.place())
        if not ((rh >= 0.05) & (rh <= 0.98)).all():
            raise InputError(
                "the model knows humidities from 5 to 98 %", "leave the others out", self.place("humidity")
            )
        if m.min() < 0.9 * self.piece.mass_kg or m.max() > 1.6 * self.piece.mass_kg:
            span = f"{1e3 * float(m.min()):.4g} to {1e3 * float(m.max()):.4g} g"
            what = f"masses from {span} do not fit a piece of {1e3 * self.piece.mass_kg:.4g} g"
            raise InputError(what, "check the unit of the masses and which piece was used", self.place("mass"))
        up = [i for i in np.argsort(rh) if not self.falling[i]]
        if len(up) > 1 and float(m[up[-1]]) <= float(m[up[0]]) and float(rh[up[-1]] - rh[up[0]]) > 0.05:
            what = "the piece weighs no more in the moister air"
            raise InputError(what, "check the order of humidities and masses", self.place("mass"))

    @property
    def reads(self) -> tuple[str, ...]:
        """As BenchTest.reads."""
        return (*PORES, "drying_sorption_ratio") if any(self.falling) else PORES

    @property
    def x(self) -> Array:
        """The humidities, share of 1."""
        return self.humidity

    @property
    def observed(self) -> Array:
        """Mass at each humidity, kg."""
        return self.mass_kg

    def _at(self, values: Values, humidity: Array) -> Array:
        dry = self.piece.dry_kg(values)
        out = np.empty(len(humidity))
        for branch in (0.0, 1.0):
            use = np.array(self.falling) == bool(branch)
            if use.any():
                out[use] = models.equilibrium_water(values, dry / self.piece.volume_m3, humidity[use], branch)
        return np.asarray(dry * (1.0 + out))

    def predict(self, values: Values, surroundings: Surroundings | None = None, *, fine: bool = False) -> Array:
        """As BenchTest.predict: algebra only."""
        del surroundings, fine
        return self._at(values, self.humidity)

    def sigma(self, values: Values, surroundings: Surroundings | None = None) -> Array:
        """As BenchTest.sigma, with the uncertainty of each humidity on the isotherm's slope."""
        del surroundings
        h = min(self.humidity_u, 0.01) + 1e-6
        slope = (self._at(values, self.humidity + h) - self._at(values, self.humidity - h)) / (2.0 * h)
        weighing = self.error.sigma(2.0 * self.piece.face_m2)
        return np.asarray(np.hypot(weighing, slope * self.humidity_u))
