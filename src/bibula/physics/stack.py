"""A stack as the physics sees it: layers, contacts and boundaries, made into the kernel's arrays.

Grid: every layer has nodes on both its faces (half control volumes there), spaced closer towards
the faces. A contact joins the face nodes of two layers, so the face suctions are unknowns of their
own and the conductance of a contact does not depend on the grid. A face may carry a free film.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from bibula.formulas import moist_air
from bibula.physics import kernel
from bibula.physics.kernel import StackArrays
from bibula.physics.materials import (
    DS_DU,
    S_GRID,
    SUCTION_SCALE_PA,
    U_GRID,
    U_LOW,
    U_POINTS,
    MaterialTables,
    hermite,
)
from bibula.quantities.errors import ValidityError

Array = NDArray[np.float64]

FILM_SUCTION_PA, FILM_WIDTH_PA = 500.0, 100.0
FILM_SLOPE_KG_M2PA = 2e-4
"""A free film empties at about 500 Pa (menisci in a roughness of some 0.3 mm) and holds 0.1 kg/m2 at zero. Assumed."""

WETTEST_PA = -4500.0
"""Suction at which a film holds 1 kg/m2 (1 mm of water): more runs off before a stage begins. Assumed."""

ZERO_SUCTION = int(np.searchsorted(U_GRID, 0.0))
"""Index of the grid point at (just above) zero suction."""


@dataclass(frozen=True)
class Layer:
    """One layer, from the table up.

    Attributes:
        key: unique in a plan; a layer with the same key in the next stage is the same piece.
        tables: its material.
        thickness_m: thickness.
        intervals: number of grid intervals (nodes are one more).
        grading: 0 = even spacing, 1 = strongly closer towards both faces.
        film_below, film_above: whether its faces can carry a free film.
    """

    key: str
    tables: MaterialTables
    thickness_m: float
    intervals: int = 10
    grading: float = 0.9
    film_below: bool = True
    film_above: bool = True


@dataclass(frozen=True)
class Contact:
    """What passes between two layers.

    liquid_kg_m2spa: conductance for liquid; it fades as 1/(1 + (s/bridge)^2) with the suction.
    vapour_s_m: kg/(m2 s Pa) for vapour; heat_w_m2k: for heat.
    """

    liquid_kg_m2spa: float
    bridge_pa: float
    vapour_s_m: float
    heat_w_m2k: float


@dataclass(frozen=True)
class Boundary:
    """What lies below or above the stack.

    weather: rows of time s, temperature C, vapour pressure Pa, scale of both coefficients; shape (m, 4).
    heat_w_m2k: to the air's temperature (convection and radiation together).
    vapour_s_m: kg/(m2 s Pa) to the air's vapour pressure (0 = sealed).
    liquid_kg_m2spa: to a reservoir at `reservoir_pa` suction (0 = none) and `reservoir_c`.
    bridge_pa: fades the liquid conductance as in a contact (large = not at all).
    """

    weather: Array
    heat_w_m2k: float
    vapour_s_m: float
    liquid_kg_m2spa: float = 0.0
    reservoir_pa: float = 0.0
    reservoir_c: float = 20.0
    bridge_pa: float = 1e5


def steady_weather(temperature_c: float, relative_humidity: float) -> Array:
    """Weather rows of air that does not change."""
    pressure = relative_humidity * float(moist_air.saturation_pressure_pa(temperature_c))
    return np.array([[0.0, temperature_c, pressure, 1.0]])


@dataclass(frozen=True)
class Stack:
    """Layers from the table up, the contacts between them, and the two boundaries.

    temperature_zero_c is only the zero of the enthalpy scale; no result may depend on it.
    gravity: 1 = table at the bottom, 0 = none (a strip lying on its side).
    """

    layers: tuple[Layer, ...]
    contacts: tuple[Contact, ...]
    below: Boundary
    above: Boundary
    gravity: float = 1.0
    temperature_zero_c: float = 20.0
    arrays: StackArrays = field(init=False, repr=False, compare=False)
    slices: tuple[slice, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        if not self.layers:
            raise ValidityError("a stack needs at least one layer", "add the object")
        if len(self.contacts) != len(self.layers) - 1:
            raise ValidityError("a stack needs one contact between every two layers")
        starts = np.cumsum([0] + [layer.intervals + 1 for layer in self.layers])
        object.__setattr__(self, "slices", tuple(slice(int(a), int(b)) for a, b in pairwise(starts)))
        object.__setattr__(self, "arrays", _assemble(self))

    @property
    def nodes(self) -> int:
        """Number of grid nodes."""
        return int(self.slices[-1].stop)

    def layer_slice(self, key: str) -> slice:
        """The nodes of one layer."""
        for layer, where in zip(self.layers, self.slices, strict=True):
            if layer.key == key:
                return where
        raise KeyError(key)


@lru_cache(maxsize=256)
def node_positions(thickness_m: float, intervals: int, grading: float) -> Array:
    """Node positions from the lower face up, shape (intervals + 1,)."""
    x = np.linspace(0.0, 1.0, intervals + 1)
    graded = 0.5 * (1.0 - np.cos(np.pi * x))
    z = thickness_m * ((1.0 - grading) * x + grading * graded)
    z.flags.writeable = False
    return z


def control_volumes(z: Array) -> Array:
    """Thickness of each node's control volume; they sum to the layer's thickness."""
    edges = np.concatenate(([z[0]], 0.5 * (z[1:] + z[:-1]), [z[-1]]))
    return np.diff(edges)


_SOFT = np.logaddexp(0.0, (FILM_SUCTION_PA - S_GRID) / FILM_WIDTH_PA)
FILM_TABLE: Array = FILM_SLOPE_KG_M2PA * FILM_WIDTH_PA * _SOFT
_SHARE = 1.0 / (1.0 + np.exp(np.clip(-(FILM_SUCTION_PA - S_GRID) / FILM_WIDTH_PA, -700, 700)))
FILM_TABLE_SLOPE: Array = -FILM_SLOPE_KG_M2PA * _SHARE * DS_DU


def film_at(suction_pa: Array) -> Array:
    """Water of a free film on one face, kg/m2, at a suction."""
    return FILM_SLOPE_KG_M2PA * FILM_WIDTH_PA * np.logaddexp(0.0, (FILM_SUCTION_PA - suction_pa) / FILM_WIDTH_PA)


@lru_cache(maxsize=1)
def _saturation() -> Array:
    return kernel.saturation_table(0, 100)


def layer_tables(layer: Layer) -> tuple[Array, Array]:
    """Water in kg/m2 at every node and grid suction, and d water / du; shapes (intervals + 1, U_POINTS)."""
    volumes = control_volumes(node_positions(layer.thickness_m, layer.intervals, layer.grading))
    water = volumes[:, None] * layer.tables.water[None, :]
    slope = volumes[:, None] * layer.tables.water_slope[None, :]
    if layer.film_below:
        water[0] += FILM_TABLE
        slope[0] += FILM_TABLE_SLOPE
    if layer.film_above:
        water[-1] += FILM_TABLE
        slope[-1] += FILM_TABLE_SLOPE
    return water, slope


def monotone_inverse_slope(water: Array, slope: Array) -> Array:
    """du/dw at the grid for the inverse table, limited so that the cubic stays monotone."""
    step = U_GRID[1] - U_GRID[0]
    secant = step / np.diff(water, axis=1)  # negative
    inverse = 1.0 / slope
    left = np.concatenate([secant[:, :1], secant], axis=1)
    right = np.concatenate([secant, secant[:, -1:]], axis=1)
    limit = 3.0 * np.maximum(left, right)  # the smaller magnitude of the two, negative
    return np.asarray(np.maximum(inverse, limit))


def _assemble(stack: Stack) -> StackArrays:
    tables = [layer_tables(layer) for layer in stack.layers]
    water = np.vstack([t[0] for t in tables])
    n = water.shape[0]
    u_slope = monotone_inverse_slope(water, np.vstack([t[1] for t in tables]))
    materials = [layer.tables for layer in stack.layers]
    index = np.concatenate([np.full(layer.intervals + 1, i) for i, layer in enumerate(stack.layers)])
    capacity, face = _faces(stack, n)
    size = 2 * n + 4
    work = np.ones((3, size))
    scale = water[:, ZERO_SUCTION]
    # near saturation 1e-7 of the water would already be tens of Pa, and Newton would not settle
    work[kernel.W_INCREMENT, 2:-2:2] = 1e-10 * np.maximum(scale, 1e-6)
    work[kernel.W_INCREMENT, 3:-2:2] = 1e-5 * capacity
    return StackArrays(
        water_table=np.ascontiguousarray(water),
        u_slope=np.ascontiguousarray(u_slope),
        hint=np.full(n, U_POINTS // 2, dtype=np.int64),
        material=index.astype(np.int64),
        heat_capacity=capacity,
        tables=np.array([_columns(m) for m in materials]),
        face=face,
        boundary=np.array([_boundary(stack.below), _boundary(stack.above)]),
        below_weather=np.ascontiguousarray(stack.below.weather, dtype=float),
        above_weather=np.ascontiguousarray(stack.above.weather, dtype=float),
        saturation=_saturation(),
        constants=np.array(
            [
                U_LOW,
                U_GRID[1] - U_GRID[0],
                SUCTION_SCALE_PA,
                moist_air.RHO_WATER * moist_air.R_V,
                stack.temperature_zero_c,
            ]
        ),
        state=np.zeros((n, 7)),
        air=np.zeros(3),
        work=work,
        base=np.zeros((n, 7)),
    )


def _columns(m: MaterialTables) -> Array:
    step = U_GRID[1] - U_GRID[0]
    pairs = [(m.potential, -m.conductivity * DS_DU)]
    pairs += [(column, np.gradient(column, step)) for column in (m.conductivity, m.vapour, m.heat)]
    return np.column_stack([part for pair in pairs for part in pair])


def _faces(stack: Stack, n: int) -> tuple[Array, Array]:
    capacity = np.zeros(n)
    face = np.zeros((max(n - 1, 1), 7))
    for i, (layer, where) in enumerate(zip(stack.layers, stack.slices, strict=True)):
        z = node_positions(layer.thickness_m, layer.intervals, layer.grading)
        capacity[where] = control_volumes(z) * layer.tables.heat_capacity
        inner = slice(where.start, where.stop - 1)
        face[inner, kernel.F_INVERSE_DZ] = 1.0 / np.diff(z)
        face[inner, kernel.F_GRAVITY] = stack.gravity * moist_air.RHO_WATER * moist_air.GRAVITY
        if i + 1 < len(stack.layers):
            joint = stack.contacts[i]
            at = where.stop - 1
            face[at, kernel.F_CONTACT] = 1.0
            face[at, kernel.F_LIQUID] = joint.liquid_kg_m2spa
            face[at, kernel.F_BRIDGE] = joint.bridge_pa
            face[at, kernel.F_VAPOUR] = joint.vapour_s_m
            face[at, kernel.F_HEAT] = joint.heat_w_m2k
    return capacity, face


def _boundary(b: Boundary) -> Array:
    return np.array([b.heat_w_m2k, b.vapour_s_m, b.liquid_kg_m2spa, b.reservoir_pa, b.bridge_pa, b.reservoir_c])


def state_vector(stack: Stack, water_kg_m2: Sequence[Array], temperature_c: Sequence[Array]) -> Array:
    """The unknowns at the start from each layer's nodal water (kg/m2) and temperature (C)."""
    n = stack.nodes
    y = np.zeros(2 * n + 4)
    water, temperature = np.concatenate(water_kg_m2), np.concatenate(temperature_c)
    y[2:-2:2] = water
    y[3:-2:2] = (stack.arrays.heat_capacity + kernel.WATER_HEAT_J_KGK * water) * (
        temperature - stack.temperature_zero_c
    )
    return y


