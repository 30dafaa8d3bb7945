"""What lies on the bench in a test: the piece, the sheet, and how well they were weighed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from bibula.evidence.bench_models import equilibrium_water
from bibula.quantities.errors import InputError, Place
from bibula.statistics.parameters import Scale

Array = NDArray[np.float64]
Values = Mapping[str, float]

LIGHTEST_KG_M3, HEAVIEST_KG_M3 = 10.0, 3000.0
"""Bulk densities outside these are a slip of unit: as the card's own range."""


@dataclass(frozen=True)
class Piece:
    """One piece of the material.

    Attributes:
        length_m, width_m, thickness_m: its size.
        mass_kg: its mass, dry or air-dry.
        mass_rh: humidity it was in balance with when so weighed (share of 1); 0 if `mass_kg` is its dry mass.
        length_u_m, thickness_u_m: standard uncertainty of length and width, and of the thickness.
    """

    length_m: float
    width_m: float
    thickness_m: float
    mass_kg: float
    mass_rh: float = 0.0
    length_u_m: float = 5e-4
    thickness_u_m: float = 1e-4

    @property
    def face_m2(self) -> float:
        """Area of one large face."""
        return self.length_m * self.width_m

    @property
    def volume_m3(self) -> float:
        """Bulk volume."""
        return self.face_m2 * self.thickness_m

    @property
    def edge_m2(self) -> float:
        """Area of the four edges together."""
        return 2.0 * (self.length_m + self.width_m) * self.thickness_m

    def dry_kg(self, values: Values) -> float:
        """Dry mass; from the air-dry mass by the material's isotherm where that was weighed."""
        if self.mass_rh <= 0.0:
            return self.mass_kg
        raw = self.mass_kg / self.volume_m3
        water = float(equilibrium_water(values, raw, np.array([self.mass_rh]), 0.0)[0])
        return self.mass_kg / (1.0 + water)

    def air_dry_kg(self, values: Values, rh: float) -> float:
        """Mass in balance with air at a humidity."""
        dry = self.dry_kg(values)
        return dry * (1.0 + float(equilibrium_water(values, dry / self.volume_m3, np.array([rh]), 0.0)[0]))

    def density(self, values: Values) -> float:
        """Dry bulk density, kg/m3."""
        return self.dry_kg(values) / self.volume_m3

    def check(self, place: Place) -> None:
        """Refuse a piece whose mass and size cannot belong together.

        Raises:
            InputError: with the density they would give.
        """
        if min(self.length_m, self.width_m, self.thickness_m, self.mass_kg) <= 0.0:
            raise InputError("the piece's sizes and mass must be above zero", "measure them again", place)
        density = self.mass_kg / self.volume_m3
        if not LIGHTEST_KG_M3 <= density <= HEAVIEST_KG_M3:
            what = f"a piece of {1e6 * self.volume_m3:.4g} cm3 that weighs {1e3 * self.mass_kg:.4g} g"
            raise InputError(f"{what} would have {density:.3g} kg/m3", "check the units of size and mass", place)


@dataclass(frozen=True)
class Sheet:
    """The test sheet of paper, of which a card is known.

    Attributes:
        name: of its card.
        values: all its card's values, SI.
        spreads: log standard uncertainty of those (standard uncertainty for a `normal` property).
        dry_kg: its dry mass (from its air-dry mass by its isotherm, if that was weighed).
        area_m2: of one face.
        thickness_m: measured, or from its mass and its card's density.
    """

    name: str
    values: Values
    spreads: Values
    dry_kg: float
    area_m2: float
    thickness_m: float

    @property
    def density(self) -> float:
        """Dry bulk density, kg/m3."""
        return self.dry_kg / (self.area_m2 * self.thickness_m)


@dataclass(frozen=True)
class WeighingError:
    """How far one weighing may lie off.

    Attributes:
        resolution_kg: last digit of the balance; taken as spread evenly over it, and twice (mass and tare).
        handling_kg_m2: standard deviation of what clings or drips from one weighing to the next, per wetted area.
        time_u_s: standard uncertainty of the time at which water was parted from the piece.
        pace_u: relative standard uncertainty of the pace between readings (a room that wavers), share of the time.
    """

    resolution_kg: float = 1e-5
    handling_kg_m2: float = 0.005
    time_u_s: float = 1.0
    pace_u: float = 0.0

    def sigma(self, wetted_m2: float, rate_kg_s: Array | float = 0.0, time_s: Array | float = 0.0) -> Array:
        """Standard uncertainty of masses: sqrt(sigma_m^2 + (dm/dt sigma_t)^2), kg."""
        mass2 = self.resolution_kg**2 / 6.0 + (self.handling_kg_m2 * wetted_m2) ** 2
        return np.asarray(np.sqrt(mass2 + (rate_kg_s * self.time_sigma(time_s)) ** 2))

    def time_sigma(self, time_s: Array | float) -> Array:
        """Standard uncertainty of times, s."""
        return np.asarray(np.hypot(self.time_u_s, self.pace_u * np.asarray(time_s)))


@dataclass(frozen=True)
class Nuisance:
    """A number a test needs that is no property of the material: where it is believed to lie, and how widely.

    spread: standard deviation, of the logarithm for scale `log`.
    """

    median: float
    spread: float
    meaning: str
    scale: Scale = "log"


@dataclass(frozen=True)
class Surroundings:
    """The numbers of one test that are not the material's.

    Attributes:
        surface_factor: multiplies the convective coefficient of the room.
        film_kg_m2: water that clings to a face lifted from the water.
        sheet: values of the test sheet that differ from its card.
    """

    surface_factor: float = 1.0
    film_kg_m2: float = 0.025
    sheet: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Origin:
    """The file a test was read from: for messages and for the record."""

    file: str = ""
    sha256: str = ""
