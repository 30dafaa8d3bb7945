"""What was seen at the bench, and what the model would have shown there.

Often the object must not be lifted to be weighed; a run is corrected by whatever there is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from bibula.forecast.laying import LaidPlan
from bibula.forecast.simulate import Trace
from bibula.forecast.stacking import Numbers
from bibula.formulas.sorption import Gab, gab_water
from bibula.quantities.errors import InputError

Array = NDArray[np.float64]

ObservationKind = Literal["object weight", "absorbent weight", "witness weight", "surface temperature", "seen"]

SEEN: dict[str, tuple[float, float, str]] = {
    "glossy": (1.6, 0.35, "assumed"),
    "light matte": (1.33, 0.40, "Sugarman1992"),
    "onset of distortion": (0.587, 0.10, "Sugarman1992"),
    "white": (0.20, 0.08, "assumed"),
}
"""Stage seen by eye -> water content (kg/kg) at which it begins, its standard uncertainty, its origin.

Published: complete wetting ends at 43 +/- 9 % solids, distortion begins at 63 +/- 3 %. A stage seen on
one occasion began some time before, so its uncertainty is widened.
"""

WITNESS_SPREAD = 0.10
"""A witness sheet of like paper holds what the object holds to about 10 %. Assumed."""
SURFACE_MODEL_K = 0.3
"""How far the model's surface temperature may be off for air it does not know. Assumed."""


@dataclass(frozen=True)
class Observation:
    """One thing seen or weighed.

    Attributes:
        time_s: from the plan's start.
        kind: what was observed.
        value: kg/m2 of water for weights (of the object, or gained by an absorbent), kg/kg for a
            witness sheet, K for a surface temperature less that of the dry reference beside it.
            With `air_dry_rh`, the object's weight is told against its own air-dry weight.
        u: standard uncertainty, same unit.
        layer: key or name of the absorbent, for its weight.
        word: the stage seen, for `seen`.
        air_dry_rh: humidity (share) of the air-dry weighing that `value` is counted from; 0 = from dry.
            What the isotherm holds at that humidity then cancels, which is most of what is not known of it.
    """

    time_s: float
    kind: ObservationKind
    value: float
    u: float
    layer: str = ""
    word: str = ""
    air_dry_rh: float = 0.0


def observe(laid: LaidPlan, numbers: Numbers, trace: Trace, what: Sequence[Observation]) -> Array:
    """What one member shows for every observation; shape (len(what),)."""
    return np.array([_one(laid, numbers, trace, o) for o in what])


def uncertainties(what: Sequence[Observation]) -> Array:
    """Standard uncertainty of every observation, with what the model itself cannot say."""
    model = {"surface temperature": SURFACE_MODEL_K}
    out = []
    for o in what:
        extra = WITNESS_SPREAD * abs(o.value) if o.kind == "witness weight" else model.get(o.kind, 0.0)
        out.append(float(np.hypot(o.u, extra)))
    return np.array(out)


def air_dry_water(laid: LaidPlan, numbers: Numbers, rh: float) -> float:
    """Water of the object (kg/m2) in balance with a humidity before treatment, half-way between its two branches."""
    total = 0.0
    for layer, dry in zip(laid.plan.object.layers_or_sheet, laid.object_dry_kg_m2, strict=True):
        card = numbers.cards[layer.card]
        x = float(gab_water(rh, Gab(card["gab_monolayer_kg_kg"], card["gab_c"], card["gab_k"])))
        total += dry * x * (1.0 + (card["drying_sorption_ratio"] ** 0.5 - 1.0) * (1.0 - rh**4))
    return total


def _at(trace: Trace, time_s: float, values: Array) -> float:
    return float(np.interp(time_s, trace.times_s, values))


def _one(laid: LaidPlan, numbers: Numbers, trace: Trace, o: Observation) -> float:
    if o.kind == "object weight":
        before = air_dry_water(laid, numbers, o.air_dry_rh) if o.air_dry_rh else 0.0
        return _at(trace, o.time_s, trace.water) - before
    if o.kind in ("witness weight", "seen"):
        return _at(trace, o.time_s, trace.water) / laid.dry_kg_m2
    if o.kind == "surface temperature":
        index = int(np.interp(o.time_s, trace.times_s, trace.stage))
        stage = laid.stages[index]
        room = stage.temperature_c
        if stage.weather is not None:
            started = float(trace.times_s[trace.stage == index][0])
            room = float(np.interp(o.time_s - started, stage.weather[:, 0], stage.weather[:, 1]))
        return _at(trace, o.time_s, trace.surface_c) - (room + numbers.room_shift_k)
    key = layer_key(laid, o.layer)
    water = trace.layers[key]
    lies = np.isfinite(water)
    return float(np.interp(o.time_s, trace.times_s[lies], water[lies]) - water[lies][0])


def layer_key(laid: LaidPlan, name: str) -> str:
    """Key of the absorbent a user named.

    Raises:
        InputError: no such layer, or more than one.
    """
    found: list[str] = []
    for stage in laid.stages:
        found += [
            piece.key
            for piece in stage.pieces
            if piece.object_layer is None and name.lower() in (piece.key.lower(), piece.name.lower())
        ]
    keys = list(dict.fromkeys(found))
    known = ", ".join(dict.fromkeys(p.key for s in laid.stages for p in s.pieces if p.object_layer is None))
    if not keys:
        raise InputError(f"no layer of the plan is called '{name}'", f"name one of {known}")
    if len(keys) > 1:
        raise InputError(f"several layers are called '{name}'", f"name it by its key, one of {known}")
    return keys[0]
