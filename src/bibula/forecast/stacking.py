"""One laid stage and one set of numbers become a physics stack with its pieces' states.

Every coefficient of contacts and surroundings that is not a card's property is named here with its origin.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from bibula.forecast.laying import INTERVALS, LaidPiece, LaidStage
from bibula.formulas import moist_air, transfer
from bibula.physics.materials import MaterialTables
from bibula.physics.run import PieceState
from bibula.physics.stack import (
    Boundary,
    Contact,
    Layer,
    Stack,
    water_at_suction,
    water_from_total,
)
from bibula.physics.surroundings import (
    CONVECTION_SPREAD,
    CONVECTION_W_M2K,
    TABLE_W_M2K,
    across_gap,
    bridged,
    build_material,
    contact,
    is_gap,
    is_tight,
    open_air,
)
from bibula.plan.stages import Boundary as PlanBoundary

__all__ = [
    "CONVECTION_SPREAD",
    "CONVECTION_W_M2K",
    "WET_START",
    "Bench",
    "Numbers",
    "across_gap",
    "boundary",
    "build_material",
    "contact",
    "mean_suction",
    "room_air",
    "stack_stage",
]

Array = NDArray[np.float64]

CHAMBER_W_M2K = 2.0
"""Convection in a closed damp chamber. Assumed."""
CHANNEL_W_M2K = 12.0
"""Convection in channelled board under a fan where no air speed is given. Assumed."""
CHANNEL_OPEN_SHARE = 0.5
"""Share of a channelled board's face that is open to its air. Assumed."""
CHANNEL_LENGTH_M = 0.3
WATER_W_M2K = 20.0
"""Heat between a face and the water it stands in. Assumed."""
SUCTION_TABLE_KG_M2SPA, SUCTION_TABLE_BRIDGE_PA = 1e-5, 1e5
"""Liquid conductance into a suction table, and the suction at which it has faded by half. Assumed."""
SUCTION_CONVECTION_W_M2K = 20.0
"""Air drawn through the sheet of a suction table, as a convective coefficient below it. Assumed."""
FREE_WATER_KG_M2SPA = 1e-4
"""Conductance from standing water into a face lying in it: as good as none in the way. Assumed."""
SOAKED_PA = 1500.0
"""Suction of a soaked and drained piece: its pores are full, its free film has just gone. Assumed."""
GRADING = 0.95
"""How much closer the nodes lie towards a layer's faces; see physics.stack.node_positions."""
WET_START = 0.3
"""An object that starts above this water content comes down its drying branch."""


@dataclass(frozen=True)
class Numbers:
    """One member of the ensemble: everything uncertain, drawn once. Picklable.

    Attributes:
        cards: complete property values by card name.
        water_content: of each object layer at the start, verso to recto, kg/kg of dry mass.
        room_shift_k, room_shift_rh: added to the room's temperature and humidity (share of 1).
        surface_factor: multiplies the convective coefficients.
        drying_share: how far a layer that loses water has gone over to its drying branch (1 = wholly).
    """

    cards: Mapping[str, Mapping[str, float]]
    water_content: tuple[float, ...]
    room_shift_k: float = 0.0
    room_shift_rh: float = 0.0
    surface_factor: float = 1.0
    drying_share: float = 1.0


@dataclass
class Bench:
    """What lies about during one run: every piece's state, kept with face A up, and built tables."""

    numbers: Numbers
    states: dict[str, PieceState] = field(default_factory=dict)
    tables: dict[tuple[str, float, float], MaterialTables] = field(default_factory=dict)

    def material(self, piece: LaidPiece, branch: float) -> MaterialTables:
        """Tables of a piece's material on a branch, built once per run."""
        values = self.numbers.cards[piece.card]
        density = piece.density_kg_m3 or values["density_kg_m3"]
        key = (piece.card, density, branch)
        if key not in self.tables:
            self.tables[key] = build_material(values, density, branch)
        return self.tables[key]


def room_air(stage: LaidStage, numbers: Numbers) -> tuple[float, float]:
    """Temperature and relative humidity of the room in a stage, as this member has them (mean of a log)."""
    rh, t = stage.relative_humidity, stage.temperature_c
    if stage.weather is not None:
        t, rh = float(stage.weather[:, 1].mean()), float(stage.weather[:, 2].mean())
    return t + numbers.room_shift_k, float(np.clip(rh + numbers.room_shift_rh, 0.05, 1.0))