def water_at_suction(layer: Layer, suction_pa: float) -> Array:
    """Nodal water (kg/m2) of a layer in equilibrium at one suction; shape (intervals + 1,)."""
    volumes = control_volumes(node_positions(layer.thickness_m, layer.intervals, layer.grading))
    water = volumes * layer.tables.water_at(suction_pa)
    film = float(film_at(np.array([suction_pa]))[0])
    water[0] += film if layer.film_below else 0.0
    water[-1] += film if layer.film_above else 0.0
    return water


def water_from_total(layer: Layer, total_kg_m2: float) -> Array:
    """Nodal water of a layer in internal equilibrium that holds `total_kg_m2`, films included.

    Raises:
        ValidityError: a total that is negative, or more than the layer and its films can carry.
    """
    water_rows, slope_rows = layer_tables(layer)
    total, slope = water_rows.sum(axis=0), slope_rows.sum(axis=0)  # falls along the grid
    most = hermite(U_GRID, total, slope, float(np.arcsinh(WETTEST_PA / SUCTION_SCALE_PA)))
    if not total[-1] <= total_kg_m2 <= most or total_kg_m2 <= 0.0:
        raise ValidityError(
            f"layer '{layer.key}' cannot hold {1000 * total_kg_m2:.4g} g/m2 of water",
            "check its capacity, thickness and starting water",
        )

    k = int(np.clip(np.searchsorted(-total, -total_kg_m2) - 1, 0, U_POINTS - 2))
    low, high = float(U_GRID[k]), float(U_GRID[k + 1])
    for _ in range(28):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if hermite(U_GRID, total, slope, middle, k) > total_kg_m2 else (low, middle)
    water = water_at_suction(layer, SUCTION_SCALE_PA * float(np.sinh(0.5 * (low + high))))
    return np.asarray(water * (total_kg_m2 / water.sum()))
