"""What the solver checks share: test materials, columns of layers, ideal boundaries."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bibula.cards.model import Kind
from bibula.cards.priors import class_priors
from bibula.formulas.moist_air import KELVIN, R_V, RHO_WATER, saturation_pressure_pa, suction_pa
from bibula.physics.integrate import Tolerance
from bibula.physics.materials import MaterialTables, PoreMaterial, function_material
from bibula.physics.run import PieceState, StageResult
from bibula.physics.stack import (
    Boundary,
    Contact,
    Layer,
    Stack,
    control_volumes,
    node_positions,
    steady_weather,
    water_at_suction,
)

Array = NDArray[np.float64]

TIGHT = Tolerance(1e-6, 1e-8, 1e-4)
"""So tight that what is left of the difference is the grid's."""
PERFECT = Contact(liquid_kg_m2spa=1e-2, bridge_pa=1e14, vapour_s_m=1e-2, heat_w_m2k=1e8)
"""A joint that resists nothing: a layer cut in two stays one layer."""
KELVIN_20_PA = RHO_WATER * R_V * (20.0 + KELVIN)
"""Suction at which the humidity is 1/e, at 20 C."""
ISOTHERMAL_W_MK = 1e3
"""A thermal conductivity so high that a layer has one temperature."""


def sealed() -> Boundary:
    """Nothing passes, neither water nor heat."""
    return Boundary(steady_weather(20.0, 0.5), 0.0, 0.0)


def air(temperature_c: float, relative_humidity: float, heat_w_m2k: float, vapour_s_m: float) -> Boundary:
    """Steady air with given coefficients."""
    return Boundary(steady_weather(temperature_c, relative_humidity), heat_w_m2k, vapour_s_m)


def held_suction(suction: float, conductance_kg_m2spa: float = 1e-1) -> Boundary:
    """The face node is held at a suction in Pa and at 20 C."""
    return Boundary(steady_weather(20.0, 0.5), 1e6, 0.0, conductance_kg_m2spa, suction, 20.0, 1e14)


def linear_vapour_material(water_at_saturation: float, permeability_s: float) -> MaterialTables:
    """Water proportional to humidity at 20 C, vapour only, one temperature: linear diffusion, exactly.

    D = permeability p_sat(20 C) / water_at_saturation.
    """

    def water(s: Array) -> Array:
        return water_at_saturation * np.exp(-np.maximum(s, -0.5 * KELVIN_20_PA) / KELVIN_20_PA) + 1e-9 * (
            -0.5 * KELVIN_20_PA - np.minimum(s, -0.5 * KELVIN_20_PA)
        )

    return function_material(
        water,
        np.zeros_like,
        lambda s: np.full_like(s, permeability_s),
        lambda s: np.full_like(s, ISOTHERMAL_W_MK),
        1e6,
    )


def linear_vapour_diffusivity(water_at_saturation: float, permeability_s: float) -> float:
    """The diffusivity of that material, m2/s."""
    return permeability_s * float(saturation_pressure_pa(20.0)) / water_at_saturation


def liquid_material(water: Callable[[Array], Array], conductivity: Callable[[Array], Array]) -> MaterialTables:
    """Liquid only, one temperature, from functions of suction 0 or more; wetter than full the water rises on."""
    rise = float(water(np.zeros(1))[0] - water(np.ones(1))[0])

    def extended(s: Array) -> Array:
        return water(np.maximum(s, 0.0)) - max(rise, 1e-4) * np.minimum(s, 0.0)

    return function_material(
        extended,
        lambda s: conductivity(np.maximum(s, 0.0)),
        lambda s: np.full_like(s, 1e-30),
        lambda s: np.full_like(s, ISOTHERMAL_W_MK),
        1e6,
    )


def prior_material(kind: Kind, **changes: float) -> PoreMaterial:
    """The pore model with the medians of a class's priors (all assumed), some of them changed."""
    fields = PoreMaterial.__dataclass_fields__
    values = {key: prior.median for key, prior in class_priors(kind).items() if key in fields}
    return PoreMaterial(**{**values, **changes})


def column(key: str, tables: MaterialTables, parts: Sequence[tuple[float, int, float]]) -> list[Layer]:
    """One material cut into layers of (thickness m, intervals, grading), without films."""
    return [
        Layer(f"{key}{i}", tables, thickness, intervals, grading, film_below=False, film_above=False)
        for i, (thickness, intervals, grading) in enumerate(parts)
    ]


def one_layer(
    tables: MaterialTables,
    thickness_m: float,
    intervals: int,
    below: Boundary,
    above: Boundary,
    gravity: float = 0.0,
    grading: float = 0.9,
    zero_c: float = 20.0,
) -> Stack:
    """A stack of one layer without films."""
    layer = column("layer", tables, [(thickness_m, intervals, grading)])
    return Stack(tuple(layer), (), below, above, gravity, zero_c)


def joined(layers: Sequence[Layer], below: Boundary, above: Boundary, gravity: float = 0.0) -> Stack:
    """Layers with perfect joints."""
    return Stack(tuple(layers), (PERFECT,) * (len(layers) - 1), below, above, gravity)


def at_suction(stack: Stack, suction: float, temperature_c: float = 20.0) -> list[PieceState]:
    """Every layer at one suction in Pa and one temperature."""
    return [
        PieceState(water_at_suction(layer, suction), np.full(layer.intervals + 1, temperature_c))
        for layer in stack.layers
    ]


def at_humidity(stack: Stack, relative_humidity: float, temperature_c: float = 20.0) -> list[PieceState]:
    """Every layer in balance with one humidity and temperature."""
    return at_suction(stack, float(suction_pa(relative_humidity, temperature_c)), temperature_c)


@dataclass(frozen=True)
class Profile:
    """One field through the stack at one time; `at` interpolates smoothly between nodes.

    depth_m: from the lowest face up, strictly rising (of two nodes at a joint the lower is kept).
    """

    depth_m: Array
    water_kg_m3: Array
    temperature_c: Array
    suction_pa: Array

    def at(self, name: str, depth_m: Array) -> Array:
        """Values of a field at depths, by monotone cubics."""
        from scipy.interpolate import PchipInterpolator

        return np.asarray(PchipInterpolator(self.depth_m, getattr(self, name))(depth_m), dtype=float)


def profile(result: StageResult, row: int = -1) -> Profile:
    """The fields of one output time over depth."""
    depths, volumes, start = [], [], 0.0
    for layer in result.stack.layers:
        z = node_positions(layer.thickness_m, layer.intervals, layer.grading)
        depths.append(z + start)
        volumes.append(control_volumes(z))
        start += layer.thickness_m
    z = np.concatenate(depths)
    keep = np.append(True, np.diff(z) > 1e-12)
    water = result.water[row] / np.concatenate(volumes)
    return Profile(z[keep], water[keep], result.temperature[row][keep], result.suction[row][keep])
