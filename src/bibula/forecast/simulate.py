"""One member of the ensemble from the first stage to the last: what a forecast needs of it, no more."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from bibula.forecast.laying import LaidPlan, LaidStage
from bibula.forecast.stacking import GRADING, Bench, Numbers, room_air, stack_stage
from bibula.formulas import moist_air
from bibula.physics.integrate import Tolerance
from bibula.physics.materials import SUCTION_SCALE_PA, U_GRID
from bibula.physics.run import PieceState, StageResult, output_times, run_stage
from bibula.physics.stack import Stack, film_at
from bibula.physics.surroundings import is_tight

Array = NDArray[np.float64]

POINTS_PER_STAGE = 60
TOLERANCE = Tolerance()
"""Of the ensemble's members; the benchmarks show the time error this gives (below 1e-3 of the first water)."""


@dataclass(frozen=True)
class Trace:
    """One member's run. Arrays over all output times (m,) unless said otherwise; SI.

    times_s: from the plan's start; a stage's first time repeats the last of the one before.
    stage: index of the stage at each time.
    water: of the object with its films, kg/m2.
    wettest: largest local water content within the object, kg/kg.
    film_up, film_down: free film on the object's upper and lower face, kg/m2.
    surface_c: temperature of the uppermost node of the object.
    coldest_c: of the object.
    object_rh: highest equilibrium humidity within the object (share).
    passed_recto, passed_verso: water that has left by each face since the plan's start, kg/m2.
    layers: (m,) water of every other absorbing piece by key; nan while it does not lie in the stack.
    core_rh: (m,) equilibrium humidity at the middle of it.
    skin: (m,) share of capacity in its outer 0.5 mm towards the object.
    equilibrium: water content of the object in balance with the last stage's room, kg/kg.
    states: what every piece carries at the end.
    balance_water, balance_energy: worst over the stages.
    """

    times_s: Array
    stage: NDArray[np.int64]
    water: Array
    wettest: Array
    film_up: Array
    film_down: Array
    surface_c: Array
    coldest_c: Array
    object_rh: Array
    passed_recto: Array
    passed_verso: Array
    layers: Mapping[str, Array]
    core_rh: Mapping[str, Array]
    skin: Mapping[str, Array]
    equilibrium: float
    states: Mapping[str, PieceState]
    balance_water: float
    balance_energy: float


def plan_times(laid: LaidPlan, points: int = POINTS_PER_STAGE) -> list[Array]:
    """Output times of every stage, from its own start."""
    return [output_times(stage.duration_s, points) for stage in laid.stages]


def simulate(
    laid: LaidPlan,
    numbers: Numbers,
    times: list[Array] | None = None,
    tolerance: Tolerance = TOLERANCE,
    keep: list[StageResult] | None = None,
) -> Trace:
    """Run all stages of a plan with one set of numbers.

    Args:
        laid: the resolved plan.
        numbers: this member's numbers.
        times: output times of every stage; plan_times(laid) by default.
        tolerance: of the integrator.
        keep: if given, the full results of the stages are appended to it (for pictures).

    Raises:
        ValidityError, BalanceError: as physics.run.run_stage.
    """
    times = times or plan_times(laid)
    bench = Bench(numbers)
    parts: list[dict[str, Array]] = []
    others: list[dict[str, tuple[Array, Array, Array]]] = []
    passed = {"recto": 0.0, "verso": 0.0}
    worst = [0.0, 0.0]
    clock = 0.0
    equilibrium = 0.0
    for stage, at in zip(laid.stages, times, strict=True):
        stack, states = stack_stage(stage, bench)
        result = run_stage(stack, states, at, tolerance)
        if keep is not None:
            keep.append(result)
        part = _object_part(stage, result)
        up_is_recto = stage.pieces[stage.object_range[0]].a_up
        for side, key in (("recto", "up" if up_is_recto else "down"), ("verso", "down" if up_is_recto else "up")):
            part[side] = passed[side] + part[key]
            passed[side] = float(part[side][-1])
        part["times"] = clock + at
        parts.append(part)
        others.append(_absorbers(stage, result))
        _take_up(stage, result, bench)
        worst = [max(a, b) for a, b in zip(worst, result.balances, strict=True)]
        clock += stage.duration_s
        equilibrium = equilibrium_content(laid, stage, stack, numbers)
    return _join(parts, others, times, bench, worst, equilibrium)


def equilibrium_content(laid: LaidPlan, stage: LaidStage, stack: Stack, numbers: Numbers) -> float:
    """Water content (kg/kg) at which the object is in balance with a stage's room, on the branch it lies on there."""
    t, rh = room_air(stage, numbers)
    suction = float(moist_air.suction_pa(min(rh, 0.9999), t))
    mine = {p.key for p in stage.pieces if p.object_layer is not None}
    held = sum(x.tables.water_at(suction) * x.thickness_m for x in stack.layers if x.key in mine)
    return held / laid.dry_kg_m2