def _weather(stage: LaidStage, numbers: Numbers) -> Array:
    if stage.weather is None:
        t, rh = room_air(stage, numbers)
        rows = np.array([[0.0, t, rh]])
    else:
        rows = stage.weather + np.array([0.0, numbers.room_shift_k, numbers.room_shift_rh])
        rows[:, 2] = np.clip(rows[:, 2], 0.05, 1.0)
    pressure = rows[:, 2] * moist_air.saturation_pressure_pa(rows[:, 1])
    return np.column_stack([rows[:, 0], rows[:, 1], pressure, np.ones(len(rows))])


def _at_humidity(weather: Array, rh: float) -> Array:
    out = weather.copy()
    out[:, 2] = rh * moist_air.saturation_pressure_pa(out[:, 1])
    return out


def boundary(side: PlanBoundary, stage: LaidStage, numbers: Numbers) -> Boundary:
    """What stands under or over a stack, as coefficients (see the module's constants)."""
    weather = _weather(stage, numbers)
    t = float(weather[:, 1].mean())
    convection = CONVECTION_W_M2K[side.air or stage.air] * numbers.surface_factor

    if side.kind in ("room", "rack"):
        return open_air(convection, weather)
    if side.kind in ("table", "board", "cover"):
        return Boundary(weather, TABLE_W_M2K, 0.0)
    if side.kind == "damp chamber":
        rh = float(side.relative_humidity_percent or 98.0) / 100.0
        return open_air(CHAMBER_W_M2K * numbers.surface_factor, _at_humidity(weather, rh))
    if side.kind == "channelled air":
        speed = side.air_speed_m_s
        h_c = float(transfer.forced_convection_w_m2k(speed, CHANNEL_LENGTH_M, t)) if speed else CHANNEL_W_M2K
        return open_air(h_c * numbers.surface_factor, weather, CHANNEL_OPEN_SHARE)
    if side.kind == "water":
        return Boundary(weather, WATER_W_M2K, 0.0, FREE_WATER_KG_M2SPA, 0.0, t)
    suction = 1000.0 * float(side.suction_kpa or 0.0)  # a suction table
    h_c = SUCTION_CONVECTION_W_M2K * numbers.surface_factor
    beta = float(transfer.vapour_transfer_s_m(h_c, t))
    return Boundary(weather, h_c, beta, SUCTION_TABLE_KG_M2SPA, suction, t, SUCTION_TABLE_BRIDGE_PA)


def _initial(piece: LaidPiece, layer: Layer, stage: LaidStage, numbers: Numbers) -> PieceState:
    t, rh = room_air(stage, numbers)
    nodes = layer.intervals + 1
    if piece.object_layer is not None:
        dry = float(piece.density_kg_m3 or 0.0) * piece.thickness_m
        water = water_from_total(layer, numbers.water_content[piece.object_layer] * dry)
    elif piece.start_water_kg_m2 is not None:
        water = water_from_total(layer, piece.start_water_kg_m2)
    else:
        start = piece.start_rh if piece.start_rh is not None else rh
        suction = max(float(moist_air.suction_pa(start, t)), SOAKED_PA)
        water = water_at_suction(layer, suction)
    return PieceState(water, np.full(nodes, t))


def _layer(piece: LaidPiece, tables: MaterialTables, film: bool) -> Layer:
    return Layer(piece.key, tables, piece.thickness_m, INTERVALS[piece.kind], GRADING, film, film)


def mean_suction(tables: MaterialTables, thickness_m: float, water_kg_m2: float) -> float:
    """Suction of a layer from its mean water on a branch, Pa."""
    from bibula.physics.materials import S_GRID

    return float(np.interp(water_kg_m2 / thickness_m, tables.water[::-1], S_GRID[::-1]))


