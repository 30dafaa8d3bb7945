"""Drinking and sharing through the transient solver: imbibition with exact answers, A_w, series, equilibrium."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from bibula.cards.model import Kind
from bibula.checks.rows import CheckRow
from bibula.checks.solver_cases import (
    TIGHT,
    air,
    at_humidity,
    at_suction,
    column,
    held_suction,
    joined,
    linear_vapour_material,
    liquid_material,
    one_layer,
    prior_material,
    profile,
    sealed,
)
from bibula.formulas.analytic import steady_layers
from bibula.formulas.moist_air import saturation_pressure_pa
from bibula.physics.materials import MaterialTables, pore_material
from bibula.physics.run import PieceState, StageResult, run_stage
from bibula.physics.stack import Contact, Stack

Array = NDArray[np.float64]

D1_M2S, FULL_KG_M3, SCALE_PA = 1e-8, 1000.0, 1e3
DRY_PA = 1e9
END_S = 1e4


# --- imbibition with an exact answer ------------------------------------------------------------------------


def imbibition(diffusivity: Callable[[Array], Array], reach: float, intervals: int = 400) -> StageResult:
    """Water drawn into a dry body whose face is held full; saturation th = 1/(1 + s/SCALE_PA).

    Args:
        diffusivity: of saturation 0 to 1, in units of D1_M2S.
        reach: depth of the body in units of sqrt(D1 END_S).
        intervals: of the even grid.
    """

    def theta(s: Array) -> Array:
        return np.asarray(1.0 / (1.0 + s / SCALE_PA))

    tables = liquid_material(
        lambda s: FULL_KG_M3 * theta(s),
        lambda s: D1_M2S * diffusivity(theta(s)) * FULL_KG_M3 / SCALE_PA * theta(s) ** 2,
    )
    depth = reach * (D1_M2S * END_S) ** 0.5
    stack = one_layer(tables, depth, intervals, held_suction(0.0), sealed(), grading=0.0)
    times = np.array([0.0, 0.1, 0.2, 0.4, 0.7, 1.0]) * END_S
    return run_stage(stack, at_suction(stack, DRY_PA), times, TIGHT)


def sorptivities(result: StageResult) -> Array:
    """Uptake over sqrt(D1 t) and the full water, at every output time but the first."""
    return np.asarray(-result.out_below[1:] / (FULL_KG_M3 * np.sqrt(D1_M2S * result.times_s[1:])))


LN_1000 = float(np.log(1000.0))
EXPONENTIAL = {2.0: 0.824145, 4.0: 0.654085, LN_1000: 0.517366, 8.0: 0.483621, 10.0: 0.435650, 12.0: 0.399511}
"""Exponent b of D1 exp(b (th - 1)) -> S/sqrt(D1), from the similarity equation by shooting."""


@cache
def exponential_run(exponent: float) -> StageResult:
    """Imbibition with exponential diffusivity."""
    reach = 3.2 / exponent**0.6
    return imbibition(lambda th: np.exp(exponent * (th - 1.0)), reach)


@cache
def philip_run() -> StageResult:
    """Imbibition with Philip's exact pair D = (1 - ln th)/2, th = exp(-x/sqrt(t)), S = 1."""
    return imbibition(lambda th: 0.5 * (1.0 - np.log(th)), 13.0, 600)


def _imbibition() -> list[CheckRow]:
    why = "0.05 %: the grid's error, far below what a balance test can show"
    source = "similarity equation by shooting, computed independently"
    out = [
        CheckRow(
            f"Imbibition by the solver: sorptivity at D = D1 exp({b:.4g} (th - 1)) [sqrt(D1)]",
            source,
            "computed",
            float(sorptivities(exponential_run(b))[-1]),
            theirs,
            5e-4,
            why,
            True,
        )
        for b, theirs in EXPONENTIAL.items()
    ]
    for share, value in zip((0.1, 0.2, 0.4, 0.7), sorptivities(exponential_run(LN_1000)), strict=False):
        name = f"Imbibition by the solver: uptake over root time at {share:g} of the end, share of the end's"
        last = float(sorptivities(exponential_run(LN_1000))[-1])
        why_line = "1 %: a straight line in root time"
        out.append(CheckRow(name, "Philip1957", "computed", float(value) / last, 1.0, 1e-2, why_line))
    philip = philip_run()
    name = "Imbibition by the solver: sorptivity of Philip's exact pair [sqrt(D1)]"
    out.append(CheckRow(name, "Philip1960", "computed", float(sorptivities(philip)[-1]), 1.0, 5e-4, why, True))
    reach = np.array([0.25, 0.5, 1.0, 2.0, 3.0])
    ours = profile(philip).at("water_kg_m3", reach * (D1_M2S * END_S) ** 0.5) / FULL_KG_M3
    for x, value in zip(reach, ours, strict=True):
        name = f"Imbibition by the solver: saturation of Philip's exact pair at x/sqrt(t) = {x:g}"
        why_x = "1e-3 of saturation: the grid's error"
        out.append(CheckRow(name, "Philip1960", "computed", float(value), float(np.exp(-x)), 1e-3, why_x))
    return out


