"""Forward models of the bench tests: what a balance would show for a material with given numbers.

Each runs the physics of forecasts on a small stack, coarse and quick; `FINE` shows what that costs
in accuracy (tests/unit/evidence). All SI; water in kg/m2 of face unless said otherwise.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from bibula.formulas import moist_air
from bibula.physics.integrate import Tolerance
from bibula.physics.materials import S_GRID, SUCTION_SCALE_PA, U_GRID, MaterialTables
from bibula.physics.run import PieceState, run_stage
from bibula.physics.stack import (
    Boundary,
    Contact,
    Layer,
    Stack,
    film_at,
    steady_weather,
    water_at_suction,
    water_from_total,
)
from bibula.physics.surroundings import REFERENCE_TEMPERATURE_C, TABLE_W_M2K, build_material, contact, open_air

Array = NDArray[np.float64]
Values = Mapping[str, float]

WATER_CONTACT_KG_M2SPA = 1e-2
"""From standing water into a face lying in it: no resistance that a weighing could show. Assumed."""
WATER_CONTACT_W_M2K = 20.0
BEYOND_FULL = 1.3
"""An uptake is not integrated beyond this multiple of the time of a sharp front to the far end: the piece is full."""
FLAT_HEAD = 0.01
"""Gravity is left out, and the piece fills to the end, where its height is below this share of the median suction."""


@dataclass(frozen=True)
class Detail:
    """How finely a test is computed: grid intervals of piece and sheet, and the integrator's tolerance."""

    uptake: int
    drying: int
    piece: int
    sheet: int
    tolerance: Tolerance


QUICK = Detail(16, 12, 18, 8, Tolerance(1e-4, 1e-6, 0.03))
FINE = Detail(80, 60, 70, 40, Tolerance(1e-5, 1e-7, 1e-3))


def tables_of(values: Values, density_kg_m3: float, branch: float) -> MaterialTables:
    """Tables of a material at the density of the piece at hand."""
    return build_material(values, density_kg_m3, branch)


def room_suction(rh: float) -> float:
    """Suction in balance with room air, Pa (at the tables' reference temperature, as in forecasts)."""
    return float(moist_air.suction_pa(min(rh, 0.999), REFERENCE_TEMPERATURE_C))


def _outputs(time_s: Array, end_s: float) -> Array:
    """Distinct output times from 0: the readings up to the end, and the end itself."""
    inside = time_s[(time_s > 0.0) & (time_s < end_s)]
    return np.unique(np.concatenate(([0.0], inside, [end_s])))


def _at(time_s: Array, times: Array, curve: Array) -> Array:
    return np.asarray(np.interp(time_s, times, curve))


@dataclass(frozen=True)
class UptakeSetting:
    """A dry piece touching water with one face: depth behind that face, room at the start, times of readings."""

    density_kg_m3: float
    depth_m: float
    temperature_c: float
    rh: float


def uptake_gain(values: Values, setting: UptakeSetting, time_s: Array, detail: Detail = QUICK) -> Array:
    """Water gained at each time, kg/m2 of the face in the water, without the film that clings to it."""
    tables = tables_of(values, setting.density_kg_m3, 0.0)
    depth, t = setting.depth_m, setting.temperature_c
    start = room_suction(setting.rh)
    room = max(tables.capacity - tables.water_at(start), 1e-3) * depth
    flat = depth * moist_air.RHO_WATER * moist_air.GRAVITY < FLAT_HEAD * values["median_suction_pa"]
    sharp = (room / max(values["absorption_kg_m2s05"], 1e-9)) ** 2
    end = min(float(time_s.max()), BEYOND_FULL * sharp) if flat else float(time_s.max())
    layer = Layer("piece", tables, depth, detail.uptake, 0.0, True, False)
    weather = steady_weather(t, setting.rh)
    water = Boundary(weather, WATER_CONTACT_W_M2K, 0.0, WATER_CONTACT_KG_M2SPA, 0.0, t)
    stack = Stack((layer,), (), water, Boundary(weather, TABLE_W_M2K, 0.0), 0.0 if flat else 1.0)
    state = PieceState(water_at_suction(layer, start), np.full(layer.intervals + 1, t))
    times = _outputs(time_s, end)
    result = run_stage(stack, [state], times, detail.tolerance)
    held = result.layer_water("piece") - film_at(result.suction[:, 0])
    return _at(time_s, times, held - held[0])


@dataclass(frozen=True)
class ContactSetting:
    """A wet sheet in contact with the material: on both of its faces, or on one with the other sealed."""

    density_kg_m3: float
    thickness_m: float
    sheet_density_kg_m3: float
    sheet_thickness_m: float
    sheet_water_kg_m2: float
    pressure_pa: float
    both_faces: bool
    temperature_c: float
    rh: float


