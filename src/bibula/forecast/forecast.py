"""A plan and its cards in, a forecast out: the one function everybody calls."""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import Executor
from functools import partial

import numpy as np
from numpy.typing import NDArray

import bibula
from bibula.cards.model import Card
from bibula.cards.priors import complete
from bibula.forecast import absorbents, overnight, pictures
from bibula.forecast.ensemble import Ensemble, Progress, estimate, quantile, run_ensemble
from bibula.forecast.inputs import budget, citations, inputs, warnings
from bibula.forecast.laying import LaidPlan, lay
from bibula.forecast.milestones import RULES, Rule, left_by, wet_hours
from bibula.forecast.moves import moves
from bibula.forecast.result import Array, Forecast, Milestone
from bibula.forecast.simulate import Trace
from bibula.formulas.sorption import Gab, gab_water
from bibula.plan.model import Plan
from bibula.plan.presets import start_water
from bibula.plan.rules import check_plan
from bibula.quantities.caution import Caution
from bibula.quantities.values import Estimate, Value

DEFAULT_MEMBERS = 200


def starting_water(laid: LaidPlan) -> tuple[tuple[float, float], ...]:
    """(median, u) of the water content of each object layer at the start, verso to recto, kg/kg."""
    thing = laid.plan.object
    room = laid.plan.room.relative_humidity_percent
    rh = (thing.air_dry_rh_percent if thing.air_dry_rh_percent and thing.start.mass_g else room) / 100.0
    out = []
    for layer in thing.layers_or_sheet:
        card = laid.cards[layer.card]
        x = float(gab_water(rh, Gab(card["gab_monolayer_kg_kg"], card["gab_c"], card["gab_k"])))
        air_dry = Value(x, "kg/kg", 0.2 * x, "assumed", note="isotherm of the card")
        start = start_water(thing, air_dry)
        if layer.water_content is not None:
            out.append((layer.water_content, 0.1 * layer.water_content))
        else:
            out.append((start.value, start.u))
    return tuple(out)


def make_forecast(
    plan: Plan,
    cards: Mapping[str, Card],
    *,
    members: int = DEFAULT_MEMBERS,
    seed: int = 1,
    logger: NDArray[np.float64] | None = None,
    executor: Executor | None = None,
    progress: Progress | None = None,
    made: str = "",
) -> Forecast:
    """Forecast a plan.

    Args:
        plan: the plan (it is not refused here for its cautions; they are carried along).
        cards: cards by name; what they lack is filled from their class and marked `assumed`.
        members: size of the ensemble, 20 or more.
        seed: of the ensemble; the same seed gives the same forecast.
        logger: the room's log, rows of time s, temperature C, relative humidity (share), or None.
        executor: any concurrent.futures executor for the members, or None to run them here.
        progress: called with (done, all).
        made: date and time to print, ISO.

    Raises:
        InputError: a card the plan names is not at hand.
        ValidityError: the plan lies outside what the model may answer.
        BalanceError: a run did not close its balances.
    """
    full = {name: complete(card) for name, card in cards.items()}
    laid = lay(plan, full, logger)
    ensemble = run_ensemble(laid, starting_water(laid), members, seed, executor, progress)
    return assemble(ensemble, check_plan(plan, full), made=made)


