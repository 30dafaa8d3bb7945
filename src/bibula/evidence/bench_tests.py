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
from bibula.evidence.bench_base import PORES, USUAL_ERRORS, BenchTest, SeriesTest, check_sheet
from bibula.evidence.equilibrium_tests import ConditioningTest, SealedRestTest
from bibula.evidence.pieces import Nuisance, Sheet, Surroundings, Values, WeighingError
from bibula.physics.stack import film_at, steady_weather
from bibula.physics.surroundings import CONVECTION_SPREAD, CONVECTION_W_M2K
from bibula.quantities.errors import InputError

__all__ = [
    "AirDryingTest",
    "BenchTest",
    "ConditioningTest",
    "ContactTest",
    "SealedRestTest",
    "UptakeTest",
]

Array = NDArray[np.float64]

FLOW = (*PORES, "absorption_kg_m2s05")
FILM = Nuisance(0.025, 0.015, "water clinging to the wet face, kg/m2", "linear")
FILM_MOST_KG_M2 = 0.15
"""Prior of the film on a face lifted out of water. Assumed; a blotted face keeps a quarter of it."""
SHEET_KEYS = ("absorption_kg_m2s05", "median_suction_pa", "contact_kg_m2spa")
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
        full = (float(gain.max()) - FILM_MOST_KG_M2 * self.wetted_m2) / self.piece.volume_m3
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
        return {"film_kg_m2": Nuisance(share * FILM.median, share * FILM.spread, FILM.meaning, FILM.scale)}

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
        check_sheet(self.mass_kg, self.sheet, self.place("mass"))
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