# --- A_w in, A_w out ----------------------------------------------------------------------------------------

DRINKERS: tuple[Kind, ...] = ("slab", "blotter", "felt", "paper", "board", "interleaf")


@cache
def drunk(kind: Kind) -> StageResult:
    """Ten minutes of uptake of a deep body of a kind, from balance with 50 % at 20 C."""
    material = prior_material(kind)
    depth = 3.0 * material.absorption_kg_m2s05 * 600.0**0.5 / material.capacity_kg_m3
    stack = one_layer(pore_material(material), depth, 300, held_suction(0.0), sealed(), grading=0.0)
    return run_stage(stack, at_humidity(stack, 0.5), np.array([0.0, 60, 150, 300, 450, 600]), TIGHT)


def _absorption() -> list[CheckRow]:
    why = "1 %: better than the balance test that gives A_w"
    out: list[CheckRow] = []
    for kind in DRINKERS:
        result, a_w = drunk(kind), prior_material(kind).absorption_kg_m2s05
        ours = -float(result.out_below[-1]) / 600.0**0.5
        name = f"A_w of a {kind} by the solver against the A_w it was made from [kg/(m2 s0.5)]"
        out.append(CheckRow(name, "ISO15148, its definition", "computed", ours, a_w, 1e-2, why, True))
        line = -result.out_below[1:] / np.sqrt(result.times_s[1:]) / ours
        name = f"Uptake of a {kind} by the solver: largest departure from a straight line in root time [share]"
        largest = float(np.abs(line - 1.0).max())
        out.append(CheckRow(name, "ISO15148, its definition", "computed", largest, 0.0, 1e-2, why))
    return out


# --- layers in series ---------------------------------------------------------------------------------------

SERIES = ((0.002, 2e-12, 4.0), (0.001, 2e-13, 80.0), (0.003, 8e-12, 20.0))
"""thickness m, permeability s, water at saturation kg/m3"""
SERIES_AIR = ((20.0, 0.85, 3e-8), (20.0, 0.30, 7e-8))
SERIES_GAP_S_M = 5e-9


@cache
def series_run() -> StageResult:
    """Three vapour-only layers between two rooms of one temperature, a poor contact between two of them, settled."""
    layers = [
        column(f"part{i}", linear_vapour_material(water, permeability), [(thickness, 10, 0.9)])[0]
        for i, (thickness, permeability, water) in enumerate(SERIES)
    ]
    gap = Contact(0.0, 1e4, SERIES_GAP_S_M, 1e6)
    below, above = (air(t, rh, 1e6, vapour) for t, rh, vapour in SERIES_AIR)
    stack = Stack(tuple(layers), (gap, gap), below, above, gravity=0.0)
    return run_stage(stack, at_humidity(stack, 0.5), np.array([0.0, 3e7, 3.01e7]), TIGHT)


