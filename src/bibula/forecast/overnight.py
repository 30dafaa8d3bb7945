"""Can it be left overnight, and what must be done before; the mould clock's cautions."""

from __future__ import annotations

import numpy as np

from bibula.forecast.ensemble import Ensemble
from bibula.forecast.milestones import MOULD_CAUTION_H, MOULD_STOP_H
from bibula.forecast.result import AbsorbentUse, Milestone
from bibula.quantities.caution import Caution
from bibula.quantities.values import Estimate

NIGHT_H = 15.0
"""A night away from the bench, 17:00 to 8:00."""

SALVAGE_SOURCE = "published salvage guidance: wet paper in still air, mould to be expected after 48 h (NPS primer 27)"


def answer(
    ensemble: Ensemble,
    milestones: tuple[Milestone, ...],
    used: tuple[AbsorbentUse, ...],
    mould: tuple[tuple[str, Estimate], ...],
) -> str:
    """One paragraph: whether the object can be left for a night, from when, and what to change before leaving."""
    laid = ensemble.laid
    starts = np.cumsum([0.0] + [s.duration_s for s in laid.stages])
    times = {m.key: m for m in milestones}
    hands_off = [i for i, s in enumerate(laid.stages) if s.duration_s >= NIGHT_H * 3600.0]
    if not hands_off:
        return (
            f"Not as planned: no stage is long enough to be left for {NIGHT_H:.0f} h. "
            "Let the last stack stand, or plan a longer stage for the night."
        )
    first = hands_off[0]
    stage = laid.stages[first]
    begins = float(starts[first])
    doubts = []
    close = times["window_closes"]
    loaded = stage.load_pa > 0.0 or any(p.object_layer is None for p in stage.pieces[stage.object_range[1] :])
    if not loaded and (close.high_s is None or close.high_s > begins):
        doubts.append("the object lies free while it can still cockle: put it under restraint before leaving")
    doubts += [
        f"{use.layer} may be near full: change it before leaving"
        for use in used
        if use.stage == stage.name and use.near_full_s is not None
    ]
    wet = [name for name, hours in mould if hours.high > MOULD_CAUTION_H]
    if wet:
        doubts.append(
            f"the mould clock passes {MOULD_CAUTION_H:.0f} h for {', '.join(wet)}: let air to it, or change it"
        )
    when = f"from {_hours(begins)} on, in stage '{stage.name}'" if begins > 0 else f"in stage '{stage.name}'"
    if not doubts:
        stalls = [f"{u.layer}: {u.advice}" for u in used if u.stage == stage.name and u.advice.startswith("change")]
        slow = f" It only dries more slowly for being left ({'; '.join(stalls)})." if stalls else ""
        return f"Yes, {when}: no absorbent fills up, and the mould clock stays below its limit.{slow}"
    return f"Only with care, {when}: " + "; ".join(doubts) + "."


def _hours(seconds: float) -> str:
    return f"{seconds / 3600.0:.1f} h"


def mould_cautions(mould: tuple[tuple[str, Estimate], ...]) -> tuple[Caution, ...]:
    """Stop where the median passes 48 h of damp; caution where the upper end of the band passes 24 h."""
    out = []
    for name, hours in mould:
        if hours.median >= MOULD_STOP_H:
            out.append(
                Caution(
                    "stop",
                    "Do not leave it this wet: bring air to it, change the stack, or freeze it.",
                    f"{name} stays above 80 % equilibrium humidity for about {hours.median:.0f} h",
                    SALVAGE_SOURCE,
                )
            )
        elif hours.high >= MOULD_CAUTION_H:
            out.append(
                Caution(
                    "caution",
                    "Look for mould and shorten the damp time if you can.",
                    f"{name} may stay above 80 % equilibrium humidity for {hours.high:.0f} h",
                    SALVAGE_SOURCE,
                )
            )
    return tuple(out)
