"""What passes between a piece and its surroundings: contacts of faces, room air, standing water.

Every coefficient that is not a card's property is named here with its origin. Forecasts and card
fits share it, so that a conductance fitted at the bench means the same in a plan.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from bibula.formulas import moist_air, transfer
from bibula.physics.materials import S_GRID, MaterialTables, PoreMaterial, pore_material
from bibula.physics.stack import Boundary, Contact

Array = NDArray[np.float64]

CONVECTION_W_M2K = {"still": 3.0, "slow": 6.0, "fan": 15.0}
"""Convective coefficients of room air: still 2 to 4, slow 4 to 8, fan 10 to 25. From memory of handbook ranges."""
CONVECTION_SPREAD = {"still": 0.35, "slow": 0.3, "fan": 0.3}
"""Log standard deviation of those; a cold sheet facing up in still air is stably layered. Assumed."""
RADIATION_W_M2K = 5.0
TABLE_W_M2K = 4.0
"""Heat to the room through a table top or a cover board. Assumed."""
CONTACT_GAP_M = 3e-5
"""Mean gap of two rough faces in contact, for vapour. Assumed."""
CONTACT_W_M2K = 200.0
"""Heat between two faces in contact: 97 to 200 W/(m2 K) measured for dry paper on metal at 2.3 kPa; wet is more."""
REFERENCE_PRESSURE_PA = 500.0
MINIMUM_PRESSURE_PA = 20.0
"""A thin sheet lying on something presses with about its own weight; contacts are not looser than this. Assumed."""
BRIDGED_SHARE = 0.1
"""Liquid through an interleaf pressed at 500 Pa, as a share of its contact conductance: an open, thin non-woven touches
both neighbours over about a tenth of its area. Proportional to the pressure up to the whole. Assumed."""
AIR_W_MK = 0.026
REFERENCE_TEMPERATURE_C = 20.0
NON_ABSORBING_KG_M3 = 1.0
"""A layer that holds less than this is taken as tight (or as a gap of air)."""
OPEN_RESISTANCE = 100.0
"""A layer that holds nothing and has a vapour resistance factor below this is a gap of air, not a layer."""


def is_tight(values: Mapping[str, float]) -> bool:
    """A layer that neither holds nor passes water: a film, an acrylic sheet."""
    return values["capacity_kg_m3"] < NON_ABSORBING_KG_M3 and values["vapour_resistance"] >= OPEN_RESISTANCE


def is_gap(values: Mapping[str, float]) -> bool:
    """A layer that is no layer but a gap of air."""
    return values["capacity_kg_m3"] < NON_ABSORBING_KG_M3 and values["vapour_resistance"] < OPEN_RESISTANCE


def build_material(values: Mapping[str, float], density_kg_m3: float, branch: float) -> MaterialTables:
    """A card's values as tables; capacity is never less than what the isotherm alone holds."""
    tight = is_tight(values)
    monolayer, k, c = values["gab_monolayer_kg_kg"], values["gab_k"], values["gab_c"]
    sorbed = density_kg_m3 * monolayer * c * k / ((1 - k) * (1 - k + c * k))
    return pore_material(
        PoreMaterial(
            density_kg_m3=density_kg_m3,
            capacity_kg_m3=0.0 if tight else max(values["capacity_kg_m3"], 1.001 * sorbed),
            absorption_kg_m2s05=0.0 if tight else values["absorption_kg_m2s05"],
            median_suction_pa=values["median_suction_pa"],
            suction_spread=values["suction_spread"],
            gab_monolayer_kg_kg=0.0 if tight else monolayer,
            gab_c=c,
            gab_k=k,
            vapour_resistance=1e9 if tight else values["vapour_resistance"],
            conductivity_w_mk=values["conductivity_w_mk"],
            heat_capacity_j_kgk=values["heat_capacity_j_kgk"],
            drying_suction_ratio=values["drying_suction_ratio"],
            drying_sorption_ratio=values["drying_sorption_ratio"],
        ),
        branch,
    )


def contact(lower: Mapping[str, float], upper: Mapping[str, float], pressure_pa: float) -> Contact:
    """The contact of two faces: their liquid conductances in series, each at this pressure."""
    if is_tight(lower) or is_tight(upper):
        return Contact(0.0, 1e4, 0.0, CONTACT_W_M2K)
    pressure = max(pressure_pa, MINIMUM_PRESSURE_PA) / REFERENCE_PRESSURE_PA
    faces = [v["contact_kg_m2spa"] * pressure ** v["contact_exponent"] for v in (lower, upper)]
    series = 0.0 if min(faces) <= 0.0 else 1.0 / sum(1.0 / k for k in faces)
    bridge = min(lower["bridge_suction_pa"], upper["bridge_suction_pa"])
    vapour = float(moist_air.delta_air_s(REFERENCE_TEMPERATURE_C)) / CONTACT_GAP_M
    return Contact(series, bridge, vapour, CONTACT_W_M2K)


def bridged(
    tables: MaterialTables, values: Mapping[str, float], thickness_m: float, pressure_pa: float
) -> MaterialTables:
    """An interleaf under load: water bridges pass through it where its own pores have emptied.

    Its pores are coarse and empty at a few kPa; what then still carries liquid are the films and
    wedges of water along fibres that are pressed to both neighbours. They are given a share of the
    interleaf's contact conductance that grows with the pressure, and fade with suction as a contact does.

    Args:
        tables: the interleaf's material.
        values: its card.
        thickness_m: of the interleaf.
        pressure_pa: on it.
    """
    share = BRIDGED_SHARE * min(max(pressure_pa, 0.0) / REFERENCE_PRESSURE_PA, 1.0 / BRIDGED_SHARE)
    bridge = values["bridge_suction_pa"]
    through = share * values["contact_kg_m2spa"] * thickness_m
    return replace(
        tables,
        conductivity=tables.conductivity + through / (1.0 + (S_GRID / bridge) ** 2),
        potential=tables.potential + through * bridge * (0.5 * np.pi - np.arctan(S_GRID / bridge)),
    )


def across_gap(thickness_m: float) -> Contact:
    """Two faces with a gap of still air between them."""
    delta = float(moist_air.delta_air_s(REFERENCE_TEMPERATURE_C))
    return Contact(0.0, 1e4, delta / thickness_m, AIR_W_MK / thickness_m + RADIATION_W_M2K)


def open_air(convection_w_m2k: float, weather: Array, share: float = 1.0) -> Boundary:
    """A face open to moving air: heat by convection and radiation, vapour by the Lewis relation.

    Args:
        convection_w_m2k: convective coefficient, W/(m2 K).
        weather: rows as in physics.stack.Boundary.
        share: of the face that is open (vapour and convection).
    """
    beta = float(transfer.vapour_transfer_s_m(convection_w_m2k, float(weather[:, 1].mean())))
    return Boundary(weather, convection_w_m2k * share + RADIATION_W_M2K, beta * share)