def contact_sheet(
    values: Values, sheet: Values, setting: ContactSetting, time_s: Array, detail: Detail = QUICK
) -> Array:
    """Water left in the sheet, films included, kg/m2 of sheet. A sheet between two pieces is run as one half of it."""
    halves = 2.0 if setting.both_faces else 1.0
    t = setting.temperature_c
    paper = Layer(
        "sheet",
        tables_of(sheet, setting.sheet_density_kg_m3, 1.0),
        setting.sheet_thickness_m / halves,
        detail.sheet,
        0.95,
        film_below=not setting.both_faces,
    )
    piece = Layer("piece", tables_of(values, setting.density_kg_m3, 0.0), setting.thickness_m, detail.piece, 0.95)
    joint: Contact = contact(sheet, values, setting.pressure_pa)
    weather = steady_weather(t, setting.rh)
    closed = Boundary(weather, 0.0 if setting.both_faces else TABLE_W_M2K, 0.0)
    stack = Stack((paper, piece), (joint,), closed, Boundary(weather, TABLE_W_M2K, 0.0), 0.0)
    wet = water_from_total(paper, setting.sheet_water_kg_m2 / halves)
    dry = water_at_suction(piece, room_suction(setting.rh))
    states = [PieceState(wet, np.full(len(wet), t)), PieceState(dry, np.full(len(dry), t))]
    times = _outputs(time_s, float(time_s.max()))
    result = run_stage(stack, states, times, detail.tolerance)
    return _at(time_s, times, halves * result.layer_water("sheet"))


@dataclass(frozen=True)
class DryingSetting:
    """A wet piece drying in room air from both faces or from one; `open_share` raises both for open edges.

    weather: rows as in physics.stack.Boundary.
    """

    density_kg_m3: float
    thickness_m: float
    start_kg_m2: float
    both_faces: bool
    open_share: float
    convection_w_m2k: float
    weather: Array


def drying_water(values: Values, setting: DryingSetting, time_s: Array, detail: Detail = QUICK) -> Array:
    """Water of the piece, films included, kg/m2 of one face. Drying from both faces is run as one half of it."""
    halves = 2.0 if setting.both_faces else 1.0
    layer = Layer(
        "piece",
        tables_of(values, setting.density_kg_m3, 1.0),
        setting.thickness_m / halves,
        detail.drying,
        0.5,
        film_below=not setting.both_faces,
    )
    rows = setting.weather.copy()
    rows[:, 3] *= setting.open_share
    closed = Boundary(rows, 0.0 if setting.both_faces else TABLE_W_M2K, 0.0)
    stack = Stack((layer,), (), closed, open_air(setting.convection_w_m2k, rows), 0.0)
    water = water_from_total(layer, setting.start_kg_m2 / halves)
    state = PieceState(water, np.full(len(water), float(rows[0, 1])))
    times = _outputs(time_s, float(time_s.max()))
    result = run_stage(stack, [state], times, detail.tolerance)
    return _at(time_s, times, halves * result.layer_water("piece"))


@dataclass(frozen=True)
class Body:
    """One of two things wrapped together: its tables, its volume, the area of its faces that carry a film."""

    tables: MaterialTables
    volume_m3: float
    film_area_m2: float

    def water_kg(self, suction_pa: float) -> float:
        """Water it holds at a suction, kg."""
        film = float(film_at(np.array([suction_pa]))[0])
        return self.volume_m3 * self.tables.water_at(suction_pa) + self.film_area_m2 * film


def shared_suction(sheet: Body, piece: Body, water_kg: float) -> float:
    """The one suction at which two bodies together hold this much water: the end of a sealed rest."""

    def excess(u: float) -> float:
        s = SUCTION_SCALE_PA * float(np.sinh(u))
        return sheet.water_kg(s) + piece.water_kg(s) - water_kg

    low, high = float(U_GRID[0]), float(U_GRID[-1])
    if excess(low) <= 0.0:
        return float(S_GRID[0])
    if excess(high) >= 0.0:
        return float(S_GRID[-1])
    return SUCTION_SCALE_PA * float(np.sinh(brentq(excess, low, high, xtol=1e-10)))


def equilibrium_water(values: Values, density_kg_m3: float, rh: Array, branch: float) -> Array:
    """Water in balance with air at each humidity (share of 1), kg per kg of dry material, on a branch."""
    still = dict(values)
    still["absorption_kg_m2s05"] = 0.0  # no flow is asked for: spares the scaling of the conductivity
    tables = tables_of(still, density_kg_m3, branch)
    return np.array([tables.water_at(room_suction(float(x))) / density_kg_m3 for x in np.atleast_1d(rh)])