def assemble(
    ensemble: Ensemble,
    cautions: tuple[Caution, ...],
    made: str = "",
    observations: tuple[tuple[float, float, str], ...] = (),
    extra_warnings: tuple[str, ...] = (),
) -> Forecast:
    """Put an ensemble into the one object that reports print."""
    laid = ensemble.laid
    plan = laid.plan
    dry = laid.dry_kg_m2
    milestones = milestones_of(ensemble)
    by_key = {m.key: m.time_s for m in milestones}
    look = [by_key[k] for k in ("window_closes", "handleable", "balance_room") if by_key[k] is not None]
    mould = mould_hours(ensemble)
    used = absorbents.uses(ensemble)
    starts = np.cumsum([0.0] + [s.duration_s for s in laid.stages])[:-1]
    return Forecast(
        title=plan.title,
        object_name=plan.object.name,
        invented=plan.invented,
        times_s=ensemble.nominal.times_s,
        stage_names=tuple(s.name for s in laid.stages),
        stage_starts_s=tuple(float(t) for t in starts),
        sheet_water_g_m2=ensemble.band(lambda t: 1000.0 * t.water, "g/m2"),
        sheet_moisture=ensemble.band(lambda t: t.water / dry, "kg/kg"),
        sheet_solids=ensemble.band(lambda t: dry / (dry + t.water), "kg/kg"),
        surface_temperature_c=ensemble.band(lambda t: t.surface_c, "C"),
        room_temperature_c=plan.room.temperature_c,
        milestones=milestones,
        leaves_by_recto=ensemble.estimate(partial(_share, dry=dry, recto=True)),
        leaves_by_verso=ensemble.estimate(partial(_share, dry=dry, recto=False)),
        mould_hours=mould,
        coldest_c=ensemble.estimate(lambda t: float(t.coldest_c.min()), "C"),
        absorbents=used,
        overnight=overnight.answer(ensemble, milestones, used, mould),
        cautions=(*cautions, *overnight.mould_cautions(mould)),
        pictures=pictures.pictures(ensemble, [float(t) for t in look if t is not None]),
        water_budget_g_m2=budget(ensemble),
        inputs=inputs(ensemble),
        layers_by_stage=tuple((s.name, tuple(p.name for p in s.pieces)) for s in laid.stages),
        warnings=(*warnings(ensemble), *extra_warnings),
        citations=citations(ensemble),
        members=len(ensemble.traces),
        balance_water=max(t.balance_water for t in ensemble.traces),
        balance_energy=max(t.balance_energy for t in ensemble.traces),
        version=bibula.__version__,
        made=made,
        observations=observations,
        moves=moves(laid),
    )


def milestones_of(ensemble: Ensemble) -> tuple[Milestone, ...]:
    """Every word of the forecast with its time and band over the members."""
    times = ensemble.milestone_times()
    return tuple(_milestone(rule, times[rule.key]) for rule in RULES)


def _milestone(rule: Rule, times: Array) -> Milestone:
    ordered = np.sort(times)
    low, mid, high = (quantile(ordered, q) for q in (0.025, 0.5, 0.975))

    def known(x: float) -> float | None:
        return x if np.isfinite(x) else None

    reached = float(np.isfinite(times).mean())
    return Milestone(rule.key, rule.label, known(mid), known(low), known(high), reached, rule.words, rule.origin)


def _share(trace: Trace, dry: float, recto: bool) -> float:
    """Share of what left the object that left by one face; both 0 where nothing left."""
    out = left_by(trace, dry)
    total = sum(out)
    return (out[0 if recto else 1] / total) if total > 0.0 else 0.0


def mould_hours(ensemble: Ensemble) -> tuple[tuple[str, Estimate], ...]:
    """Hours above 80 % equilibrium humidity: object, felts, cores of slabs."""
    out = [("object", estimate([wet_hours(t.times_s, t.object_rh) for t in ensemble.traces], "h"))]
    names = {p.key: p for s in ensemble.laid.stages for p in s.pieces}
    drinkers = [k for k in ensemble.nominal.core_rh if names[k].kind in ("slab", "felt", "blotter")]
    places = [(names[k].name, *_where(ensemble, k)) for k in drinkers]
    for key, (name, side, stage) in zip(drinkers, places, strict=True):
        alike = sum(p[:2] == (name, side) for p in places) > 1
        label = f"core of {name}" if names[key].kind == "slab" else name
        hours = [wet_hours(t.times_s, t.core_rh[key]) for t in ensemble.traces]
        out.append((f"{label} ({side}, {stage})" if alike else f"{label} ({side})", estimate(hours, "h")))
    return tuple(out)


def _where(ensemble: Ensemble, key: str) -> tuple[str, str]:
    """Side of the object on which a piece first lies, and that stage's number."""
    for number, stage in enumerate(ensemble.laid.stages, 1):
        keys = [p.key for p in stage.pieces]
        if key in keys:
            return ("below" if keys.index(key) < stage.object_range[0] else "above"), f"stage {number}"
    return "", ""