def _series() -> list[CheckRow]:
    result = series_run()
    flux = float(result.out_above[2] - result.out_above[1]) / 1e5
    gap = 1e-4  # any thickness: its permeability makes the contact's conductance of it
    thickness = [SERIES[0][0], gap, SERIES[1][0], gap, SERIES[2][0]]
    permeability = [SERIES[0][1], gap * SERIES_GAP_S_M, SERIES[1][1], gap * SERIES_GAP_S_M, SERIES[2][1]]
    pressures = [rh * float(saturation_pressure_pa(t)) for t, rh, _ in SERIES_AIR]
    surfaces = (SERIES_AIR[0][2], SERIES_AIR[1][2])
    steady = steady_layers(np.array(thickness), np.array(permeability), pressures[0], pressures[1], surfaces)
    why = "1e-5: a steady state has no grid error in a linear material"
    source = "resistances in series"
    name = "Three layers in series by the solver: steady vapour flow [mg/(m2 h)]"
    out = [CheckRow(name, source, "computed", flux * 3.6e9, steady.flux_kg_m2s * 3.6e9, 1e-5, why, True)]
    nodes = [n for where in result.stack.slices for n in (where.start, where.stop - 1)]
    for i, (node, theirs) in enumerate(zip(nodes, steady.pressure_pa[1:-1], strict=True), 1):
        name = f"Three layers in series by the solver: vapour pressure at face {i} [Pa]"
        ours = float(result.fields[2, node, 2])
        out.append(CheckRow(name, source, "computed", ours, float(theirs), 1e-4, why, True))
    return out


# --- equilibrium --------------------------------------------------------------------------------------------

PAIRS: tuple[tuple[Kind, Kind], ...] = (("paper", "blotter"), ("paper", "slab"), ("felt", "slab"), ("board", "felt"))
SHARE_M = (0.5e-3, 1e-3)


@cache
def shared(coarse_or_fine: tuple[Kind, Kind]) -> StageResult:
    """Two layers in good contact, wrapped and left for a month: the first three quarters full, the second air-dry."""
    first, second = (pore_material(prior_material(kind)) for kind in coarse_or_fine)
    layers = column("first", first, [(SHARE_M[0], 12, 0.9)]) + column("second", second, [(SHARE_M[1], 12, 0.9)])
    stack = joined(layers, sealed(), sealed())
    dry = at_humidity(stack, 0.5)
    wet = PieceState(
        0.75 * first.capacity * SHARE_M[0] * dry[0].water_kg_m2 / dry[0].water_kg_m2.sum(), dry[0].temperature_c
    )
    return run_stage(stack, [wet, dry[1]], np.array([0.0, 1.3e6, 2.6e6]), TIGHT)


def _sharing() -> list[CheckRow]:
    out: list[CheckRow] = []
    source = "equal suction, by root finding on both retention curves"
    for pair in PAIRS:
        result = shared(pair)
        first, second = (pore_material(prior_material(kind)) for kind in pair)
        total = float(result.water[0].sum())

        def excess(log_s: float, total: float = total, tables: Sequence[MaterialTables] = (first, second)) -> float:
            held = [d * m.water_at(float(np.exp(log_s))) for d, m in zip(SHARE_M, tables, strict=True)]
            return float(sum(held)) - total

        suction = float(np.exp(brentq(excess, 0.0, 20.0, xtol=1e-12)))
        name = f"{pair[0]} and {pair[1]} wrapped together, by the solver"
        why = "0.1 %: what a month leaves and the retention table's interpolation"
        for key, depth, tables in (("first0", SHARE_M[0], first), ("second0", SHARE_M[1], second)):
            ours, theirs = float(result.layer_water(key)[-1]), depth * tables.water_at(suction)
            which = pair[0] if key == "first0" else pair[1]
            out.append(
                CheckRow(f"{name}: water in the {which} [kg/m2]", source, "computed", ours, theirs, 1e-3, why, True)
            )
        lost = float(result.water[-1].sum()) / total
        out.append(CheckRow(f"{name}: water kept [share]", "conservation", "computed", lost, 1.0, 1e-9, "round-off"))
    return out


def _capacity() -> list[CheckRow]:
    out: list[CheckRow] = []
    for kind in DRINKERS:
        material = prior_material(kind)
        stack = one_layer(pore_material(material), 1e-3, 12, held_suction(0.0), sealed())
        result = run_stage(stack, at_humidity(stack, 0.5), np.array([0.0, 1e4, 2e4]), TIGHT)
        ours = float(result.water[-1].sum()) / 1e-3
        name = f"A {kind} filled by the solver at zero suction against its capacity [kg/m3]"
        why = "1e-5: sorbed and pore water are not counted twice; the table's interpolation is left"
        out.append(
            CheckRow(name, "definition of the capacity", "computed", ours, material.capacity_kg_m3, 1e-5, why, True)
        )
    return out


def rows() -> list[CheckRow]:
    """Imbibition, A_w, series, equilibrium, capacity."""
    return _imbibition() + _absorption() + _series() + _sharing() + _capacity()
