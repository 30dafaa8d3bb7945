"""Small invented plans and made-up runs that the forecast's tests share."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np

from bibula.cards.library import starting_cards
from bibula.cards.model import Card
from bibula.cards.priors import complete
from bibula.forecast.draws import nominal
from bibula.forecast.ensemble import Ensemble, run_ensemble
from bibula.forecast.forecast import starting_water
from bibula.forecast.laying import LaidPlan, lay
from bibula.forecast.simulate import Trace, simulate
from bibula.forecast.stacking import Numbers
from bibula.plan.model import Plan, PlanObject, Room, Start
from bibula.plan.stages import Stage
from bibula.plan.templates import apply_template

SLAB, BLOTTER, FELT, INTERLEAF, ACRYLIC, AIR = (
    f"{kind} (starting card)" for kind in ("slab", "blotter", "felt", "interleaf", "acrylic", "air gap")
)
ROOM = Room(temperature_c=20.0, relative_humidity_percent=50.0)
OBJECT = {"object": True}
NET = {"card": INTERLEAF, "id": "n1"}


@cache
def cards() -> dict[str, Card]:
    return {name: complete(card) for name, card in starting_cards().items()}


def thing(**changes: Any) -> PlanObject:
    """An invented sheet, 0.12 m2, wet."""
    fields: dict[str, Any] = {
        "name": "Invented sheet",
        "length_m": 0.4,
        "width_m": 0.3,
        "grammage_g_m2": 150.0,
        "thickness_mm": 0.25,
        "fibre": "rag",
        "start": Start(state="measured", water_content=1.1, u_water_content=0.05),
    }
    return PlanObject.model_validate({**fields, **changes})


def stage(*stack: dict[str, Any], duration: str = "30 min", name: str = "stage", **more: Any) -> Stage:
    return Stage.model_validate({"name": name, "duration": duration, "stack": list(stack), **more})


def plan(*stages: Stage, object_: PlanObject | None = None, room: Room = ROOM, **more: Any) -> Plan:
    return Plan(title="Invented", invented=True, object=object_ or thing(), room=room, stages=stages, **more)


def rack(duration: str = "6 h", **more: Any) -> Plan:
    return plan(stage(NET, OBJECT, duration=duration, below="rack"), **more)


def template(key: str, object_: PlanObject | None = None, room: Room = ROOM) -> Plan:
    return apply_template(key, object_ or thing(), room, invented=True)


def laid(a_plan: Plan, known: dict[str, Card] | None = None, logger: Any = None) -> LaidPlan:
    return lay(a_plan, known or cards(), logger)


def middle(a_laid: LaidPlan) -> Numbers:
    return nominal(a_laid, starting_water(a_laid))


def run(a_plan: Plan, **changes: Any) -> Trace:
    """The nominal member of a plan, some of its numbers changed."""
    a_laid = laid(a_plan)
    return simulate(a_laid, replace(middle(a_laid), **changes))


def ensemble(a_plan: Plan, n: int = 24, seed: int = 1, known: dict[str, Card] | None = None) -> Ensemble:
    a_laid = laid(a_plan, known)
    return run_ensemble(a_laid, starting_water(a_laid), n, seed)


def narrowed(share: float) -> dict[str, Card]:
    """All cards with every uncertainty multiplied."""
    return {
        name: card.with_values(**{k: replace(v, u=share * v.u) for k, v in card.values.items()})
        for name, card in cards().items()
    }


def made_up(water: Any, times: Any, *, stages: Any = None, film: Any = None, equilibrium: float = 0.06) -> Trace:
    """A run that was never run: given curves for a sheet of 1 kg/m2 dry, all else plain."""
    t, w = np.asarray(times, dtype=float), np.asarray(water, dtype=float)
    none = np.zeros(len(t))
    return Trace(
        times_s=t,
        stage=np.zeros(len(t), dtype=np.int64) if stages is None else np.asarray(stages),
        water=w,
        wettest=w,
        film_up=none if film is None else np.asarray(film, dtype=float),
        film_down=none,
        surface_c=none + 20.0,
        coldest_c=none + 20.0,
        object_rh=none + 0.5,
        passed_recto=none,
        passed_verso=w[0] - w,
        layers={},
        core_rh={},
        skin={},
        equilibrium=equilibrium,
        states={},
        balance_water=0.0,
        balance_energy=0.0,
    )
