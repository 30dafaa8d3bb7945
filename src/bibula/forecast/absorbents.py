"""What each absorbent has taken, how near full it is, when to change it, when its face is ready again."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from bibula.forecast.ensemble import Ensemble, estimate
from bibula.forecast.laying import LaidPiece
from bibula.forecast.milestones import NEAR_FULL, ROOM_WATER, first_below
from bibula.forecast.result import READY_WITHIN_S, AbsorbentUse
from bibula.forecast.simulate import Trace, skin_share
from bibula.forecast.stacking import (
    FREE_WATER_KG_M2SPA,
    GRADING,
    WATER_W_M2K,
    Bench,
    Numbers,
    boundary,
    build_material,
    room_air,
)
from bibula.formulas import moist_air
from bibula.physics.run import PieceState, output_times, run_stage
from bibula.physics.stack import Boundary, Layer, Stack, steady_weather, water_at_suction
from bibula.physics.surroundings import TABLE_W_M2K
from bibula.plan.stages import Below
from bibula.quantities.errors import BalanceError, ValidityError
from bibula.quantities.values import Estimate

Array = NDArray[np.float64]

DRINKING_KINDS = ("slab", "blotter", "felt", "absorbent", "board")
READY_MEMBERS = 8
DRY_TOUCH, READY_SHARE, NEXT_S = 0.20, 0.90, 60.0
CHANGE_GAIN_H = 1.0


def uses(ensemble: Ensemble) -> tuple[AbsorbentUse, ...]:
    """One entry per absorbent and stage."""
    out = []
    laid = ensemble.laid
    last_stage = {p.key: i for i, s in enumerate(laid.stages) for p in s.pieces}
    for index, stage in enumerate(laid.stages):
        for piece in stage.pieces:
            if piece.object_layer is None and piece.kind in DRINKING_KINDS and piece.key in ensemble.nominal.layers:
                ready = (
                    _ready(ensemble, piece) if last_stage[piece.key] == index and piece.kind == "slab" else (None, None)
                )
                out.append(_use(ensemble, index, piece, ready))
    return tuple(out)


def _capacity(numbers: Numbers, piece: LaidPiece) -> float:
    return numbers.cards[piece.card]["capacity_kg_m3"] * piece.thickness_m


def _use(
    ensemble: Ensemble, index: int, piece: LaidPiece, ready: tuple[Estimate | None, Estimate | None]
) -> AbsorbentUse:
    taken, fill, full = [], [], []
    for numbers, trace in zip(ensemble.numbers, ensemble.traces, strict=True):
        inside = trace.stage == index
        water = trace.layers[piece.key][inside]
        capacity = _capacity(numbers, piece)
        taken.append(1000.0 * float(water.max() - water[0]))
        fill.append(float(water.max()) / capacity)
        full.append(first_below(trace.times_s[inside], -water, -NEAR_FULL * capacity))
    share = estimate(fill)
    near = estimate(full, "s")
    stage = ensemble.laid.stages[index]
    return AbsorbentUse(
        stage=stage.name,
        layer=piece.name,
        kind=piece.kind,
        taken_g_m2=estimate(taken, "g/m2"),
        fill=share,
        near_full_s=near.median if np.isfinite(near.median) else None,
        advice=_advice(ensemble, index, share, near),
        ready_touch_s=ready[0],
        ready_weight_s=ready[1],
        side="below" if stage.pieces.index(piece) < stage.object_range[0] else "above",
    )


def _advice(ensemble: Ensemble, index: int, fill: Estimate, near: Estimate) -> str:
    start = float(ensemble.nominal.times_s[ensemble.nominal.stage == index][0])
    if np.isfinite(near.median):
        early = near.low if np.isfinite(near.low) else near.median
        return f"change or turn {_clock(early - start)}: near full"
    stalled = [_stalled(ensemble, trace, index) for trace in ensemble.traces]
    when = estimate(stalled, "s")
    if np.isfinite(when.median):
        return f"change {_clock(when.median - start)}: stack and object share their water, the room is drier"
    return f"no change needed: at most {100 * fill.high:.0f} % full (limit {100 * NEAR_FULL:.0f} %)"


def _stalled(ensemble: Ensemble, trace: Trace, index: int) -> float:
    """Time in a stage at which the object hardly loses water though it is not in balance with the room; inf if not."""
    inside = np.flatnonzero(trace.stage == index)
    t, x = trace.times_s[inside], trace.water[inside] / ensemble.laid.dry_kg_m2
    rate = -np.diff(x) / np.maximum(np.diff(t), 1e-9) * 3600.0
    over = x[:-1] - trace.equilibrium
    slow = np.flatnonzero((rate < 0.5 * over / 24.0) & (over > 2.0 * ROOM_WATER) & (t[1:] - t[0] > 600.0))
    if not len(slow) or t[-1] - t[slow[0]] < CHANGE_GAIN_H * 3600.0:
        return float("inf")
    return float(t[slow[0]])


def _clock(seconds: float) -> str:
    """A time in a stage: `0:20 (h:min) into the stage`, `40 s into the stage`, `at once`."""
    if seconds < 1.0:
        return "at once"
    minutes = round(seconds / 60.0)
    return (
        f"{minutes // 60}:{minutes % 60:02d} (h:min) into the stage"
        if minutes
        else f"{round(seconds)} s into the stage"
    )


def _ready(ensemble: Ensemble, piece: LaidPiece) -> tuple[Estimate | None, Estimate | None]:
    """When the used face is dry to the touch and ready again by weight, standing free in the room afterwards."""
    touch, weight = [], []
    step = max(1, len(ensemble.traces) // READY_MEMBERS)
    used_a = _used_face_is_a(ensemble, piece)
    for numbers, trace in list(zip(ensemble.numbers, ensemble.traces, strict=True))[::step][:READY_MEMBERS]:
        try:
            state = trace.states[piece.key]
            a, b = _recover(ensemble, piece, numbers, state if used_a else state.turned())
        except (ValidityError, BalanceError):
            continue
        touch.append(a)
        weight.append(b)
    if not touch:
        return None, None
    return estimate(touch, "s"), estimate(weight, "s")


def _used_face_is_a(ensemble: Ensemble, piece: LaidPiece) -> bool:
    """Whether face A of a piece looked at the object in its last stage (states are kept with face A up)."""
    stage = next(s for s in reversed(ensemble.laid.stages) if piece.key in [p.key for p in s.pieces])
    index = [p.key for p in stage.pieces].index(piece.key)
    return (index < stage.object_range[0]) == stage.pieces[index].a_up


def _recover(ensemble: Ensemble, piece: LaidPiece, numbers: Numbers, state: PieceState) -> tuple[float, float]:
    stage = ensemble.laid.stages[-1]
    bench = Bench(numbers)
    density = piece.density_kg_m3 or numbers.cards[piece.card]["density_kg_m3"]
    drying = build_material(numbers.cards[piece.card], density, numbers.drying_share)
    nodes = len(state.water_kg_m2) - 1
    free = Layer(piece.key, drying, piece.thickness_m, nodes, GRADING)
    air = boundary(Below(kind="rack"), stage, numbers)
    times = output_times(READY_WITHIN_S, 40, 30.0)
    result = run_stage(Stack((free,), (), air, air), [state], times)
    skin = skin_share(piece.thickness_m, drying.capacity, result.water, True)
    touch = first_below(times, skin, DRY_TOUCH)
    t, rh = room_air(stage, numbers)
    wetting = Layer(piece.key, bench.material(piece, 0.0), piece.thickness_m, nodes, GRADING)
    fresh = water_at_suction(wetting, float(moist_air.suction_pa(min(rh, 0.999), t)))
    goal = READY_SHARE * _drinks(wetting, PieceState(fresh, np.full(nodes + 1, t)), t)
    low, high = 0, len(times) - 1
    if _drinks(wetting, result.piece(piece.key, high), t) < goal:
        return touch, float("inf")
    if _drinks(wetting, result.piece(piece.key, 0), t) >= goal:
        return touch, 0.0
    while high - low > 1:
        middle = (low + high) // 2
        if _drinks(wetting, result.piece(piece.key, middle), t) >= goal:
            high = middle
        else:
            low = middle
    return touch, float(times[high])


def _drinks(layer: Layer, state: PieceState, temperature_c: float) -> float:
    """Water a face takes up in the next minute from free water, kg/m2."""
    air = steady_weather(temperature_c, 0.5)  # only its temperature counts: both faces are sealed to vapour
    sealed = Boundary(air, TABLE_W_M2K, 0.0)
    wet = Boundary(air, WATER_W_M2K, 0.0, FREE_WATER_KG_M2SPA, 0.0, temperature_c)
    result = run_stage(Stack((layer,), (), sealed, wet), [state], np.array([0.0, NEXT_S]))
    return -float(result.out_above[-1])