def stack_stage(stage: LaidStage, bench: Bench, gravity: float = 1.0) -> tuple[Stack, list[PieceState]]:
    """The stack of one stage and the states of its layers, from what lies on the bench.

    A layer that will lose water lies on its drying branch, one that will gain on its wetting
    branch: judged at the stage's start from its suction against its neighbours'.
    """
    numbers = bench.numbers
    solid = [p for p in stage.pieces if not is_gap(numbers.cards[p.card])]
    films = [not is_tight(numbers.cards[p.card]) for p in solid]
    for piece, film in zip(solid, films, strict=True):
        if piece.key not in bench.states:
            start_branch = numbers.drying_share if piece.object_layer is not None and _starts_wet(piece, bench) else 0.0
            layer = _layer(piece, bench.material(piece, start_branch), film)
            state = _initial(piece, layer, stage, numbers)
            bench.states[piece.key] = state if piece.a_up else state.turned()
    branches = _branches(stage, solid, bench)
    pressures = dict(zip((p.key for p in stage.pieces), _pressures(stage, bench), strict=True))
    layers = []
    for piece, branch, film in zip(solid, branches, films, strict=True):
        tables = bench.material(piece, branch)
        if piece.kind == "interleaf":
            tables = bridged(tables, numbers.cards[piece.card], piece.thickness_m, pressures[piece.key])
        layers.append(_layer(piece, tables, film))
    states = [bench.states[p.key] if p.a_up else bench.states[p.key].turned() for p in solid]
    contacts = _contacts(stage, bench)
    below, above = (boundary(side, stage, numbers) for side in (stage.below, stage.above))
    return Stack(tuple(layers), contacts, below, above, gravity), states


def _starts_wet(piece: LaidPiece, bench: Bench) -> bool:
    return bench.numbers.water_content[piece.object_layer or 0] > WET_START


def _pressures(stage: LaidStage, bench: Bench) -> list[float]:
    """Pressure on top of each piece, from the weight and the dry pieces above it, Pa."""
    values = bench.numbers.cards
    above = stage.load_pa
    pressures = []
    for piece in reversed(stage.pieces):
        pressures.append(above)
        density = piece.density_kg_m3 or values[piece.card]["density_kg_m3"]
        above += density * piece.thickness_m * moist_air.GRAVITY
    return pressures[::-1]


def _contacts(stage: LaidStage, bench: Bench) -> tuple[Contact, ...]:
    values = bench.numbers.cards
    pressures = _pressures(stage, bench)
    out: list[Contact] = []
    lower: LaidPiece | None = None
    gap = 0.0
    for piece, pressure in zip(stage.pieces, [0.0, *pressures[:-1]], strict=True):
        if is_gap(values[piece.card]):
            gap += piece.thickness_m
            continue
        if lower is not None:
            out.append(across_gap(gap) if gap else contact(values[lower.card], values[piece.card], pressure))
        lower, gap = piece, 0.0
    return tuple(out)


def _branches(stage: LaidStage, pieces: list[LaidPiece], bench: Bench) -> list[float]:
    numbers = bench.numbers
    suction = []
    for piece in pieces:
        water = float(bench.states[piece.key].water_kg_m2.sum())
        suction.append(mean_suction(bench.material(piece, 0.0), piece.thickness_m, water))
    inside = [i for i, p in enumerate(pieces) if p.object_layer is not None]
    mass = [float(bench.states[pieces[i].key].water_kg_m2.sum()) for i in inside]
    block = float(np.average([suction[i] for i in inside], weights=np.maximum(mass, 1e-12)))
    t, _ = room_air(stage, numbers)
    edge: dict[bool, float | None] = {}
    for at_top, side in ((False, stage.below), (True, stage.above)):
        air = boundary(side, stage, numbers)
        edge[at_top] = None
        if air.liquid_kg_m2spa > 0.0:
            edge[at_top] = max(air.reservoir_pa, 1.0)
        elif air.vapour_s_m > 0.0:
            humidity = float(air.weather[:, 2].mean() / moist_air.saturation_pressure_pa(air.weather[:, 1].mean()))
            edge[at_top] = float(moist_air.suction_pa(min(humidity, 0.9999), t))

    def neighbour(j: int) -> float | None:
        if j < 0 or j >= len(pieces):
            return edge[j >= 0]
        return block if j in inside else suction[j]

    out = []
    for i in range(len(pieces)):
        own = block if i in inside else suction[i]
        ends = (inside[0] - 1, inside[-1] + 1) if i in inside else (i - 1, i + 1)
        near = [max(s, 1.0) for s in map(neighbour, ends) if s is not None]
        loses = bool(near) and own < float(np.exp(np.mean(np.log(near))))
        out.append(numbers.drying_share if loses else 0.0)
    return out
