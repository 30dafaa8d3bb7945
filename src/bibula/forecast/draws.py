"""From cards, plan and room with their uncertainties to the members of an ensemble."""

from __future__ import annotations

import zlib
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from bibula.cards.model import PROPERTIES, Card
from bibula.cards.priors import spread_of
from bibula.forecast.laying import LaidPlan
from bibula.forecast.stacking import CONVECTION_SPREAD, Numbers
from bibula.statistics.ensembles import draw

Array = NDArray[np.float64]

DRYING_SHARE, DRYING_SHARE_LOW = 0.8, 0.6
"""How far a drying layer has gone over to its drying branch: 0.6 to 1, since scanning between is not measured."""


def nominal(laid: LaidPlan, water: tuple[tuple[float, float], ...]) -> Numbers:
    """The member with every number at its median. `water`: (median, u) of each object layer's start."""
    return Numbers(
        cards={name: {k: v.value for k, v in laid.cards[name].values.items()} for name in cards_used(laid)},
        water_content=tuple(m for m, _ in water),
        drying_share=DRYING_SHARE,
    )


def cards_used(laid: LaidPlan) -> tuple[str, ...]:
    """Names of the cards that lie in some stage, in order of appearance."""
    return tuple(dict.fromkeys(p.card for s in laid.stages for p in s.pieces))


def members(laid: LaidPlan, water: tuple[tuple[float, float], ...], n: int, seed: int) -> list[Numbers]:
    """n members; the same seed gives the same members.

    Args:
        laid: the resolved plan with its cards.
        water: (median, standard uncertainty) of each object layer's starting water content, kg/kg.
        n: how many.
        seed: any integer.
    """
    names = cards_used(laid)
    drawn = {name: _draw_card(laid.cards[name], n, seed ^ zlib.crc32(name.encode())) for name in names}
    room = laid.plan.room
    air = laid.stages[0].air
    shared = draw(
        [0.0, 0.0, 0.0, 0.0],
        n=n,
        seed=seed,
        u=[room.u_temperature_k, room.u_relative_humidity_percent / 100.0, CONVECTION_SPREAD[air], 1.0],
        spread="normal",
    )
    uniform = (np.argsort(np.argsort(shared[:, 3])) + 0.5) / n
    start = np.column_stack([_positive(m, u, n, seed + 17) for m, u in water])
    return [
        Numbers(
            cards={name: {k: float(v[i]) for k, v in drawn[name].items()} for name in names},
            water_content=tuple(float(x) for x in start[i]),
            room_shift_k=float(shared[i, 0]),
            room_shift_rh=float(shared[i, 1]),
            surface_factor=float(np.exp(shared[i, 2])),
            drying_share=float(DRYING_SHARE_LOW + (1.0 - DRYING_SHARE_LOW) * uniform[i]),
        )
        for i in range(n)
    ]


def _positive(median: float, u: float, n: int, seed: int) -> Array:
    if u <= 0.0:
        return np.full(n, median)
    return draw([median], n=n, seed=seed, u=[u])[:, 0]


def _draw_card(card: Card, n: int, seed: int) -> Mapping[str, Array]:
    keys = [k for k, v in card.values.items() if spread_of(k, v) > 0.0]
    out = {k: np.full(n, v.value) for k, v in card.values.items()}
    if not keys:
        return out
    sd = np.array([spread_of(k, card.values[k]) for k in keys])
    normal = np.array([PROPERTIES[k].spread == "normal" for k in keys])
    covariance = np.diag(sd**2)
    place = {k: i for i, k in enumerate(keys)}
    for (a, b), r in card.correlations.items():
        if a in place and b in place:
            i, j = place[a], place[b]
            covariance[i, j] = covariance[j, i] = r * sd[i] * sd[j]
    steps = draw(np.zeros(len(keys)), n=n, seed=seed, covariance=covariance, spread="normal")
    for i, key in enumerate(keys):
        value = card.values[key].value
        limits = PROPERTIES[key]
        moved = value + steps[:, i] if normal[i] else value * np.exp(steps[:, i])
        out[key] = np.clip(moved, limits.low, limits.high)
    return out
