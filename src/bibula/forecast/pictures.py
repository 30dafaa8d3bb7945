"""The nominal member's stack in cross-section, shaded by its water, at times worth looking at."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from bibula.forecast.ensemble import Ensemble
from bibula.forecast.laying import LaidStage
from bibula.forecast.result import LayerPicture, SectionPicture
from bibula.physics.run import StageResult
from bibula.physics.stack import control_volumes, node_positions

EARLY_S = 60.0


def pictures(ensemble: Ensemble, extra_s: Sequence[float] = ()) -> tuple[SectionPicture, ...]:
    """Sections at the start, after a minute, at the times asked for, and at the end; at most six."""
    laid = ensemble.laid
    starts = np.cumsum([0.0] + [s.duration_s for s in laid.stages])
    end = float(starts[-1])
    wanted = [0.0, EARLY_S, *(t for t in extra_s if EARLY_S < t < end), end]
    chosen = sorted(dict.fromkeys(min(t, end) for t in wanted))
    if len(chosen) > 6:
        chosen = [chosen[round(i)] for i in np.linspace(0, len(chosen) - 1, 6)]
    out = []
    for t in chosen:
        index = int(np.clip(np.searchsorted(starts, t, side="right") - 1, 0, len(laid.stages) - 1))
        result = ensemble.nominal_stages[index]
        row = int(np.argmin(np.abs(result.times_s - (t - starts[index]))))
        out.append(section(laid.stages[index], result, row, float(starts[index] + result.times_s[row])))
    return tuple(out)


def section(stage: LaidStage, result: StageResult, row: int, time_s: float) -> SectionPicture:
    """One stage's stack at one output time."""
    layers = []
    bottom = 0.0
    built = {layer.key: layer for layer in result.stack.layers}
    for piece in stage.pieces:
        top = bottom + piece.thickness_m
        if piece.key in built:
            layer = built[piece.key]
            z = node_positions(layer.thickness_m, layer.intervals, layer.grading)
            where = result.stack.layer_slice(piece.key)
            water = result.water[row, where] / control_volumes(z)
            capacity = max(layer.tables.capacity, 1e-9)
            fill = np.clip(water / capacity, 0.0, 1.0) if capacity > 1.0 else np.zeros(len(z))
            layers.append(_layer(piece.name, piece.kind, bottom, top, z, fill, water, piece.object_layer is not None))
        else:
            z = np.array([0.0, piece.thickness_m])
            layers.append(_layer(piece.name, piece.kind, bottom, top, z, np.zeros(2), np.zeros(2), False))
        bottom = top
    return SectionPicture(time_s, stage.name, tuple(layers), recto_up=stage.pieces[stage.object_range[0]].a_up)


def _layer(
    name: str, kind: str, bottom: float, top: float, z: np.ndarray, fill: np.ndarray, water: np.ndarray, mine: bool
) -> LayerPicture:
    return LayerPicture(name, kind, bottom, top, bottom + z, fill[None, :], water[None, :], mine)