def _take_up(stage: LaidStage, result: StageResult, bench: Bench) -> None:
    on_stack = {layer.key for layer in result.stack.layers}
    for piece in stage.pieces:
        if piece.key in on_stack:
            state = result.piece(piece.key)
            if is_tight(bench.numbers.cards[piece.card]):  # a trace of water that is all round-off
                state = replace(state, water_kg_m2=result.piece(piece.key, 0).water_kg_m2)
            bench.states[piece.key] = state if piece.a_up else state.turned()


def _object_part(stage: LaidStage, result: StageResult) -> dict[str, Array]:
    first, last = stage.object_range
    pieces = stage.pieces[first:last]
    where = [result.stack.layer_slice(p.key) for p in pieces]
    nodes = slice(where[0].start, where[-1].stop)
    water = result.water[:, nodes]
    suction = result.suction[:, nodes]
    local = []
    for piece, at in zip(pieces, where, strict=True):
        tables = result.stack.layers[[x.key for x in result.stack.layers].index(piece.key)].tables
        u = np.arcsinh(result.suction[:, at] / SUCTION_SCALE_PA)
        held = np.interp(u, U_GRID, tables.water)
        local.append(held / float(piece.density_kg_m3 or 1.0))
    temperature = result.temperature[:, nodes]
    return {
        "water": water.sum(axis=1),
        "wettest": np.concatenate(local, axis=1).max(axis=1),
        "film_up": film_at(suction[:, -1]),
        "film_down": film_at(suction[:, 0]),
        "surface": temperature[:, -1],
        "coldest": temperature.min(axis=1),
        "rh": result.relative_humidity[:, nodes].max(axis=1),
        "down": result.passed_down(pieces[0].key),
        "up": result.passed_up(pieces[-1].key),
    }


def _absorbers(stage: LaidStage, result: StageResult) -> dict[str, tuple[Array, Array, Array]]:
    out = {}
    first, _ = stage.object_range
    order = {p.key: i for i, p in enumerate(stage.pieces)}
    for layer, where in zip(result.stack.layers, result.stack.slices, strict=True):
        piece = stage.pieces[order[layer.key]]
        if piece.object_layer is not None or layer.tables.capacity < 1.0:
            continue
        water = result.water[:, where]
        total = water.sum(axis=1)
        middle = (where.start + where.stop) // 2
        core = result.relative_humidity[:, middle]
        faces_up = order[layer.key] < first
        out[layer.key] = (total, core, skin_share(layer.thickness_m, layer.tables.capacity, water, faces_up))
    return out


SKIN_M = 5e-4
"""The outer skin whose water a hand feels."""


def skin_share(thickness_m: float, capacity_kg_m3: float, water: Array, upper_face: bool) -> Array:
    """Share of capacity held in the outer 0.5 mm of one face, from nodal water (m, nodes)."""
    from bibula.physics.stack import control_volumes, node_positions

    nodes = water.shape[1]
    volumes = control_volumes(node_positions(thickness_m, nodes - 1, GRADING))
    depth = np.cumsum(volumes[::-1] if upper_face else volumes)
    ordered = water[:, ::-1] if upper_face else water
    skin = min(SKIN_M, thickness_m)
    share = np.clip((skin - (depth - np.diff(depth, prepend=0.0))) / np.diff(depth, prepend=0.0), 0.0, 1.0)
    return np.asarray((ordered * share).sum(axis=1) / (capacity_kg_m3 * skin))


def _join(
    parts: list[dict[str, Array]],
    others: list[dict[str, tuple[Array, Array, Array]]],
    times: list[Array],
    bench: Bench,
    worst: list[float],
    equilibrium: float,
) -> Trace:
    def every(key: str) -> Array:
        return np.concatenate([p[key] for p in parts])

    def piece(key: str, column: int) -> Array:
        return np.concatenate(
            [o[key][column] if key in o else np.full(len(t), np.nan) for o, t in zip(others, times, strict=True)]
        )

    keys = list(dict.fromkeys(k for o in others for k in o))
    return Trace(
        times_s=every("times"),
        stage=np.concatenate([np.full(len(t), i) for i, t in enumerate(times)]),
        water=every("water"),
        wettest=every("wettest"),
        film_up=every("film_up"),
        film_down=every("film_down"),
        surface_c=every("surface"),
        coldest_c=every("coldest"),
        object_rh=every("rh"),
        passed_recto=every("recto"),
        passed_verso=every("verso"),
        layers={k: piece(k, 0) for k in keys},
        core_rh={k: piece(k, 1) for k in keys},
        skin={k: piece(k, 2) for k in keys},
        equilibrium=equilibrium,
        states=dict(bench.states),
        balance_water=worst[0],
        balance_energy=worst[1],
    )
