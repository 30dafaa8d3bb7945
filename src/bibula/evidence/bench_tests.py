"""The five tests of the bench: what was weighed and how; each predicts what the balance would show.

All are fitted together (cardfit). A test checks its own readings when it is made, and says in one
sentence what cannot be. Errors of single weighings are taken as independent of each other.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np
from numpy.typing import NDArray

from bibula.evidence import bench_models as models
from bibula.evidence.bench_base import BenchTest, SeriesTest
from bibula.evidence.pieces import Nuisance, Sheet, Surroundings, Values, WeighingError
from bibula.physics.stack import film_at, steady_weather
from bibula.physics.surroundings import CONVECTION_SPREAD, CONVECTION_W_M2K
from bibula.quantities.errors import InputError, Place

Array = NDArray[np.float64]

PORES = ("capacity_kg_m3", "median_suction_pa", "suction_spread", "gab_monolayer_kg_kg", "gab_c", "gab_k")
FLOW = (*PORES, "absorption_kg_m2s05")
FILM = Nuisance(0.02, 0.8, "water clinging to the wet face, kg/m2")
"""Prior of the film on a face lifted out of water. Assumed; a blotted face keeps a quarter of it."""
HUMIDITY_U = 0.01
"""Standard uncertainty of a humidity the user names, share of 1. Assumed."""
USUAL_ERRORS = {
    "uptake": WeighingError(),
    "contact": WeighingError(1e-5, 0.004, 2.0),
    "sealed rest": WeighingError(),
    "air drying": WeighingError(1e-5, 0.003, 15.0, 0.01),
    "conditioning": WeighingError(1e-5, 0.0, 0.0),
}
"""What is taken of the weighings of each test unless the user says otherwise. Assumed."""
SHEET_KEYS = ("absorption_kg_m2s05", "median_suction_pa", "contact_kg_m2spa")
SHEET_REST_KEYS = ("median_suction_pa", "suction_spread", "drying_suction_ratio")
FULLEST_KG_M3 = 1000.0
LATE_SHARE = 0.6
SOAKED_U = 0.04
"""How near to full a soaked and drained piece is, share of capacity. Assumed."""
OVERFULL_U = 0.01
"""How much above its capacity and films a piece may seem to start, share of capacity. Assumed."""


@dataclass(frozen=True, kw_only=True, eq=False)
class UptakeTest(SeriesTest):
    """A dry piece in contact with water by one face, weighed at intervals; compared: gain since the first reading, kg.

    Attributes:
        pose: `lying` (a large face in the water) or `standing` (on its short edge: the water climbs its length).
        area_m2: face in the water; None = from the piece.
        blotted: whether the wet face was blotted before each weighing.
    """

    kind: ClassVar[str] = "uptake"
    pose: Literal["lying", "standing"] = "lying"
    area_m2: float | None = None
    blotted: bool = False

    def __post_init__(self) -> None:
        super().__post_init__()
        gain = self.mass_kg - self.mass_kg[0]
        if gain.max() <= 0.0:
            what = "the dry piece is heavier than it is later, in the water"
            raise InputError(
                what, "check the order of the rows, and that the first is the dry mass", self.place("mass")
            )
        if gain[1:].min() <= 0.0:
            i = int(np.argmin(gain[1:])) + 1
            what = f"at {self.time_s[i]:g} s the piece is lighter than dry, by {-1e3 * gain[i]:.3g} g"
            raise InputError(what, "check that reading and the dry mass", self.place("mass"))
        self._check_start(float(self.mass_kg[0]), "the dry piece")
        full = float(gain.max()) / self.piece.volume_m3
        if full > FULLEST_KG_M3:
            what = f"the piece would hold {full:.4g} kg/m3, more than its own volume of water"
            raise InputError(what, "check its size and the unit of the masses", self.place("mass"))

    @property
    def wetted_m2(self) -> float:
        """The face in the water."""
        if self.area_m2 is not None:
            return self.area_m2
        return self.piece.face_m2 if self.pose == "lying" else self.piece.width_m * self.piece.thickness_m

    @property
    def depth_m(self) -> float:
        """How far the water can go behind the wet face."""
        return self.piece.volume_m3 / self.wetted_m2

    @property
    def reads(self) -> tuple[str, ...]:
        """As BenchTest.reads."""
        return FLOW

    @property
    def nuisances(self) -> dict[str, Nuisance]:
        """As BenchTest.nuisances."""
        share = 0.25 if self.blotted else 1.0
        return {"film_kg_m2": Nuisance(share * FILM.median, FILM.spread, FILM.meaning)}

    @property
    def late(self) -> bool:
        """The first reading found the piece more than half full: A_w is then hardly more than bounded from below."""
        return bool(self.observed[0] > LATE_SHARE * self.observed.max())

    @property
    def unfinished(self) -> bool:
        """Still gaining at the end: the capacity is then hardly more than bounded from below."""
        return bool(self.observed[-1] > 1.03 * self.observed[-2])

    @property
    def observed(self) -> Array:
        """Gain since the first reading, kg."""
        return np.asarray(self.mass_kg[1:] - self.mass_kg[0])

    def reading_curve(
        self, values: Values, surroundings: Surroundings, time_s: Array, detail: models.Detail = models.QUICK
    ) -> Array:
        """As SeriesTest.reading_curve."""
        density = self.piece.density(values)
        setting = models.UptakeSetting(density, self.depth_m, self.temperature_c, self.rh)
        gain = models.uptake_gain(values, setting, time_s, detail)
        return np.asarray(self.wetted_m2 * (gain + surroundings.film_kg_m2))


@dataclass(frozen=True, kw_only=True, eq=False)
class ContactTest(SeriesTest):
    """A wet test sheet between two pieces (or on one), taken out and weighed at intervals; compared: its mass, kg.

    Attributes:
        sheet: the test sheet; `mass_kg` are its masses.
        pressure_pa: on the sheet.
        both_faces: between two pieces; False = on one piece, under a sealing cover.
    """

    kind: ClassVar[str] = "contact"
    sheet: Sheet
    pressure_pa: float = 500.0
    both_faces: bool = True
    error: WeighingError = USUAL_ERRORS["contact"]

    def __post_init__(self) -> None:
        super().__post_init__()
        _check_sheet(self.mass_kg, self.sheet, self.place("mass"))
        if self.mass_kg[-1] > self.mass_kg[0]:
            what = "the sheet is heavier at the end than at the start"
            raise InputError(what, "check the order of the rows", self.place("mass"))

    @property
    def wetted_m2(self) -> float:
        """Both faces of the sheet."""
        return self.sheet.area_m2

    @property
    def reads(self) -> tuple[str, ...]:
        """As BenchTest.reads."""
        return (*FLOW, "contact_kg_m2spa", "contact_exponent", "bridge_suction_pa")

    @property
    def sheet_keys(self) -> tuple[str, ...]:
        """As BenchTest.sheet_keys."""
        return SHEET_KEYS

    @property
    def observed(self) -> Array:
        """Mass of the sheet after the first reading, kg."""
        return self.mass_kg[1:]

    def reading_curve(
        self, values: Values, surroundings: Surroundings, time_s: Array, detail: models.Detail = models.QUICK
    ) -> Array:
        """As SeriesTest.reading_curve."""
        sheet = self.sheet
        setting = models.ContactSetting(
            self.piece.density(values), self.piece.thickness_m, sheet.density, sheet.thickness_m,
            (float(self.mass_kg[0]) - sheet.dry_kg) / sheet.area_m2, self.pressure_pa, self.both_faces,
            self.temperature_c, self.rh,
        )  # fmt: skip
        left = models.contact_sheet(values, {**sheet.values, **surroundings.sheet}, setting, time_s, detail)
        return np.asarray(sheet.dry_kg + sheet.area_m2 * left)


def _check_sheet(mass_kg: Array, sheet: Sheet, place: Place) -> None:
    if float(mass_kg.min()) < 0.98 * sheet.dry_kg:
        what = f"the sheet weighs {1e3 * float(mass_kg.min()):.4g} g here and {1e3 * sheet.dry_kg:.4g} g when dry"
        raise InputError(what, "check the unit of the masses and the sheet's dry mass", place)
    if float(mass_kg[0]) > 12.0 * sheet.dry_kg:
        what = f"the sheet starts at {float(mass_kg[0]) / sheet.dry_kg:.3g} times its dry mass"
        raise InputError(what, "check the unit of the masses and the sheet's dry mass", place)


@dataclass(frozen=True, kw_only=True, eq=False)
class AirDryingTest(SeriesTest):
    """A wet piece drying in a known room; compared: its mass, kg.

    Attributes:
        both_faces: on a rack; False = on a sealing board.
        open_edges: whether its edges dry too (they are then counted as more face).
        air: `still`, `slow` or `fan`.
        soaked: it started full, drained: its first mass then tells the capacity too, to `SOAKED_U`.
        weather: rows of the room, as physics.stack.Boundary; None = `temperature_c` and `rh` throughout.
    """

    kind: ClassVar[str] = "air drying"
    both_faces: bool = True
    open_edges: bool = True
    air: str = "still"
    soaked: bool = False
    weather: Array | None = None
    error: WeighingError = USUAL_ERRORS["air drying"]

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.mass_kg[-1] >= self.mass_kg[0]:
            what = "the piece is not lighter at the end of its drying than at its start"
            raise InputError(what, "check the order of the rows", self.place("mass"))
        if self.mass_kg.min() < 0.9 * self.piece.mass_kg:
            lightest, dry = 1e3 * float(self.mass_kg.min()), 1e3 * self.piece.mass_kg
            what = f"the drying piece weighs {lightest:.4g} g, less than when dry ({dry:.4g} g)"
            raise InputError(what, "check the unit of the masses and which piece was used", self.place("mass"))
        full = (float(self.mass_kg[0]) - self.piece.mass_kg) / self.piece.volume_m3
        if full > 1.2 * FULLEST_KG_M3:
            what = f"the piece would start with {full:.4g} kg/m3, more than its own volume of water"
            raise InputError(what, "check its size and the unit of the masses", self.place("mass"))

    @property
    def wetted_m2(self) -> float:
        """The drying faces."""
        return (2.0 if self.both_faces else 1.0) * self.piece.face_m2

    @property
    def reads(self) -> tuple[str, ...]:
        """As BenchTest.reads."""
        return (*FLOW, "drying_suction_ratio", "drying_sorption_ratio", "vapour_resistance")

    @property
    def nuisances(self) -> dict[str, Nuisance]:
        """As BenchTest.nuisances."""
        return {"surface_factor": Nuisance(1.0, CONVECTION_SPREAD[self.air], "convection over that of such air")}

    def limits(self, values: Values) -> Array:
        """The start may not hold more than the capacity and two films; nor less, if it was soaked."""
        start = float(self.mass_kg[0]) - self.piece.dry_kg(values)
        full = values["capacity_kg_m3"] * self.piece.volume_m3
        films = 2.0 * self.piece.face_m2 * float(film_at(np.zeros(1))[0])
        over = max(start - full - films, 0.0) / (OVERFULL_U * full)
        return np.array([over, (start - full) / (SOAKED_U * full) if self.soaked else 0.0])

    @property
    def observed(self) -> Array:
        """Mass of the piece after the first reading, kg."""
        return self.mass_kg[1:]

    def reading_curve(
        self, values: Values, surroundings: Surroundings, time_s: Array, detail: models.Detail = models.QUICK
    ) -> Array:
        """As SeriesTest.reading_curve."""
        dry, face = self.piece.dry_kg(values), self.piece.face_m2
        rows = steady_weather(self.temperature_c, self.rh) if self.weather is None else self.weather
        share = 1.0 + (self.piece.edge_m2 / self.wetted_m2 if self.open_edges else 0.0)
        setting = models.DryingSetting(
            dry / self.piece.volume_m3, self.piece.thickness_m, (float(self.mass_kg[0]) - dry) / face,
            self.both_faces, share, CONVECTION_W_M2K[self.air] * surroundings.surface_factor, rows,
        )  # fmt: skip
        return np.asarray(dry + face * models.drying_water(values, setting, time_s, detail))


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
        _check_sheet(self.sheet_kg, self.sheet, self.place("sheet mass"))
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
